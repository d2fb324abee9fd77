"""Each step that masks or doubts samples, just below, at and just above its limit, through its own function."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.limits import default_limits
from rules.session.gait import Motion, carried, like_a_ride, on_wheels, steps_per_minute, too_long
from rules.session.ground import ground
from rules.session.heart import Heart, clean_heart
from rules.session.timeline import Floats, longest_gap, stretches, timeline
from rules.session.track import Track, clean
from rules.session_rules import heart_not_believed, heart_not_known, speed_not_believed, speed_not_known
from rules.words import said as sentence
from tests.rules.people import session

LIMITS = default_limits()


def waver(rows: int, level: float) -> Floats:
    """A heart that is alive: it moves by a beat or two all the time."""
    at = np.arange(rows)
    return np.rint(level + 2 * np.sin(at / 17) + 2 * np.sin(at / 5.3))


def heart(raw: Floats, *, spm: Floats | None = None, speed: Floats | None = None) -> Heart:
    rows = np.arange(float(len(raw)))
    clock = timeline(rows, len(raw), (), LIMITS)
    beyond = np.full(len(clock.rows_s) - len(raw), np.nan)
    unknown = np.full(len(clock.rows_s), np.nan)
    steps = unknown if spm is None else np.concatenate((spm, beyond))
    effort = unknown if speed is None else np.concatenate((speed, beyond))
    return clean_heart(raw, clock, effort, steps, LIMITS)


def test_a_dip_in_a_steady_run_masks_itself_and_nothing_behind_it() -> None:
    """The end of the dip is no climb that even effort would contradict."""
    raw = waver(1200, 150)
    raw[400:420] = 100
    found = heart(raw, speed=np.full(1200, 2.8))
    assert stretches(found.masked) == [(392, 428)]


def test_a_heart_that_leaps_for_good_in_a_steady_run_is_masked_up_to_the_last_second() -> None:
    raw = np.concatenate((waver(600, 120), waver(300, 175)))
    found = heart(raw, speed=np.full(900, 2.8))
    assert stretches(found.masked) == [(592, 900)]


# Heart rate: range, jump, spike, flat line, steps.


@pytest.mark.parametrize(
    ("bpm", "masked"), [(29, True), (30, False), (31, False), (229, False), (230, False), (231, True)]
)
def test_a_heart_beats_from_30_to_230(bpm: int, *, masked: bool) -> None:
    """Told by one sample among such as lead to it, so that it is no jump."""
    raw = np.full(600, float(min(max(bpm, 32), 228)))
    raw[::2] += 1
    raw[300] = bpm
    assert heart(raw).reasons.get("range", 0.0) == float(masked)


@pytest.mark.parametrize(("leap", "masked"), [(29, False), (30, True), (31, True)])
def test_thirty_beats_within_eight_seconds_are_a_jump(leap: int, *, masked: bool) -> None:
    raw = np.full(600, 120.0)
    raw[300:] = 120 + leap
    raw[::40] += 1  # no flat line
    found = heart(raw - (np.arange(600) % 40 == 0))
    assert (found.masked_s > 0) == masked


@pytest.mark.parametrize(("seconds", "masked"), [(8, True), (9, False)])
def test_thirty_beats_over_nine_seconds_are_none(seconds: int, *, masked: bool) -> None:
    raw = np.full(600, 120.0)
    raw[300 : 300 + seconds] += np.linspace(30 / seconds, 30, seconds)
    raw[300 + seconds :] += 30
    assert (heart(raw).reasons.get("jump", 0.0) > 0) == masked


@pytest.mark.parametrize(("seconds", "masked"), [(80, True), (92, True), (120, False)])
def test_a_short_spike_is_masked_whole_and_a_longer_one_only_where_it_stands_out(seconds: int, *, masked: bool) -> None:
    """With a speed that rises as the heart does: then only shortness speaks against it."""
    raw, speed = waver(1800, 130), np.full(1800, 2.5)
    raw[900 : 900 + seconds] += 32
    speed[900 : 900 + seconds] = 4.2
    inside = heart(raw, speed=speed).rows_bpm[920 : 900 + seconds - 20]
    assert np.isnan(inside).all() == masked


@pytest.mark.parametrize(("seconds", "masked"), [(90, False), (91, True), (140, True)])
def test_a_value_that_stands_still_for_ninety_seconds_and_then_leaps_is_stuck(seconds: int, *, masked: bool) -> None:
    """So many samples of a second each: 91 of them are ninety seconds apart."""
    raw = waver(1800, 140)
    raw[900 : 900 + seconds] = 140
    raw[900 + seconds :] = waver(900 - seconds, 147)
    assert (heart(raw).reasons.get("flat", 0.0) > 0) == masked


@pytest.mark.parametrize(("after", "masked"), [(2.0, False), (4.0, True)])
def test_a_flat_line_that_ends_without_a_leap_was_a_steady_heart(after: float, *, masked: bool) -> None:
    raw = waver(1800, 140)
    raw[900:1100] = raw[899]
    raw[1100:1110] = raw[899] + after
    assert (heart(raw).reasons.get("flat", 0.0) > 0) == masked


@pytest.mark.parametrize(("seconds", "masked"), [(50, False), (75, True), (200, True)])
def test_a_heart_that_leaps_to_the_steps_for_a_minute_is_the_feet(seconds: int, *, masked: bool) -> None:
    rng = np.random.default_rng(1)
    spm = np.rint(168 + rng.normal(0, 1.5, 1800))
    raw = waver(1800, 142)
    raw[900 : 900 + seconds] = spm[900 : 900 + seconds]
    found = heart(raw, spm=spm, speed=np.full(1800, 2.8))
    assert (found.reasons.get("locked", 0.0) > 0) == masked


# Is there enough? A third may be missing.


def hour(*, heart_masked: int = 0, heart_known: int = 900, speed_masked: int = 0, speed_known: int = 900) -> Track:
    """A quarter of an hour of running in which so many seconds are masked or known."""
    at = np.arange(900.0)
    table = {"t_s": at, "speed_mps": 2.8 + 0.1 * np.sin(at / 9), "cadence_spm": 165 + np.sin(at)}
    found = clean("running", "generic", 900.0, (), table, LIMITS)
    bpm = np.where(at < heart_known, 140.0, np.nan)
    masked = at < heart_masked
    hearts = Heart(bpm, np.where(np.isfinite(bpm), 1.0, 0.0), masked, np.full(found.size, np.nan))
    rows = np.arange(found.size)
    speed = np.where(found.clock.real & (rows < speed_known), 2.8, np.nan)
    pace = replace(found.pace, speed_mps=speed, masked=found.clock.real & (rows < speed_masked))
    return replace(found, heart=hearts, pace=pace, gait=replace(found.gait, running=found.clock.real))


RUN = session(10, minutes=15)


@pytest.mark.parametrize(("masked", "said"), [(299, ""), (301, "heart rate not believed for 33 % of the time")])
def test_a_heart_masked_for_more_than_a_third_is_not_judged(masked: int, said: str) -> None:
    assert sentence(heart_not_believed(hour(heart_masked=masked), RUN, LIMITS)) == said


@pytest.mark.parametrize(
    ("known", "said"),
    [(601, ""), (599, "heart rate known for 67 % of the time only"), (0, "no heart rate was recorded")],
)
def test_a_heart_known_for_less_than_two_thirds_says_nothing_good(known: int, said: str) -> None:
    assert sentence(heart_not_known(hour(heart_known=known), RUN, LIMITS)) == said


@pytest.mark.parametrize(("masked", "said"), [(299, ""), (301, "speed not believed for 33 % of the running")])
def test_a_speed_masked_for_more_than_a_third_is_not_judged(masked: int, said: str) -> None:
    assert sentence(speed_not_believed(hour(speed_masked=masked), LIMITS)) == said


@pytest.mark.parametrize(("known", "said"), [(601, ""), (599, "speed known for 67 % of the running only")])
def test_a_speed_known_for_less_than_two_thirds_says_nothing_good(known: int, said: str) -> None:
    assert sentence(speed_not_known(hour(speed_known=known), RUN, LIMITS)) == said


def test_the_timer_of_a_recording_that_broke_off_counts_as_time_not_known() -> None:
    twice = session(10, minutes=30)
    assert heart_not_known(hour(), RUN, LIMITS) == ""
    assert sentence(heart_not_known(hour(), twice, LIMITS)) == "heart rate known for 50 % of the time only"


# Gaps of the clock.


@pytest.mark.parametrize(("apart", "longest"), [(1, 10), (10, 10), (11, 16.5), (39, 58.5), (40, 60), (45, 60)])
def test_a_gap_is_as_long_as_the_device_lets_it_be_and_a_minute_at_most(apart: int, longest: float) -> None:
    assert longest_gap(np.arange(30.0) * apart, LIMITS) == longest


@pytest.mark.parametrize(("gap", "seconds"), [(9, 119), (10, 120), (11, 120), (600, 120)])
def test_a_sample_stands_for_ten_seconds_at_the_most(gap: int, seconds: float) -> None:
    """A minute before the gap and one after it, whose first and last seconds count once."""
    time = np.concatenate((np.arange(56.0), 55.0 + gap + np.arange(56.0)))
    clock = timeline(time, float(time[-1]), (), LIMITS)
    assert clock.seconds == 55 + min(gap, 10) + 55
    assert clock.weights(np.ones(len(time), np.bool_)).sum() == clock.seconds


# Steps.


@pytest.mark.parametrize(
    ("speed", "spm", "long"),
    [
        (1.3, 60.0, False),
        (1.301, 60.0, True),
        (2.2, 101.54, False),
        (2.2, 101.5, True),
        (3.2, 128.01, False),
        (3.2, 127.99, True),
    ],
)
def test_a_step_is_at_most_so_long_at_its_speed(speed: float, spm: float, *, long: bool) -> None:
    """1.3 m up to 2.2 m/s, 20 cm more for each m/s above: 1.5 m at 3.2 m/s."""
    assert bool(too_long(np.array([spm]), np.array([speed]), LIMITS)[0]) == long


@pytest.mark.parametrize(("rows", "doubled"), [(29, False), (30, True)])
def test_cadence_is_doubled_where_half_a_minute_says_that_one_leg_was_counted(rows: int, *, doubled: bool) -> None:
    cadence, speed = np.full(60, np.nan), np.full(60, 2.8)
    cadence[:rows] = 82.0
    assert steps_per_minute(cadence, speed, LIMITS)[0] == (164.0 if doubled else 82.0)


@pytest.mark.parametrize(("speed", "doubled"), [(7.4, True), (7.5, False), (7.6, False)])
def test_pedals_at_a_speed_of_no_runner_are_not_doubled(speed: float, *, doubled: bool) -> None:
    assert (steps_per_minute(np.full(60, 82.0), np.full(60, speed), LIMITS)[0] == 164.0) == doubled


# Wheels.


def moves(speed: Floats, spm: float = np.nan, bpm: float = np.nan) -> Motion:
    rows = len(speed)
    steps, hearts = np.full(rows, spm), np.full(rows, bpm)
    return Motion(steps, speed, hearts, np.zeros(rows), np.ones(rows, np.bool_), 1.0, LIMITS)


def walked_then(speed: float, seconds: int) -> Floats:
    """Ten minutes of walking with something faster in the middle."""
    return np.concatenate((np.full(300, 1.4), np.full(seconds, speed), np.full(300, 1.4)))


@pytest.mark.parametrize(("speed", "wheels"), [(8.9, False), (9.1, True)])
def test_nobody_runs_nine_metres_a_second_for_half_a_minute_whatever_the_steps_say(
    speed: float, *, wheels: bool
) -> None:
    assert carried("run", moves(walked_then(speed, 60), spm=170), LIMITS).any() == wheels


@pytest.mark.parametrize(("speed", "wheels"), [(7.2, False), (7.4, True)])
def test_without_steps_it_is_wheels_from_a_little_less_on(speed: float, *, wheels: bool) -> None:
    assert carried("run", moves(walked_then(speed, 60)), LIMITS).any() == wheels


@pytest.mark.parametrize(("seconds", "wheels"), [(24, False), (40, True)])
def test_wheels_carry_for_half_a_minute_at_least(seconds: int, *, wheels: bool) -> None:
    assert carried("run", moves(walked_then(12.0, seconds)), LIMITS).any() == wheels


@pytest.mark.parametrize(("speed", "ride"), [(4.7, False), (4.9, True)])
def test_an_open_label_at_the_usual_speed_of_a_ride_is_one(speed: float, *, ride: bool) -> None:
    assert like_a_ride("open", moves(np.full(1200, speed)), LIMITS) == ride
    assert on_wheels("open", moves(np.full(1200, speed)), LIMITS)[0] == ("ride" if ride else "open")


@pytest.mark.parametrize(("bpm", "ride"), [(124, True), (125, False), (140, False)])
def test_a_calm_heart_at_a_good_pace_rides(bpm: int, *, ride: bool) -> None:
    assert like_a_ride("open", moves(np.full(1200, 4.5), bpm=bpm), LIMITS) == ride


@pytest.mark.parametrize(("share", "ride"), [(0.14, False), (0.16, True)])
def test_coasting_for_more_than_a_seventh_is_a_ride(share: float, *, ride: bool) -> None:
    found = moves(np.full(1200, 4.0), spm=165)
    found.spm[: round(1200 * share)] = 0.0
    assert like_a_ride("open", found, LIMITS) == ride


# Altitude.


@pytest.mark.parametrize(("climb_mps", "masked"), [(1.25, False), (1.35, True), (-1.25, False), (-1.35, True)])
def test_no_legs_climb_faster_than_thirteen_decimetres_a_second(climb_mps: float, *, masked: bool) -> None:
    altitude = 100 + np.cumsum(np.where((np.arange(600) > 300) & (np.arange(600) < 340), climb_mps, 0.0))
    assert (ground(altitude, np.full(600, 2.8), LIMITS).masked_s > 0) == masked


def test_a_door_or_a_bridge_masks_sixteen_seconds() -> None:
    """Four seconds before and after each second whose neighbours of four seconds lie too far apart."""
    altitude = np.where(np.arange(600) < 300, 100.0, 120.0)
    assert ground(altitude, np.full(600, 2.8), LIMITS).masked_s == 16


# Altitude that has not settled yet.


def settling(far_m: float, within_s: float, rows: int = 900) -> Floats:
    """The altitude of level ground whose first value is so far off and comes home as a discharge does."""
    return 200.0 - far_m * np.exp(-np.arange(float(rows)) / within_s)


def test_an_altitude_that_begins_far_off_is_left_out_until_it_has_settled() -> None:
    found = ground(settling(200, 45), np.full(900, 1.4), LIMITS)
    assert np.isnan(found.altitude_m[:100]).all()
    assert np.isfinite(found.altitude_m[180:-5]).all()
    assert np.nanmax(found.slope) < LIMITS.ground.steep_walking
    assert np.nanmax(found.altitude_m) - np.nanmin(found.altitude_m) < 12


@pytest.mark.parametrize(
    ("climb_mps", "speed", "left_out"),
    [(0.67, 1.5, False), (0.68, 1.5, True), (-0.68, 1.5, True), (0.89, 2.0, False), (0.91, 2.0, True)],
)
def test_a_first_minute_steeper_than_legs_were_ever_measured_on_has_not_settled(
    climb_mps: float, speed: float, *, left_out: bool
) -> None:
    altitude = 200 + climb_mps * np.minimum(np.arange(900.0), 90)
    assert (ground(altitude, np.full(900, speed), LIMITS).masked_s > 0) == left_out


@pytest.mark.parametrize(("begins_s", "left_out"), [(0, True), (56, True), (57, False), (90, False)])
def test_only_what_begins_in_the_first_minute_has_not_settled(begins_s: int, *, left_out: bool) -> None:
    """Thirteen of twenty seconds at 1 m/s are steeper than 45 % of 1.4 m/s; the last such window is around 59."""
    at = np.arange(900.0)
    altitude = 200 + 1.0 * np.clip(at - begins_s, 0, 60)
    assert (ground(altitude, np.full(900, 1.4), LIMITS).masked_s > 0) == left_out


@pytest.mark.parametrize(("after_mps", "until"), [(0.14, 110), (0.16, 300)])
def test_an_altitude_has_settled_when_it_climbs_no_faster_than_a_walker(after_mps: float, until: int) -> None:
    at = np.arange(900.0)
    altitude = 200 + 1.0 * np.minimum(at, 100) + after_mps * np.maximum(at - 100, 0)
    masked = ground(altitude, np.full(900, 1.4), LIMITS).masked_s
    assert abs(masked - until) <= 2


def test_an_altitude_that_begins_where_it_is_loses_nothing() -> None:
    at = np.arange(900.0)
    assert ground(200 + 0.2 * at, np.full(900, 1.4), LIMITS).masked_s == 0
