"""Runs chosen tests against one changed function after the other, each in a fork of a process that has collected them.

Started by `mutations.py` in a copy of the tree with the folders of tests to collect. The function's code is replaced in
memory, so that a change costs no more than its tests take; the file is changed too, for processes that a test starts.
Takes a job a line (JSON: `path`, `text`, `function`, `line`, `tests`, `seconds`), answers each with a line: killed,
survived, untested, late (not done in time), or elsewhere (what cannot be replaced so).
"""

from __future__ import annotations

import ast
import contextlib
import itertools
import json
import os
import re
import resource
import shutil
import signal
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any, TextIO

import pytest

from rules import limits
from tests.bench.mutation_runner import ends

VERDICTS = {0: "survived", 1: "killed"}
BROKEN = 99
ENDLESS = (-signal.SIGXCPU, -signal.SIGKILL)
"""What ends a process that has had all its time of the processor."""


def replaced(module: ModuleType, source: str, function: str, line: int) -> bool:
    """Give a function of a module the code that it has in another source; False where that cannot be."""
    code = [one for one in _codes(compile(source, str(module.__file__), "exec")) if one.co_qualname == function]
    found: Any = module
    for name in function.split("."):
        found = vars(found).get(name) if hasattr(found, "__dict__") else None
    found = _plain(found)
    fits = (
        isinstance(found, FunctionType)
        and len(code) == 1
        and found.__code__.co_freevars == code[0].co_freevars
        and found.__code__.co_firstlineno == code[0].co_firstlineno == line
    )
    if fits:
        found.__code__ = code[0]
    return fits


def _codes(code: CodeType) -> Iterator[CodeType]:
    for one in code.co_consts:
        if isinstance(one, CodeType):
            yield one
            yield from _codes(one)


def _plain(found: Any) -> Any:
    """The function in a property, a class method, a cache or a context manager."""
    while not isinstance(found, FunctionType) or hasattr(found, "__wrapped__"):
        inner = next(
            (getattr(found, name) for name in ("__wrapped__", "__func__", "fget", "func") if hasattr(found, name)), None
        )
        if inner is None:
            return None
        found = inner
    return found


def limits_replaced(text: str) -> None:
    """Give the limits that all hold already the values of another file; what is no file of limits has been noticed."""
    try:
        found = limits.parse(tomllib.loads(text))
    except (ValueError, TypeError, KeyError):
        os._exit(1)
    own = limits.default_limits()
    fresh = {id(getattr(own, section)): getattr(found, section) for section in limits.SECTIONS}
    for module in [one for name, one in sys.modules.items() if name.partition(".")[0] in ("rules", "monitor")]:
        for name, value in list(vars(module).items()):
            if id(value) in fresh:  # what a module has named at import
                setattr(module, name, fresh[id(value)])
    for section in limits.SECTIONS:
        object.__setattr__(own, section, getattr(found, section))
    object.__setattr__(own, "entries", found.entries)
    vars(own).pop("fingerprint", None)


def follows(item: pytest.Item) -> bool:
    """Whether a test was made of the limits when it was collected, and would follow a change of them unnoticed."""
    aside, whole = _made_of_limits(item.path)
    return whole or item.name.partition("[")[0] in aside


@cache
def _made_of_limits(path: Path) -> tuple[frozenset[str], bool]:
    """Tests whose cases name limits; and whether constants of the file do."""
    source = path.read_text("utf-8")
    names, whole = set(), False
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef):
            said = " ".join(ast.unparse(one) for one in node.decorator_list)
            if re.search(r"limits\W", said, re.IGNORECASE):
                names.add(node.name)
        elif isinstance(node, ast.Assign | ast.AnnAssign) and re.search(r"limits(\(\))?\.", ast.unparse(node), re.I):
            whole = True
    return frozenset(names), whole


def _forget() -> None:
    """What functions have remembered; the limits are kept, for tests hold them."""
    for name, module in list(sys.modules.items()):
        if name.partition(".")[0] in ("rules", "monitor"):
            for found in list(vars(module).values()):
                if (
                    not isinstance(found, ModuleType)
                    and hasattr(found, "cache_clear")
                    and getattr(found, "__name__", "") != "default_limits"
                ):
                    found.cache_clear()


class Watcher:
    """Ends the process with the first test that fails."""

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            os._exit(1)


class Loop:
    """In place of running what was collected."""

    def __init__(self, jobs: TextIO, answers: TextIO, base: Path) -> None:
        self.jobs, self.answers, self.base = jobs, answers, base

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items: dict[str, list[pytest.Item]] = {}
        for one in session.items:
            for name in (one.nodeid, one.nodeid.partition("::")[0]):
                items.setdefault(name, []).append(one)
        self.say("ready")
        for line in self.jobs:
            job = json.loads(line)
            place = Path(job["path"])
            whole, kept = place.read_bytes(), place.stat()
            place.write_text(job["text"], "utf-8")
            try:
                verdict = self.judged(session, items, job)
            finally:
                place.write_bytes(whole)
                os.utime(place, ns=(kept.st_atime_ns, kept.st_mtime_ns))
            self.say(verdict)  # not before the file is whole: another process may change it next
        return True

    def say(self, word: str) -> None:
        self.answers.write(word + "\n")
        self.answers.flush()

    def judged(self, session: pytest.Session, items: dict[str, list[pytest.Item]], job: dict[str, Any]) -> str:
        chosen = [one for name in job["tests"] for one in items.get(name, ())]
        if job["path"].endswith(".toml"):
            chosen = [one for one in chosen if not follows(one)]
        module = sys.modules.get(".".join(Path(job["path"]).with_suffix("").parts))
        if not chosen:
            return "untested"
        child = os.fork()
        if child == 0:
            status = BROKEN
            try:
                os.setsid()
                self._run(session, chosen, module, job)
                status = 0
            finally:
                os._exit(status)
        in_time = ends(child, float(job["seconds"]))
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        shutil.rmtree(self.base, ignore_errors=True)
        if not in_time:
            return "late"
        code = os.waitstatus_to_exitcode(status)
        if code in ENDLESS:
            return "late"
        return VERDICTS.get(code, "elsewhere") if code >= 0 else "killed"

    def _run(
        self, session: pytest.Session, chosen: list[pytest.Item], module: ModuleType | None, job: dict[str, Any]
    ) -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (int(job["most_cpu"]), int(job["most_cpu"])))
        if job["path"].endswith(".toml"):
            limits_replaced(job["text"])
            _forget()
        elif module is not None:
            if not replaced(module, job["text"], job["function"], job["line"]):
                os._exit(BROKEN)
            _forget()
        self.base.mkdir(parents=True)
        session.config._tmp_path_factory._basetemp = self.base
        session.config.pluginmanager.register(Watcher())
        for item, then in itertools.pairwise([*chosen, None]):
            session.config.hook.pytest_runtest_protocol(item=item, nextitem=then)


def main() -> None:
    sys.dont_write_bytecode = True
    sys.path.insert(0, str(Path.cwd()))
    jobs, answers = os.fdopen(os.dup(0)), os.fdopen(os.dup(1), "w")
    nothing = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(nothing, stream)
    base = Path.cwd().parent
    quiet = ["-q", "-s", "-n0", "-p", "no:cacheprovider", "-o", "addopts=--import-mode=importlib"]
    said = pytest.main([*quiet, f"--basetemp={base / 'first'}", *sys.argv[1:]], [Loop(jobs, answers, base / "loaded")])
    answers.write(f"status {int(said)}\n")
    answers.flush()


if __name__ == "__main__":
    main()
