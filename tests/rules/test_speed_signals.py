"""What one signal says of fast stretches, at its borders, through its own function."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.limits import default_limits
from rules.session.track import Track, clean
from rules.speed_work.bouts import Bout, bout
from rules.speed_work.judge import kind_of
from rules.speed_work.signals import steps_signal

LIMITS = default_limits()
ROWS = 3600


def track(speed: np.ndarray, spm: np.ndarray, slope: float = 0.0) -> Track:
    """An hour of running, believed as it is."""
    table = {"t_s": np.arange(float(ROWS)), "speed_mps": np.full(ROWS, 2.7), "cadence_spm": np.full(ROWS, 165.0)}
    found = clean("running", "generic", float(ROWS), (), table, LIMITS)
    more = np.full(found.size - ROWS, np.nan)
    known = np.concatenate((speed, more))
    ground = replace(found.ground, slope=np.full(found.size, slope))
    return replace(
        found, pace=replace(found.pace, speed_mps=known), effort_mps=known,
        spm=np.concatenate((spm, more)), ground=ground, gait=replace(found.gait, running=found.clock.real),
    )  # fmt: skip


def repeats(*lengths: int, apart: int = 120, first: int = 900) -> tuple[np.ndarray, list[tuple[int, int]]]:
    """Flags of the fast rows, and where each stretch begins and ends."""
    flags, spans, at = np.zeros(ROWS, np.bool_), [], first
    for seconds in lengths:
        flags[at : at + seconds] = True
        spans.append((at, at + seconds))
        at += seconds + apart
    return flags, spans


def stretches_of(
    lengths: tuple[int, ...], *, slope: float = 0.0, first: int = 900
) -> tuple[Track, np.ndarray, list[Bout]]:
    flags, spans = repeats(*lengths, first=first)
    found = track(np.where(flags, 4.2, 2.7), np.where(flags, 178.0, 165.0), slope)
    hard = found.effort_mps
    return found, hard, [bout(found, hard, a, b) for a, b in spans]


def called(*lengths: int, slope: float = 0.0, first: int = 900) -> str:
    found, hard, bouts = stretches_of(lengths, slope=slope, first=first)
    return kind_of(found, hard, bouts, LIMITS)


# What a coach would call it.


@pytest.mark.parametrize(
    ("lengths", "name"),
    [
        ((20, 20, 20, 20), "strides"), ((30, 30, 30), "strides"), ((180, 180, 180), "repeats"),
        ((60, 60, 60, 60), "repeats"),
        ((30, 180, 60, 240, 40), "fast running"), ((30, 240), "fast running"),
    ],
)  # fmt: skip
def test_several_stretches_are_called_by_their_lengths(lengths: tuple[int, ...], name: str) -> None:
    assert called(*lengths) == name


@pytest.mark.parametrize(("apart", "name"), [(19, "repeats"), (21, "fast running")])
def test_repeats_scatter_by_a_fifth_of_their_length_at_most(apart: int, name: str) -> None:
    assert called(100 - apart, 100 + apart) == name


@pytest.mark.parametrize(
    ("slope", "name"), [(0.0, "repeats"), (0.039, "repeats"), (0.041, "hill repeats"), (0.08, "hill repeats")]
)
def test_repeats_on_a_climb_are_hill_repeats(slope: float, name: str) -> None:
    assert called(90, 90, 90, slope=slope) == name


def test_one_stretch_is_called_by_its_length_and_place() -> None:
    assert called(3500, first=50) == "a time trial"
    assert called(300, first=3295) == "a fast finish"
    assert called(120, slope=0.08) == "a hard climb"
    assert called(1500, first=600) == "sustained fast running"
    assert called(100, first=900) == "fast running"


def test_a_run_that_grows_faster_by_quarters_is_a_progression() -> None:
    speed = np.repeat([2.5, 2.8, 3.2, 3.7], ROWS // 4)
    found = track(speed, np.full(ROWS, 165.0))
    assert kind_of(found, found.effort_mps, [bout(found, found.effort_mps, 2700, 3600)], LIMITS) == "a progression"
    even = track(np.repeat([2.8, 2.8, 2.8, 3.7], ROWS // 4), np.full(ROWS, 165.0))
    assert kind_of(even, even.effort_mps, [bout(even, even.effort_mps, 2700, 3600)], LIMITS) != "a progression"


# Steps.


def steps(rise: float, *, wander: float = 0.0, far: float = 165.0, seconds: int = 60) -> tuple[str, str]:
    """What the steps say where they rise by so many a minute in the stretches, from the 165 beside them."""
    flags, spans = repeats(*[seconds] * 4)
    spm = np.where(flags, 165.0 + rise, 165.0) + wander * np.sin(np.arange(ROWS) / 23)
    beside = np.zeros(ROWS, np.bool_)
    for a, b in spans:
        beside[a - 90 : b + 90] = True
    spm = np.where(beside, spm, far)
    found = track(np.where(flags, 4.2, 2.7), spm)
    told = steps_signal(found, [bout(found, found.effort_mps, a, b) for a, b in spans], LIMITS)
    return told.quality, told.says


def test_steps_that_rise_clearly_are_a_good_sign_and_steady_ones_say_nothing() -> None:
    assert steps(12) == ("good", "for")
    assert steps(0) == ("weak", "nothing")
    assert steps(-10) == ("weak", "nothing")


def test_steps_that_rise_no_further_than_they_wander_are_a_weak_sign_at_most() -> None:
    assert steps(6, wander=12)[0] == "weak"


def test_the_stretches_are_compared_with_the_running_beside_them_and_not_with_that_of_another_hour() -> None:
    assert steps(12, far=190) == ("good", "for")
    assert steps(0, far=140) == ("weak", "nothing")


def test_steps_of_a_few_seconds_are_not_known() -> None:
    assert steps(12, seconds=6) == ("none", "nothing")
