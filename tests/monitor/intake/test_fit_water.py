from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from monitor.intake.fit import read_fit
from monitor.values import IntakeOptions, Recording
from tests.fitwriter import FitWriter, Raw, file_id

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)


def only(data: bytes) -> Recording:
    facts = read_fit(data, OSLO)
    assert len(facts.recordings) == 1
    return facts.recordings[0]


def test_pool_lengths_give_distance_and_speed() -> None:
    writer = file_id(FitWriter(), START)
    for second in range(121):
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=110)
    for index, kind in enumerate(("active", "active", "idle", "active")):
        writer.message(
            "length",
            message_index=index,
            start_time=START + timedelta(seconds=30 * index),
            timestamp=START + timedelta(seconds=30 * index + 30),
            total_elapsed_time=30,
            length_type=kind,
            avg_speed=0.833 if kind == "active" else None,
        )
    summary = {"start_time": START, "total_elapsed_time": 120, "total_timer_time": 120, "sport": "swimming"}
    writer.message("session", sub_sport="lap_swimming", pool_length=25.0, total_distance=75.0, **summary)
    recording = only(writer.to_bytes())
    distance = recording.samples["distance_m"]
    assert np.flatnonzero(~np.isnan(distance)).tolist() == [30, 60, 120]
    assert distance[[30, 60, 120]].tolist() == [25, 50, 75]
    speed = recording.samples["speed_mps"]
    assert np.isnan(speed[61:91]).all()
    assert (speed[[1, 30, 60, 91, 120]] == 0.833).all()


def test_pool_lengths_without_any_record_are_a_recording_too() -> None:
    writer = file_id(FitWriter(), START)
    for index in range(4):
        begin = START + timedelta(seconds=30 * index)
        writer.message("length", start_time=begin, total_elapsed_time=30, length_type="active", avg_speed=0.833)
    writer.message("session", start_time=START, total_elapsed_time=120, sport="swimming", pool_length=25.0)
    recording = only(writer.to_bytes())
    assert recording.samples["t_s"].tolist() == [30, 60, 90, 120]
    assert recording.samples["distance_m"].tolist() == [25, 50, 75, 100]
    assert recording.distance_m == 75


def stored_heart_rate(writer: FitWriter, rates: list[int]) -> None:
    """Beats two a second, eight a message, on a strap clock of 1/1024 s that began at tick 5000."""
    writer.message(
        "hr", timestamp=START, event_timestamp=[5000 / 1024], filtered_bpm=[rates[0]], fractional_timestamp=0.0
    )
    ticks = [5000 + 512 * (i + 1) for i in range(len(rates) - 1)]
    for i in range(0, len(ticks) - 7, 8):
        packed = bytearray()
        low_bits = [tick & 0xFFF for tick in ticks[i : i + 8]]
        for low, high in zip(low_bits[::2], low_bits[1::2], strict=True):
            packed += bytes((low & 0xFF, low >> 8 | (high & 0x0F) << 4, high >> 4))
        writer.message("hr", Raw(10, "byte", list(packed)), filtered_bpm=rates[i + 1 : i + 9])


def test_heart_rate_stored_by_a_strap_under_water_comes_to_its_seconds() -> None:
    writer = file_id(FitWriter(), START)
    for second in range(21):
        writer.message("record", timestamp=START + timedelta(seconds=second), cadence=20)
    stored_heart_rate(writer, [100 + i // 2 for i in range(41)])
    writer.message("session", start_time=START, total_elapsed_time=20, sport="swimming")
    rates = only(writer.to_bytes()).samples["hr_bpm"]
    assert rates[1:20].tolist() == [99 + second for second in range(1, 20)]  # the mean of the second before


def test_heart_rate_in_a_part_without_a_beginning_belongs_to_the_part_before() -> None:
    first = file_id(FitWriter(), START)
    for second in range(21):
        heart_rate = {"heart_rate": 66} if second == 5 else {}
        first.message("record", timestamp=START + timedelta(seconds=second), cadence=20, **heart_rate)
    first.message("session", start_time=START, total_elapsed_time=20, sport="swimming")
    second_part = FitWriter()
    stored_heart_rate(second_part, [120] * 41)
    facts = read_fit(first.to_bytes() + second_part.to_bytes(), OSLO)
    rates = facts.recordings[0].samples["hr_bpm"]
    assert facts.remarks == ()
    assert rates[5] == 66  # what the device itself recorded stands
    assert (rates[[1, 4, 6, 19]] == 120).all()
