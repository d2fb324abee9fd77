"""Small wrong changes, each against the tests near it. Run by hand: python -m tests.bench.mutations 100 [--seed 1]

A comparison moved by its border, a sign, a number, a condition turned round, a limit changed by a tenth: one at a time
in a copy of the tree. The tests near a module are those that name it, those of the folder that mirrors its own,
and the scenarios. What no test minded is printed as a difference; survivors are read one by one.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import itertools
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
ROOMS = ("rules", "monitor/alerts", "monitor/store", "monitor/intake")
COPIED = ("rules", "monitor", "tests", "sample_exports", "config", "pyproject.toml", "README.md", "DEVELOPERS.md")
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


def mutants_of(path: Path) -> Iterator[Mutant]:
    """All small changes that a module can suffer."""
    source = (ROOT / path).read_text("utf-8")
    if path.suffix == ".toml":
        yield from _of_limits(path, source)
        return
    offsets = _offsets(source)
    for node in ast.walk(ast.parse(source)):
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


def _of_number(path: Path, source: str, offsets: list[int], node: ast.Constant) -> Iterator[Mutant]:
    start, end = _at(offsets, node), _at(offsets, node, end=True)
    if isinstance(node.value, bool):
        yield Mutant(path, start, end, str(not node.value))
    elif isinstance(node.value, int | float) and source[start:end].replace(".", "").isdigit():
        yield Mutant(path, start, end, repr(node.value + 1))


def _of_limits(path: Path, source: str) -> Iterator[Mutant]:
    for line in re.finditer(r"^value = .*$", source, re.MULTILINE):
        for number in re.finditer(r"(?<![\w.\"])-?\d+(?:\.\d+)?(?![\w.\"])", line[0]):
            value = float(number[0])
            changed = value * 1.1 if "." in number[0] else value + max(1, round(value * 0.1))
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


def _at(offsets: list[int], node: ast.expr, *, end: bool = False) -> int:
    line = (node.end_lineno if end else node.lineno) or 1
    return offsets[line - 1] + ((node.end_col_offset if end else node.col_offset) or 0)


def tests_near(tree: Path, path: Path) -> list[list[str]]:
    """Groups of tests in the order in which they are tried: those that name the module, its folder's, the scenarios."""
    folder = {"rules": "tests/rules"}.get(path.parts[0], "/".join(("tests", *path.parts[:2])))
    module = ".".join(path.with_suffix("").parts)
    near = [
        str(one.relative_to(tree))
        for one in sorted((tree / "tests").rglob("test_*.py"))
        if re.search(rf"\b{re.escape(module)}\b", one.read_text("utf-8")) and "process" not in one.parts
    ]
    outside = ["tests/outside"] if path.parts[0] == "rules" else []
    return [group for group in (near, [folder], [*outside, "tests/scenarios"]) if group]


def killed(tree: Path, mutant: Mutant) -> bool:
    """Does any test near it fail?"""
    place = tree / mutant.path
    whole = place.read_text("utf-8")
    place.write_text(whole[: mutant.start] + mutant.text + whole[mutant.end :], "utf-8")
    try:
        for group in tests_near(tree, mutant.path):
            command = [sys.executable, "-m", "pytest", "-x", "-q", "-n2", "-p", "no:cacheprovider", *group]
            if subprocess.run(command, cwd=tree, capture_output=True, check=False, timeout=900).returncode not in (
                0,
                5,
            ):
                return True
    finally:
        place.write_text(whole, "utf-8")
    return False


def difference(mutant: Mutant) -> str:
    whole = (ROOT / mutant.path).read_text("utf-8")
    changed = whole[: mutant.start] + mutant.text + whole[mutant.end :]
    lines = difflib.unified_diff(whole.splitlines(), changed.splitlines(), str(mutant.path), "", n=0, lineterm="")
    return "\n".join(list(lines)[2:])


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("count", type=int)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--room", action="append", help=f"only this one of {', '.join(ROOMS)}")
    given = asked.parse_args()
    rooms = given.room or ROOMS
    files = [one.relative_to(ROOT) for room in rooms for one in sorted((ROOT / room).rglob("*.py"))]
    files += [Path("rules/limits.toml")] if "rules" in rooms else []
    everything = [mutant for path in files for mutant in mutants_of(path)]
    chosen = random.Random(given.seed).sample(everything, min(given.count, len(everything)))
    totals: Counter[tuple[str, bool]] = Counter()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        tree.mkdir()
        for name in COPIED:
            whole = ROOT / name
            copy = shutil.copytree if whole.is_dir() else shutil.copyfile
            copy(whole, tree / name)
        for mutant in chosen:
            room = next(room for room in rooms if str(mutant.path).startswith(room))
            died = killed(tree, mutant)
            totals[room, died] += 1
            if not died:
                print(f"survived: {mutant.path}\n{difference(mutant)}", flush=True)
    for room in rooms:
        dead, alive = totals[room, True], totals[room, False]
        if dead + alive:
            print(f"{room}: {dead} of {dead + alive} killed ({dead / (dead + alive):.0%})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
