"""Runs a few tests against one changed module after the other, each in a fork of a process that has what they import.

Started by `mutations.py` in a copy of the tree, which is what it imports. Takes a job a line (JSON: `path`, `text`,
`tests`, `seconds`, `most_cpu`), answers each with a line: killed, late, survived or untested.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import resource
import select
import signal
import sys
import time
from pathlib import Path

import pytest

HEAVY = (
    "numpy", "duckdb", "hypothesis", "pydantic", "apprise", "typer", "rich", "tenacity", "jinja2",
    "geographiclib.geodesic", "fitparse", "fitfast", "defusedxml.ElementTree", "watchdog.observers", "tomlkit",
    "rapidfuzz", "zoneinfo", "multiprocessing.connection", "aiosmtpd.controller",
)  # fmt: skip
FAILED_TO_RUN = 99
LOOK_S, IDLE_S = 5.0, 60.0
VERDICTS = {0: "survived", 1: "killed", 2: "killed", 4: "killed", 5: "untested"}
"""By the exit status of pytest, 4 where a conftest cannot be loaded; anything else is a mistake of the run."""


class Chosen:
    """Of what the files hold only the chosen tests, in the order in which they were chosen."""

    def __init__(self, names: list[str]) -> None:
        self.place = {name: number for number, name in enumerate(names)}

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        if self.place:
            items[:] = sorted(
                (one for one in items if one.nodeid in self.place), key=lambda one: self.place[one.nodeid]
            )


def run(tests: list[str], base: str) -> int:
    """Exit status of pytest; files are taken whole, names with :: one by one."""
    files = sorted({name.partition("::")[0] for name in tests}, key=[name.partition("::")[0] for name in tests].index)
    chosen = Chosen([name for name in tests if "::" in name])
    quiet = [
        "-x",
        "-q",
        "-n0",
        "-p",
        "no:cacheprovider",
        "--no-header",
        "--tb=no",
        "-W",
        "ignore::pytest.PytestAssertRewriteWarning",
    ]
    return int(pytest.main([*quiet, "-o", "addopts=--import-mode=importlib", f"--basetemp={base}", *files], [chosen]))


def judged(job: dict[str, object], base: str) -> str:
    """The verdict of one fork, which is ended with all its children when its time is up."""
    child = os.fork()
    if child == 0:
        os.setsid()
        nothing = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nothing, stream)
        resource.setrlimit(resource.RLIMIT_CPU, (int(job["most_cpu"]), int(job["most_cpu"])))
        status = FAILED_TO_RUN
        try:
            status = run(list(job["tests"]), base)
        finally:
            os._exit(status)
    in_time = ends(child, float(job["seconds"]))
    _end(child)
    _, status = os.waitpid(child, 0)
    code = os.waitstatus_to_exitcode(status)
    if not in_time or code in (-signal.SIGXCPU, -signal.SIGKILL):
        return "late"
    return VERDICTS.get(code, f"status {code}") if code >= 0 else "killed"


def ends(child: int, most_s: float) -> bool:
    """Whether a process ends; not one that takes too long, or does nothing at all for a minute: it waits in vain."""
    handle = os.pidfd_open(child)
    used, idle, begun = _used_s(child), 0.0, time.monotonic()
    try:
        while time.monotonic() - begun < most_s and idle < IDLE_S:
            if select.select([handle], [], [], LOOK_S)[0]:
                return True
            before, used = used, _used_s(child)
            idle = idle + LOOK_S if used - before < 0.02 * LOOK_S else 0.0
    finally:
        os.close(handle)
    return False


def _used_s(child: int) -> float:
    """Time of the processor, with that of its children that have ended."""
    numbers = Path(f"/proc/{child}/stat").read_text("ascii").rpartition(")")[2].split()[11:15]
    return sum(map(int, numbers)) / os.sysconf("SC_CLK_TCK")


def _end(child: int) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)


def main() -> None:
    sys.dont_write_bytecode = True  # two changes within a second would be taken for one another
    sys.path.insert(0, str(Path.cwd()))
    for name in HEAVY:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
    for line in sys.stdin:
        job = json.loads(line)
        place = Path(job["path"])
        whole, kept = place.read_bytes(), place.stat()
        place.write_text(job["text"], "utf-8")
        try:
            verdict = judged(job, str(Path.cwd().parent / "tests"))
        finally:
            place.write_bytes(whole)
            os.utime(place, ns=(kept.st_atime_ns, kept.st_mtime_ns))
        print(verdict, flush=True)


if __name__ == "__main__":
    main()
