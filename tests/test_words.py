"""Every sentence that a person reads is made in one of the two rooms of words, and is given what it asks for."""

from __future__ import annotations

import ast
import string
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = {"monitor": "monitor/words", "rules": "rules/words"}
SENTENCE_WORDS = 4


def _files(package: str) -> list[Path]:
    return [path for path in sorted((ROOT / package).rglob("*.py")) if ROOMS[package] not in path.as_posix()]


FILES = [path for package in ROOMS for path in _files(package)]


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text("utf-8"))


def _aliases(tree: ast.AST) -> dict[str, str]:
    """Name in a module -> the room that it stands for."""
    return {
        alias.asname or alias.name: node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module in ROOMS
        for alias in node.names
        if alias.name == "words"
    }


def _used(path: Path) -> Iterator[tuple[ast.AST | None, ast.Attribute, str, str, str]]:
    """Each `words.MODULE.NAME` of a module: what stands around it, itself, room, module, name."""
    tree = _tree(path)
    aliases = _aliases(tree)
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Attribute)):
            continue
        root = node.value.value
        if isinstance(root, ast.Name) and root.id in aliases:
            yield parents.get(node), node, aliases[root.id], node.value.attr, node.attr


def _room(package: str, module: str) -> ModuleType:
    return import_module(f"{package}.words.en.{module}")


@pytest.mark.parametrize("path", FILES, ids=_name)
def test_a_text_is_given_the_values_that_it_asks_for(path: Path) -> None:
    tree = _tree(path)
    parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
    for parent, node, package, module, name in _used(path):
        text = getattr(_room(package, module), name)
        where = f"line {node.lineno}: {module}.{name}"
        call = parents.get(parent) if isinstance(parent, ast.Attribute) and parent.attr == "format" else None
        if isinstance(text, str) and isinstance(call, ast.Call) and not any(one.arg is None for one in call.keywords):
            asked = {field for _, field, _, _ in string.Formatter().parse(text) if field is not None}
            assert {one.arg for one in call.keywords} == asked, where
