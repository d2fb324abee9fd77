"""What every bench says of the machine, and how processor time and memory of processes are measured."""

from __future__ import annotations

import os
import platform
import re
import resource
import statistics
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb
import numpy as np

from tests.process.daemons import PROGRAM, ROOT, surroundings

TICKS = os.sysconf("SC_CLK_TCK")
PAGE = os.sysconf("SC_PAGE_SIZE")


def about() -> str:
    """The machine in a line; a load above the number of cores makes figures by the clock worse than they are."""
    versions = f"Python {platform.python_version()}, DuckDB {duckdb.__version__}, numpy {np.__version__}"
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores, load {load:.1f}, {versions}"


def own_cpu_seconds() -> float:
    """Processor time of this process and of the children that ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


@dataclass(frozen=True)
class Tree:
    """A process with all that came from it, at one moment."""

    processes: int
    cpu_seconds: float
    resident_mb: float
    private_mb: float  # without what is shared with other programs
    proportional_mb: float  # what is shared counted in shares (PSS)


@dataclass(frozen=True)
class Command:
    """What one command took."""

    clock_seconds: float
    cpu_seconds: float
    most_mb: float


def tree(process_id: int) -> Tree:
    """Sums over a process and its descendants; what one used before it ended counts with its parent."""
    ids = [process_id]
    for one in ids:
        ids.extend(int(child) for child in _read(f"/proc/{one}/task/{one}/children").split())
        for task in Path(f"/proc/{one}/task").glob("*/children") if Path(f"/proc/{one}/task").exists() else ():
            ids.extend(int(child) for child in _read(str(task)).split() if int(child) not in ids)
    cpu = resident = private = proportional = 0.0
    for one in ids:
        fields = _read(f"/proc/{one}/stat").rpartition(")")[2].split()
        pages = _read(f"/proc/{one}/statm").split()
        if not fields or not pages:
            continue
        cpu += sum(int(field) for field in fields[11:15]) / TICKS
        resident += int(pages[1]) * PAGE / 1e6
        private += (int(pages[1]) - int(pages[2])) * PAGE / 1e6
        proportional += (
            sum(map(int, re.findall(r"^Pss:\s+(\d+)", _read(f"/proc/{one}/smaps_rollup"), re.MULTILINE))) / 1e3
        )
    return Tree(len(ids), cpu, resident, private, proportional)


def _read(path: str) -> str:
    try:
        return Path(path).read_text("ascii", "replace")
    except OSError:
        return ""


AND_SAY_MEMORY = (
    "import atexit, sys; atexit.register(lambda: sys.stderr.write(next("
    "line for line in open('/proc/self/status') if line.startswith('VmHWM'))))\n"
)


def command(*arguments: str, home: Path) -> Command:
    """One `fallow` command in a process of its own."""
    begin = time.perf_counter()
    process = subprocess.Popen(
        [PROGRAM[0], "-c", AND_SAY_MEMORY + PROGRAM[2], *arguments],
        cwd=ROOT,
        env=surroundings({"FALLOW_HOME": str(home)}),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stderr is not None
    with process.stderr as told:
        said = told.read()
    _, process.returncode, used = os.wait4(process.pid, 0)
    assert process.returncode == 0, said
    memory_mb = int(re.findall(r"VmHWM:\s*(\d+) kB", said)[0]) / 1024
    return Command(time.perf_counter() - begin, used.ru_utime + used.ru_stime, memory_mb)


def spread(values: Sequence[float]) -> str:
    """Median and worst."""
    return f"median {statistics.median(values):.3f}, worst {max(values):.3f}"
