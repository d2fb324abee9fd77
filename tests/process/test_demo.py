"""`fallow demo` as a newcomer runs it: one real process, from the sample exports to the alerts."""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from monitor.cli.main import run
from monitor.home import Home
from monitor.judging import view
from monitor.roster import read_roster
from monitor.store.database import Store
from monitor.views.plan import plan_view
from rules.day import decide
from rules.history import in_order
from rules.limits import default_limits
from rules.today import today
from tests.monitor.test_one_voice import in_sentences, messages
from tests.rules.day.test_one_voice import contradictions
from tests.waiting import PATIENCE_SECONDS

ROOT = Path(__file__).parent.parent.parent
SAMPLES = ROOT / "sample_exports"
EASY = ("walk", "swim", "10-10_ride", "10-13_ride", "strength", "test_run", "10-22_ride", "race", "before")


@dataclass(frozen=True)
class Ran:
    home: Path
    text: str
    errors: str
    status: int


def _fallow(*arguments: str) -> subprocess.CompletedProcess[str]:
    program = [sys.executable, "-c", "from monitor.cli.main import run; run()", *arguments]
    surroundings = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "FALLOW_HOME")}
    surroundings["PYTHONIOENCODING"] = "utf-8"
    return subprocess.run(
        program,
        check=False,
        cwd=ROOT,
        env=surroundings,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=PATIENCE_SECONDS,
    )


def _here(*arguments: str) -> str:
    """What a command prints, run in this process; it must end well."""
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed), pytest.raises(SystemExit) as ended:
        run(arguments)
    assert ended.value.code == 0, arguments
    return printed.getvalue()


def _json(ran: Ran, *arguments: str) -> Any:
    return json.loads(_here(*arguments, "--json", "--home", str(ran.home)))


def _stamps() -> dict[str, tuple[int, int]]:
    return {
        str(path): (path.stat().st_size, path.stat().st_mtime_ns)
        for path in (SAMPLES / "exports").rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    home = tmp_path_factory.mktemp("demo") / "home"
    before = _stamps()
    done = _fallow("demo", "--home", str(home))
    assert _stamps() == before
    return Ran(home, done.stdout, done.stderr, done.returncode)


def test_it_ends_well_and_says_nothing_on_the_side(ran: Ran) -> None:
    assert (ran.status, ran.errors) == (0, "")


def test_it_fits_eighty_columns_but_for_the_commands_to_copy(ran: Ran) -> None:
    wide = [line for line in ran.text.splitlines() if len(line) > 80 and str(ran.home) not in line]
    assert wide == []


def test_what_it_names_to_try_next_works(ran: Ran) -> None:
    commands = re.findall(r"^  fallow (\w+ .*--home .*)$", ran.text, re.MULTILINE)
    assert len(commands) >= 4
    for command in commands:
        assert _here(*command.split()), command


def test_the_four_times_she_did_too_much_are_found(ran: Ran) -> None:
    found = {(f["date"], f["rule"], f["severity"]) for f in _json(ran, "findings", "runa") if f["source"]}
    told = {
        ("2026-10-08", "no_running", "stop"),
        ("2026-10-08", "intensity_ceiling", "stop"),
        ("2026-10-16", "duration_cap", "caution"),
        ("2026-10-17", "no_running", "stop"),
        ("2026-10-17", "no_speed_work", "stop"),
        ("2026-10-17", "intensity_ceiling", "stop"),
        ("2026-10-17", "steep_ground", "caution"),
    }
    sessions = {one for one in found if one[1] not in ("stairs_test", "resting_hr_up", "short_sleep", "hrv_down")}
    assert sessions - {one for one in sessions if one[1] == "feels_too_good"} == told


def test_nothing_is_said_of_the_easy_days(ran: Ran) -> None:
    sources = [f["source"] for f in _json(ran, "findings", "runa") if f["source"]]
    assert [source for source in sources if any(name in source for name in EASY)] == []


def test_the_body_is_heard(ran: Ran) -> None:
    found = {(f["date"], f["rule"], f["severity"]) for f in _json(ran, "findings", "runa")}
    assert {
        ("2026-10-11", "stairs_test", "caution"),
        ("2026-10-12", "stairs_test", "caution"),
        ("2026-10-19", "resting_hr_up", "caution"),
        ("2026-10-20", "short_sleep", "caution"),
    } <= found
    assert any(rule == "feels_too_good" and date < "2026-10-17" for date, rule, _ in found)


def test_the_plan_waits_a_day_for_the_stairs_and_two_for_the_hill(ran: Ran) -> None:
    plan = _json(ran, "plan", "runa", "--as-of", "2026-10-24T12:00")
    assert [(stage["stage"], stage["first_day"], stage["last_day"]) for stage in plan["stages"]] == [
        ("days_off", 1, 8),
        ("cross_training", 9, 16),
        ("test_runs", 17, 23),
        ("on_ramp", 24, 32),
    ]
    assert plan["today"] == {"date": "2026-10-24", "day": 20, "stage": "test_runs"}


def test_odd_files_are_in_the_ledger_and_stop_nothing(ran: Ran) -> None:
    states = {row["path"]: row["state"] for row in _json(ran, "intake")}
    odd = {path: state for path, state in states.items() if state != "read"}
    assert odd == {
        "activities/2026-10-13_ride (1).fit": "duplicate",
        "activities/2026-10-16_ride_sync.fit": "unreadable",
    }
    assert len(states) == len(_stamps())


def test_every_alert_arrived_and_is_shown_as_it_was_received(ran: Ran) -> None:
    rows = _json(ran, "outbox")
    assert {row["state"] for row in rows} == {"sent"}
    shown = " ".join(ran.text.replace("   | ", "").split())
    for row in rows:
        assert " ".join(row["title"].split()) in shown


FREQUENT = (
    ("runa", "the day, each morning", "daily", "60 min easy"),
    ("runa", "a run hidden in a walk", "alert", "no_running"),
    ("ida", "the same, to the coach", "alert", "no_running"),
    ("runa", "fast running", "alert", "no_speed_work"),
    ("runa", "a day that was too long", "alert", "duration_cap"),
    ("runa", "a check-in", "alert", "stairs_test"),
    ("runa", "mornings and nights, together", "alert", "resting_hr_up"),
    ("runa", "a stage that begins", "stage", "begin"),
    ("ida", "a stage that waits, to the coach", "stage", "wait"),
)
"""The nine most frequent messages: to whom, about what, and how to find the first of them in the outbox."""


def test_the_messages_in_the_readme_are_those_that_are_sent(ran: Ran) -> None:
    with Store(ran.home / "fallow.duckdb").reading() as con:
        sent = con.execute("SELECT contact, kind, title, body, items FROM outbox ORDER BY number").fetchall()
    lines = ["| about | title | first line |", "|---|---|---|"]
    for to, about, kind, mark in FREQUENT:
        title, body = next(
            (title, body)
            for contact, its_kind, title, body, its_items in sent
            if (contact, its_kind) == (to, kind)
            and (f'"rule":"{mark}"' in its_items or (kind != "alert" and mark in title))
        )
        lines.append(f"| {about} | {title} | {body.splitlines()[0]} |")
    table = "\n".join(lines)
    readme = (ROOT / "README.md").read_text("utf-8")
    assert table in readme, f"the README should have this table:\n{table}"


def test_no_text_of_any_of_its_days_contradicts_the_decision_of_that_day(ran: Ran) -> None:
    """Mornings and evenings of the whole plan: today, plan, status, and what could be sent."""
    home, roster = Home(ran.home), read_roster(ran.home / "roster.toml")
    limits, rested = default_limits(), 0
    with Store(home.store).reading() as con:
        for day, hour in ((day, hour) for day in range(1, 34) for hour in (7, 20)):
            now = datetime(2026, 10, 4, hour, tzinfo=ZoneInfo("Europe/Oslo")) + timedelta(days=day)
            made = view(con, roster, roster.athletes[0], now, limits)
            decision = decide(made.judgement, in_order(made.history, limits), now, limits)
            rested += decision.rest
            shown = today(made.judgement, made.history, now, limits)
            told = [text for _, text in messages(made.judgement, made.history, roster, now)]
            said = [*shown.sentences, *(each for text in told for each in in_sentences(text))]
            assert contradictions(said, decision) == [], now
            assert plan_view(made, now, limits)["decision"]["answer"] == shown.answer
    assert rested > 10, "after the race, and after each stop"


def test_a_folder_with_something_in_it_is_refused_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", "utf-8")
    done = _fallow("demo", "--home", str(tmp_path))
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "not empty" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
