"""How much must be known before something is told at all: each border of measuring, just below, at and above it."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules.facts import Athlete, threshold_of
from rules.limits import default_limits
from rules.session import ground as paces
from rules.session.digest import climb
from rules.session.gait import Motion
from rules.session.ground import effort_speed, ground
from rules.session.timeline import longest_gap, mostly
from rules.session.track import _name
from rules.speed_work.bouts import Bout, alike
from tests.rules.people import race

LIMITS = default_limits()


@pytest.mark.parametrize(("flags", "most"), [([], False), ([1, 0], False), ([1, 1, 0], True), ([0, 0, 1], False)])
def test_mostly_is_more_than_half(flags: list[int], *, most: bool) -> None:
    assert mostly(np.array(flags, dtype=np.bool_)) == most


def moves(spm: np.ndarray, speed: np.ndarray) -> Motion:
    rows = len(spm)
    nothing = np.full(rows, np.nan)
    return Motion(spm, speed, nothing, nothing, np.ones(rows, np.bool_), 1.0, LIMITS)


@pytest.mark.parametrize(("rows", "works"), [(19, False), (20, True), (21, True)])
def test_a_step_rate_or_a_speed_that_is_known_for_a_fifth_works(rows: int, *, works: bool) -> None:
    known = np.full(100, np.nan)
    known[:rows] = 90.0
    assert moves(known, known).has_cadence == moves(known, known).has_speed == works


@pytest.mark.parametrize(("spm", "works"), [(29, False), (30, False), (31, True)])
def test_a_sensor_at_rest_is_no_step_rate(spm: float, *, works: bool) -> None:
    assert moves(np.full(100, float(spm)), np.full(100, np.nan)).has_cadence == works


@pytest.mark.parametrize(("share", "agrees"), [(0.29, False), (0.3, True), (1.0, True), (1.3, True), (1.31, False)])
def test_positions_agree_with_a_distance_of_three_tenths_to_thirteen(share: float, *, agrees: bool) -> None:
    distance = np.linspace(0.0, 1000.0, 101)
    assert paces._agrees(np.full(100, 10.0 * share + (1e-9 if share == 0.3 else -1e-9)), distance, LIMITS) == agrees


@pytest.mark.parametrize(
    ("records", "alike_", "found"), [(30, 30, True), (29, 29, False), (40, 36, False), (40, 37, True)]
)
def test_a_speed_is_only_the_way_over_the_time_where_nine_tenths_of_thirty_say_so(
    records: int, alike_: int, *, found: bool
) -> None:
    speed = np.full(records + 1, 3.0)
    distance = np.arange(records + 1) * 3.0
    speed[1 + alike_ :] = 3.5
    columns = {"speed_mps": speed, "distance_m": distance}
    clock = cast("Any", SimpleNamespace(time_s=np.arange(records + 1.0)))
    assert paces._differenced(columns, clock, LIMITS) == found


@pytest.mark.parametrize(("moving", "found"), [(29, False), (30, True)])
def test_a_stand_says_nothing_of_where_a_speed_comes_from(moving: int, *, found: bool) -> None:
    speed = np.concatenate((np.zeros(100), np.full(moving + 1, 3.0)))
    columns = {"speed_mps": speed, "distance_m": np.concatenate((np.zeros(101), 3.0 * np.arange(1, moving + 1)))}
    clock = cast("Any", SimpleNamespace(time_s=np.arange(moving + 101.0)))
    assert paces._differenced(columns, clock, LIMITS) == found


@pytest.mark.parametrize(("seconds", "told"), [(29, False), (30, True), (31, True)])
def test_half_a_minute_of_altitude_has_a_slope(seconds: int, *, told: bool) -> None:
    altitude = np.full(120, np.nan)
    altitude[:seconds] = 100.0
    assert bool(np.isfinite(ground(altitude, np.full(120, 3.0), LIMITS).slope).any()) == told


@pytest.mark.parametrize(("seconds", "told"), [(55, False), (56, True), (60, True)])
def test_a_minute_of_altitude_tells_a_climb(seconds: int, *, told: bool) -> None:
    """Looked at every five seconds: the twelfth look is in second 56."""
    altitude = np.full(200, np.nan)
    altitude[:seconds] = np.linspace(100.0, 120.0, seconds)
    track = cast("Any", SimpleNamespace(ground=SimpleNamespace(altitude_m=altitude, noise_m=0.0)))
    assert (climb(track, LIMITS)[0] is not None) == told


def test_no_climb_is_worth_more_than_a_record_on_the_level() -> None:
    fast = effort_speed(np.array([4.0, 6.5, 7.0]), np.array([0.3, 0.3, 0.3]), LIMITS)
    assert fast.tolist() == [6.5, 6.5, 7.0]


@pytest.mark.parametrize(("records", "longest"), [(20, 10.0), (21, 30.0)])
def test_more_than_twenty_records_tell_how_often_a_device_records(records: int, longest: float) -> None:
    assert longest_gap(np.arange(records) * 20.0, LIMITS) == longest


@pytest.mark.parametrize("event", ["5k", "10k", "half", "marathon"])
def test_the_distance_of_a_named_race_is_the_one_of_its_file(event: str) -> None:
    km = LIMITS.race_file.event_km[event]
    named, told = (
        threshold_of(Athlete("a", "UTC", races=(each,)), (), each.finish, LIMITS)
        for each in (race(event, result_seconds=9000), race("custom", distance_km=km, result_seconds=9000))
    )
    assert named == told is not None


def name_of(kind: str, running: float, walking: float, wheels: float) -> str:
    rows = np.full(600, np.nan)
    track = cast(
        "Any",
        SimpleNamespace(
            family=kind,
            gait=SimpleNamespace(by="speed", vehicle=np.ones(600, np.bool_), walking=rows > 0, running=rows > 0),
            heart=SimpleNamespace(rows_bpm=rows),
            pace=SimpleNamespace(speed_mps=np.full(600, 8.0)),
            clock=SimpleNamespace(real=np.ones(600, np.bool_)),
            recorded=(),
        ),
    )
    return _name(track, cast("Any", kind), (running, walking, wheels), LIMITS)[0]


@pytest.mark.parametrize(("wheels", "name"), [(120.0, "running"), (121.0, "cycling")])
def test_wheels_of_more_than_two_minutes_and_more_than_the_legs_make_it_a_ride(wheels: float, name: str) -> None:
    assert name_of("run", 59.0, 0.0, wheels) == name


@pytest.mark.parametrize(("running", "name"), [(59.0, "cycling"), (60.0, "running")])
def test_a_minute_of_running_beside_wheels_stays_a_run(running: float, name: str) -> None:
    assert name_of("run", running, 0.0, 300.0) == name


@pytest.mark.parametrize(
    ("running", "walking", "name"),
    [(29.0, 270.0, "running"), (29.0, 271.0, "walking"), (30.0, 270.0, "running"), (60.0, 541.0, "walking")],
)
def test_a_labelled_run_of_five_minutes_with_less_than_a_tenth_of_running_was_walked(
    running: float, walking: float, name: str
) -> None:
    assert name_of("run", running, walking, 0.0) == name


@pytest.mark.parametrize(
    ("running", "walking", "name"), [(59.0, 10.0, "other"), (60.0, 60.0, "running"), (60.0, 61.0, "other")]
)
def test_an_open_recording_is_a_run_where_a_minute_and_half_of_it_was_run(
    running: float, walking: float, name: str
) -> None:
    assert name_of("open", running, walking, 0.0) == name


def bouts(*seconds: int) -> list[Bout]:
    return [Bout(at * 1000, at * 1000 + long, 4.0, 4.0, 0.0) for at, long in enumerate(seconds)]


@pytest.mark.parametrize(("short", "kept"), [(39, 3), (40, 4)])
def test_a_bout_of_less_than_a_third_of_the_longest_is_a_surge_beside_the_set(short: int, kept: int) -> None:
    assert len(alike(bouts(120, 120, 120, short), LIMITS)) == kept


def test_surges_that_make_a_fifth_of_the_time_belong_to_the_set() -> None:
    assert len(alike(bouts(120, 15, 15), LIMITS)) == 1
    assert len(alike(bouts(120, 16, 15), LIMITS)) == 3


@pytest.mark.parametrize("speed", [3.0, 13.0])
def test_positions_of_just_three_tenths_or_thirteen_agree(speed: float) -> None:
    assert paces._agrees(np.full(100, speed), np.linspace(0.0, 1000.0, 101), LIMITS)
