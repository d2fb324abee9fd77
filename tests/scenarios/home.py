"""A home with one athlete after a marathon, and the real pipeline over it in this process."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.folders.listing import settled
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.store import findings
from monitor.transaction import PassReport
from rules.findings import Finding

ROSTER = """
[alerts]
quiet_hours = ""

[[contact]]
id = "coach"
urls = ["json://127.0.0.1:9/hook"]
receives = "note"

[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports"
timezone = "Europe/Oslo"
born = 1991
sex = "female"
hr_max = 190
hr_rest = 47
threshold_pace = "4:20"
contacts = ["coach"]

[[athlete.race]]
event = "marathon"
finish = 2026-10-04T13:47:00
"""


@dataclass
class Sent:
    """Stands for a channel that accepts everything."""

    messages: list[tuple[str, str, str]] = field(default_factory=list)

    def __call__(self, url: str, title: str, body: str, **_: object) -> SendResult:
        self.messages.append((url, title, body))
        return SendResult(True)


class Scene:
    """One home folder; `scan` is one pass as of a moment."""

    def __init__(self, folder: Path, workers: Workers, roster: str = ROSTER) -> None:
        self.home = Home(folder / "home").made()
        self.exports = self.home.path / "exports"
        self.exports.mkdir()
        self.home.roster.write_text(roster)
        self.sent = Sent()
        self._workers = workers

    def drop(self, name: str, data: bytes | str) -> Path:
        path = self.exports / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return path

    def scanner(self, now: datetime) -> Scanner:
        roster = read_roster(self.home.roster)
        return Scanner(self.home, roster, FixedClock(now), workers=self._workers, send=self.sent)

    def scan(self, now: datetime, scanner: Scanner | None = None) -> PassReport:
        """One pass; with a scanner of before as the daemon makes it, which has read its roster."""
        scanner = scanner or self.scanner(now)
        ready, _, listing = settled(self.exports, scanner.known_of(["runa"])["runa"], wall=lambda: 4e9)
        report = scanner.take([("runa", seen) for seen in ready], {"runa": listing.refused})
        report.files_seen = len(listing.files)
        report.findings += scanner.judge_due()
        report.delivery = scanner.deliver(gather_now=True)
        return report

    def findings(self, athlete: str = "runa") -> list[Finding]:
        with self.scanner(datetime.now().astimezone()).store.reading() as con:
            return findings.standing(con, athlete)
