"""Stores with years in them, made in seconds: one real session is read and its rows are copied, a day back each."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from monitor.alerts.responses import SendResult
from monitor.clock import FixedClock
from monitor.folders.listing import settled
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import read_roster
from monitor.scanning import Scanner
from monitor.store.database import Store
from tests.bench.backfill import recording_at

NOW = datetime(2026, 10, 20, 18, tzinfo=UTC)  # in the third week after the race
ROSTER = """
[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports"
timezone = "Europe/Oslo"
hr_max = 190
[[athlete.race]]
event = "marathon"
finish = 2026-10-04T13:47:00
"""
COPIES = """
CREATE TEMP TABLE copies AS SELECT unnest(range(1, {count}))::INTEGER AS n;
INSERT INTO sample SELECT s.* REPLACE (recording + n * 10 AS recording) FROM sample s, copies ORDER BY n, s.rowid;
INSERT INTO recording SELECT r.* REPLACE (number + n * 10 AS number, started - to_days(n) AS started,
    ended - to_days(n) AS ended, 'copy' || n || '-' || sha256 AS sha256, n || '.fit' AS path) FROM recording r, copies;
INSERT INTO session SELECT s.* REPLACE (key || '-' || n AS key, started - to_days(n) AS started,
    ended - to_days(n) AS ended, n || '.fit' AS source, 'copy' || n || '-' || version AS version,
    to_json(list_transform(parts::JSON::INTEGER[], lambda x: x + n * 10))::VARCHAR AS parts) FROM session s, copies;
INSERT INTO intake SELECT i.* REPLACE (
    n || '.fit' AS path, 'copy' || n || '-' || sha256 AS sha256) FROM intake i, copies;
CREATE OR REPLACE SEQUENCE recording_number START {next_number};
"""


def scanner_of(home: Home, workers: Workers) -> Scanner:
    return Scanner(
        home, read_roster(home.roster), FixedClock(NOW), workers=workers, send=lambda *_, **__: SendResult(True)
    )


def take_all(scanner: Scanner, exports: Path) -> None:
    """Read whatever lies there and is not known yet."""
    ready, _, _ = settled(exports, scanner.known_of(["runa"])["runa"], wall=lambda: 4e9)
    assert ready
    scanner.take([("runa", seen) for seen in ready])


def home_with(folder: Path, sessions: int) -> Home:
    """A home whose athlete recorded so many one-hour sessions, the last of them before the race."""
    home = Home(folder).made()
    exports = home.path / "exports"
    exports.mkdir()
    home.roster.write_text(ROSTER, "utf-8")
    (exports / "0.fit").write_bytes(recording_at(NOW - timedelta(days=30), 0))
    with Workers(1) as workers:
        take_all(scanner_of(home, workers), exports)
    with Store(home.store).writing() as con:
        con.execute(COPIES.format(count=sessions, next_number=sessions * 10 + 1000))
    return home
