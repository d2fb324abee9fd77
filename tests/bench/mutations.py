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
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import accumulate, pairwise
from pathlib import Path
from typing import Any

from tests.bench.mutants import (
    ROOMS,
    ROOT,
    Mutant,
    bodies,
    changes,
    chosen,
    difference,
    key_of_line,
    mutants_of,
    text_of,
)

COPIED = ("rules", "monitor", "tests", "sample_exports", "config", "pyproject.toml", "README.md", "DEVELOPERS.md")
TRACED = (
    "tests/rules", "tests/outside", *(f"tests/monitor/{room}" for room in ("alerts", "store", "intake", "views")),
    *(
        str(one.relative_to(ROOT))
        for folder in ("tests/monitor", "tests/scenarios")
        for one in sorted((ROOT / folder).glob("test_*.py"))
        if one.name != "test_any_order.py"  # half a minute
    ),
)  # fmt: skip
FOUND, LEFT = ("killed", "late"), ("survived", "untested")
MOST_FILES = 6
FILES_AGAIN = 3
LATE_S = 400.0
"""After which tests that still run wait for what will not come."""


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
    taken = rf"from {re.escape(above)} import (\([^)]*|[^\n]*)\b{re.escape(last)}\b"
    return re.search(rf"\b{re.escape(name)}\b|{taken}", text) is not None


@dataclass
class Traced:
    """Which tests run which lines, what each costs, and how many lines of the product it runs."""

    seconds: dict[str, float]
    many: dict[str, int]
    lines: dict[str, int]
    sets: list[list[int]]
    longest_s: float

    @cached_property
    def names(self) -> list[str]:
        return list(self.seconds)

    def tests_of(self, mutant: Mutant) -> list[str]:
        """Those that run the line; where it is read at import alone, those that name its module."""
        found = {self.names[at] for number in self._running(mutant) for at in self.sets[number]}
        there = {name for name in found if (ROOT / name.partition("::")[0]).exists()}
        return self._most_telling(there, mutant) or tests_by_name(mutant)

    def _running(self, mutant: Mutant) -> set[int]:
        """Of the line; of its function where the line has changed since; of a limit the lines on which it stands."""
        path, function = mutant.path, mutant.function[0]
        if path.suffix == ".toml":
            keys = lines_of_limit(mutant.section)
        elif not function:
            return set()
        else:
            keys = [key_of_line(path, bodies(path), mutant.line)]
            if not any(key in self.lines for key in keys):
                keys = [key for key in self.lines if f" {function} " in key]
        return {self.lines[key] for key in keys if key in self.lines}

    def _most_telling(self, found: set[str], mutant: Mutant) -> list[str]:
        """Those of its room first, cheap ones that run little before others, as many as fit.

        A test that runs few lines is about them. Kept answers run nearly all, mind nearly all and cost much: they are
        asked when a third of the time is spent.
        """
        room = str(_mirror(mutant).relative_to(ROOT))

        def place(one: str) -> tuple[bool, float, str]:
            return not one.startswith(room), self.many.get(one, 1) * (self.seconds.get(one, 1.0) + 0.01), one

        spent, early, late = 0.0, [], []
        kept = sorted((one for one in found if "/test_kept_" in one and one.startswith(room)), key=place)
        for one in sorted(found.difference(kept), key=place):
            spent += self.seconds.get(one, 1.0)
            (early if spent < self.longest_s / 3 else late).append(one)
        whole = [*early, *kept, *late]
        costs = accumulate(self.seconds.get(one, 1.0) for one in whole)
        return [one for one, cost in zip(whole, costs, strict=True) if cost <= self.longest_s]


@cache
def _lines_of_words() -> dict[str, list[str]]:
    """On which lines each word stands, and each two with a dot between them."""
    found: dict[str, list[str]] = {}
    for path in (one.relative_to(ROOT) for top in ("rules", "monitor") for one in sorted((ROOT / top).rglob("*.py"))):
        for number, line in enumerate(text_of(ROOT / path).splitlines(), 1):
            dotted = (".".join(two) for name in re.findall(r"[\w.]+", line) for two in pairwise(name.split(".")))
            for word in {*re.findall(r"\w+", line), *dotted}:
                found.setdefault(word, []).append(key_of_line(path, bodies(path), number))
    return found


def lines_of_limit(name: str) -> list[str]:
    """Those that name it with its table, or by itself where none does."""
    words = _lines_of_words()
    return words.get(name) or words.get(name.rpartition(".")[2], [])


def traced(into: Path, longest_s: float) -> Traced:
    """One run of the tests of all rooms, traced and kept in a file; later only those whose files have changed since."""
    kept: dict[str, Any] = {"seconds": {}, "many": {}, "lines": {}, "sets": []}
    tests: Sequence[str] = TRACED
    if into.exists():
        since = into.stat().st_mtime
        places = [ROOT / one for one in TRACED]
        whole = [file for one in places for file in ([one] if one.is_file() else one.rglob("test_*.py"))]
        files = [file for file in whole if file.stat().st_mtime > since]
        tests = [str(file.relative_to(ROOT)) for file in files]
        kept = json.loads(into.read_text("utf-8"))
    if tests:
        fresh = into.with_suffix(".fresh")
        command = [sys.executable, "-m", "pytest", "-q", "-n0", "-p", "tests.bench.mutation_trace", *tests]
        subprocess.run(command, cwd=ROOT, check=True, env=os.environ | {"MUTATION_TRACE": str(fresh)})
        kept = joined([kept, json.loads(fresh.read_text("utf-8"))])
        into.write_text(json.dumps(kept), "utf-8")
        fresh.unlink()
    return Traced(kept["seconds"], kept["many"], kept["lines"], kept["sets"], longest_s)


def joined(traces: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Several traces as one: what a test runs is what any of them saw."""
    seconds: dict[str, float] = {}
    many: dict[str, int] = {}
    tests: dict[str, set[str]] = {}
    for trace in traces:
        seconds |= trace["seconds"]
        many |= trace["many"]
        names = list(trace["seconds"])
        for key, number in trace["lines"].items():
            tests.setdefault(key, set()).update(names[at] for at in trace["sets"][number])
    place = {name: at for at, name in enumerate(seconds)}
    numbers: dict[tuple[int, ...], int] = {}
    lines = {
        key: numbers.setdefault(tuple(sorted(place[one] for one in found)), len(numbers))
        for key, found in tests.items()
    }
    return {"seconds": seconds, "many": many, "lines": lines, "sets": [list(one) for one in numbers]}


class Runner:
    """A copy of the tree and a process in it that runs tests against changes."""

    def __init__(self, folder: Path, collected: Sequence[str], most_cpu_s: float) -> None:
        self._most_cpu_s = most_cpu_s
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
        """killed, late (the tests do not end: that is noticed too), survived or untested."""
        whole = text_of(ROOT / mutant.path)
        text = whole[: mutant.start] + mutant.text + whole[mutant.end :]
        job = {"path": str(mutant.path), "text": text, "tests": tests, "seconds": LATE_S, "most_cpu": self._most_cpu_s}
        function, line = mutant.function
        if not tests:
            return "untested"
        if "loaded" in self.processes and (function or mutant.path.suffix == ".toml"):
            said = self._line("loaded", job | {"function": function, "line": line})
            if said in FOUND:
                return said
            # What tests or modules made when they were collected holds the old value; a new process makes it anew.
            named = tests_by_name(mutant) if mutant.path.suffix == ".toml" else []
            if named or said != "elsewhere":
                job["tests"] = list(dict.fromkeys((*named, *self._files_of(tests))))
        said = self._line("fresh", job)
        if said not in ("killed", "late", "survived", "untested"):
            raise RuntimeError(f"pytest ended with {said} for {mutant.path}: {tests}")
        return said

    def _files_of(self, tests: Sequence[str]) -> list[str]:
        """The first few files of the tests, whole."""
        files = dict.fromkeys(name.partition("::")[0] for name in tests)
        return [file for file in files if "/test_kept_" not in file][:FILES_AGAIN]

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
    totals: Counter[tuple[str, str]] = Counter()
    turn = threading.Lock()
    began = time.monotonic()

    def work(folder: Path) -> None:
        runner = Runner(folder, collected, 20 + 2 * given.seconds)
        unchanged = Mutant(first.path, first.start, first.end, first.was)
        if runner.verdict(unchanged, near(first)) in FOUND:
            raise RuntimeError(f"the tests near {first.path} fail without a change")
        while True:
            with turn:
                mutant = next(waiting, None)
            if mutant is None:
                break
            said = runner.verdict(mutant, near(mutant))
            with turn:
                totals[next(room for room in rooms if str(mutant.path).startswith(room)), said] += 1
                if said != "killed":
                    print(f"{said} ({sum(totals.values())}): {mutant.path}\n{difference(mutant)}", flush=True)
        runner.end()

    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(given.runners) as pool:
        list(pool.map(work, [Path(folder) / str(number) for number in range(given.runners)]))
    alive = 0
    for room in rooms:
        dead, left = (sum(totals[room, said] for said in kinds) for kinds in (FOUND, LEFT))
        alive += left
        if dead + left:
            ending = f"; of these {late} by tests that never end" if (late := totals[room, "late"]) else ""
            print(f"{room}: {dead} of {dead + left} killed ({dead / (dead + left):.0%}){ending}")
    print(f"{time.monotonic() - began:.0f} s")
    if given.most_surviving is not None and alive > given.most_surviving:
        print(f"{alive} changes survive the tests near them, where {given.most_surviving} are known to")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
