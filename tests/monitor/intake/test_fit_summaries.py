"""What a FIT file says of its sessions in sum, and which records, pauses and laps are whose: each at its limit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from monitor.intake import fit_sessions
from monitor.intake.fit_columns import Rows
from monitor.intake.fit_decoders import FIRST_DATE, FIT_EPOCH, Decoded, Message, Records
from monitor.intake.fit_sessions import SessionSummary
from monitor.values import Recording

NAN = float("nan")
AT = 1_790_000_000.0
DAY = 86_400.0
COLUMNS = ("hr_bpm", "cadence_spm", "speed_mps", "distance_m", "altitude_m", "lat_deg", "lon_deg", "power_w")


def records(*seconds: float, **columns: list[float]) -> Rows:
    at = AT + np.array(seconds, dtype=np.float64)
    return Rows(at, {name: np.array(columns.get(name, [NAN] * len(at))) for name in COLUMNS})


NONE = records()


def sessions(*laps: Message, rows: Rows = NONE, shift: float = 0.0, **messages: list[Message]) -> list[SessionSummary]:
    return fit_sessions.summaries({"lap": list(laps)} | messages, rows, shift)


def lap(begun: float, seconds: float | None = None, **more: Any) -> Message:
    told: dict[str, Any] = {"start_time": AT + begun, "total_elapsed_time": seconds, "sport": "running"}
    return {**told, **more}


# The clock of the device.


@pytest.mark.parametrize(
    ("ahead", "offset"),
    [(449, 0), (451, 900), (-451, -900), (50_400, 50_400), (50_400 + 900, None), (-50_400, -50_400), (-51_300, None)],
)
def test_no_clock_on_earth_is_more_than_fourteen_hours_from_utc(ahead: int, offset: int | None) -> None:
    told: list[Message] = [{"timestamp": AT}, {"timestamp": AT, "local_timestamp": AT + ahead}]
    assert fit_sessions.utc_offset({"activity": told}) == offset


@pytest.mark.parametrize(
    ("moment", "shift"), [(FIT_EPOCH - 1, 0.0), (FIT_EPOCH, None), (FIRST_DATE - 1, None), (FIRST_DATE, 0.0)]
)
@pytest.mark.parametrize("where", ["session", "lap", "record"])
def test_a_moment_below_the_first_date_is_a_count_and_one_before_the_epoch_nothing(
    where: str, moment: int, shift: float | None
) -> None:
    """FIT profile, type date_time: 0x10000000 is the least date; below it seconds count from the start of the device.

    One of a hundred records is enough.
    """
    at = float(moment)
    if where == "record":
        told = Decoded({}, records=Records(100, {"timestamp": np.array([NAN] * 33 + [at] + [NAN] * 66)}))
    else:
        told = Decoded({where: [{"start_time": at}]})
    assert fit_sessions.shift(told, "UTC") == shift


@pytest.mark.parametrize(("utc", "shift"), [(FIRST_DATE - 1, None), (FIRST_DATE, FIRST_DATE - FIT_EPOCH - 50.0)])
def test_a_correlation_tells_how_far_the_count_is_from_the_date(utc: int, shift: float | None) -> None:
    correlation: Message = {"timestamp": utc, "system_timestamp": FIT_EPOCH + 50}
    messages: dict[str, list[Message]] = {
        "session": [{"start_time": FIT_EPOCH + 10}],
        "timestamp_correlation": [{"timestamp": AT}, correlation],
    }
    assert fit_sessions.shift(Decoded(messages), "UTC") == shift


# Sessions from their messages.


@pytest.mark.parametrize(
    ("session", "begins"),
    [
        ({"start_time": AT, "timestamp": AT + 50}, 0.0),
        ({"timestamp": AT + 600, "total_elapsed_time": 500.0, "total_timer_time": 400.0}, 100.0),
        ({"timestamp": AT + 600, "total_timer_time": 400.0}, 200.0),
        ({"timestamp": AT + 600}, 600.0),
        ({}, 7.0),
    ],
)
def test_a_session_begins_where_it_says_or_so_long_before_its_end_or_with_its_records(
    session: Message, begins: float
) -> None:
    (found,) = sessions(session=[session], rows=records(7.0, 8.0))
    assert found.start == AT + begins
    shifted = sessions(session=[session], rows=records(7.0, 8.0), shift=1000.0)
    assert shifted[0].start == found.start + (1000.0 if session else 0.0)


def test_nothing_recorded_at_no_moment_is_no_session() -> None:
    assert sessions(session=[{"total_distance": 5.0}]) == []
    assert fit_sessions.recordings(Decoded({"session": [{"start_time": AT}]}), 0.0, []) == ()


def test_sessions_come_in_order_of_time_each_once() -> None:
    told: list[Message] = [{"start_time": AT + at, "sport": "running"} for at in (90.0, 0.0, 90.0, 30.0)]
    assert [found.start - AT for found in sessions(session=told)] == [0.0, 30.0, 90.0]


def test_the_whole_of_an_event_is_a_session_where_nothing_else_is_told() -> None:
    assert [found.sport for found in sessions(session=[{"start_time": AT, "sport": "multisport"}])] == ["multisport"]


@pytest.mark.parametrize(("days", "known"), [(0.0, False), (15.0, True), (15.0001, False)])
def test_no_activity_is_longer_than_fifteen_days(days: float, *, known: bool) -> None:
    (found,) = sessions(session=[{"start_time": AT, "total_elapsed_time": days * DAY}])
    assert found.elapsed_s == (days * DAY if known else None)


@pytest.mark.parametrize(
    ("own", "laps", "setting", "sport"),
    [
        ({"sport": "walking", "sub_sport": "track"}, [], [], ("walking", "track")),
        ({"sport": "walking"}, [], [], ("walking", "generic")),
        ({"sport": "all"}, [{}, {"sport": "rowing"}], [{"sport": "cycling"}], ("rowing", "generic")),
        ({}, [{"sport": "all"}], [{}, {"sport": "cycling"}], ("cycling", "generic")),
        ({}, [], [], ("generic", "generic")),
    ],
)
def test_a_session_without_a_sport_has_that_of_a_lap_or_of_the_device(
    own: Message, laps: list[Message], setting: list[Message], sport: tuple[str, str]
) -> None:
    (found,) = sessions(*laps, session=[{"start_time": AT, **own}], sport=setting)
    assert (found.sport, found.sub_sport) == sport


# Sessions from their laps.


@pytest.mark.parametrize(("until", "closed"), [(100.0, True), (105.0, True), (105.1, False)])
def test_records_that_go_on_for_more_than_five_seconds_were_of_a_lap_that_nobody_closed(
    until: float, *, closed: bool
) -> None:
    told = lap(60, 40.0, total_distance=90.0, total_ascent=3.0, total_descent=4.0, total_timer_time=40.0)
    (found,) = sessions(told, lap(0, 60.0, total_timer_time=50.0), rows=records(until))
    ends = (found.elapsed_s, found.timer_s, found.distance_m, found.ascent_m, found.descent_m)
    assert found.start == AT
    assert ends == ((100.0, 90.0, 90.0, 3.0, 4.0) if closed else (None,) * 5)


def test_only_the_last_session_can_be_unclosed_and_the_longest_lap_ends_it() -> None:
    ride, run = lap(0, 60.0, sport="cycling"), lap(60, 30.0)
    found = sessions(run, ride, lap(80), {"sport": "running"}, rows=records(500.0))
    assert [(one.sport, one.start - AT, one.elapsed_s) for one in found] == [
        ("cycling", 0.0, 60.0),
        ("running", 60.0, None),
    ]
    assert [one.elapsed_s for one in sessions(run, ride, lap(80))] == [60.0, 30.0]


def test_one_lap_without_a_timer_leaves_the_timer_of_all_unknown() -> None:
    (found,) = sessions(lap(0, 60.0, total_timer_time=60.0), lap(60, 60.0))
    assert (found.elapsed_s, found.timer_s) == (120.0, None)


@pytest.mark.parametrize(("times", "rate"), [((100.0, 300.0), 130.0), ((None, None), 120.0), ((3.0, None), 110.0)])
def test_the_heart_rate_of_laps_is_weighted_by_their_time_a_second_where_none_is_told(
    times: tuple[float | None, float | None], rate: float
) -> None:
    laps = [
        lap(at, 9.0, total_timer_time=time, avg_heart_rate=bpm)
        for at, time, bpm in zip((0, 9), times, (100, 140), strict=True)
    ]
    (found,) = sessions(*laps, lap(18, 9.0, total_timer_time=50.0))
    assert found.avg_hr_bpm == rate
    assert sessions(lap(0, 9.0))[0].avg_hr_bpm is None


def test_records_alone_are_a_session_from_the_first_on() -> None:
    assert sessions(rows=records(5.0, 6.0)) == [SessionSummary(AT + 5.0)]


# Whose the records are.


def own(*begun: tuple[float, float | None], rows: Rows, index: int = 0) -> tuple[list[float], float]:
    legs = [SessionSummary(AT + at, elapsed_s=seconds) for at, seconds in begun]
    found, leg = fit_sessions._own_rows(legs[index], legs, index, rows)
    return (found.at - AT).tolist(), leg.start - AT


HALF_DAY = 43_200.0


@pytest.mark.parametrize(
    ("at", "begins"),
    [(-HALF_DAY, -HALF_DAY), (-HALF_DAY - 1, 0.0), (100.0 + HALF_DAY, 0.0), (101.0 + HALF_DAY, None)],
)
def test_records_up_to_half_a_day_off_are_of_the_only_session(at: float, begins: float | None) -> None:
    times = sorted([0.0, at])
    found, start = own((0.0, 100.0), rows=records(*times))
    assert (found, start) == (
        times if begins == at or at == 100.0 + HALF_DAY else [0.0],
        0.0 if begins is None else begins,
    )


@pytest.mark.parametrize(
    ("first", "elapsed", "begins"),
    [(600.0, 60.0, 0.0), (601.0, 60.0, 601.0), (900.0, 900.0, 0.0), (901.0, 900.0, 901.0), (601.0, None, 601.0)],
)
def test_an_only_session_begins_ten_minutes_or_its_own_length_before_its_records_at_most(
    first: float, elapsed: float | None, begins: float
) -> None:
    assert own((0.0, elapsed), rows=records(first, first + 5)) == ([first, first + 5], begins)


def test_of_two_sessions_each_has_its_records_up_to_two_seconds_past_its_end_or_to_the_next() -> None:
    rows = records(-5.0, 0.0, 98.0, 102.0, 103.0, 149.0, 150.0, 160.0, 5000.0)
    assert own((0.0, 100.0), (150.0, 60.0), rows=rows) == ([-5.0, 0.0, 98.0, 102.0], -5.0)
    assert own((0.0, 149.5), (150.0, 60.0), rows=rows)[0] == [-5.0, 0.0, 98.0, 102.0, 103.0, 149.0]
    assert own((0.0, None), (150.0, 60.0), rows=rows)[0] == [-5.0, 0.0, 98.0, 102.0, 103.0, 149.0]
    assert own((0.0, 100.0), (150.0, None), rows=rows, index=1) == ([150.0, 160.0, 5000.0], 150.0)
    assert own((0.0, 100.0), (103.5, 60.0), rows=records(103.0, 700.0), index=0) == ([], 0.0)


@pytest.mark.parametrize(
    ("speed", "turns", "run"),
    [
        (2.1, NAN, False),
        (2.11, NAN, True),
        (2.11, 62.5, True),
        (2.11, 62.4, False),
        (2.11, 0.0, True),  # a sensor that stood still tells nothing
    ],
)
def test_a_transition_was_run_where_speed_and_steps_are_a_runner_s(speed: float, turns: float, *, run: bool) -> None:
    """gait.border_mps and gait.fewest_running_spm"""
    told = records(*range(60), speed_mps=[speed] * 60, cadence_spm=[turns] * 60)
    assert fit_sessions._was_run(told) == run


@pytest.mark.parametrize(("gap", "run"), [(9.0, False), (10.0, True), (500.0, True)])
def test_a_record_of_a_transition_stands_for_ten_seconds_at_most_and_the_last_for_one(gap: float, *, run: bool) -> None:
    """cleaning.longest_gap_s and no_running.least_seconds"""
    to_the_end = records(*range(50), 49 + gap, speed_mps=[3.0] * 51)
    but_the_last = records(*range(51), 50 + gap, speed_mps=[3.0] * 51 + [1.0])
    assert fit_sessions._was_run(to_the_end) == fit_sessions._was_run(but_the_last) == run


@pytest.mark.parametrize(
    ("before", "within", "counted"),
    [
        ([0.0, 500.0], [500.0, 503.0], 500.0),
        ([0.0, 500.0, NAN], [NAN, 505.0], 500.0),
        ([0.0, 500.0], [499.0, 510.0], 0.0),
        ([0.0, 500.0], [NAN, NAN], 0.0),
        ([NAN, NAN], [7.0, 9.0], 0.0),
    ],
)
def test_a_distance_that_counts_on_is_told_from_where_the_session_began(
    before: list[float], within: list[float], counted: float
) -> None:
    rows = records(*range(len(before) + len(within)), distance_m=before + within)
    mine = rows.between(AT + len(before), AT + 99)
    assert fit_sessions._distance_before(rows, mine) == counted
    assert fit_sessions._distance_before(rows, records()) == 0.0


# Pauses, laps and devices of a session.


def recording(*records_at: float, **messages: list[Message]) -> Recording:
    told = {"timestamp": AT + np.array(records_at), "distance": 10.0 + np.array(records_at)}
    session: Message = {"start_time": AT, "total_elapsed_time": 1000.0, "sport": "running"}
    decoded = Decoded({"session": [session], **messages}, records=Records(len(records_at), told))
    (found,) = fit_sessions.recordings(decoded, 0.0, [])
    return found


def timer(*events: tuple[float, str]) -> list[Message]:
    return [{"timestamp": AT + at, "event": "timer", "event_type": kind} for at, kind in events]


@pytest.mark.parametrize(
    ("events", "pauses"),
    [
        ([(50, "stop"), (60, "start")], [(50.0, 60.0)]),
        ([(60, "start"), (50, "stop_all")], [(50.0, 60.0)]),
        ([(50, "stop_all"), (55, "stop_all"), (60, "start"), (70, "start")], [(50.0, 60.0)]),
        ([(50, "stop"), (50.5, "start")], []),
        ([(50, "stop"), (50.6, "start")], [(50.0, 50.6)]),
        ([(-20, "stop"), (10, "start")], [(0.0, 10.0)]),
        ([(990, "stop"), (1010, "start")], [(990.0, 1000.0)]),
        ([(998, "stop")], []),
        ([(997.9, "stop")], [(997.9, 1000.0)]),
        ([(0, "start"), (900, "stop_disable_all")], [(900.0, 1000.0)]),
    ],
)
def test_a_pause_is_more_than_half_a_second_of_a_stopped_timer_within_the_session(
    events: list[tuple[float, str]], pauses: list[tuple[float, float]]
) -> None:
    found = recording(*range(0, 901, 100), event=timer(*events))
    assert list(found.pauses) == [pytest.approx(pause) for pause in pauses]
    assert found.timer_s == pytest.approx(1000 - sum(to - since for since, to in pauses))


@pytest.mark.parametrize(
    ("seconds", "ends"),
    [((0, 40, 100), 1000.0), ((0, 40, 101), 101.0), ((0, 41, 101), 101.0), ((0, 41.5, 101), 41.5)],
)
def test_records_a_minute_after_a_stop_end_it_with_the_first_of_them_a_second_later(
    seconds: tuple[float, ...], ends: float
) -> None:
    assert recording(*seconds, event=timer((40, "stop"))).pauses == ((40.0, ends),)


@pytest.mark.parametrize(
    ("first", "last", "marks"),
    [(-2.0, 999.0, (50.0, 400.0, 999.0)), (-2.1, 999.0, (400.0, 999.0)), (0.0, 1000.0, (50.0, 400.0))],
)
def test_laps_of_a_session_begin_within_it_but_for_two_seconds(
    first: float, last: float, marks: tuple[float, ...]
) -> None:
    begun, metres = (first, 400.0, 50.0, last), (100.0, 900.0, 300.0, 50.0)
    laps = [lap(at, 9.0, total_distance=way) for at, way in zip(begun, metres, strict=True)]
    assert recording(0.0, 5.0, lap=laps).lap_marks_s == marks


def test_the_way_is_from_the_least_to_the_most_that_was_counted() -> None:
    assert recording(0.0, 5.0, 30.0).distance_m == 30.0


@pytest.mark.parametrize(
    ("told", "name"),
    [
        ([], None),
        ([{}], None),
        ([{"manufacturer": "development", "product": 7, "serial_number": 0}], "development 7"),
        ([{"product": 7.0, "product_name": "Watch", "serial_number": 12.0}, {"manufacturer": "x"}], "Watch 12"),
    ],
)
def test_a_device_is_called_as_its_first_message_says(told: list[Message], name: str | None) -> None:
    assert fit_sessions._device({"file_id": told}) == name
