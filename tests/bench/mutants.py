"""The small wrong changes themselves: all that a module can suffer, which of them count, and a sample of them."""

from __future__ import annotations

import ast
import difflib
import hashlib
import itertools
import os
import re
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
ROOMS = ("rules", "monitor/alerts", "monitor/store", "monitor/intake")
BORDER = {"<=": "<", "<": "<=", ">=": ">", ">": ">=", "==": "!=", "!=": "=="}
SIGN = {"+": "-", "-": "+", "*": "/", "/": "*"}
WORD = {"and": "or", "or": "and"}


@dataclass(frozen=True)
class Mutant:
    """One change of one file: what stands from `start` to `end` becomes `text`."""

    path: Path  # relative to the tree
    start: int
    end: int
    text: str

    @property
    def was(self) -> str:
        return text_of(ROOT / self.path)[self.start : self.end]

    @property
    def section(self) -> str:
        """Of a limit its name: the header above it."""
        above = text_of(ROOT / self.path)[: self.start]
        return re.findall(r"^\[(.+)\]$", above, re.MULTILINE)[-1]

    @property
    def function(self) -> tuple[str, int]:
        """The function in whose body the change stands, `Class.name`, and its first line; empty elsewhere."""
        if self.path.suffix == ".toml":
            return "", 0
        return next(
            ((one.name, one.line) for one in bodies(self.path) if one.start <= self.start and self.end <= one.end),
            ("", 0),
        )

    @property
    def line(self) -> int:
        """The line on which the change stands, from 1."""
        return text_of(ROOT / self.path).count("\n", 0, self.start) + 1


@dataclass(frozen=True)
class Body:
    """A function that stands in no other, `Class.name`: the line it begins on, its last, and where its body lies."""

    name: str
    line: int
    last: int
    start: int
    end: int


@cache
def bodies(path: Path) -> list[Body]:
    """Of all functions of a module."""
    source = text_of(ROOT / path)
    offsets, found = _offsets(source), []

    def look(nodes: list[ast.stmt], above: str) -> None:
        for node in nodes:
            if isinstance(node, ast.ClassDef):
                look(node.body, f"{above}{node.name}.")
            elif isinstance(node, ast.FunctionDef):
                first = min([node.lineno, *(one.lineno for one in node.decorator_list)])
                start, end = _at(offsets, node.body[0]), _at(offsets, node.body[-1], end=True)
                found.append(Body(above + node.name, first, node.end_lineno or first, start, end))

    look(ast.parse(source).body, "")
    return found


def key_of_line(path: Path, functions: list[Body], line: int) -> str:
    """Module, function and line within it, so that what is added above moves nothing."""
    inside = next((one for one in functions if one.line <= line <= one.last), None)
    return f"{path} {inside.name} {line - inside.line}" if inside else f"{path}  {line}"


def mutants_of(path: Path) -> Iterator[Mutant]:
    """All small changes that a module can suffer."""
    source = text_of(ROOT / path)
    if path.suffix == ".toml":
        yield from _of_limits(path, source)
        return
    offsets = _offsets(source)
    for node in _minded(ast.parse(source)):
        if isinstance(node, ast.Compare):
            sides = [node.left, *node.comparators]
            for before, after in itertools.pairwise(sides):
                yield from _between(path, source, offsets, before, after, BORDER)
        elif isinstance(node, ast.BinOp):
            yield from _between(path, source, offsets, node.left, node.right, SIGN)
        elif isinstance(node, ast.BoolOp):
            yield from _between(path, source, offsets, node.values[0], node.values[1], WORD)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
            start = _at(offsets, node)
            yield Mutant(path, start, start + len("not "), "")
        elif isinstance(node, ast.Constant) and not isinstance(node.value, str | bytes) and node.value is not None:
            yield from _of_number(path, source, offsets, node)


def _minded(tree: ast.AST) -> Iterator[ast.AST]:
    """All nodes but those whose change no test could or should see, each by a rule that needs no judgement.

    - decorators (`@dataclass(frozen=True)`, sizes of caches), and `strict` of a zip, which asserts what holds by how
      the two are made;
    - `usedforsecurity` of a checksum, which only systems with a policy for those look at;
    - what is for another system: tests of `sys.platform` and `os.name`, and the branch that this one never takes;
    - what would stand in for a name of `os` that this system has: `getattr(os, "O_DIRECTORY", 0)`;
    - how long is waited: numbers given to `sleep`, `wait`, `wait_for`, `join`, `wait_random`, or as a `timeout`, since
      no test measures time;
    - `<` against `<=` where one side is a running clock (`time.monotonic()`): it never stands on its border;
    - what only makes it faster or slower: constants that say how much is read at once, how often somebody looks, and
      how long a store is waited for or kept (`UNSEEN`);
    - how many letters of a stranger's text a message shows (`shown`, `quoted`);
    - `x * sign` against `x / sign`, where a loop gives `sign` the values 1 and -1: it is the same number;
    - `x[x > 0].sum()` against `x[x >= 0].sum()`: noughts add nothing.
    """
    left_out = set()
    for node in ast.walk(tree):
        aside: list[ast.AST] = list(getattr(node, "decorator_list", ()))
        if isinstance(node, ast.Call):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            aside += [one.value for one in node.keywords if one.arg in ("strict", "timeout", "usedforsecurity")]
            aside += [one for one in node.args if name in NOT_MINDED and isinstance(one, ast.Constant)]
            aside += node.args if name == "sleep" else []
            aside += node.args[2:] if _of_this_system(node) else []
            left_out |= {id(one) for one in _summed_but_for_noughts(node)}  # but not its number
        elif isinstance(node, ast.Compare) and "time.monotonic()" in ast.unparse(node):
            left_out.add(id(node))  # but not its parts
        elif isinstance(node, ast.Assign) and {ast.unparse(one) for one in node.targets} <= UNSEEN:
            aside += [node.value]
        elif isinstance(node, ast.If) and (taken := _on_this_system(node.test)) is not None:
            aside += [node.test, *(node.orelse if taken else node.body)]
        elif isinstance(node, ast.For) and {abs(one) for one in _values(node.iter)} == {1}:
            aside += [
                one
                for one in ast.walk(node)
                if isinstance(one, ast.BinOp)
                and isinstance(one.op, ast.Mult | ast.Div)
                and ast.unparse(one.right) == ast.unparse(node.target)
            ]
            left_out |= {id(one) for one in aside}  # but not what is multiplied
            continue
        left_out |= {id(part) for one in aside for part in ast.walk(one)}
    yield from (node for node in ast.walk(tree) if id(node) not in left_out)


def _of_this_system(call: ast.Call) -> bool:
    """Whether it asks `os` for a name that is there, with something for a system that lacks it."""
    asked = call.args[1] if len(call.args) == 3 and ast.unparse(call.func) == "getattr" else None
    return isinstance(asked, ast.Constant) and ast.unparse(call.args[0]) == "os" and hasattr(os, str(asked.value))


def _summed_but_for_noughts(call: ast.Call) -> list[ast.AST]:
    """The comparison in `x[x > 0].sum()`."""
    taken = call.func.value if isinstance(call.func, ast.Attribute) and call.func.attr == "sum" else None
    if not isinstance(taken, ast.Subscript) or not isinstance(taken.slice, ast.Compare):
        return []
    one = taken.slice
    same = ast.unparse(one.left) == ast.unparse(taken.value) and ast.unparse(one.comparators[0]) == "0"
    return [one] if same and isinstance(one.ops[0], ast.Gt | ast.GtE | ast.Lt | ast.LtE) else []


UNSEEN = frozenset(
    {
        "CHUNK_BYTES",
        "BLOCK",
        "LOOK_SECONDS",
        "LOOK_IN_SECONDS",
        "PATIENCE_SECONDS",
        "AT_ONCE_SECONDS",
    }
    | {"RENAME_SECONDS", "GIVE_WAY_SECONDS", "IDLE_SECONDS"}
)
NOT_MINDED = frozenset({"sleep", "wait", "wait_for", "join", "wait_random", "shown", "quoted"})


def _values(node: ast.expr) -> list[float]:
    """The numbers of a tuple; none of anything else."""
    try:
        found = ast.literal_eval(node)
    except ValueError:
        return []
    return [one for one in found if isinstance(one, int | float)] if isinstance(found, tuple) else []


def _on_this_system(test: ast.expr) -> bool | None:
    """Which branch is taken here, of a test that asks for the system alone; None of any other test."""
    names = {node.id for node in ast.walk(test) if isinstance(node, ast.Name)}
    asked = {ast.unparse(node) for node in ast.walk(test) if isinstance(node, ast.Attribute)}
    if not names <= {"sys", "os"} or not asked or not asked <= {"sys.platform", "os.name"}:
        return None
    return bool(eval(ast.unparse(test), {"sys": sys, "os": os}))


def _of_number(path: Path, source: str, offsets: list[int], node: ast.Constant) -> Iterator[Mutant]:
    start, end = _at(offsets, node), _at(offsets, node, end=True)
    if isinstance(node.value, bool):
        yield Mutant(path, start, end, str(not node.value))
    elif isinstance(node.value, int | float) and source[start:end].replace(".", "").isdigit():
        tenth = round(node.value * 1.1, None if isinstance(node.value, int) else 6)
        yield Mutant(path, start, end, repr(node.value + 1 if node.value < 20 else tenth))


def _of_limits(path: Path, source: str) -> Iterator[Mutant]:
    for line in re.finditer(r"^value = .*$", source, re.MULTILINE):
        for number in re.finditer(r"(?<![\w.\"])-?\d+(?:\.\d+)?(?![\w.\"])", line[0]):
            value = float(number[0])
            changed = (value or 1.0) * 1.1 if "." in number[0] else value + max(1, round(value * 0.1))
            text = f"{changed:g}" if "." in number[0] else str(int(changed))
            yield Mutant(path, line.start() + number.start(), line.start() + number.end(), text)


def _between(
    path: Path, source: str, offsets: list[int], before: ast.expr, after: ast.expr, others: dict[str, str]
) -> Iterator[Mutant]:
    """The operator between two expressions."""
    start, end = _at(offsets, before, end=True), _at(offsets, after)
    words = sorted(map(re.escape, others), key=len, reverse=True)
    found = re.search("|".join(words), source[start:end])
    if found and found[0] in others and "#" not in source[start:end]:
        yield Mutant(path, start + found.start(), start + found.end(), others[found[0]])


def _offsets(source: str) -> list[int]:
    """Where each line begins, in characters."""
    offsets = [0]
    for line in source.splitlines(keepends=True):
        offsets.append(offsets[-1] + len(line))
    return offsets


def _at(offsets: list[int], node: ast.expr | ast.stmt, *, end: bool = False) -> int:
    line = (node.end_lineno if end else node.lineno) or 1
    return offsets[line - 1] + ((node.end_col_offset if end else node.col_offset) or 0)


def changes(rooms: list[str]) -> Iterator[Mutant]:
    """All of these rooms, the limits among them where `rules` is one."""
    for path in [one.relative_to(ROOT) for room in rooms for one in sorted((ROOT / room).rglob("*.py"))]:
        yield from mutants_of(path)
    if "rules" in rooms:
        yield from mutants_of(Path("rules/limits.toml"))


def chosen(mutants: Iterable[Mutant], count: int, seed: int) -> list[Mutant]:
    """A sample by the changed statements themselves; of those that look alike each has a number."""
    alike: Counter[str] = Counter()
    drawn: dict[str, Mutant] = {}
    for mutant in mutants:
        what = _identity(mutant)
        alike[what] += 1
        drawn[hashlib.sha256(f"{seed} {alike[what]} {what}".encode()).hexdigest()] = mutant
    return [drawn[number] for number in sorted(drawn)[:count]]


def _identity(mutant: Mutant) -> str:
    """The statement without the names of its variables, the place in it and what comes there; of a limit its name."""
    if mutant.path.suffix == ".toml":
        source = text_of(ROOT / mutant.path)
        line = source[source.rfind("\n", 0, mutant.start) + 1 : mutant.start]
        number = len(re.findall(r"[\d.]+", line))
        return f"{mutant.section} {number}"
    start, text = min(
        ((start, text) for start, end, text in _statements(mutant.path) if start <= mutant.start and mutant.end <= end),
        key=lambda one: -one[0],
    )
    whole = text_of(ROOT / mutant.path)
    place = len(re.findall(r"[^\s\w]+", whole[start : mutant.start]))
    return f"{text} {place} {mutant.text}"


@cache
def _statements(path: Path) -> list[tuple[int, int, str]]:
    """Where each lies and what it says, of those with a body only the head, each variable called alike."""
    source = text_of(ROOT / path)
    offsets, found = _offsets(source), []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt | ast.excepthandler):
            start, end = _at(offsets, node), _at(offsets, node, end=True)
            for name in (one for one in ast.walk(node) if isinstance(one, ast.Name)):
                name.id = "_"
            text = ast.unparse(node)
            found.append((start, end, text if not hasattr(node, "body") else text.partition("\n")[0]))
    return found


@cache
def text_of(path: Path) -> str:
    return path.read_text("utf-8")


def difference(mutant: Mutant) -> str:
    whole = text_of(ROOT / mutant.path)
    changed = whole[: mutant.start] + mutant.text + whole[mutant.end :]
    lines = difflib.unified_diff(whole.splitlines(), changed.splitlines(), str(mutant.path), "", n=0, lineterm="")
    return "\n".join(list(lines)[2:])
