from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.fit_columns import (
    Rows,
    has_running_form,
    rows,
    samples_of,
    too_fast,
    with_lengths,
    with_stored_heart_rate,
)
from monitor.intake.fit_decoders import Message, Records

T0 = 1_790_000_000
NAN = float("nan")
DAY = 86_400


def records(*times: int, **columns: list[object]) -> Records:
    return Records.of(messages(*times, **columns))


def messages(*times: int, **columns: list[object]) -> list[dict[str | int, object]]:
    made: list[dict[str | int, object]] = [{"timestamp": T0 + t} for t in times]
    for name, values in columns.items():
        for record, value in zip(made, values, strict=True):
            if value is not None:
                record[name] = value
    return made


def seconds(*times: int) -> list[float]:
    found, _ = rows(records(*times), 0.0)
    return (found.at - T0).tolist()


def test_records_in_order_stay_as_they_are() -> None:
    assert seconds(0, 1, 5, 6) == [0, 1, 5, 6]


def test_a_record_with_a_wrong_clock_stays_out_wherever_it_points() -> None:
    right = list(range(30))
    assert seconds(*right[:10], 400, *right[10:]) == right
    assert seconds(*right[:10], -400, *right[10:]) == right
    assert seconds(*right[:10], 10**9, *right[10:]) == right
    found, dropped = rows(records(*right[:10], 400, *right[10:]), 0.0)
    assert dropped == 1
    assert len(found.at) == 30


def test_a_clock_set_back_by_seconds_costs_only_the_seconds_told_twice() -> None:
    assert seconds(*range(60), *range(57, 100)) == list(range(100))


def test_records_written_out_of_order_as_a_whole_are_sorted() -> None:
    assert seconds(*range(50, 100), *range(50)) == list(range(100))


def test_records_without_a_time_are_left_out() -> None:
    found, dropped = rows(Records.of([*messages(0, 1), {"heart_rate": 99}]), 0.0)
    assert (found.at - T0).tolist() == [0, 1]
    assert dropped == 1


def test_records_of_the_same_second_are_made_one_that_knows_what_they_know() -> None:
    found, dropped = rows(records(0, 1, 1, 2, heart_rate=[100, 101, 102, 103], power=[None, 200, None, None]), 0.0)
    assert (found.at - T0).tolist() == [0, 1, 2]
    assert found.columns["hr_bpm"].tolist() == [100, 102, 103]
    assert np.array_equal(found.columns["power_w"], [np.nan, 200, np.nan], equal_nan=True)
    assert dropped == 0


@given(st.lists(st.integers(-2000, 2000), max_size=60))
def test_times_always_rise_and_no_time_is_made_up(times: list[int]) -> None:
    found = seconds(*times)
    assert (np.diff(found) > 0).all()
    assert set(found) <= set(times)


def test_speed_is_taken_from_the_exact_field_and_from_the_wide_one_where_that_is_full() -> None:
    found, _ = rows(records(0, 1, 2, speed=[2.731, None, 3.0], enhanced_speed=[2.73, 70.1, None]), 0.0)
    assert found.columns["speed_mps"].tolist() == [2.731, 70.1, 3.0]


def test_semicircles_become_degrees_and_a_receiver_without_a_fix_is_nowhere() -> None:
    found, _ = rows(records(0, 1, position_lat=[536870912, 0], position_long=[-404070523, 0]), 0.0)
    assert found.columns["lat_deg"][0] == 45.0
    assert found.columns["lon_deg"][0] == pytest.approx(-33.8688, abs=1e-7)
    assert np.isnan(found.columns["lat_deg"][1])


def test_a_heart_rate_of_zero_is_a_silent_strap() -> None:
    found, _ = rows(records(0, 1, heart_rate=[0, 60]), 0.0)
    assert np.isnan(found.columns["hr_bpm"][0])


def test_packed_speed_and_distance_unfold_and_the_distance_goes_on_past_256_metres() -> None:
    def packed(speed_cmps: int, sixteenths: int) -> bytes:
        low = sixteenths % 4096
        return bytes((speed_cmps & 0xFF, speed_cmps >> 8 | (low & 0x0F) << 4, low >> 4))

    metres = [0, 16, 250, 260, 600]
    made = messages(*range(5), compressed_speed_distance=[packed(312, m * 16) for m in metres])
    made[3]["compressed_speed_distance"] = list(packed(312, 260 * 16))  # as the other decoder gives it
    found, _ = rows(Records.of(made[:4]), 0.0)
    assert found.columns["distance_m"].tolist() == metres[:4]
    assert found.columns["speed_mps"].tolist() == [3.12] * 4


@pytest.mark.parametrize(
    ("sport", "sub_sport", "cadence", "speed", "expected"),
    [
        ("running", "trail", 82.5, 3.0, 165.0),
        ("walking", "generic", 55.0, 1.4, 110.0),
        ("generic", "generic", 82.0, 3.0, 164.0),
        ("training", "generic", 82.0, None, 164.0),
        ("fitness_equipment", "treadmill", 80.0, 2.5, 160.0),
        ("generic", "generic", 85.0, 8.0, 85.0),  # unlabelled, but on wheels
        ("cycling", "road", 85.0, 8.0, 85.0),
        ("fitness_equipment", "indoor_cycling", 85.0, None, 85.0),
        ("swimming", "lap_swimming", 24.0, 0.9, 24.0),
        ("rowing", "generic", 22.0, 3.0, 22.0),
        ("running", "generic", 168.0, 3.0, 168.0),  # a device that counts steps
        ("walking", "generic", 116.0, 1.7, 116.0),
        ("hiking", "generic", 104.0, None, 104.0),
        ("generic", "generic", 112.0, 1.6, 112.0),
    ],
)
def test_cadence_is_in_steps_on_foot_and_unlabelled_and_in_turns_elsewhere(
    sport: str, sub_sport: str, cadence: float, speed: float | None, expected: float
) -> None:
    whole, part = int(cadence), cadence % 1
    made = records(0, 1, cadence=[whole, whole], fractional_cadence=[part, part], speed=[speed, speed])
    found, _ = rows(made, 0.0)
    assert samples_of(found, float(T0), sport, sub_sport)["cadence_spm"].tolist() == [expected, expected]


def test_impossible_values_and_empty_columns_are_left_out() -> None:
    found, _ = rows(records(0, 1, power=[90_000, 250], temperature=[None, None]), 0.0)
    samples = samples_of(found, float(T0), "cycling", "generic")
    assert np.array_equal(samples["power_w"], [np.nan, 250], equal_nan=True)
    assert "temperature_c" not in samples


@pytest.mark.parametrize(("days", "kept"), [(15, 2), (15 + 1 / DAY, 1)])
def test_a_record_fifteen_days_from_the_middle_has_a_broken_clock(days: float, kept: int) -> None:
    for far in (days, -days):
        found, dropped = rows(records(0, 0, round(far * DAY)), 0.0)
        assert (len(found.at), dropped) == (kept, 2 - kept)


@pytest.mark.parametrize(("count", "found"), [(10, [0, 1, 2, 3, 4, 5, 6, 7, 8]), (9, [0, 1, 2, 3, 4, 5, 6, 7, 999])])
def test_where_nine_tenths_are_in_order_the_rest_is_misdated(count: int, found: list[int]) -> None:
    """One of ten far ahead is a wrong clock; one of nine may have been written late."""
    assert seconds(*range(count - 5), 999, *range(count - 5, count - 1)) == found


def test_times_are_moved_by_what_the_device_was_off() -> None:
    found, _ = rows(records(0, 5), 1000.0)
    assert (found.at - T0).tolist() == [1000, 1005]


def test_on_the_equator_and_on_the_first_meridian_one_is_somewhere() -> None:
    found, _ = rows(records(0, 1, 2, position_lat=[0, 9, 0], position_long=[9, 0, 0]), 0.0)
    assert np.isfinite(found.columns["lat_deg"]).tolist() == [True, True, False]
    assert np.isfinite(found.columns["lon_deg"]).tolist() == [True, True, False]


def test_a_cadence_without_its_fraction_is_whole() -> None:
    found, _ = rows(records(0, 1, 2, cadence=[80, 80, None], fractional_cadence=[0.5, None, 0.5]), 0.0)
    np.testing.assert_array_equal(found.columns["cadence_spm"], [80.5, 80, NAN])


# Rides that are runs.


@pytest.mark.parametrize(
    ("forms", "counts"),
    [((1, 1, None, None), True), ((1, None, None, None), False), ((1, 0, None, None), False), ((1, -1, 2, -1), True)],
)
def test_half_of_the_records_with_what_only_runners_have_make_a_run(
    forms: tuple[int | None, ...], *, counts: bool
) -> None:
    for name in ("stance_time", "vertical_oscillation"):
        told = records(0, 1, 2, 3, **{name: list(forms)})
        assert has_running_form(told, rows(told, 50.0)[0], 50.0) == counts


def test_only_what_was_recorded_within_a_session_tells_whether_it_was_run() -> None:
    told = records(*range(6), stance_time=[1, 1, None, 1, None, None])
    whole, _ = rows(told, 0.0)
    for first, last, counts in ((0, 1, True), (0, 3, True), (1, 2, True), (2, 3, True), (2, 4, False), (4, 5, False)):
        assert has_running_form(told, whole.between(T0 + first, T0 + last), 0.0) == counts
    assert not has_running_form(told, whole.between(T0 + 50, T0 + 60), 0.0)
    apart = records(0, 1, 2, 3, stance_time=[1, None, None, None], vertical_oscillation=[None, None, None, 1])
    assert has_running_form(apart, rows(apart, 0.0)[0], 0.0)


@pytest.mark.parametrize(
    ("speed", "fast"), [([5.5] * 3, False), ([5.51] * 3, True), ([0.0, 0.0, 5.51], True), ([NAN, 0.0], False)]
)
def test_faster_than_five_and_a_half_metres_a_second_while_moving_is_on_wheels(
    speed: list[float], *, fast: bool
) -> None:
    """intake.wheels_above_mps"""
    assert too_fast(np.array(speed)) == fast


# Pool lengths.


def length(begun: float, took: float | None = 10.0, speed: float | None = 2.5, **more: object) -> Message:
    return {"start_time": T0 + begun, "total_elapsed_time": took, "avg_speed": speed} | more


def swum(
    lengths: list[Message], *times: float, pool_m: float | None = 25.0, **columns: list[float]
) -> dict[str, list[float]]:
    """Columns after lengths that a device 100 s behind told."""
    told = Rows(T0 + np.array(times, dtype=np.float64), {name: np.array(one) for name, one in columns.items()})
    found = with_lengths(told, lengths, pool_m, 100.0)
    return {"at": (found.at - T0).tolist()} | {name: column.tolist() for name, column in found.columns.items()}


def same(found: list[float], expected: list[float]) -> bool:
    return np.array_equal(found, expected, equal_nan=True)


def test_a_length_gives_its_speed_to_the_records_after_its_begin_up_to_its_end() -> None:
    found = swum([length(0), length(10, speed=3.0)], 100, 101, 110, 111, 120, 121, speed_mps=[NAN] * 4 + [9.0, NAN])
    assert same(found["speed_mps"], [NAN, 2.5, 2.5, 3.0, 9.0, NAN])
    assert same(found["distance_m"], [NAN, NAN, 25, NAN, 50, NAN])


def test_a_length_that_ends_after_the_records_or_tells_no_speed_counts_all_the_same() -> None:
    found = swum([length(20, speed=None), length(0), length(10, speed=0.0)], 105, 110, 120)
    assert same(found["speed_mps"], [2.5, 2.5, NAN])
    assert same(found["distance_m"], [NAN, 25, 75])


def test_a_distance_that_the_device_counted_stands_and_without_a_pool_there_is_none() -> None:
    assert swum([length(0)], 105, 110, distance_m=[NAN, 3.0])["distance_m"][1] == 3.0
    assert "distance_m" not in swum([length(0)], 105, 110, pool_m=None)


@pytest.mark.parametrize("one", [length(0, None), length(0, length_type="idle"), {"total_elapsed_time": 10.0}])
def test_a_length_that_was_not_swum_or_has_no_time_is_none(one: Message) -> None:
    assert set(swum([one], 105, 110)) == {"at"}
    assert swum([one, length(50)])["at"] == [160]


# Heart rate that a strap stored.


def stored(*beats: tuple[float, float | None], records_at: tuple[float, ...], **columns: list[float]) -> list[float]:
    """Heart rate of records from beats that are each dated, of a strap's clock that began 7 s before the date."""
    told: list[Message] = [
        {"timestamp": T0 + int(at), "fractional_timestamp": at % 1, "event_timestamp": at + 7, "filtered_bpm": [bpm]}
        for at, bpm in beats
    ]
    rows_ = Rows(T0 + np.array(records_at), {"hr_bpm": np.array(columns.get("hr", [NAN] * len(records_at)))})
    return with_stored_heart_rate(rows_, told, 0.0).columns["hr_bpm"].tolist()


def test_a_record_has_the_mean_of_the_beats_since_the_one_before_and_the_first_those_of_its_second() -> None:
    beats = ((9.0, 200.0), (9.25, 100.0), (9.5, 101.0), (10.0, 103.0), (10.25, 150.0), (14.0, 150.0))
    assert stored(*beats, records_at=(10.0, 11.0)) == [101, 150]  # 100, 101 twice and 103 are 101.25
    assert stored((9.75, 100.0), (10.0, 101.0), records_at=(10.0,)) == [101]  # 100.5, and a half is up
    assert stored(*beats, records_at=(10.0, 11.0), hr=[NAN, 77.0]) == [101, 77]
    assert same(stored(*beats, records_at=(10.0, 13.9, 14.0, 14.1)), [101, 150, 150, NAN])


def test_beats_that_tell_no_rate_or_have_no_date_are_none() -> None:
    assert same(stored((10.0, None), (10.0, 0.0), records_at=(10.0,)), [NAN])
    told: list[Message] = [{"event_timestamp": 3.0, "filtered_bpm": 100}, {"filtered_bpm": [90]}]
    rows_ = Rows(np.array([float(T0)]), {"hr_bpm": np.array([NAN])})
    assert same(with_stored_heart_rate(rows_, told, 0.0).columns["hr_bpm"].tolist(), [NAN])
    told += [{"timestamp": T0 - 50, "event_timestamp": 2.5, "filtered_bpm": 80}, told[0]]
    found = with_stored_heart_rate(rows_, told, 49.5)  # 49.5 s behind: 80 at -0.5 s and -0.25 s, 100 at 0
    assert found.columns["hr_bpm"].tolist() == [87]


def test_packed_ticks_go_on_with_the_clock_they_follow() -> None:
    """Twelve bits of 1/1024 s begin again every four seconds, in a message and from one to the next."""

    def of(*ticks: int) -> list[int]:
        low = [tick & 0xFFF for tick in ticks]
        return [b for x, y in zip(low[::2], low[1::2], strict=True) for b in (x & 0xFF, x >> 8 | (y & 15) << 4, y >> 4)]

    told: list[Message] = [
        {"timestamp": T0, "event_timestamp": 3.5, "filtered_bpm": [60]},
        {"event_timestamp_12": of(3584, 4608, 6656, 7680), "filtered_bpm": [None, 61, 62, 63]},
        {"event_timestamp_12": [1, 2], "filtered_bpm": [99]},
        {"event_timestamp_12": of(8704, 11776), "filtered_bpm": [64, 68]},
    ]
    rows_ = Rows(T0 + np.arange(9.0), {"hr_bpm": np.full(9, NAN)})
    found = with_stored_heart_rate(rows_, told, 0.0).columns["hr_bpm"]
    assert found.tolist() == [60, 60, 61, 61, 62, 63, 64, 64, 65]
