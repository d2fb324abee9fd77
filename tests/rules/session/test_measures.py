"""What a session comes to, on recordings whose steps, climbs, drift and best minutes are known before."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.findings import Breach
from rules.limits import default_limits
from rules.session import digest
from rules.session.digest import SteadyPart, best_speeds, climb, hr_seconds, most_within, steps_and_impact
from rules.session.timeline import Floats
from rules.session.track import Track, clean
from rules.session_rules import steep_ground

LIMITS = default_limits()


def on_foot(speed: Floats, altitude: Floats | None = None, spm: float = 165.0, sport: str = "running") -> Track:
    """A recording a second a row, with the steps of a runner."""
    rows = len(speed)
    table = {"t_s": np.arange(float(rows)), "speed_mps": speed, "cadence_spm": spm + np.sin(np.arange(rows) / 7)}
    if altitude is not None:
        table["altitude_m"] = altitude
    return clean(sport, "generic", float(rows), (), table, LIMITS)


def hills(*parts: tuple[float, float], speed: float = 2.5) -> Track:
    """Metres of ground at a slope, one after the other."""
    slopes = np.concatenate([np.full(round(metres / speed), slope) for metres, slope in parts])
    return on_foot(np.full(len(slopes), speed), 200 + np.cumsum(slopes * speed))


def even(minutes: int, first: float, second: float, speed: float = 2.9) -> SteadyPart:
    rows = minutes * 60
    heart = np.where(np.arange(rows) < rows // 2, first, second)
    return SteadyPart(480 + np.arange(float(rows)), np.full(rows, speed), heart)


@pytest.mark.parametrize(("minutes", "known"), [(21, False), (22, True), (40, True)])
def test_drift_is_told_of_half_an_hour_after_the_first_minutes(minutes: int, *, known: bool) -> None:
    """Thirty minutes, of which the first eight settle."""
    assert digest.drift(even(minutes, 140, 149), LIMITS) == (1.0643 if known else None)


def test_minutes_much_faster_or_slower_tell_no_drift() -> None:
    run = even(40, 140, 140)
    hard = replace(
        run, speed_mps=np.where(np.arange(2400) < 300, 4.2, 2.9), hr_bpm=np.where(np.arange(2400) < 300, 175, 140.0)
    )
    assert digest.drift(hard, LIMITS) == 1.0


@pytest.mark.parametrize(("seconds", "told"), [(239, None), (240, pytest.approx(48.276)), (600, pytest.approx(48.276))])
def test_easy_heart_rate_per_speed_takes_four_minutes(seconds: int, told: float | None) -> None:
    run = SteadyPart(480 + np.arange(float(seconds)), np.full(seconds, 2.9), np.full(seconds, 140.0))
    assert digest.easy_hr_per_mps(run, LIMITS) == told


def test_a_session_fades_where_its_heart_beats_more_for_its_speed_after_three_quarters_of_an_hour() -> None:
    time = np.arange(480.0, 4500.0)
    track = on_foot(np.full(600, 2.9))
    for late, fades in ((148.0, False), (149.0, True)):  # a ratio of 1.057 and of 1.064; from 1.06 on it fades
        run = SteadyPart(time, np.full(len(time), 2.9), np.where(time >= 2700, late, 140.0))
        assert ("fades_after_45_min" in digest.remarks(track, run, LIMITS)) == fades


# Steps, impact, heart rate, best minutes.


def test_steps_are_the_cadence_summed_and_each_weighs_its_force() -> None:
    """Twenty minutes at 165 steps a minute and 3.0 m/s: 3,300 steps of 2.5 body weights."""
    steps, impact = steps_and_impact(on_foot(np.full(1200, 3.0)), LIMITS)
    assert steps == pytest.approx(3300, rel=0.01)
    assert impact == pytest.approx(2.5 * 3300, rel=0.01)
    walked, load = steps_and_impact(on_foot(np.full(1200, 1.4), spm=110, sport="walking"), LIMITS)
    assert walked == pytest.approx(2200, rel=0.02)
    assert load == pytest.approx(1.2 * walked, rel=0.01)


def test_seconds_are_counted_at_each_believed_heart_rate() -> None:
    rows = np.arange(1200.0)
    heart = np.where(rows % 2 == 0, 140.0, 141.0)
    table = {"t_s": rows, "hr_bpm": heart, "speed_mps": np.full(1200, 2.8)}
    counted = hr_seconds(clean("running", "generic", 1200.0, (), table, LIMITS))
    assert counted == {140: 600.0, 141: 600.0}


def test_the_best_speed_of_a_time_is_of_its_fastest_part() -> None:
    speed = np.full(3000, 2.8)
    speed[900:2100] = 3.6
    best = best_speeds(on_foot(speed), LIMITS)
    assert set(best) == {720, 1200, 1800, 2400}
    assert best[720] == pytest.approx(3.6, abs=0.01)
    assert best[1200] == pytest.approx(3.6, abs=0.02)
    assert best[2400] == pytest.approx((1200 * 3.6 + 1200 * 2.8) / 2400, abs=0.02)


# Climb and descent.


def test_a_known_climb_is_counted_and_the_wandering_of_the_altitude_is_not() -> None:
    track = hills((1000, 0.05), (500, 0.0), (800, -0.05))
    assert climb(track, LIMITS) == (pytest.approx(50, abs=2), pytest.approx(40, abs=2))
    quiver = on_foot(np.full(1200, 2.5), 200 + np.sin(np.arange(1200) / 20))
    assert climb(quiver, LIMITS) == (0.0, 0.0)
    assert climb(on_foot(np.full(1200, 2.5)), LIMITS) == (None, None)


def test_the_most_climb_on_some_ground_is_of_its_steepest_part() -> None:
    track = hills((2000, 0.0), (1000, 0.05), (2000, 0.0), (500, -0.08))
    metres = np.where(track.gait.running, 2.5, 0.0)
    up, down = most_within(track, metres, 1000.0, LIMITS)
    assert (up, down) == (pytest.approx(50, abs=3), pytest.approx(40, abs=3))


# Steep ground: 100 m at 10 % running or 15 % walking, or 150 m up or down in 7.5 km (20 m a kilometre).


def steepness(track: Track) -> Breach | None:
    return steep_ground(track, LIMITS)


@pytest.mark.parametrize(("slope", "told"), [(0.09, False), (0.115, True), (-0.09, False), (-0.115, True)])
def test_a_stretch_run_at_a_tenth_is_steep_up_and_down(slope: float, *, told: bool) -> None:
    assert (steepness(hills((1000, 0.0), (200, slope), (1000, 0.0))) is not None) == told


@pytest.mark.parametrize(("metres", "told"), [(60, False), (180, True)])
def test_a_ramp_is_not_steep_ground(metres: float, *, told: bool) -> None:
    assert (steepness(hills((1000, 0.0), (metres, 0.14), (1000, 0.0))) is not None) == told


def test_the_number_told_of_a_short_steep_stretch_is_its_length_and_is_over_its_limit() -> None:
    """Its climb is far below what much climb is: "28 m against 150 m" says that nothing was wrong."""
    found = steepness(hills((1000, 0.0), (200, 0.14), (1000, 0.0)))
    assert found is not None
    assert (found.limit, found.unit) == (100, "m")
    assert found.observed == found.evidence["steep_m"] == pytest.approx(200, abs=30)
    assert found.evidence["most_m"] == pytest.approx(28, abs=3)


@pytest.mark.parametrize(("metres", "told"), [(700, False), (900, True)])
def test_less_than_eight_hundred_metres_are_too_few_to_judge(metres: float, *, told: bool) -> None:
    assert (steepness(hills((metres - 300, 0.0), (300, 0.15))) is not None) == told


@pytest.mark.parametrize(("slope", "told"), [(0.0195, False), (0.021, True), (-0.0195, False), (-0.021, True)])
def test_twenty_metres_a_kilometre_are_much_climb_or_descent(slope: float, *, told: bool) -> None:
    found = steepness(hills((7600, slope), (500, 0.0)))
    assert (found is not None) == told
    assert found is None or (found.limit == 150 and found.observed == pytest.approx(7500 * abs(slope), abs=4))


@pytest.mark.parametrize(("slope", "told"), [(0.13, False), (0.17, True)])
def test_a_walk_may_be_steeper_than_a_run(slope: float, *, told: bool) -> None:
    speed = np.full(2000, 1.4)
    grades = np.where((np.arange(2000) > 800) & (np.arange(2000) < 1000), slope, 0.0)
    walk = on_foot(speed, 200 + np.cumsum(grades * speed), spm=112, sport="walking")
    assert (steepness(walk) is not None) == told


def test_level_ground_is_none() -> None:
    assert steepness(hills((3000, 0.0))) is None
    assert steepness(on_foot(np.full(1200, 2.5))) is None
