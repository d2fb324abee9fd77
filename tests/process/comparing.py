"""What a home came to, held against a clean run over the same folders, and what really reached a contact."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from monitor.home import Home
from monitor.store.journal import Journal
from tests.homes import fallow
from tests.process.daemons import told
from tests.targets import Target

SAME = (
    "id", "rule", "severity", "stage", "day", "date", "session_start", "source", "observed", "limit", "summary",
)  # fmt: skip


def findings(home: Path) -> list[tuple[object, ...]]:
    return sorted(tuple(one[name] for name in SAME) for one in told("findings", home=home))


def of_rule(found: list[tuple[object, ...]], rule: str) -> dict[object, object]:
    """id -> the file it was found in."""
    return {one[0]: one[SAME.index("source")] for one in found if one[1] == rule}


def clean_run(home: Path, to: Path, target: Target) -> list[tuple[object, ...]]:
    """What one scan of the same folders and roster finds in a home where nothing ever happened."""
    shutil.copytree(home / "exports", to / "exports")
    roster = (home / "roster.toml").read_text()
    (to / "roster.toml").write_text(roster.replace(target.url(), target.url("/clean")))
    assert fallow("scan", home=to).status == 0
    return findings(to)


def told_by_journal(home: Path) -> Iterator[tuple[str, str, int]]:
    """Everything that reached a contact: contact, finding, severity."""
    for entry in Journal(Home(home).journal).entries():
        for one in entry.get("told", ()):
            yield entry["contact"], one["finding"], one["told"]


def hooked(target: Target) -> Counter[tuple[str, str]]:
    """Title and text of all that arrived, but for what clean runs sent."""
    return Counter((one.title, one.body) for one in target.accepted if one.path == "/hook")
