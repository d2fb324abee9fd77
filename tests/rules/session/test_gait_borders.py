"""Running or walking, where cadence, speed, label and heart disagree: each just below and above its border."""

from __future__ import annotations

import numpy as np
import pytest

from rules.limits import default_limits
from rules.session.gait import Motion, gait, own_speed
from rules.session.labels import Family

LIMITS = default_limits()
NAN = float("nan")


def runs(
    kind: Family, spm: float = NAN, speed: float = NAN, bpm: float = NAN, *, seconds: int = 600, slope: float = 0.0
) -> bool:
    """Whether most of an even outing is running."""
    return running(kind, np.full(seconds, spm), np.full(seconds, speed), bpm=bpm, slope=slope) > seconds / 2


def running(kind: Family, spm: np.ndarray, speed: np.ndarray, *, bpm: float = NAN, slope: float = 0.0) -> int:
    """Seconds of running."""
    rows = len(spm)
    moves = Motion(spm, speed, np.full(rows, bpm), np.full(rows, slope), np.ones(rows, np.bool_), 1.0, LIMITS)
    return int(gait(kind, moves, np.zeros(rows, np.bool_), LIMITS).running.sum())


@pytest.mark.parametrize(
    ("kind", "slowest"),
    [("run", 126.0), ("game", 138.5), ("walk", 143.0), ("open", 140.5), ("strength", 146.5)],
)
def test_the_label_moves_the_steps_from_which_it_is_running(kind: Family, slowest: float) -> None:
    """At 2.1 m/s, where speed says nothing: a run from 125 steps a minute on, others by their label."""
    assert not runs(kind, slowest - 1.5, 2.1)
    assert runs(kind, slowest, 2.1)


@pytest.mark.parametrize(("speed", "found"), [(2.0, False), (2.2, True)])
def test_at_the_border_of_steps_the_speed_decides(speed: float, *, found: bool) -> None:
    assert runs("game", 138, speed) == found


@pytest.mark.parametrize(("speed", "found"), [(1.45, False), (1.5, True)])
def test_nobody_runs_slower_than_one_and_a_half_metres_a_second(speed: float, *, found: bool) -> None:
    assert runs("run", 170, speed) == found


@pytest.mark.parametrize(("spm", "found"), [(124, False), (125, True)])
def test_fewer_than_125_steps_are_no_run_at_a_brisk_walk(spm: float, *, found: bool) -> None:
    assert runs("run", spm, 2.4) == found


@pytest.mark.parametrize(
    ("kind", "spm", "found"), [("walk", 144, False), ("walk", 145, True), ("open", 149, False), ("open", 150, True)]
)
def test_steps_alone_tell_running_from_145_or_without_a_label_150(kind: Family, spm: float, *, found: bool) -> None:
    assert runs(kind, spm) == found


@pytest.mark.parametrize(("seconds", "found"), [(59, 0), (60, 60), (90, 90)])
def test_steps_alone_must_last_a_minute(seconds: int, found: int) -> None:
    spm = np.full(600, 110.0)
    spm[200 : 200 + seconds] = 165
    assert running("walk", spm, np.full(600, NAN)) == found


@pytest.mark.parametrize(
    ("kind", "speed", "found"), [("run", 1.7, False), ("run", 1.8, True), ("game", 2.05, False), ("game", 2.15, True)]
)
def test_by_speed_alone_the_border_is_two_or_of_a_labelled_run_less(kind: Family, speed: float, *, found: bool) -> None:
    assert runs(kind, speed=speed) == found


@pytest.mark.parametrize(("bpm", "found"), [(149, False), (150, True)])
def test_a_working_heart_lowers_the_border_of_speed(bpm: float, *, found: bool) -> None:
    assert runs("game", speed=1.9, bpm=bpm) == found


@pytest.mark.parametrize(("slope", "found"), [(0.02, True), (0.03, False), (-0.03, False)])
def test_a_heart_that_works_uphill_says_nothing(slope: float, *, found: bool) -> None:
    assert runs("game", speed=1.9, bpm=160, slope=slope) == found


@pytest.mark.parametrize(("seconds", "found"), [(11, False), (13, True)])
def test_a_dozen_seconds_of_running_count(seconds: int, *, found: bool) -> None:
    spm, speed = np.full(600, 110.0), np.full(600, 1.4)
    spm[300 : 300 + seconds], speed[300 : 300 + seconds] = 170, 3.0
    assert (running("game", spm, speed) > 0) == found


@pytest.mark.parametrize(("kind", "speed", "found"), [("race_walk", 4.3, False), ("race_walk", 4.5, True)])
def test_a_race_walk_is_one_up_to_its_world_record(kind: Family, speed: float, *, found: bool) -> None:
    assert runs(kind, 200, speed) == found


@pytest.mark.parametrize(("kind", "found"), [("ride", False), ("row", False), ("swim", False), ("run", True)])
def test_no_ride_row_or_swim_holds_any(kind: Family, *, found: bool) -> None:
    assert runs(kind, 165, 3.0) == found


def test_a_run_without_speed_or_steps_is_one_by_its_label_and_nothing_else_is() -> None:
    assert runs("run")
    assert not runs("open")
    assert not runs("walk")


@pytest.mark.parametrize(("speed", "kept"), [(0.79, False), (0.81, True)])
def test_steps_shorter_than_thirty_centimetres_say_that_the_speed_is_not_the_runners(
    speed: float, *, kept: bool
) -> None:
    """At 160 steps a minute: 0.80 m/s."""
    found = own_speed(np.full(300, 160.0), np.full(300, speed), LIMITS)
    assert np.isfinite(found).all() == kept


@pytest.mark.parametrize(("gap", "seconds"), [(5, 65), (6, 0)])
def test_steps_alone_may_be_fewer_for_five_seconds(gap: int, seconds: int) -> None:
    spm = np.concatenate((np.full(30, 160.0), np.full(gap, 60.0), np.full(30, 160.0), np.full(200, 60.0)))
    assert running("run", spm, np.full(len(spm), NAN)) == seconds


@pytest.mark.parametrize(("gap", "spots"), [(5, 65), (6, 0)])
def test_a_treadmill_may_seem_to_move_for_five_seconds(gap: int, spots: int) -> None:
    speed = np.concatenate((np.full(30, 0.2), np.full(gap, 2.0), np.full(30, 0.2), np.full(200, 2.0)))
    assert np.isnan(own_speed(np.full(len(speed), 160.0), speed, LIMITS)).sum() == spots


@pytest.mark.parametrize(("kind", "seconds"), [("run", 600), ("walk", 310)])
def test_what_is_not_known_of_a_labelled_run_was_run(kind: Family, seconds: int) -> None:
    """Of a walk the middle speed of half a minute is known for ten seconds more."""
    half = np.concatenate((np.full(300, 3.4), np.full(300, NAN)))
    assert running(kind, np.full(600, NAN), half) == seconds


@pytest.mark.parametrize(("spm", "spots"), [(149.0, 0), (150.0, 300)])
def test_a_hundred_and_fifty_steps_a_minute_are_run_on_the_spot(spm: float, spots: int) -> None:
    assert np.isnan(own_speed(np.full(300, spm), np.full(300, 0.2), LIMITS)).sum() == spots
