"""What the reading commands print: JSON as agreed, tables that fit, and an empty result where there is nothing."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pytest

from tests.homes import LATER, ROSTER, SECOND, fallow, make_home

FINDING = {
    "id", "athlete", "rule", "severity", "stage", "day", "date", "session_start", "session_end", "sport", "source",
    "observed", "limit", "unit", "summary", "evidence",
}  # fmt: skip
STAGE = {
    "stage", "first_day", "last_day", "first_date", "last_date", "running", "duration_cap_min", "ceiling_bpm",
    "strength", "speed_work", "reasons",
}  # fmt: skip
STATUS = {"athlete", "name", "day", "stage", "stage_ends", "last_session", "last_file_at", "open_findings", "gates"}
INTAKE = {"path", "athlete", "sha256", "state", "reason", "sessions", "nights", "mornings", "checkins", "read_at"}
OUTBOX = {
    "id", "athlete", "contact", "severity", "findings", "state", "tries", "last_error", "created_at", "sent_at",
    "title",
}  # fmt: skip
READING = (
    ("plan", "runa"), ("today",), ("today", "runa"), ("status",), ("findings",), ("findings", "runa"), ("intake",),
    ("outbox",), ("rules",), ("replay",),
)  # fmt: skip
CALENDAR = ("calendar", "runa")  # keeps the numbers of its entries
JUDGING = ("plan", "today", "status", "replay", "calendar")


def _as_of(command: tuple[str, ...]) -> tuple[str, ...]:
    return (*command, *(("--as-of", LATER) if command[0] in JUDGING else ()))


def test_findings_have_every_agreed_key_and_the_newest_comes_first(scanned: Path) -> None:
    found = fallow("findings", "--json", home=scanned).json()
    assert all(set(one) >= FINDING for one in found)
    assert [one["date"] for one in found] == sorted((one["date"] for one in found), reverse=True)
    run = next(one for one in found if one["rule"] == "no_running")
    assert run["severity"] == "stop"
    assert run["session_start"] == "2026-10-09T18:00:00+02:00"
    assert run["source"] == "2026-10-09_run.fit"
    assert run["sport"] == "running"
    assert (run["stage"], run["day"], run["date"]) == ("days_off", 5, "2026-10-09")


def test_findings_on_a_terminal_name_the_athlete_and_begin_with_those_that_need_a_word(own: Path) -> None:
    shown = fallow("findings", home=own).out
    assert "Runa Vik" in shown
    every = fallow("findings", "--json", home=own).json()
    assert {one["name"] for one in every} == {"Runa Vik"}
    weight = {"stop": 2, "caution": 1, "note": 0}
    ids = re.findall(r"^([0-9a-f]{10}) ", shown, re.MULTILINE)
    by_id = {one["id"]: one for one in every}
    weights = [weight[by_id[each]["severity"]] for each in ids]
    assert len(ids) == len(every)
    assert weights == sorted(weights, reverse=True)
    fallow("seen", ids[0], "--by", "Ida", home=own)
    after = re.findall(r"^([0-9a-f]{10}) ", fallow("findings", home=own).out, re.MULTILINE)
    assert after[-1] == ids[0], "what somebody has seen comes last"


def test_explain_fits_a_screen_and_tells_the_rest_when_asked(scanned: Path) -> None:
    for one in fallow("findings", "--json", home=scanned).json():
        short = fallow("explain", one["id"], home=scanned).out
        lines = short.splitlines()
        assert len(lines) <= 24, short
        assert max(map(len, lines)) <= 80
        for part in ("Why it is believed", "What to do now", f"fallow explain {one['id']} --all"):
            assert part in short
        whole = fallow("explain", one["id"], "--all", home=scanned).out
        assert "How sure: " in whole
        assert "The rule: " in whole
        assert len(whole) > len(short)


def test_findings_can_be_narrowed(scanned: Path) -> None:
    everything = fallow("findings", "--json", home=scanned).json()
    stops = fallow("findings", "--severity", "stop", "--json", home=scanned).json()
    assert {one["severity"] for one in stops} == {"stop"}
    assert len(stops) < len(everything)
    late = fallow("findings", "--since", "2026-10-11", "--json", home=scanned).json()
    assert late == [one for one in everything if one["date"] >= "2026-10-11"]
    one_rule = fallow("findings", "--rule", "no_running", "--json", home=scanned).json()
    assert {one["rule"] for one in one_rule} == {"no_running"}


def test_the_plan_has_every_agreed_key_and_says_why_a_stage_waits(scanned: Path) -> None:
    plan = fallow("plan", "runa", "--json", "--as-of", LATER, home=scanned).json()
    assert set(plan) >= {"athlete", "race", "stages", "today", "holds", "estimated"}
    assert plan["race"]["event"] == "marathon"
    assert plan["race"]["finish"] == "2026-10-04T13:47:00+02:00"
    assert plan["race"]["length_days"] == 21
    assert all(set(stage) >= STAGE for stage in plan["stages"])
    assert [stage["stage"] for stage in plan["stages"]] == ["days_off", "cross_training", "test_runs"]
    assert [stage["ceiling_bpm"] for stage in plan["stages"]] == [120, 144, 144]
    assert plan["today"]["date"] == "2026-10-13"
    assert any("stairs" in reason for gate in plan["gates"] for reason in gate["reasons"])


def test_status_has_every_agreed_key(scanned: Path) -> None:
    (one,) = fallow("status", "--json", "--as-of", LATER, home=scanned).json()
    assert set(one) >= STATUS
    assert set(one["open_findings"]) == {"note", "caution", "stop"}
    assert one["last_session"] == "2026-10-12T17:00:00+02:00"
    assert one["open_findings"]["stop"] >= 1
    assert (one["need"], one["why_finding"] is not None) == ("now", True)
    assert (one["decision"]["allowed_min"], one["today"]) == (0, one["decision"]["answer"])


def test_status_on_a_terminal_begins_with_who_needs_a_word_and_says_why(own: Path) -> None:
    text = (own / "roster.toml").read_text("utf-8")
    calm = SECOND.replace("Odd Berg", "Ane Calm").replace('"odd"', '"ane"').replace("/odd", "/ane")
    (own / "roster.toml").write_text(calm + text, "utf-8")
    (own / "exports" / "ane").mkdir()
    rows = fallow("status", "--json", "--as-of", LATER, home=own).json()
    assert [one["athlete"] for one in rows] == ["ane", "runa"], "as in the roster"
    shown = fallow("status", "--as-of", LATER, home=own).out
    assert shown.index("Runa Vik") < shown.index("Ane Calm")
    assert f"Runa Vik: {rows[1]['why'][:40]}" in shown
    assert "\n  -> " in shown


def test_intake_tells_what_became_of_every_file(scanned: Path) -> None:
    rows = fallow("intake", "--json", home=scanned).json()
    assert all(set(row) >= INTAKE for row in rows)
    became = {row["path"]: row["state"] for row in rows}
    assert became["torn.fit"] == "unreadable"
    assert became["checkins/2026-10-11.checkin.json"] == "read"
    assert fallow("intake", "--state", "unreadable", "--json", home=scanned).json()[0]["reason"]


def test_the_outbox_has_every_agreed_key(scanned: Path) -> None:
    rows = fallow("outbox", "--json", home=scanned).json()
    assert all(set(row) >= OUTBOX for row in rows)
    assert {row["state"] for row in rows} == {"sent"}
    assert any(row["findings"] for row in rows)


def test_today_names_the_limits_of_the_day(scanned: Path) -> None:
    day = fallow("today", "runa", "--json", "--as-of", LATER, home=scanned).json()
    assert (day["date"], day["day"]) == ("2026-10-13", 9)
    assert day["sentences"]
    everybody = fallow("today", "--json", "--as-of", LATER, home=scanned).json()
    assert [one["athlete"] for one in everybody] == ["runa"]


def test_a_calendar_is_written_to_a_file_of_the_owner_and_printed_the_same(own: Path, tmp_path: Path) -> None:
    printed = fallow("calendar", "runa", "--as-of", LATER, home=own)
    out = tmp_path / "runa.ics"
    written = fallow("calendar", "runa", "--out", str(out), "--as-of", LATER, home=own)
    assert (printed.status, written.status) == (0, 0), printed.err + written.err
    assert out.read_bytes() == printed.out.encode()
    assert out.stat().st_mode & 0o777 == 0o600
    assert str(out) in written.out
    entries = fallow("calendar", "runa", "--json", "--as-of", LATER, home=own).json()["entries"]
    assert printed.out.count("BEGIN:VEVENT") == len(entries)
    assert {each["kind"] for each in entries} == {"race", "stage", "day", "gate"}
    gone = fallow("calendar", "runa", "--out", str(tmp_path / "nowhere" / "x.ics"), home=own)
    assert (gone.status, "--out" in gone.err, len(gone.err.splitlines())) == (2, True, 1)


@pytest.mark.parametrize("command", [*READING, CALENDAR], ids=" ".join)
def test_what_is_printed_fits_80_columns_and_has_no_colour(scanned: Path, command: tuple[str, ...]) -> None:
    ran = fallow(*_as_of(command), home=scanned)
    assert ran.status == 0, ran.err
    assert ran.out.strip()
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    assert "\x1b" not in ran.out


@pytest.mark.parametrize("command", READING, ids=" ".join)
def test_a_home_that_was_never_scanned_gives_an_empty_result_and_no_store(
    command: tuple[str, ...], tmp_path: Path
) -> None:
    home = make_home(tmp_path / "home")
    ran = fallow(*_as_of(command), "--json", home=home)
    assert ran.status == 0, ran.err
    ran.json()
    assert not (home / "fallow.duckdb").exists()


def test_an_athlete_without_a_race_has_a_plan_that_limits_nothing(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", ROSTER.format(url="json://127.0.0.1:9/") + SECOND)
    plan = fallow("plan", "odd", "--json", home=home).json()
    assert (plan["race"], plan["stages"]) == (None, [])
    assert "no race" in fallow("plan", "odd", home=home).out
    assert fallow("today", "odd", home=home).status == 0
    assert fallow("status", "--as-of", LATER, home=home).status == 0


def test_csv_has_a_header_and_no_cell_that_a_spreadsheet_would_run(own: Path) -> None:
    roster = (own / "roster.toml").read_text().replace('name = "Runa Vik"', "name = '=HYPERLINK(\"x\")'")
    (own / "roster.toml").write_text(roster)
    rows = list(csv.DictReader(io.StringIO(fallow("status", "--csv", "--as-of", LATER, home=own).out)))
    assert rows[0]["name"] == '\'=HYPERLINK("x")'
    for command in ("findings", "intake", "outbox"):
        assert list(csv.DictReader(io.StringIO(fallow(command, "--csv", home=own).out)))


def test_control_characters_in_names_cannot_reach_the_terminal(own: Path) -> None:
    roster = (own / "roster.toml").read_text().replace("Runa Vik", "Runa\\u001b[31m Vik\\u202e")
    (own / "roster.toml").write_text(roster)
    shown = fallow("plan", "runa", "--as-of", LATER, home=own).out
    assert "Runa\\x1b[31m" in shown
    assert "\\u202e" in shown


def test_the_time_of_judging_is_local_to_the_named_athlete_and_a_date_alone_is_its_noon(scanned: Path) -> None:
    late = fallow("plan", "runa", "--json", "--as-of", "2026-10-13T23:30", home=scanned).json()
    assert late["today"]["date"] == "2026-10-13"
    with_offset = fallow("plan", "runa", "--json", "--as-of", "2026-10-13T23:30Z", home=scanned).json()
    assert with_offset["today"]["date"] == "2026-10-14"
    alone = fallow("plan", "runa", "--json", "--as-of", "2026-10-13", home=scanned).json()
    assert alone["today"]["date"] == "2026-10-13"


def test_replay_under_the_same_limits_changes_nothing_and_under_others_says_what(scanned: Path, tmp_path: Path) -> None:
    same = fallow("replay", "--json", "--as-of", LATER, home=scanned).json()
    assert same["changes"] == []
    other = tmp_path / "other.toml"
    other.write_text("[rest_hours]\ncaution_hours = 200\n")
    shown = fallow("replay", "--json", "--as-of", LATER, "--limits", str(other), home=scanned).json()
    assert ("new", "rest_hours") in {(one["change"], one["rule"]) for one in shown["changes"]}
    assert fallow("findings", "--rule", "rest_hours", "--json", home=scanned).json() == []


@pytest.mark.parametrize(
    ("text", "told"), [("[x]\ny = 1\n", "x.y"), ("not toml", "not valid TOML"), (None, "cannot be read")]
)
def test_a_wrong_limits_file_is_one_line_and_status_2(
    scanned: Path, tmp_path: Path, text: str | None, told: str
) -> None:
    path = tmp_path / "limits.toml"
    if text is not None:
        path.write_text(text)
    ran = fallow("replay", "--limits", str(path), home=scanned)
    assert ran.status == 2
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1


def test_who_has_no_coach_is_told_nothing_for_one(own: Path) -> None:
    roster = own / "roster.toml"
    coached = fallow("findings", "--json", home=own).json()[-1]["id"]
    assert "For the coach" in fallow("explain", coached, "--all", home=own).out
    alone = roster.read_text("utf-8").replace('id = "coach"', 'id = "runa"\nrole = "athlete"')
    roster.write_text(alone.replace('contacts = ["coach"]', 'contacts = ["runa"]'), "utf-8")
    said = fallow("explain", coached, "--all", home=own).out
    assert "coach" not in said.split("The rule:")[0].lower().replace("coach ida", "")
    assert fallow("explain", coached, "--json", home=own).json()["advice_to_coach"] == []
    fallow("board", home=own)
    footer = (own / "board.html").read_text("utf-8").partition("<footer>")[2].partition("</footer>")[0]
    assert "your physiotherapist's or doctor's word" in footer.replace("&#39;", "'")
    assert "for the coach" not in (own / "board.html").read_text("utf-8")
