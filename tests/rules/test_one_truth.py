"""Which recordings are one session: constructed cases, and any order of arrival."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.limits import default_limits
from rules.session.labels import RecordingSpan, deduplicate, stretches

NOON = datetime(2026, 10, 7, 12, 0, tzinfo=UTC)
LIMITS = default_limits()


def span(number: int, start_min: float, end_min: float, **over: object) -> RecordingSpan:
    values: dict[str, object] = {
        "number": number,
        "start": NOON + timedelta(minutes=start_min),
        "end": NOON + timedelta(minutes=end_min),
        "sport": "running",
        "quality": (end_min - start_min) * 60,
        "format": "fit",
        "sha256": f"{number:064d}",
        "part": 0,
    }
    return RecordingSpan(**{**values, **over})


def numbers(spans: list[RecordingSpan]) -> list[list[int]]:
    return [[part.number for part in truth.parts] for truth in deduplicate(spans, LIMITS)]


def test_two_devices_with_clocks_a_minute_apart_tell_one_session() -> None:
    assert numbers([span(1, 0, 40), span(2, 1, 41, quality=9000.0)]) == [[2]]


def test_the_key_is_the_earliest_telling_whichever_recording_stands() -> None:
    truths = deduplicate([span(1, 0, 40), span(2, 1, 41, quality=9000.0)], LIMITS)
    assert [truth.key for truth in truths] == ["2026-10-07T12:00:00Z"]


def test_a_longer_export_replaces_the_shorter_one() -> None:
    assert numbers([span(1, 0, 25), span(2, 0, 40)]) == [[2]]


def test_a_session_cut_in_two_by_the_device_is_joined() -> None:
    assert numbers([span(1, 0, 20), span(2, 20.5, 40)]) == [[1, 2]]


def test_the_whole_stands_for_its_halves() -> None:
    assert numbers([span(1, 0, 20), span(2, 20.5, 40), span(3, 0, 40)]) == [[3]]


def test_legs_of_a_triathlon_in_one_file_stay_apart() -> None:
    legs = [
        span(1, 0, 20, sport="swimming", sha256="a", part=0),
        span(2, 22, 60, sport="cycling", sha256="a", part=1),
        span(3, 61, 90, sport="running", sha256="a", part=2),
    ]
    assert numbers(legs) == [[1], [2], [3]]


def test_two_runs_with_an_hour_between_are_two_sessions() -> None:
    assert numbers([span(1, 0, 20), span(2, 80, 100)]) == [[1], [2]]


def test_a_label_does_not_make_another_session_of_the_same_time() -> None:
    assert numbers([span(1, 0, 40, sport="walking"), span(2, 0, 40, sport="running", quality=9000.0)]) == [[2]]


def test_a_phone_on_the_table_does_not_swallow_the_spin_class_beside_it() -> None:
    phone = span(1, 0, 180, sport="generic", quality=180 * 60 * 1.1, judged="unknown")
    watch = span(2, 30, 75, sport="cycling", quality=45 * 60 * 2.1, judged="cycling")
    assert numbers([phone, watch]) == [[2]]


def test_minutes_of_a_walk_do_not_swallow_an_hour_that_a_heart_tells_more_of() -> None:
    hour = span(1, 0, 90, sport="generic", quality=90 * 60 * 2.1, judged="unknown")
    walk = span(2, 30, 35, sport="walking", quality=5 * 60 * 1.1, judged="walking")
    assert numbers([hour, walk]) == [[1]]


@pytest.mark.parametrize(("begins", "joined"), [(25, True), (39, True), (41, False), (50, False)])
def test_devices_that_overlap_by_less_than_half_tell_one_session(begins: int, joined: bool) -> None:
    made = [
        span(1, 0, 40, sport="running", judged="running"),
        span(2, begins, begins + 60, sport="generic", judged="running"),
    ]
    assert numbers(made) == ([[1, 2]] if joined else [[1], [2]])


def test_a_ride_computer_that_ran_into_the_run_leaves_the_run_its_own_session() -> None:
    assert numbers([span(1, 0, 60, sport="cycling", judged="cycling"), span(2, 50, 90, judged="running")]) == [[1], [2]]


spans = st.lists(
    st.tuples(st.integers(0, 300), st.integers(1, 120), st.sampled_from(["running", "walking"]), st.integers(1, 9000)),
    max_size=8,
)


@given(spans, st.randoms(use_true_random=False))
def test_order_of_arrival_changes_nothing(rows: list[tuple[int, int, str, int]], shuffle: object) -> None:
    made = [span(i, a, a + length, sport=sport, quality=float(q)) for i, (a, length, sport, q) in enumerate(rows)]
    before = deduplicate(made, LIMITS)
    shuffle.shuffle(made)
    assert deduplicate(made, LIMITS) == before


@given(spans)
def test_the_same_bytes_twice_add_no_session(rows: list[tuple[int, int, str, int]]) -> None:
    made = [span(i, a, a + length, sport=sport, quality=float(q)) for i, (a, length, sport, q) in enumerate(rows)]
    twice = made + [
        span(100 + i, a, a + length, sport=sport, quality=float(q), sha256=f"{i:064d}")
        for i, (a, length, sport, q) in enumerate(rows)
    ]
    assert [truth.key for truth in deduplicate(twice, LIMITS)] == [truth.key for truth in deduplicate(made, LIMITS)]


@pytest.mark.parametrize(
    ("apart_min", "found"), [(-5, [(0, 30)]), (9, [(0, 40)]), (10, [(0, 41)]), (11, [(0, 20), (31, 42)])]
)
def test_times_up_to_so_far_apart_are_one_stretch(apart_min: int, found: list[tuple[int, int]]) -> None:
    def minutes(start: int, end: int) -> tuple[datetime, datetime]:
        return NOON + timedelta(minutes=start), NOON + timedelta(minutes=end)

    begins = 20 + apart_min
    told = [minutes(begins, begins + 11 if apart_min > 0 else 30), minutes(0, 20), minutes(2, 3)]
    assert stretches(told, timedelta(minutes=10)) == [minutes(*one) for one in found]
