"""The calendar file as another library reads it: every entry, moved when its stage moves, told apart for good."""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream
from ical.event import Event

from monitor.calendars import AthletesCalendar, CalendarEntry, CalendarView, NumberedEntry, as_icalendar, calendar_of
from monitor.home import Home
from monitor.overriding import hold, release
from monitor.plain_text import plain
from monitor.rebuilding import rebuild
from monitor.store import findings
from monitor.store.database import Store
from monitor.store.findings import Numbered
from tests.boards import NOW, opened

LONGEST_LINE = 75
DAY = timedelta(days=1)


@pytest.fixture
def home(board_home: Home, tmp_path: Path) -> Home:
    return Home(Path(shutil.copytree(board_home.path, tmp_path / "home")))


def made(home: Home, now: datetime = NOW, athlete: str = "runa", *, body: bool = False) -> AthletesCalendar:
    roster, _ = opened(home)
    one = roster.athlete(athlete)
    assert one is not None
    return calendar_of(home, roster, one, now, body=body)


def read(feed: bytes) -> dict[str, Event]:
    """The events by uid, as the other library reads them."""
    events = IcsCalendarStream.calendar_from_ics(feed.decode()).events
    assert len({str(each.uid) for each in events}) == len(events)
    return {str(each.uid): each for each in events}


def titled(events: dict[str, Event], title: str) -> Event:
    (found,) = [each for each in events.values() if each.summary == title]
    return found


def test_another_library_reads_every_entry_with_its_days_and_words(home: Home) -> None:
    calendar = made(home)
    events = read(as_icalendar(calendar))
    assert len(events) == len(calendar.kept) >= 14
    for kept in calendar.kept:
        event = events[kept.uid]
        assert (event.dtstart, event.dtend) == (kept.entry.first, kept.entry.last + DAY)
        assert event.summary == kept.entry.title
        assert (event.description or "") == "\n".join(kept.entry.lines)
    stages = [titled(events, name) for name in ("Days off", "Cross-training", "Test runs")]
    assert [each.dtstart for each in stages] == [date(2026, 10, 5), date(2026, 10, 13), date(2026, 10, 20)]
    assert [each.dtend for each in stages] == [date(2026, 10, 13), date(2026, 10, 20), date(2026, 10, 27)]
    assert titled(events, "Day 13: 60 min easy, no running").dtstart == NOW.date()


def test_a_stage_that_a_hold_moves_moves_in_the_telephone(home: Home) -> None:
    before = read(as_icalendar(made(home)))
    roster, _ = opened(home)
    hold(home, roster, "runa", NOW.date(), 3, "calf tight", "Coach Ida", NOW)
    after = read(as_icalendar(made(home, NOW + timedelta(minutes=5))))
    moved, was = titled(after, "Test runs"), titled(before, "Test runs")
    assert moved.uid == was.uid
    assert (moved.dtstart, moved.dtend) == (was.dtstart + 3 * DAY, was.dtend + 3 * DAY)
    assert (was.sequence, moved.sequence) == (0, 1)
    assert moved.dtstamp > was.dtstamp
    stays, stood = titled(after, "Days off"), titled(before, "Days off")
    assert (stays.dtstart, stays.dtend) == (stood.dtstart, stood.dtend)
    held = titled(after, "Held by Coach Ida, 3 days")
    assert (held.dtstart, held.dtend, held.description) == (NOW.date(), NOW.date() + 3 * DAY, None)
    assert set(before) <= set(after)


def test_a_hold_ends_where_a_release_ends_it(home: Home) -> None:
    roster, _ = opened(home)
    hold(home, roster, "runa", NOW.date(), None, "", "Coach Ida", NOW)
    later = NOW + 2 * DAY
    open_hold = titled(read(as_icalendar(made(home, later))), "Held by Coach Ida, until released")
    assert open_hold.dtend == later.date() + DAY
    release(home, roster, "runa", later.date(), "seen by the physiotherapist", "Coach Ida", later)
    much_later = made(home, later + 4 * DAY, body=True)
    events = read(as_icalendar(much_later))
    assert titled(events, "Held by Coach Ida, until released").dtend == later.date() + DAY
    released = titled(events, "Released by Coach Ida")
    assert (released.dtstart, released.description) == (later.date(), "Seen by the physiotherapist.")


def test_what_has_not_changed_gives_the_same_bytes_and_writes_nothing(home: Home) -> None:
    first = as_icalendar(made(home))
    journal = home.journal.read_bytes()
    assert as_icalendar(made(home, NOW + timedelta(minutes=1))) == first
    assert home.journal.read_bytes() == journal


def test_sequences_rise_on_after_the_store_was_built_anew(home: Home) -> None:
    roster, _ = opened(home)
    made(home)
    hold(home, roster, "runa", NOW.date(), 2, "", "Coach Ida", NOW)
    before = as_icalendar(made(home))
    rebuild(home, datetime.now(UTC))
    with Store(home.store).reading() as con:
        known = findings.calendar_numbers(con, "runa")
    assert {uid: one.sequence for uid, one in known.items()} == {
        uid: event.sequence for uid, event in read(before).items()
    }


def test_a_sequence_never_falls_however_often_the_journal_is_read(home: Home) -> None:
    at = datetime(2026, 10, 17, tzinfo=UTC)
    store = Store(home.store)
    first = {"one": Numbered(3, "c", at), "two": Numbered(0, "a", at), "three": Numbered(1, "a", at)}
    then = {"one": Numbered(1, "b", at), "two": Numbered(1, "d", at), "three": Numbered(1, "b", at)}
    with store.writing() as con:
        for numbers in (first, then):
            findings.number_entries(con, "runa", numbers)
    with store.reading() as con:
        known = findings.calendar_numbers(con, "runa")
    assert {uid: (one.sequence, one.mark) for uid, one in known.items()} == {
        "one": (3, "c"), "two": (1, "d"), "three": (1, "b"),
    }  # fmt: skip


def test_a_clock_that_was_set_back_makes_no_entry_older(home: Home) -> None:
    made(home)
    roster, _ = opened(home)
    hold(home, roster, "runa", NOW.date(), 3, "", "Coach Ida", NOW - timedelta(minutes=30))
    moved = titled(read(as_icalendar(made(home, NOW - timedelta(minutes=20)))), "Test runs")
    assert moved.sequence == 1
    assert moved.dtstamp >= NOW


AWKWARD = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=300) | st.sampled_from(
    ["a,b;c\\d", "line\nbreak", "ø" * 200, "🏃" * 60, "BEGIN:VEVENT", "\\n", 'quoted "name": x', "END:VCALENDAR\nX:Y"]
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(title=AWKWARD, line=AWKWARD, name=AWKWARD)
def test_lines_are_folded_and_texts_escaped_so_that_nothing_in_them_is_a_property(
    title: str, line: str, name: str, board_home: Home
) -> None:
    roster, _ = opened(board_home)
    entry = CalendarEntry("day", "x", date(2026, 10, 24), date(2026, 10, 25), f"t{title}", (f"l{line}",))
    kept = (NumberedEntry(entry, "uid-1", Numbered(2, "", NOW)),)
    feed = as_icalendar(AthletesCalendar(roster.athletes[0], CalendarView(f"n{name}", "about", (entry,)), kept))
    for row in feed.split(b"\r\n"):
        assert b"\n" not in row
        assert len(row) <= LONGEST_LINE
        row.decode()  # no character is cut in two
    (event,) = read(feed).values()
    assert (event.uid, event.sequence, event.dtstart, event.dtend) == ("uid-1", 2, entry.first, date(2026, 10, 26))
    assert (event.summary, event.description) == (plain(f"t{title}"), plain(f"l{line}"))
    assert feed.count(b"\r\nBEGIN:VEVENT\r\n") == 1


def test_entries_are_days_of_the_athlete_wherever_the_clock_stands(home: Home) -> None:
    text = home.roster.read_text("utf-8").replace("Europe/Oslo", "Pacific/Auckland")
    home.roster.write_text(text, "utf-8")
    late = datetime(2026, 10, 17, 12, 30, tzinfo=UTC)  # already the 18th in Auckland
    feed = as_icalendar(made(home, late))
    assert b"X-WR-TIMEZONE:Pacific/Auckland" in feed
    days = [each for each in read(feed).values() if (each.summary or "").startswith("Day ")]
    assert min(each.dtstart for each in days) == date(2026, 10, 18)
    assert b"DTSTART:" not in feed, "every entry is of dates, so that no change of clocks moves it"


def test_over_the_night_of_the_clocks_every_day_is_there_once(home: Home) -> None:
    days = sorted(
        each.dtstart for each in read(as_icalendar(made(home))).values() if (each.summary or "").startswith("Day ")
    )
    assert days == [NOW.date() + DAY * number for number in range(len(days))]
    assert date(2026, 10, 25) in days  # 25 hours long


def test_somebody_without_a_race_has_an_empty_calendar(home: Home) -> None:
    feed = as_icalendar(made(home, athlete="nora"))
    assert read(feed) == {}
    assert b"X-WR-CALNAME:nora: the way back" in feed


def test_the_journal_holds_no_words_of_the_calendar(home: Home) -> None:
    made(home, body=True)
    told = [line for line in home.journal.read_text("utf-8").splitlines() if json.loads(line)["kind"] == "calendar"]
    assert told
    assert not any(word in line.lower() for line in told for word in ("easy", "running", "pain", "stairs", "2026-10-2"))


def test_with_the_body_asked_for_entries_are_others_with_their_own_numbers(home: Home) -> None:
    plain, whole = made(home), made(home, body=True)
    assert not {each.uid for each in plain.kept} & {each.uid for each in whole.kept}
    assert b"Heart rate up to" in as_icalendar(whole).replace(b"\r\n ", b"")
    assert b"Heart rate" not in as_icalendar(plain).replace(b"\r\n ", b"")
