"""Every sentence that a person reads is made in one of the two rooms of words, and is given what it asks for."""

from __future__ import annotations

import ast
import re
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


EXEMPT = {
    "monitor/board/__init__.py": "a mistake of a programmer",
    "monitor/cli/main.py": "what the parser of options says, to be told by",
    "monitor/cli/passes.py": "a format of the progress bar",
    "monitor/cli/setup.py": "a line of Python",
    "monitor/intake/worker_process.py": "caught by the other end, shown to nobody",
    "monitor/logs.py": "the format of the log",
    "monitor/pipeline.py": "the list of stages, read by developers only",
    "monitor/roster/columns.py": "units as people write them, in many languages",
    "monitor/store/database.py": "a mark in migrations",
    "monitor/store/seasons.py": "a part of a query",
    "rules/session/labels.py": "labels as devices write them",
}
NOT_SAID = {
    "sql": re.compile(
        r"\s*(SELECT|INSERT|UPDATE|DELETE|CREATE|ALTER|WITH|FROM|JOIN|AND|WHERE)\b"
        r"|.*(\w+ (=|<>|IS NOT|IN) [?$('])|.* ORDER BY "
    ),
    "columns": re.compile(r"\(?[a-z_0-9. ]+(, [a-z_0-9. ]+){4,}\)?"),
    "pattern": re.compile(r".*(\\[bdswx.]|\(\?|\[0-9a-f\]|\[\w-\w\]).*", re.DOTALL),
    "markup": re.compile(r"\s*<[a-z!]|M\{|.*-src '"),
}


def _said(node: ast.expr) -> str | None:
    """The text of a string, with X for what is filled in."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else " X " for part in node.values)
    return None


def _quiet(tree: ast.Module) -> set[ast.AST]:
    """What no reader sees: docstrings, logs, queries, patterns, and the help that declares a command's options."""
    found: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            found.add(node.value)
        elif isinstance(node, ast.JoinedStr):
            found |= set(ast.walk(node)) - {node}
        elif isinstance(node, ast.keyword) and node.arg == "help":
            found |= set(ast.walk(node))
        elif isinstance(node, ast.Call) and re.search(
            r"\b(log|LOG)\.\w+$|\.(sql|execute)$|^re\.|^(cast|Argument|typer\.Argument)$", ast.unparse(node.func)
        ):
            found |= {inner for argument in node.args for inner in ast.walk(argument)}
    return found


def sentences(path: Path) -> list[str]:
    """Strings of four words and more that somebody may read."""
    tree = _tree(path)
    quiet = _quiet(tree)
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.expr) or node in quiet or (text := _said(node)) is None:
            continue
        is_prose = " " in text.strip() and not any(pattern.match(text) for pattern in NOT_SAID.values())
        if is_prose and len(re.findall(r"(?<![\w/.-])[A-Za-z][a-z']+(?![\w/=-])", text)) >= SENTENCE_WORDS:
            found.append(f"line {node.lineno}: {text[:100]!r}")
    return found


@pytest.mark.parametrize("path", FILES, ids=_name)
def test_sentences_are_made_in_the_room_of_words(path: Path) -> None:
    found = sentences(path)
    assert bool(found) == (_name(path) in EXEMPT), found
