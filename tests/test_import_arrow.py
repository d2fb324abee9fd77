"""The import arrow points one way: monitor -> rules, and inside monitor from the commands down to the roster."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FLOORS = (
    ("values", "plain_text", "reasons"),
    ("news",),
    ("words",),
    ("errors", "clock", "home", "fingerprints"),
    ("logs", "roster"),
    ("store",),
    ("drawing",),
    ("folders", "intake", "judging", "alerts"),
    ("timed_notices", "rebuilding", "views", "checkins"),
    ("transaction",),
    ("scanning", "pipeline"),
    ("single_pass", "overriding", "board", "calendars"),
    ("daemon",),
    ("doctor", "initialise", "pages"),
    ("demo",),
    ("cli",),
)
"""Rooms of monitor, the lowest first. A room may import its own modules and those of lower floors."""

SHELL_ONLY = ("rules", "monitor", "tests", "sample_exports")
IMPURE = {"os", "time", "random", "logging", "pathlib", "socket", "subprocess", "duckdb", "tempfile", "threading"}


def _modules(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


def _name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _imports(path: Path) -> Iterator[tuple[int, str]]:
    """(line, dotted module) of every import, also those inside functions and under TYPE_CHECKING."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: a relative import"
            module = node.module or ""
            for alias in node.names:
                inner = ROOT.joinpath(*module.split("."), alias.name)
                is_module = inner.with_suffix(".py").exists() or inner.is_dir()
                yield node.lineno, f"{module}.{alias.name}" if is_module else module


def _floor(room: str) -> int:
    found = [number for number, rooms in enumerate(FLOORS) if room in rooms]
    assert found, f"the room {room!r} has no floor: give it one in FLOORS"
    return found[0]


@pytest.mark.parametrize("path", _modules("rules"), ids=_name)
def test_rules_import_nothing_of_the_shell(path: Path) -> None:
    imported = {module.split(".")[0] for _, module in _imports(path)}
    assert not imported & (set(SHELL_ONLY) - {"rules"})
    assert not imported & IMPURE, "rules read no file, no clock, no chance, no log"


@pytest.mark.parametrize("path", _modules("monitor"), ids=_name)
def test_rooms_import_only_themselves_and_what_lies_below(path: Path) -> None:
    room = _name(path).split(".")[1:2]
    for line, module in _imports(path):
        parts = module.split(".")
        if parts[0] in ("tests", "sample_exports"):
            assert room == ["demo"], f"line {line}: {module} is not part of the program"
        if parts[0] != "monitor" or not room or len(parts) < 2 or parts[1] == room[0]:
            continue
        assert _floor(parts[1]) < _floor(room[0]), f"line {line}: {room[0]} imports {module}, which lies no lower"


def test_every_room_that_has_a_floor_is_there() -> None:
    there = {path.stem if path.suffix else path.name for path in (ROOT / "monitor").iterdir()}
    assert {room for rooms in FLOORS for room in rooms} <= there
