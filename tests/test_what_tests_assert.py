"""A test that cannot fail is none: each asserts something, and not only under a condition that may never hold."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

HERE = Path(__file__).parent
FAILS_BY_ITSELF = {"assert_allclose", "assert_array_equal", "expect", "validate", "fail", "raises", "warns"}
REACHED_ELSEWHERE = {
    # that days are drawn on which these have something to assert is asserted beside them
    "test_what_shuts_a_gate_by_the_body_is_a_reason_of_the_day_and_a_stop_allows_no_run",
    "test_days_to_come_are_told_as_they_are_foreseen_and_say_if_something_must_be_answered_first",
}


@cache
def trees() -> dict[Path, ast.Module]:
    return {path: ast.parse(path.read_text("utf-8")) for path in sorted(HERE.rglob("*.py"))}


def called(node: ast.AST) -> Iterator[str]:
    for one in ast.walk(node):
        if isinstance(one, ast.Call):
            yield getattr(one.func, "id", getattr(one.func, "attr", ""))


@cache
def helpers() -> set[str]:
    """Functions of the tests that assert, themselves or by what they call."""
    known = set(FAILS_BY_ITSELF)
    functions = [one for tree in trees().values() for one in ast.walk(tree) if isinstance(one, ast.FunctionDef)]
    calls = [(one.name, set(called(one))) for one in functions if not one.name.startswith("test_")]
    known |= {one.name for one in functions if any(isinstance(part, ast.Assert) for part in ast.walk(one))}
    while fresh := {name for name, of in calls if name not in known and known & of}:
        known |= fresh
    return known


def surely_asserts(body: list[ast.stmt]) -> bool:
    """On every path, where loops are taken to run."""
    for one in body:
        match one:
            case ast.Assert():
                return True
            case ast.If(body=then, orelse=other):
                found = surely_asserts(then) and surely_asserts(other)
            case ast.For(body=inner) | ast.While(body=inner) | ast.Try(body=inner):
                found = surely_asserts(inner)
            case ast.With(items=items, body=inner):
                found = any(helpers() & set(called(item)) for item in items) or surely_asserts(inner)
            case ast.FunctionDef() | ast.ClassDef():
                found = False
            case _:
                found = bool(helpers() & set(called(one)))
        if found:
            return True
    return False


@cache
def written() -> list[tuple[str, ast.FunctionDef]]:
    return [
        (f"{path.relative_to(HERE)}::{one.name}", one)
        for path, tree in trees().items()
        for one in ast.walk(tree)
        if isinstance(one, ast.FunctionDef) and one.name.startswith("test_")
    ]


def test_each_test_asserts_something_on_every_path() -> None:
    assert len(written()) > 1000
    silent = [name for name, one in written() if one.name not in REACHED_ELSEWHERE and not surely_asserts(one.body)]
    assert silent == []


def test_what_is_excused_is_there() -> None:
    assert {one.name for _, one in written()} >= REACHED_ELSEWHERE


@pytest.mark.parametrize(
    ("text", "sure"),
    [
        ("assert 1", True), ("x = 1", False), ("if x:\n  assert 1", False),
        ("if x:\n  assert 1\nelse:\n  assert 2", True),
        ("for x in y:\n  assert x", True), ("with raises(ValueError):\n  f()", True), ("def f():\n  assert 1", False),
    ],
)  # fmt: skip
def test_a_silent_test_would_be_found(text: str, *, sure: bool) -> None:
    assert surely_asserts(ast.parse(text).body) == sure


def test_nothing_is_asserted_of_what_is_always_true() -> None:
    always = [
        f"{path.relative_to(HERE)}:{one.lineno}"
        for path, tree in trees().items()
        for one in ast.walk(tree)
        if isinstance(one, ast.Assert) and isinstance(one.test, ast.Constant | ast.Tuple | ast.JoinedStr)
    ]
    assert always == []
