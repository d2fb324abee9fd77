"""Small wrong changes, each against the tests near it. Run by hand: python -m tests.bench.mutations 1000 --traced

A comparison moved by its border, a sign, a number, a condition turned round, a limit changed by a tenth: one at a time
in a copy of the tree. Which are taken hangs on a seed and on the changed statement alone, without the names of its
variables, so that neither other lines nor a module renamed move the sample. What no test minded is printed as a
difference; survivors are read one by one.

The tests near a module are those of files that name it: quick, and what CI takes (`--most-surviving` makes it fail).
With `--traced` the tests are traced once, and each change is held against those that run its function, which is
changed in memory then, which takes no longer than the tests do. `--limits` takes every number of `limits.toml`, `--in`
those changes whose file or limit has these letters in its name.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.bench.mutants import ROOMS, ROOT, Mutant, changes, chosen, difference, mutants_of, text_of

COPIED = ("rules", "monitor", "tests", "sample_exports", "config", "pyproject.toml", "README.md", "DEVELOPERS.md")
TRACED = (
    "tests/rules", "tests/outside", "tests/scenarios", "--ignore=tests/scenarios/test_any_order.py",
    *(f"tests/monitor/{room}" for room in ("alerts", "store", "intake", "views")),
)  # fmt: skip
MOST_FILES = 6
LATE_S = 180.0
"""After which tests that still run have found the change."""


def _mirror(mutant: Mutant) -> Path:
    """The folder of tests of its room."""
    return ROOT / {"rules": "tests/rules"}.get(mutant.path.parts[0], "/".join(("tests", *mutant.path.parts[:2])))


def tests_by_name(mutant: Mutant) -> list[str]:
    """A few files of tests that name the module, or the limit; where none does, those of the folder that mirrors it.

    Those of the mirroring folder first, then the shortest, then the kept answers of the room, which run all of it.
    """
    folder = _mirror(mutant)
    name = mutant.section if mutant.path.suffix == ".toml" else ".".join(mutant.path.with_suffix("").parts)
    near = [
        path
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if not {"process", "scenarios", "cli"} & set(path.parts) and _names(name, text_of(path))
    ]
    near.sort(key=lambda path: (not path.is_relative_to(folder), len(text_of(path))))
    kept = near[:MOST_FILES] or sorted(folder.glob("test_*.py"))
    answers = [path for path in sorted(folder.rglob("test_kept_*.py")) if path not in kept]
    return [str(path.relative_to(ROOT)) for path in (*kept, *answers)]


def _names(name: str, text: str) -> bool:
    """Whether a test takes something from the module, or the module itself; of a limit whether it is named."""
    above, _, last = name.rpartition(".")
    taken = rf"from {re.escape(above)} import [^\n]*\b{re.escape(last)}\b"
    return re.search(rf"\b{re.escape(name)}\b|{taken}", text) is not None


@dataclass(frozen=True)
class Traced:
    """Which tests run which functions, whatever module they stand in by now."""

    seconds: dict[str, float]
    functions: dict[str, list[str]]
    longest_s: float

    def tests_of(self, mutant: Mutant) -> list[str]:
        """Those that run the function; where it is read at import alone, those that run anything of the module."""
        found = {
            name
            for key in self._keys(mutant)
            for name in self.functions.get(key, ())
            if (ROOT / name.partition("::")[0]).exists()
        }
        return self._quickest(found, mutant) or tests_by_name(mutant)

    def _keys(self, mutant: Mutant) -> Iterator[str]:
        """The function of the change; of a limit those that name it."""
        if mutant.path.suffix == ".toml":
            yield from _functions_of_words().get(mutant.section.partition(".")[2], ())
        else:
            yield mutant.function[0] or str(mutant.path)

    def _quickest(self, found: set[str], mutant: Mutant) -> list[str]:
        """Those of its room first, by time, those of files that name the module before others; as many as fit."""
        named, room = set(tests_by_name(mutant)), str(_mirror(mutant).relative_to(ROOT))
        kept, spent = [], 0.0
        for name in sorted(
            found,
            key=lambda one: (
                not one.startswith(room),
                round(self.seconds.get(one, 1.0), 1),
                one.partition("::")[0] not in named,
                one,
            ),
        ):
            spent += self.seconds.get(name, 1.0)
            if spent > self.longest_s:
                break
            kept.append(name)
        return kept


def functions_of(source: str) -> Iterator[tuple[str, int, int]]:
    """Each function that stands in no other, `Class.name`, with the first and last line of its body."""

    def look(nodes: list[ast.stmt], above: str) -> Iterator[tuple[str, int, int]]:
        for node in nodes:
            if isinstance(node, ast.ClassDef):
                yield from look(node.body, f"{above}{node.name}.")
            elif isinstance(node, ast.FunctionDef):
                yield above + node.name, node.body[0].lineno, node.end_lineno or node.lineno

    yield from look(ast.parse(source).body, "")


@cache
def _functions_of_words() -> dict[str, set[str]]:
    """In which functions, or modules outside of them, each word stands."""
    found: dict[str, set[str]] = {}
    for path in (one for top in ("rules", "monitor") for one in sorted((ROOT / top).rglob("*.py"))):
        source = path.read_text("utf-8")
        functions = list(functions_of(source))
        for number, line in enumerate(source.splitlines(), 1):
            inside = [name for name, first, last in functions if first <= number <= last]
            for word in set(re.findall(r"\w+", line)):
                found.setdefault(word, set()).update(inside or [str(path.relative_to(ROOT))])
    return found


def traced(into: Path, longest_s: float) -> Traced:
    """One run of the tests of all rooms, traced and kept in a file; later only those whose files have changed since."""
    kept: dict[str, Any] = {"seconds": {}, "functions": {}}
    tests: Sequence[str] = TRACED
    if into.exists():
        since = into.stat().st_mtime
        folders = [ROOT / one for one in TRACED if one.startswith("tests/")]
        files = [file for one in folders for file in one.rglob("test_*.py") if file.stat().st_mtime > since]
        tests = [str(file.relative_to(ROOT)) for file in files if f"--ignore={file.relative_to(ROOT)}" not in TRACED]
        kept = json.loads(into.read_text("utf-8"))
    if tests:
        fresh = into.with_suffix(".fresh")
        command = [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "tests.bench.mutation_trace", *tests]
        subprocess.run(command, cwd=ROOT, check=True, env=os.environ | {"MUTATION_TRACE": str(fresh)})
        told = json.loads(fresh.read_text("utf-8"))
        kept["seconds"] |= told["seconds"]
        for function, names in told["functions"].items():
            kept["functions"][function] = sorted({*kept["functions"].get(function, ()), *names})
        into.write_text(json.dumps(kept), "utf-8")
        fresh.unlink()
    return Traced(kept["seconds"], kept["functions"], longest_s)


class Runner:
    """A copy of the tree and a process in it that runs tests against changes."""

    def __init__(self, folder: Path, collected: Sequence[str] = ()) -> None:
        self.tree = folder / "tree"
        self.tree.mkdir(parents=True)
        for name in COPIED:
            whole = ROOT / name
            if whole.is_dir():
                shutil.copytree(whole, self.tree / name)
            else:
                shutil.copy2(whole, self.tree / name)
        self.processes = {"fresh": self._started("mutation_runner.py")}
        if collected:
            self.processes["loaded"] = self._started("mutation_loaded.py", *collected)
            if self._line("loaded") != "ready":
                raise RuntimeError("the tests cannot be collected")

    def _started(self, name: str, *arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, str(self.tree / "tests/bench" / name), *arguments],
            cwd=self.tree, env=os.environ | {"PYTHONPATH": str(self.tree), "CI": "1"},
            text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip

    def _line(self, which: str, job: dict[str, object] | None = None) -> str:
        process = self.processes[which]
        assert process.stdin is not None
        assert process.stdout is not None
        if job is not None:
            process.stdin.write(json.dumps(job) + "\n")
            process.stdin.flush()
        return process.stdout.readline().strip()

    def verdict(self, mutant: Mutant, tests: Sequence[str]) -> str:
        """killed, survived or untested."""
        whole = text_of(ROOT / mutant.path)
        text = whole[: mutant.start] + mutant.text + whole[mutant.end :]
        job = {"path": str(mutant.path), "text": text, "tests": tests, "seconds": LATE_S}
        function, line = mutant.function
        if not tests:
            return "untested"
        if "loaded" in self.processes and (function or mutant.path.suffix == ".toml"):
            said = self._line("loaded", job | {"function": function, "line": line})
            unseen = mutant.path.suffix == ".toml" and said in ("survived", "untested")  # it may be read at import
            if unseen:
                job["tests"] = tests_by_name(mutant)
            elif said not in ("elsewhere", "late"):
                return said
        said = self._line("fresh", job)
        if said not in ("killed", "survived", "untested"):
            raise RuntimeError(f"pytest ended with {said} for {mutant.path}: {tests}")
        return said

    def end(self) -> None:
        for process in self.processes.values():
            assert process.stdin is not None
            process.stdin.close()
            process.wait()


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("count", type=int)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--room", action="append", choices=ROOMS, help="only this one, may be given again")
    asked.add_argument("--runners", type=int, default=1, help="side by side")
    asked.add_argument("--traced", type=Path, metavar="FILE", help="the trace of the tests; made where there is none")
    asked.add_argument("--most-surviving", type=int, help="fail where more survive")
    asked.add_argument("--seconds", type=float, default=60.0, help="of tests against a change, as traced")
    asked.add_argument("--limits", action="store_true", help="every number of the limits, and nothing else")
    asked.add_argument("--in", dest="name", default="", help="only of files or limits with this in their name")
    asked.add_argument("--tests", nargs="+", metavar="FILE", help="these tests alone, all of them against each change")
    given = asked.parse_args()
    rooms = given.room or list(ROOMS)
    possible = mutants_of(Path("rules/limits.toml")) if given.limits else changes(rooms)
    if given.name:
        possible = (
            one for one in possible if given.name in (one.section if one.path.suffix == ".toml" else str(one.path))
        )
    near = traced(given.traced, given.seconds).tests_of if given.traced else tests_by_name
    collected = given.tests or (TRACED if given.traced else ())
    if given.tests:

        def near(_: Mutant) -> list[str]:
            return list(given.tests)

    drawn = chosen(possible, given.count, given.seed)
    first, waiting = drawn[0], iter(drawn)
    totals: Counter[tuple[str, bool]] = Counter()
    turn = threading.Lock()
    began = time.monotonic()

    def work(folder: Path) -> None:
        runner = Runner(folder, collected)
        unchanged = Mutant(first.path, first.start, first.end, first.was)
        if runner.verdict(unchanged, near(first)) == "killed":
            raise RuntimeError(f"the tests near {first.path} fail without a change")
        while True:
            with turn:
                mutant = next(waiting, None)
            if mutant is None:
                break
            said = runner.verdict(mutant, near(mutant))
            with turn:
                totals[next(room for room in rooms if str(mutant.path).startswith(room)), said == "killed"] += 1
                if said != "killed":
                    print(f"{said} ({sum(totals.values())}): {mutant.path}\n{difference(mutant)}", flush=True)
        runner.end()

    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(given.runners) as pool:
        list(pool.map(work, [Path(folder) / str(number) for number in range(given.runners)]))
    alive = 0
    for room in rooms:
        dead, left = totals[room, True], totals[room, False]
        alive += left
        if dead + left:
            print(f"{room}: {dead} of {dead + left} killed ({dead / (dead + left):.0%})")
    print(f"{time.monotonic() - began:.0f} s")
    if given.most_surviving is not None and alive > given.most_surviving:
        print(f"{alive} changes survive the tests near them, where {given.most_surviving} are known to")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
