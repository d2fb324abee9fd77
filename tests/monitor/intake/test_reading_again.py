"""What a file says of days hangs on the roster: after an edit, old homes must stand as new ones do."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from monitor.store.database import Store
from tests.homes import LATER, ROSTER, exports, fallow, make_home, put

CHECKINS = [
    {"date": "2026-10-08T07:10", "stairs_unaided": False, "soreness": 6},
    {"date": "2026-10-08T21:40", "stairs_unaided": True, "soreness": 2},
    {"date": "2026-10-09T23:30:00+02:00", "soreness": 1, "pain": 0},
    {"date": "2026-10-10", "soreness": 0},
]
NIGHTS = "bedtime,wake_time,rmssd_ms\n2026-10-07 23:10,2026-10-08 06:50,51\n2026-10-08T21:30Z,2026-10-09T05:00Z,50\n"
MAPPED = "Dagen;Puls\n09.10.2026;49\n10.10.2026;48\n"
MAPPING = '\n[athlete.columns]\ndate = "Dagen"\nresting_hr = "Puls"\ndate_order = "dmy"\n\n[[athlete.race]]'
FACTS = {
    "night": "date, bedtime, wake, total_sleep_min, source",
    "morning": "date, resting_hr, rmssd_ms, source",
    "checkin": "date, ordering, fact, source",
    "session": "started, ended, source",
    "intake": "path, state, reason, sessions, nights, mornings, checkins",
}
SAME = ("id", "rule", "severity", "stage", "day", "date", "observed", "summary")


def roster(zone: str, *, mapped: bool = False) -> str:
    text = ROSTER.format(url="json://127.0.0.1:9/nobody").replace("Europe/Oslo", zone)
    return text.replace("\n[[athlete.race]]", MAPPING) if mapped else text


def files() -> dict[str, bytes]:
    told = {"evening.checkin.json": json.dumps(CHECKINS).encode(), "sleep.csv": NIGHTS.encode()}
    return {**exports(), **told, "pulse.csv": MAPPED.encode()}


def scanned(home: Path) -> dict[str, int]:
    counts: dict[str, int] = fallow("scan", "--as-of", LATER, "--json", home=home).json()
    return counts


def facts(home: Path) -> dict[str, list[tuple[Any, ...]]]:
    with Store(home / "fallow.duckdb").reading() as con:
        return {
            table: con.execute(f"SELECT {what} FROM {table} ORDER BY ALL").fetchall() for table, what in FACTS.items()
        }


def findings(home: Path) -> list[tuple[Any, ...]]:
    return sorted(tuple(one[name] for name in SAME) for one in fallow("findings", "--json", home=home).json())


@pytest.mark.parametrize("zone", ["Pacific/Auckland", "America/Los_Angeles"])
def test_after_an_edit_of_the_timezone_every_fact_stands_as_if_it_had_been_so_from_the_start(
    tmp_path: Path, zone: str
) -> None:
    home = make_home(tmp_path / "home", roster("Europe/Oslo"), files=files())
    scanned(home)
    before = facts(home)
    (home / "roster.toml").write_text(roster(zone))
    scanned(home)
    clean = make_home(tmp_path / "clean", roster(zone), files=files())
    scanned(clean)
    assert facts(home) == facts(clean)
    assert findings(home) == findings(clean)
    assert facts(home)["checkin"] != before["checkin"]
    assert facts(home)["night"] != before["night"]
    (home / "roster.toml").write_text(roster("Europe/Oslo"))
    scanned(home)
    assert facts(home) == before, "and back"


def test_a_table_that_could_not_be_read_is_read_once_the_roster_names_its_columns(tmp_path: Path) -> None:
    only = {name: content for name, content in files().items() if name in ("pulse.csv", "sleep.csv", "torn.fit")}
    home = make_home(tmp_path / "home", roster("Europe/Oslo"), files=only)
    assert scanned(home)["unreadable"] == 2
    assert scanned(home)["files_new"] == 0
    (home / "roster.toml").write_text(roster("Europe/Oslo", mapped=True))
    counts = scanned(home)
    assert (counts["read"], counts["mornings"]) == (1, 2)
    assert counts["unreadable"] == 0, "what still cannot be read is not told again"
    assert scanned(home)["files_new"] == 0, "and not tried again before the next edit"
    clean = make_home(tmp_path / "clean", roster("Europe/Oslo", mapped=True), files=only)
    scanned(clean)
    assert facts(home) == facts(clean)


def test_what_a_table_said_stands_though_its_columns_are_called_otherwise_now(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", roster("Europe/Oslo"), files=files())
    scanned(home)
    before = facts(home)
    (home / "roster.toml").write_text(roster("Europe/Oslo", mapped=True))
    assert scanned(home)["unreadable"] == 0
    assert set(facts(home)["morning"]) > set(before["morning"])
    assert scanned(home)["files_new"] == 0


def test_a_file_that_was_renamed_since_is_read_again_under_its_new_name(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", roster("Europe/Oslo"), files=files())
    scanned(home)
    folder = home / "exports/runa"
    shutil.move(folder / "evening.checkin.json", folder / "tidied.checkin.json")
    put(folder / "copy of sleep.csv", NIGHTS.encode())
    scanned(home)
    (home / "roster.toml").write_text(roster("Pacific/Auckland"))
    scanned(home)
    clean = make_home(tmp_path / "clean", roster("Pacific/Auckland"), files=files())
    scanned(clean)
    told, wanted = facts(home), facts(clean)
    for table in ("night", "morning", "checkin"):
        assert [row[:-1] for row in told[table]] == [row[:-1] for row in wanted[table]]
    assert findings(home) == findings(clean)
