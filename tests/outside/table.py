"""What is held against the outside, from `checks.toml` into DEVELOPERS.md: python -m tests.outside.table."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Container, Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).parent
DEVELOPERS = HERE.parents[1] / "DEVELOPERS.md"
BEGIN, END = "<!-- made by python -m tests.outside.table -->\n", "<!-- end of what is made -->\n"


@dataclass(frozen=True)
class Check:
    """One formula or limit, what the outside says of it, and the tests that hold it against that."""

    what: str
    value: str
    source: str
    known: str  # read or memory
    how: str
    tests: tuple[str, ...]
    limits: tuple[str, ...] = ()


def checks() -> list[Check]:
    rows = tomllib.loads((HERE / "checks.toml").read_text("utf-8"))["check"]
    return [Check(**{key: tuple(one) if isinstance(one, list) else one for key, one in row.items()}) for row in rows]


def functions(file: str, named: Container[str] | None = None) -> Iterator[ast.FunctionDef]:
    """The tests of one file of this folder, or its functions of these names."""
    for node in ast.walk(ast.parse((HERE / file).read_text("utf-8"))):
        if isinstance(node, ast.FunctionDef) and (node.name in named if named else node.name.startswith("test_")):
            yield node


def table() -> str:
    """Markdown, a row a check."""
    lines = ["| what | limit | the outside says | source | how the check is independent |", "|---|---|---|---|---|"]
    for one in checks():
        limits = ", ".join(f"`{name}`" for name in one.limits)
        source = one.source + (" (from memory)" if one.known == "memory" else "")
        lines.append(f"| {one.what} | {limits} | {one.value} | {source} | {one.how} |")
    return "\n".join(lines) + "\n"


def shown() -> str:
    """The table as it stands in DEVELOPERS.md."""
    return DEVELOPERS.read_text("utf-8").partition(BEGIN)[2].partition(END)[0]


if __name__ == "__main__":
    before, _, rest = DEVELOPERS.read_text("utf-8").partition(BEGIN)
    DEVELOPERS.write_text(before + BEGIN + table() + END + rest.partition(END)[2], "utf-8")
