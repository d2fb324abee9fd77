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

from rules.words.en.findings import STATEMENTS, WAYS

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


def _stated() -> Iterator[tuple[str, str, set[str]]]:
    """Where, key and the names of the values of each statement that the rules make."""
    for path in _files("rules"):
        for node in ast.walk(_tree(path)):
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "say":
                for key in (one.value for one in ast.walk(node.args[0]) if isinstance(one, ast.Constant)):
                    if isinstance(key, str) and key in STATEMENTS:
                        yield f"{_name(path)}:{node.lineno}", key, {str(one.arg) for one in node.keywords}


def test_a_statement_has_a_text_and_is_given_the_values_that_it_asks_for() -> None:
    for where, key, given in _stated():
        asked = {field for _, field, _, _ in string.Formatter().parse(STATEMENTS[key]) if field is not None}
        assert given == asked, (where, key)


def test_every_statement_of_the_rules_has_a_text_and_every_text_a_statement() -> None:
    """By the words of their code, since a key may come of a table or be made of two."""
    code = "\n".join(path.read_text("utf-8") for path in _files("rules"))
    written = set(re.findall(r'"([a-z_]+)"', code))
    unlabelled = {f"{key}_unlabelled" for key in ("ran", "may_have_run")}
    assert set(STATEMENTS) <= written | unlabelled
    made = {
        node.args[0].value
        for path in _files("rules")
        for node in ast.walk(_tree(path))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "say" and isinstance(node.args[0], ast.Constant)
    }
    assert made <= set(STATEMENTS)


def test_a_text_of_a_statement_asks_for_ways_that_there_are() -> None:
    for key, text in STATEMENTS.items():
        for _, field, way, _ in string.Formatter().parse(text):
            assert field is None or not way or way in WAYS or re.fullmatch(r"[+]?(\.\d)?[fg]", way), (key, way)


def test_the_keys_that_stores_hold_are_never_taken_away() -> None:
    kept = set((ROOT / "tests" / "rules" / "statement_keys.txt").read_text("utf-8").split())
    assert kept == set(STATEMENTS), "write new ones into tests/rules/statement_keys.txt; none may go"


EXEMPT = {
    "monitor/board/__init__.py": "a mistake of a programmer",
    "monitor/cli/main.py": "what the parser of options says, to be told by",
    "monitor/cli/passes.py": "a format of the progress bar",
    "monitor/cli/setup.py": "a line of Python",
    "monitor/intake/worker_process.py": "caught by the other end, shown to nobody",
    "monitor/logs.py": "the format of the log",
    "monitor/pipeline.py": "the list of stages, read by developers only",
    "monitor/roster/columns.py": "units as people write them, in many languages",
    "monitor/store/migrations/__init__.py": "a mark in migrations",
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
