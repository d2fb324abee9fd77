"""Homes of many athletes that differ, for looking at the board and measuring it.

The invented athlete of the sample exports is read once; each copy of her has lived the same weeks some days earlier or
later, so that every stage, several gates and some silences are there, and each is judged by the program itself.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import product

import duckdb

from monitor.alerts.channels import SendResult
from monitor.clock import FixedClock
from monitor.demo import CHAPTERS, staged
from monitor.home import Home
from monitor.intake.workers import Workers
from monitor.roster import Roster, read_roster
from monitor.scanning import Scanner
from monitor.store import encoding
from monitor.store.database import Store
from rules.facts import CheckIn

NOW = CHAPTERS[-1].until
DAYS_LATER = (0, 7, 3, -2, 12, 16, 5, -5, 18, 9, 1, 14, -9, 6, 11, 19, 2, 4, 8, -14)
"""By how many days each copy's race is later than the original's."""
EVENTS = ("ultra_50k", "marathon", "half", "tri_olympic", "10k")
FIRST = ("Aila", "Bredo", "Cosima", "Dagny", "Eskil", "Frida", "Gerda", "Halvor", "Idunn", "Jorunn")
LAST = ("Almskog", "Bekkevold", "Dalsmo", "Ekremvik", "Fossnes", "Grønnås", "Høilund", "Isfjell", "Kvitberg", "Lyngmo")
NAMES = [f"{first} {last}" for last, first in product(LAST, FIRST)]
CONTACT = '[[contact]]\nid = "ida"\nname = "Coach Ida"\nurls = ["json://127.0.0.1:9/nobody"]\n'
ATHLETE = """
[[athlete]]
id = "a{n}"
name = "{name}"
folder = "exports/a{n}"
timezone = "Europe/Oslo"
born = 1991
sex = "female"
hr_max = 188
hr_rest = 47
threshold_hr = 171
threshold_pace = "4:20"
contacts = ["ida"]

[[athlete.race]]
event = "{event}"
finish = {finish}
conditions = ["hills"]
"""
TIMES = {
    "session": {"started": "TIMESTAMP", "ended": "TIMESTAMP"},
    "recording": {"started": "TIMESTAMP", "ended": "TIMESTAMP"},
    "night": {"date": "DATE", "bedtime": "TIMESTAMP", "wake": "TIMESTAMP"},
    "morning": {"date": "DATE"},
    "intake": {"arrived_at": "TIMESTAMP"},
    "hold": {"on_date": "DATE", "held_at": "TIMESTAMP"},
}
"""Columns of each table that move with the race."""
AFTER = {"session": "ended", "night": "date", "morning": "date", "checkin": "date", "hold": "held_at"}
"""What lies after NOW has not happened yet."""


def many_athletes(home: Home, athletes: int) -> Roster:
    """A home with so many athletes, judged on the evening before NOW and at NOW."""
    with staged(home) as demo:
        for _ in demo.chapters():
            pass
    finish = datetime.fromisoformat("2026-10-04T12:32:39")
    parts = [CONTACT]
    for n in range(athletes):
        (home.path / f"exports/a{n}").mkdir(parents=True, exist_ok=True)
        moved = (finish + timedelta(days=DAYS_LATER[n % len(DAYS_LATER)])).isoformat()
        name = NAMES[n % len(NAMES)] + ("" if n < len(NAMES) else " the Younger")
        parts.append(ATHLETE.format(n=n, name=name, event=EVENTS[n % len(EVENTS)], finish=moved))
    home.roster.write_text("".join(parts), "utf-8")
    roster = read_roster(home.roster)
    with Store(home.store).writing() as con:
        _copy(con, athletes)
    for moment in (NOW - timedelta(hours=30), NOW):
        with Workers() as workers:
            scanner = Scanner(home, roster, FixedClock(moment), workers=workers, send=lambda *_: SendResult(False))
            scanner.judge_due()
    return roster


def _copy(con: duckdb.DuckDBPyConnection, athletes: int) -> None:
    """Her facts a copy an athlete, moved in time, and nothing of what was found or told."""
    for table in ("finding", "verdict", "outbox", "decision", "told_once", "judged", "unjudged"):
        con.execute(f"DELETE FROM {table}")
    told = con.execute("SELECT fact, source, sha256, mtime_ns FROM checkin").fetchall()
    for n in range(athletes):
        moved, first = timedelta(days=DAYS_LATER[n % len(DAYS_LATER)]), (n + 1) * 1000
        for table, columns in TIMES.items():
            replaced = [f"({each} + to_days({moved.days}))::{kind} AS {each}" for each, kind in columns.items()]
            if table == "recording":
                replaced.append(f"number + {first} AS number")
            if table == "session":
                parts = f"list_transform(parts::JSON::INTEGER[], lambda x: x + {first})"
                replaced.append(f"to_json({parts})::VARCHAR AS parts")
            listed = ", ".join([f"'a{n}' AS athlete", *replaced])
            con.execute(f"INSERT INTO {table} SELECT * REPLACE ({listed}) FROM {table} WHERE athlete = 'runa'")
        for fact, source, sha256, mtime_ns in told:
            one = encoding.from_text(CheckIn, fact)
            later = replace(one, date=one.date + moved, order=one.order + moved.total_seconds())
            text = encoding.to_text(later)
            row = [f"a{n}", later.date, later.order, text, text, source, sha256, mtime_ns]
            con.execute("INSERT INTO checkin VALUES (?, ?, ?, ?, md5(?), ?, ?, ?)", row)
        con.execute(
            f"INSERT INTO sample SELECT * REPLACE (recording + {first} AS recording) FROM sample WHERE recording < 1000"
        )
        con.execute(f"INSERT INTO unjudged VALUES ('a{n}', DATE '2026-01-01')")
    for table in (*TIMES, "checkin"):
        con.execute(f"DELETE FROM {table} WHERE athlete = 'runa'")
    for table, column in AFTER.items():
        con.execute(f"DELETE FROM {table} WHERE {column} > TIMESTAMP '{NOW.astimezone(UTC):%Y-%m-%d %H:%M:%S}'")
