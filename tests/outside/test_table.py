"""The table of outside checks is whole: each published limit has one, each check is a test that runs, and is shown."""

from __future__ import annotations

import ast

import pytest

from rules.limits import default_limits
from tests.outside.table import HERE, Check, checks, functions, shown, table

MAY_SKIP = {"test_real_recordings.py"}  # they lie outside of the checkout
PUBLISHED = [limit.name for limit in default_limits() if limit.evidence == "published"]


@pytest.mark.parametrize("name", PUBLISHED)
def test_each_limit_that_is_called_published_is_held_against_its_source(name: str) -> None:
    assert [one.what for one in checks() if name in one.limits]


def test_no_check_is_of_a_limit_that_is_not_there_or_not_published() -> None:
    assert {name for one in checks() for name in one.limits} <= set(PUBLISHED)


@pytest.mark.parametrize("check", checks(), ids=lambda check: check.what)
def test_each_check_is_a_test_that_asserts_something(check: Check) -> None:
    assert check.known in {"read", "memory"}
    for name in check.tests:
        file, _, function = name.partition("::")
        (node,) = [one for one in functions(file) if one.name == function]
        called = {one.func.id for one in ast.walk(node) if isinstance(one, ast.Call) and isinstance(one.func, ast.Name)}
        helpers = [one for one in functions(file, called) if one.name != function]
        inside = [part for one in (node, *helpers) for part in ast.walk(one)]
        asserted = [one for one in inside if isinstance(one, ast.Assert) or "assert_allclose" in ast.dump(one)]
        assert asserted or "validate" in called, name


def test_what_is_from_memory_says_so_in_the_limits_too() -> None:
    for one in checks():
        for name in one.limits:
            assert ("from memory" in default_limits().source(name)) or one.known == "read", name


def test_no_test_against_the_outside_is_skipped_but_those_of_recordings_that_lie_elsewhere() -> None:
    for file in HERE.glob("test_*.py"):
        names = {node.attr for node in ast.walk(ast.parse(file.read_text("utf-8"))) if isinstance(node, ast.Attribute)}
        assert file.name in MAY_SKIP or not names & {"skip", "skipif", "importorskip", "xfail"}, file.name


def test_the_table_is_shown_as_it_is() -> None:
    assert shown() == table(), "python -m tests.outside.table"
