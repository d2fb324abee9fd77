from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake.fit_columns import rows, samples_of
from monitor.intake.fit_decoders import Records

T0 = 1_790_000_000


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
