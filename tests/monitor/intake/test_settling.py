"""Sessions made of their recordings, and rows of the ledger of what could not be read: each step at its border."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from monitor import words
from monitor.intake import sessions, storing
from monitor.intake.storing import PassMoment, ReadFile, Tally
from monitor.values import Seen
from rules.facts import Session
from rules.limits import default_limits
from rules.session.labels import Truth

START = datetime(2026, 10, 7, 6, tzinfo=UTC)
DIGEST: Any = SimpleNamespace()


def part(number: int, begin_min: float, metres: float | None = 6000.0, **more: Any) -> Any:
    """An hour of running from a minute on."""
    start = START + timedelta(minutes=begin_min)
    span = SimpleNamespace(
        number=number, start=start, end=start + timedelta(hours=1), seconds=3600.0, sport="running",
        sha256=f"{number}" * 64, part=0, quality=float(number),
    )  # fmt: skip
    plain = {"pauses": (), "lap_marks_s": ()}
    return SimpleNamespace(
        span=span, path=f"{number}.fit", sub_sport="trail", timer_s=3000.0, distance_m=metres, digest=DIGEST,
        utc_offset_s=7200, barometer=True, **plain | more,
    )  # fmt: skip


def session_of(monkeypatch: pytest.MonkeyPatch, *parts: Any) -> Session:
    monkeypatch.setattr(sessions, "_digest_or", lambda before, *_: before)
    truth = Truth("key", tuple(one.span for one in parts))
    kept = {one.span.number: one for one in parts}
    return sessions.session_of(truth, kept, default_limits(), lambda numbers, start: {})


@pytest.mark.parametrize(
    ("begins_min", "pauses"),
    [
        ((0,), ()),
        ((0, 60), ()),
        ((0, 61), ((3600, 3660),)),
        ((0, 70, 140), ((3600, 4200), (7800, 8400))),
        ((0, 50), ()),
    ],
)
def test_between_two_recordings_of_a_session_the_timer_stood(
    begins_min: tuple[float, ...], pauses: tuple[tuple[float, float], ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = session_of(monkeypatch, *(part(number, begin) for number, begin in enumerate(begins_min, 1)))
    assert made.pauses == pauses
    assert (made.start, made.elapsed_s) == (START, 60 * begins_min[-1] + 3600)
    assert made.version == "+".join(f"{number + 1}" * 16 + ".0" for number in range(len(begins_min)))
    assert made.source == f"{len(begins_min)}.fit"


def test_of_minutes_told_twice_the_earlier_recording_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second begins ten minutes before the first ends, so a sixth of it is told already."""
    later = part(2, 50, pauses=((100.0, 600.0), (500.0, 700.0), (900.0, 960.0)), lap_marks_s=(600.0, 601.0))
    made = session_of(monkeypatch, part(1, 0, pauses=((0.0, 60.0),), lap_marks_s=(60.0,)), later)
    assert made.pauses == ((0, 60), (3600, 3700), (3900, 3960))
    assert made.lap_marks_s == (60, 3601)
    assert made.timer_s == pytest.approx(3000 + 2500)
    assert made.distance_m == pytest.approx(6000 + 5000)


def test_a_distance_is_that_of_the_recordings_that_have_one(monkeypatch: pytest.MonkeyPatch) -> None:
    assert session_of(monkeypatch, part(1, 0), part(2, 70, None)).distance_m == 6000
    assert session_of(monkeypatch, part(1, 0, None), part(2, 70, None)).distance_m is None


ATHLETE: Any = SimpleNamespace(id="runa", options=SimpleNamespace(fingerprint="options"))


@pytest.mark.parametrize(
    ("age_s", "patient", "state"),
    [(599, True, "waiting"), (600, True, "unreadable"), (601, True, "unreadable"), (599, False, "unreadable")],
)
def test_a_young_file_that_cannot_be_read_waits_ten_minutes_where_somebody_is_patient(
    age_s: int, patient: bool, state: str
) -> None:
    seen = Seen("a.fit", 7, int((START.timestamp() - age_s) * 1e9), 1, 1)
    moment = PassMoment(START, START, patient, False)
    row = storing._unread(ATHLETE, ReadFile(seen, "1", None, words.files.EMPTY_FILE), moment)
    assert (row.state, row.arrived_at, row.read_under) == (state, None, "options")
    assert row.reason
    assert row.reason != storing._unread(ATHLETE, ReadFile(seen, "1", None, None), moment).reason


@pytest.mark.parametrize("first_import", [True, False])
def test_what_is_read_arrives_now_unless_it_was_there_before_the_first_look(first_import: bool) -> None:
    seen, moment = Seen("a.fit", 7, 0, 1, 1), PassMoment(START, START, False, first_import)
    file = ReadFile(seen, "1", None, None)
    assert storing._row(ATHLETE, file, moment, "read").arrived_at == (None if first_import else START)
    assert storing._row(ATHLETE, file, moment, "duplicate").arrived_at is None


def test_counts_of_batches_come_together() -> None:
    nothing = {name: value for name, value in asdict(Tally()).items() if isinstance(value, int)}
    assert set(nothing.values()) == {0}
    whole = Tally(files_new=2, read=1, unreadable=1, unreadable_paths=["a"])
    whole.add(Tally(files_new=3, read=2, duplicate=1, unreadable_paths=["b"]))
    counts = {name: value for name, value in asdict(whole).items() if value and isinstance(value, int)}
    assert counts == {"files_new": 5, "read": 3, "duplicate": 1, "unreadable": 1}
    assert whole.unreadable_paths == ["a", "b"]
