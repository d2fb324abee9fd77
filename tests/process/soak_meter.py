"""Memory and processor time of a process and all below it, from /proc."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

TICKS = os.sysconf("SC_CLK_TCK")


@dataclass
class Meter:
    """High-water mark of memory over all looks, and the processor seconds of every process seen."""

    most_pss_mb: float = 0.0
    most_rss_mb: float = 0.0
    most_processes: int = 0
    cpu: dict[tuple[int, str], float] = field(default_factory=dict)  # (pid, start) -> seconds

    def look(self, root: int) -> list[int]:
        """Take a reading; the processes below the root."""
        family = descendants(root)
        sizes = [_memory(pid) for pid in (root, *family)]
        self.most_rss_mb = max(self.most_rss_mb, sum(rss for rss, _ in sizes) / 1024)
        self.most_pss_mb = max(self.most_pss_mb, sum(pss for _, pss in sizes) / 1024)
        self.most_processes = max(self.most_processes, 1 + len(family))
        for pid in (root, *family):
            if fields := _stat(pid):
                self.cpu[pid, fields[19]] = (int(fields[11]) + int(fields[12])) / TICKS
        return family

    @property
    def cpu_seconds(self) -> float:
        return sum(self.cpu.values())


def descendants(root: int) -> list[int]:
    parents: dict[int, list[int]] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit() and (fields := _stat(int(entry.name))):
            parents.setdefault(int(fields[1]), []).append(int(entry.name))
    found, waiting = [], [root]
    while waiting:
        below = parents.get(waiting.pop(), [])
        found += below
        waiting += below
    return found


def lives(pid: int) -> bool:
    fields = _stat(pid)
    return fields is not None and fields[0] != "Z"


def _stat(pid: int) -> list[str] | None:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return None


def _memory(pid: int) -> tuple[int, int]:
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0, 0
    said = {line.split(":")[0]: int(line.split()[1]) for line in text.splitlines() if line.endswith("kB")}
    return said.get("Rss", 0), said.get("Pss", 0)
