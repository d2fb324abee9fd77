"""Dictionaries of what is shown, from judgements and the store, without a command around them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import duckdb
import pytest

from monitor.judging import view
from monitor.plain_text import local, minute_second
from monitor.roster import Roster, parse_roster
from monitor.store import findings, intake
from monitor.store.database import Store
from monitor.store.intake import LedgerRow
from monitor.values import Difference
from monitor.views import status
from monitor.views.findings import explain_view, findings_view, rules_view
from monitor.views.plan import plan_view, today_view
from monitor.views.replay import replay_view
from monitor.views.status import intake_view, status_view
from rules.catalogue import catalogue
from rules.facts import Hold
from rules.findings import Finding, Severity
from rules.limits import default_limits
from tests.homes import ROSTER, SECOND

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 10, 13, 10, tzinfo=UTC)
START = datetime(2026, 10, 9, 16, tzinfo=UTC)
RUN = Finding(
    "aa11111111", "runa", "no_running", Severity.STOP, "days_off", 5, date(2026, 10, 9), "session", "k", START, START,
    START, datetime(2026, 10, 9, 16, 25, tzinfo=UTC), "running", "a.fit", 25.0, 0.0, "min", "A run of 25 min",
    {"times": [[0, 90], [3600, 3725.5]], "masked_s": 12.0, "assumed": ["nothing"], "running_minutes": 25.0}, ("Rest.",),
)  # fmt: skip
LATER_RUN = replace(
    RUN, id="bb22222222", rule="duration_cap", severity=Severity.CAUTION, date=date(2026, 10, 12), day=8
)
OLD = replace(RUN, id="cc33333333", date=date(2025, 10, 12), day=8)


@pytest.fixture
def roster(tmp_path: Path) -> Roster:
    return parse_roster(ROSTER.format(url="json://127.0.0.1:9/") + SECOND, tmp_path / "roster.toml", {})


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with Store(tmp_path / "fallow.duckdb").writing() as con:
        findings.apply(con, Difference("runa", fresh=(RUN, LATER_RUN, OLD)), NOW)
        yield con


def test_findings_are_of_the_athletes_named_and_the_newest_first(
    con: duckdb.DuckDBPyConnection, roster: Roster
) -> None:
    findings.mark(con, RUN.id, "Ida", "talked", NOW)
    shown = findings_view(con, roster.athletes)
    assert [one["id"] for one in shown] == [LATER_RUN.id, RUN.id, OLD.id]
    assert shown[1]["session_start"] == "2026-10-09T18:00:00+02:00"
    assert shown[1]["seen"] == [{"by": "Ida", "note": "talked", "at": "2026-10-13T12:00:00+02:00"}]
    assert findings_view(con, roster.athletes[1:]) == []
    json.dumps(shown)


def test_status_counts_what_nobody_has_seen_of_the_plan_that_is_shown(
    con: duckdb.DuckDBPyConnection, roster: Roster
) -> None:
    findings.mark(con, LATER_RUN.id, "Ida", "", NOW)
    runa, odd = status_view(con, roster, roster.athletes, NOW, default_limits())
    assert runa["open_findings"] == {"note": 0, "caution": 0, "stop": 1}
    assert (runa["day"], runa["stage"], runa["stage_ends"]) == (9, "cross_training", "2026-10-18")
    assert (odd["day"], odd["stage"], odd["last_session"], odd["gates"]) == (None, None, None, [])
    json.dumps([runa, odd])


def test_explain_puts_times_on_the_clock_and_every_limit_beside_its_source(
    con: duckdb.DuckDBPyConnection, roster: Roster
) -> None:
    shown = explain_view(con, roster, RUN, None, default_limits())
    assert shown["times"][1] == {
        "from": "1:00:00", "to": "1:02:06", "clock_from": "19:00:00", "clock_to": "19:02:05", "seconds": 125.5,
    }  # fmt: skip
    assert (shown["masked_s"], shown["assumed"], shown["numbers"]) == (12.0, ["nothing"], {"running_minutes": 25.0})
    assert shown["limits"]
    assert all(limit["source"] for limit in shown["limits"])
    assert shown["advice"] == ["Rest."]
    json.dumps(shown)


def test_a_plan_tells_holds_and_what_is_estimated(con: duckdb.DuckDBPyConnection, roster: Roster) -> None:
    held = Hold("hold", date(2026, 10, 12), datetime(2026, 10, 12, 8, tzinfo=UTC), 2, "calf", "Ida")
    findings.add_hold(con, "runa", held)
    runa = roster.athletes[0]
    guessed = replace(runa, athlete=replace(runa.athlete, hr_max=None))
    shown = plan_view(view(con, roster, guessed, NOW, default_limits()), NOW, default_limits())
    assert shown["holds"] == [
        {
            "kind": "hold", "on": "2026-10-12", "days": 2, "why": "calf", "by": "Ida",
            "at": "2026-10-12T10:00:00+02:00",
        }
    ]  # fmt: skip
    assert shown["race"]["last_day"] == 23
    assert "Tanaka" in shown["estimated"][0]
    json.dumps(shown)


def test_a_finished_plan_is_summed_up(con: duckdb.DuckDBPyConnection, roster: Roster) -> None:
    runa = roster.athletes[0]
    after = datetime(2026, 11, 20, tzinfo=UTC)
    shown = plan_view(view(con, roster, runa, after, default_limits()), after, default_limits())
    assert shown["today"]["stage"] == "done"
    assert "21 days" in shown["summary"][0]


def test_today_is_json_and_sentences(con: duckdb.DuckDBPyConnection, roster: Roster) -> None:
    for athlete in roster.athletes:
        shown = today_view(view(con, roster, athlete, NOW, default_limits()), NOW, default_limits())
        assert shown["date"] == "2026-10-13"
        assert shown["sentences"]
        json.dumps(shown)


def test_replay_compares_with_what_stands_over_all_seasons(con: duckdb.DuckDBPyConnection, roster: Roster) -> None:
    shown = replay_view(con, roster, roster.athletes, NOW, default_limits())
    gone = [one["id"] for one in shown["changes"] if one["change"] == "gone"]
    assert gone == [LATER_RUN.id, RUN.id, OLD.id]
    assert shown["counts"]["standing"] == 3
    assert len(findings.standing(con)) == 3


def test_a_file_replaced_in_place_is_shown_once(con: duckdb.DuckDBPyConnection) -> None:
    for sha, minute in (("a", 1), ("b", 2)):
        read_at = NOW.replace(minute=minute)
        intake.record(con, LedgerRow("runa", "x.fit", sha, 10, minute, "read", "", 1, read_at=read_at))
    (one,) = intake_view(con)
    assert (one["sha256"], one["read_at"]) == ("b", "2026-10-13T10:02:00+00:00")
    assert [row["sha256"] for row in intake_view(con, replaced=True)] == ["b", "a"]
    assert intake_view(con, ["odd"]) == []


def test_rules_are_those_of_the_catalogue_with_their_limits() -> None:
    shown = rules_view(default_limits())
    assert [one["id"] for one in shown] == [rule.id for rule in catalogue()]
    assert all(limit["evidence"] in ("published", "convention", "default") for one in shown for limit in one["limits"])


@pytest.mark.parametrize(("seconds", "text"), [(0, "0:00"), (59.6, "1:00"), (754, "12:34"), (3930.2, "1:05:30")])
def test_a_place_within_a_session_reads_as_minutes_and_seconds(seconds: float, text: str) -> None:
    assert minute_second(seconds) == text


def test_moments_are_local_with_their_offset() -> None:
    assert local(START, OSLO) == "2026-10-09T18:00:00+02:00"
    assert local(None, OSLO) is None


@pytest.mark.parametrize(("days", "told"), [(0, ["said"]), (7, ["said"]), (8, [])])
def test_a_plan_that_is_done_is_summed_up_for_status_summary_days(
    days: int, told: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    last = date(2026, 10, 24)
    monkeypatch.setattr(status.rule_words.report, "looked_back", lambda *_: ("said",))
    runner = SimpleNamespace(local_date=lambda _: last + timedelta(days=days))
    made: Any = SimpleNamespace(
        judgement=SimpleNamespace(current=SimpleNamespace(last_date=last)), athlete=SimpleNamespace(athlete=runner)
    )
    assert status._looked_back(made, NOW, default_limits()) == told
    made.judgement.current = None
    assert status._looked_back(made, NOW, default_limits()) == []
