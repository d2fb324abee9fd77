"""Laps that were pressed, apart from those that a device closes by itself every kilometre."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.intake.fit import read_fit
from monitor.intake.gpx import read_gpx
from monitor.intake.tcx import read_tcx
from monitor.values import IntakeOptions, Recording
from tests.fitwriter import FitWriter, file_id, fit_time
from tests.xmlbytes import activity, gpx, lap, run, tcx

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
Laps = tuple[tuple[int, float], ...]
REPEATS: Laps = ((600, 1500.0), (180, 800.0), (120, 200.0), (180, 810.0), (120, 190.0), (600, 1500.0))
KILOMETRES: Laps = ((400, 1000.0), (410, 1003.0), (395, 998.0), (200, 480.0))


def fit(laps: Laps, sensors: Sequence[Mapping[str, object]] = (), **more: object) -> Recording:
    seconds = sum(length for length, _ in laps)
    writer = file_id(FitWriter(), START)
    for info in sensors:
        writer.message("device_info", timestamp=START, **info)
    writer.rows("record", {"timestamp": fit_time(START) + np.arange(seconds), "heart_rate": np.full(seconds, 140)})
    begin = START
    for length, metres in laps:
        end = begin + timedelta(seconds=length)
        times = {"start_time": begin, "timestamp": end, "total_elapsed_time": length, "total_timer_time": length}
        writer.message("lap", total_distance=metres, **times, **more)
        begin = end
    times = {"start_time": START, "timestamp": begin, "total_elapsed_time": seconds, "total_timer_time": seconds}
    writer.message("session", sport="running", **times)
    (recording,) = read_fit(writer.to_bytes(), OSLO).recordings
    return recording


def of_tcx(laps: Laps, trigger: str = "Manual") -> Recording:
    texts, begin = [], 0
    for length, metres in laps:
        texts.append(lap(run(range(begin, begin + length)), start_s=begin, timer_s=length, metres=metres))
        begin += length
    (recording,) = read_tcx(tcx(activity(*texts)).replace(b">Manual<", f">{trigger}<".encode()), OSLO).recordings
    return recording


ENDS = (600.0, 780.0, 900.0, 1080.0, 1200.0)


@pytest.mark.parametrize(
    ("more", "marks"),
    [
        ({"lap_trigger": "manual"}, ENDS),
        ({}, ENDS),
        ({"lap_trigger": "distance"}, ()),
        ({"lap_trigger": "time"}, ()),
        ({"lap_trigger": "distance", "wkt_step_index": 2}, ENDS),
    ],
    ids=["pressed", "untold", "a distance", "a time", "steps of a workout"],
)
def test_marks_of_a_fit_file_are_where_laps_were_pressed_or_steps_ended(
    more: dict[str, object], marks: tuple[float, ...]
) -> None:
    assert fit(REPEATS, **more).lap_marks_s == marks


@pytest.mark.parametrize(("trigger", "marks"), [("Manual", ENDS), ("Distance", ()), ("Location", ()), ("Time", ())])
def test_marks_of_a_tcx_file_are_where_laps_were_pressed(trigger: str, marks: tuple[float, ...]) -> None:
    assert of_tcx(REPEATS, trigger).lap_marks_s == marks


def test_kilometres_are_no_marks_whatever_the_file_calls_them() -> None:
    assert fit(KILOMETRES, lap_trigger="manual").lap_marks_s == ()
    assert of_tcx(KILOMETRES).lap_marks_s == ()


def test_one_lap_and_the_way_home_has_one_mark() -> None:
    assert of_tcx(((600, 1500.0), (300, 800.0))).lap_marks_s == (600.0,)


def test_a_gpx_file_knows_no_laps() -> None:
    (recording,) = read_gpx(gpx(run(range(600))), OSLO).recordings
    assert recording.lap_marks_s == ()


@pytest.mark.parametrize(
    ("sensors", "known"),
    [
        ((), None),
        (({"device_type": 4, "source_type": "local"}, {"device_type": 0, "source_type": "local"}), True),
        (({"device_type": 0, "source_type": "local"},), False),
        (({"device_type": 120, "source_type": "antplus"},), None),
    ],
    ids=["no list", "barometer", "none", "only a strap"],
)
def test_a_barometer_is_known_by_the_list_of_the_devices_own_sensors(
    sensors: Sequence[Mapping[str, object]], known: bool | None
) -> None:
    assert fit(REPEATS, sensors=sensors).barometer is known
