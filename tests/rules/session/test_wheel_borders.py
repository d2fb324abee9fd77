"""Wheels, rides and the runs beside them: from which row to which, each border just below, at and above it."""

from __future__ import annotations

import numpy as np
import pytest

from rules.limits import default_limits
from rules.session import gait
from rules.session.gait import Motion
from rules.session.labels import Family
from rules.session.timeline import Floats, Stretch, stretches

LIMITS = default_limits()
NAN = float("nan")


def rows(*parts: tuple[int, float]) -> Floats:
    """So many seconds of each value."""
    return np.concatenate([np.full(seconds, float(value)) for seconds, value in parts])


def moves(
    speed: Floats, spm: Floats | float = NAN, bpm: Floats | float = NAN, slope: float = 0.0, real: Floats | None = None
) -> Motion:
    size = len(speed)
    steps, heart = (one if isinstance(one, np.ndarray) else np.full(size, one) for one in (spm, bpm))
    known = np.ones(size, np.bool_) if real is None else real.astype(np.bool_)
    return Motion(steps, speed, heart, np.full(size, slope), known, 1.0, LIMITS)


# Carried: what no runner does, and what hangs together with it.


def carried(speed: Floats, spm: Floats | float = NAN, kind: Family = "walk", **more: float) -> list[Stretch]:
    return stretches(gait.carried(kind, moves(speed, spm, **more), LIMITS))


def between(seconds: int, speed: float, walk: float = 1.4) -> Floats:
    return rows((300, walk), (seconds, speed), (300, walk))


def test_what_is_too_fast_in_the_mean_of_fifteen_seconds_is_carried() -> None:
    """12 m/s in a walk of 1.4: nine of the fifteen seconds make a mean over 7.3."""
    assert carried(between(60, 12.0)) == [(301, 359)]
    assert carried(between(60, 12.0), kind="run") == [(301, 359)]


@pytest.mark.parametrize(("seconds", "found"), [(31, []), (32, [(301, 331)])])
def test_half_a_minute_of_it_is_carried(seconds: int, found: list[Stretch]) -> None:
    assert carried(between(seconds, 12.0)) == found


@pytest.mark.parametrize(
    ("speed", "spm", "found"), [(9.0, 126, False), (9.1, 126, True), (7.3, 125, False), (7.4, 125, True)]
)
@pytest.mark.parametrize("kind", ["run", "walk"])
def test_with_the_steps_of_a_run_nine_metres_a_second_and_else_a_little_less(
    kind: Family, speed: float, spm: float, *, found: bool
) -> None:
    steps = rows((300, 140), (60, spm), (300, 140))
    assert bool(carried(between(60, speed, 3.0 if kind == "run" else 1.4), steps, "run")) == found


@pytest.mark.parametrize(
    ("kind", "speed", "spm", "found"),
    [
        ("walk", 3.2, 60, False),
        ("walk", 3.3, 60, True),
        ("open", 2.9, 60, False),
        ("open", 3.0, 60, True),
        ("walk", 3.3, 125, True),
        ("walk", 3.3, 126, False),
        ("walk", 3.3, NAN, False),
        ("run", 3.3, 60, False),
    ],
)
def test_where_steps_are_counted_what_is_faster_than_a_walk_and_without_them_is_carried(
    kind: Family, speed: float, spm: float, *, found: bool
) -> None:
    steps = rows((300, 110), (60, spm), (300, 110))
    assert bool(carried(between(60, speed), steps, kind)) == found


@pytest.mark.parametrize(("stepped", "found"), [(5, True), (6, False)])
def test_five_seconds_with_steps_do_not_end_what_wheels_carry(stepped: int, *, found: bool) -> None:
    """8 m/s: too fast without steps, not with those of a run."""
    steps = rows((300, 140), (20, 0), (stepped, 140), (20, 0), (300, 140))
    assert bool(carried(rows((300, 3.0), (40 + stepped, 8.0), (300, 3.0)), steps, "run")) == found


def test_a_piece_between_two_stops_is_carried_as_a_whole() -> None:
    """It set off and drew up at 5 m/s, which a runner might do."""
    ride = rows((300, 1.4), (5, 0.0), (30, 5.0), (60, 12.0), (30, 5.0), (5, 0.0), (300, 1.4))
    assert carried(ride) == [(305, 425)]
    on = rows((300, 1.4), (2, 0.0), (30, 5.0), (60, 12.0), (30, 5.0), (2, 0.0), (300, 1.4))
    assert carried(on) == [(329, 395)]  # two seconds are no stop: the piece is the whole walk


@pytest.mark.parametrize(("seconds", "grown"), [(59, True), (60, False)])
def test_a_piece_too_short_for_a_walk_beside_wheels_hangs_together_with_them(seconds: int, *, grown: bool) -> None:
    ride = rows((300, 1.4), (4, 0.0), (seconds, 1.4), (4, 0.0), (60, 12.0), (4, 0.0), (300, 1.4))
    begins = 304 if grown else 308 + seconds
    assert carried(ride) == [(begins, 368 + seconds)]


@pytest.mark.parametrize(("apart", "grown"), [(59, True), (60, False)])
def test_a_piece_a_minute_away_does_not(apart: int, *, grown: bool) -> None:
    ride = rows((300, 1.4), (4, 0.0), (40, 1.4), (apart, 0.0), (60, 12.0), (4, 0.0), (300, 1.4))
    assert carried(ride)[0][0] == (304 if grown else 344 + apart)


@pytest.mark.parametrize(("stop", "found"), [(180, 1), (181, 2)])
def test_stops_of_three_minutes_lie_between_two_pieces_of_one_ride(stop: int, found: int) -> None:
    assert (
        len(carried(rows((300, 1.4), (3, 0.0), (100, 12.0), (stop, 0.0), (100, 12.0), (3, 0.0), (300, 1.4)))) == found
    )


@pytest.mark.parametrize(("spm", "speed", "found"), [(30, 0.5, 1), (31, 0.5, 2), (31, 3.3, 1)])
def test_steps_of_a_walk_while_waiting_are_walked(spm: float, speed: float, found: int) -> None:
    """At a speed that somebody walks; whoever stands is carried on with the rest."""
    ride = rows((300, 1.4), (3, 0.0), (100, 12.0), (60, speed), (100, 12.0), (3, 0.0), (300, 1.4))
    steps = rows((303, 110), (100, 0), (60, spm), (100, 0), (303, 110))
    assert len(carried(ride, steps)) == found


@pytest.mark.parametrize(
    ("speed", "steps", "wheels"),
    [
        (rows((89, 1.4), (11, 5.6)), 0.0, True),
        (rows((89, 1.4), (11, 5.5)), 0.0, False),
        (rows((91, 1.4), (9, 12.0)), 0.0, False),
        (rows((100, 6.0)), 0.3, True),
        (rows((100, 6.0)), 0.31, False),
        (rows((59, 2.0)), 0.0, True),
        (rows((60, 2.0)), 0.0, False),
        (rows((59, 2.0), (40, NAN)), 0.0, True),
        (rows((40, NAN)), 0.0, False),
    ],
)
def test_a_piece_is_wheels_by_its_fastest_tenth_or_where_it_is_short_and_without_steps(
    speed: Floats, steps: float, *, wheels: bool
) -> None:
    stepping = np.arange(len(speed)) < round(steps * len(speed))
    assert gait._like_wheels(speed, stepping, LIMITS) == wheels


@pytest.mark.parametrize(
    ("speed", "pieces"),
    [
        (rows((10, 2.0), (3, 0.99), (10, 2.0)), [(0, 10), (13, 23)]),
        (rows((10, 2.0), (2, 0.0), (10, 2.0)), [(0, 22)]),
        (rows((10, 2.0), (5, 1.0), (10, 2.0)), [(0, 25)]),
    ],
)
def test_three_seconds_below_a_metre_a_second_are_a_stop(speed: Floats, pieces: list[Stretch]) -> None:
    assert gait._between_stops(speed, np.ones(len(speed), np.bool_)) == pieces


def test_a_stopped_timer_is_a_stop() -> None:
    real = rows((10, 1), (3, 0), (10, 1)).astype(np.bool_)
    assert gait._between_stops(np.full(23, 2.0), real) == [(0, 10), (13, 23)]


# A heart that does not answer.


def unanswered(
    bpm: float = 100, at_a_walk: float = 100, *, walk_s: int = 360, fast_s: int = 200, slope: float = 0.0,
    known: float = 1.0, speed: float = 4.0, kind: Family = "walk",
) -> list[Stretch]:  # fmt: skip
    heart = rows((walk_s, at_a_walk), (fast_s, bpm), (360, NAN))
    heart[walk_s + 60 + 3 + round(known * (fast_s - 66)) : walk_s + fast_s] = NAN
    return gait._unanswered(
        kind, moves(rows((walk_s, 1.4), (fast_s, speed), (360, 0.0)), bpm=heart, slope=slope), LIMITS
    )


def test_it_is_unanswered_where_the_mean_of_fifteen_seconds_is_faster_than_a_walk() -> None:
    assert unanswered() == [(363, 555)]


@pytest.mark.parametrize(
    ("bpm", "at_a_walk", "found"), [(100, 100, True), (101, 100, False), (125, 130, True), (126, 130, False)]
)
def test_a_heart_no_higher_than_at_a_walk_and_calm_does_not_answer(
    bpm: float, at_a_walk: float, *, found: bool
) -> None:
    assert bool(unanswered(bpm, at_a_walk)) == found


@pytest.mark.parametrize(("slope", "found"), [(-0.02, True), (-0.021, False), (0.05, True), (NAN, True)])
def test_down_a_hill_a_heart_may_be_calm(slope: float, *, found: bool) -> None:
    assert bool(unanswered(slope=slope)) == found


@pytest.mark.parametrize(("seconds", "found"), [(127, False), (128, True)])
def test_a_heart_is_given_two_minutes_to_answer(seconds: int, *, found: bool) -> None:
    """The mean of fifteen seconds loses three at the beginning, and five at the end, where it stands."""
    assert bool(unanswered(fast_s=seconds)) == found


@pytest.mark.parametrize(("seconds", "found"), [(242, False), (243, True)])
def test_two_minutes_of_a_walk_two_minutes_after_it_began_are_known(seconds: int, *, found: bool) -> None:
    """Near the fast part the mean of fifteen seconds loses three of them."""
    assert bool(unanswered(walk_s=seconds)) == found


@pytest.mark.parametrize(("known", "found"), [(0.46, False), (0.56, True)])
def test_half_of_the_heart_must_be_known(known: float, *, found: bool) -> None:
    assert bool(unanswered(known=known)) == found


@pytest.mark.parametrize(
    ("kind", "speed", "found"), [("walk", 3.19, 0), ("walk", 3.21, 1), ("open", 2.89, 0), ("open", 2.91, 1)]
)
def test_only_what_nobody_walks_asks_for_an_answer(kind: Family, speed: float, found: int) -> None:
    assert len(unanswered(kind=kind, speed=speed)) == found


@pytest.mark.parametrize(("restless", "found"), [(89, True), (90, False)])
def test_the_first_minute_of_a_heart_says_nothing(restless: int, *, found: bool) -> None:
    """Of the last of two minutes half is calm: fewer than 31 of its seconds are not enough."""
    heart = rows((360, 100), (3 + restless, 140), (120 - restless, 100), (365, NAN))
    speed = rows((360, 1.4), (128, 4.0), (360, 0.0))
    assert bool(gait._unanswered("walk", moves(speed, bpm=heart), LIMITS)) == found


# A ride under an open label.


def ride(speed: Floats | float, spm: Floats | float = NAN, bpm: float = NAN, kind: Family = "open") -> bool:
    ridden = speed if isinstance(speed, np.ndarray) else np.full(1200, speed)
    return gait.like_a_ride(kind, moves(ridden, spm, bpm), LIMITS)


@pytest.mark.parametrize(("seconds", "found"), [(59, False), (60, True)])
def test_a_minute_of_moving_can_be_a_ride(seconds: int, *, found: bool) -> None:
    assert ride(rows((seconds, 8.0), (300, 1.0))) == found


@pytest.mark.parametrize(("leaps", "found"), [(182, False), (183, True)])
def test_leaps_in_up_to_a_fifth_of_it_are_not_what_the_rest_was(leaps: int, *, found: bool) -> None:
    """In the mean of half a minute 182 s at 30 m/s are over 9 for 200 of 1,000 s."""
    assert ride(rows((500, 3.0), (leaps, 30.0), (1000 - 500 - leaps, 3.0))) == found


@pytest.mark.parametrize(
    ("speed", "bpm", "kind", "found"),
    [
        (5.99, NAN, "gym", False),
        (6.01, NAN, "gym", True),
        (4.79, NAN, "open", False),
        (4.81, NAN, "open", True),
        (4.9, NAN, "gym", False),
        (7.49, 150, "open", False),
        (7.51, 150, "open", True),
        (6.1, 149, "open", True),
        (6.1, 150, "open", False),
        (4.3, 124, "open", True),
        (4.3, 125, "open", False),
        (4.19, 100, "open", False),  # any runner may be calm at this speed
    ],
)
def test_without_a_step_rate_a_ride_is_told_by_speed_and_heart(
    speed: float, bpm: float, kind: Family, *, found: bool
) -> None:
    assert ride(speed, bpm=bpm, kind=kind) == found


@pytest.mark.parametrize(("seconds", "beats"), [(119, None), (120, 110.0)])
def test_two_minutes_of_heart_at_speed_tell_how_calm_it_is(seconds: int, beats: float | None) -> None:
    speed = rows((300, 4.2), (seconds, 4.3))
    assert gait._beats_when_quick(speed, rows((300, 160), (seconds, 110)), LIMITS) == beats
    assert gait._beats_when_quick(np.full(300 + seconds, 4.3), rows((300, NAN), (seconds, 110)), LIMITS) == beats


def pedalled(share_coasting: float = 0.0, spm: float = 160, speed: float = 3.2, wide: float = 0.0) -> bool:
    """With a step rate; it coasts for a share of the time and wavers by so many to each side."""
    steps = spm + wide * (-1.0) ** np.arange(1000)
    steps[: round(1000 * share_coasting)] = 30 - 1
    return ride(np.full(1000, speed), steps)


@pytest.mark.parametrize("speed", [3.2, 6.1])
@pytest.mark.parametrize(("share", "found"), [(0.15, False), (0.151, True)])
def test_coasting_for_more_than_fifteen_in_a_hundred_is_a_ride(share: float, speed: float, *, found: bool) -> None:
    assert pedalled(share, spm=180, speed=speed) == found


@pytest.mark.parametrize(("speed", "found"), [(3.0, False), (3.1, True)])
def test_only_what_is_faster_than_three_metres_a_second_coasts(speed: float, *, found: bool) -> None:
    assert pedalled(0.3, speed=speed) == found


@pytest.mark.parametrize(("wide", "found"), [(9.4, False), (9.5, True)])
def test_the_steps_of_a_run_waver_by_fourteen_at_most(wide: float, *, found: bool) -> None:
    """1.4826 x the median deviation: 13.9 and 14.1; then only the speed of a ride tells, 6.1 m/s."""
    assert pedalled(wide=wide, spm=180, speed=6.1) == found


@pytest.mark.parametrize(("spm", "found"), [(144, True), (145, False)])
def test_the_speed_of_a_ride_with_the_steps_of_a_run_is_none(spm: float, *, found: bool) -> None:
    assert pedalled(spm=spm, speed=6.1) == found


@pytest.mark.parametrize(("speed", "found"), [(5.99, False), (6.01, True)])
def test_without_the_even_steps_of_a_run_a_ride_is_faster_than_six_metres_a_second(
    speed: float, *, found: bool
) -> None:
    assert pedalled(spm=180, speed=speed, wide=9.6) == found


@pytest.mark.parametrize(("share", "found"), [(0.15, False), (0.16, True)])
def test_steps_longer_than_anyones_are_turns_of_pedals(share: float, *, found: bool) -> None:
    """60 a minute at 3.2 m/s: 3.2 m each."""
    spm = np.full(1000, 160.0)
    spm[: round(1000 * share)] = 60.0
    assert ride(np.full(1000, 3.2), spm) == found


def beside(walk_s: int = 120, spm: float = 110, wide: float = 0.0, fast_spm: float = 0.0, speed: float = 1.4) -> bool:
    steps = rows((walk_s, spm), (600, fast_spm))
    steps[:walk_s] += wide * (-1.0) ** np.arange(walk_s)
    return gait._walked_beside_wheels(moves(rows((walk_s, speed), (600, 7.0)), steps), LIMITS)


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        ({"walk_s": 119}, False),
        ({"walk_s": 120}, True),
        ({"spm": 137}, True),
        ({"spm": 138}, False),
        ({"spm": 30, "speed": 0.51}, False),
        ({"spm": 31, "speed": 0.51}, True),
        ({"speed": 0.5}, False),
        ({"speed": 2.05}, True),
        ({"speed": 2.1}, False),
        ({"wide": 9.4}, True),
        ({"wide": 9.5}, False),
        ({"fast_spm": 125}, True),
        ({"fast_spm": 130}, False),
        ({"spm": 61, "speed": 1.35}, False),  # 1.33 m a step: pedals
    ],
)
def test_two_minutes_of_even_steps_at_a_walk_and_none_at_speed_are_a_walk_beside_wheels(
    changed: dict[str, float], *, found: bool
) -> None:
    assert beside(**changed) == found


@pytest.mark.parametrize(("share", "found"), [(0.05, True), (0.051, False)])
def test_a_counter_fails_for_a_twentieth_of_a_walk_beside_wheels(share: float, *, found: bool) -> None:
    """50 a minute at 1.4 m/s are 1.7 m each."""
    steps = rows((1000, 110), (600, 0))
    steps[: round(1000 * share)] = 50
    assert gait._walked_beside_wheels(moves(rows((1000, 1.4), (600, 7.0)), steps), LIMITS) == found


# A run at one end of a ride.


def run_of(
    run_s: int = 600, speed: float = 3.2, *, away_s: int = 0, riding: float = 7.5, uneven: float = 0.0,
    spm: float = NAN, wide: float = 0.0, slope: float = 0.0,
) -> list[Stretch]:  # fmt: skip
    """A ride and then a run, whose minutes differ by so much; perhaps ridden on for some seconds."""
    ran = np.full(run_s, speed) + uneven * np.repeat((-1.0) ** np.arange(run_s // 60 + 1), 60)[:run_s]
    whole = np.concatenate((np.full(1200, riding), ran, np.full(away_s, riding)))
    steps = rows((1200, 0.0 if np.isfinite(spm) else NAN), (run_s, spm), (away_s, 0.0 if np.isfinite(spm) else NAN))
    steps[1200 : 1200 + run_s] += wide * (-1.0) ** np.arange(run_s)
    return stretches(gait._run_beside_the_ride(moves(whole, steps, slope=slope), LIMITS))


def test_the_run_begins_where_the_mean_of_a_minute_is_a_runners() -> None:
    """7.5 before and 3.2 after: below 5.5 where 29 of its 61 s were run."""
    assert run_of() == [(1198, 1800)]


@pytest.mark.parametrize(("seconds", "found"), [(477, False), (478, True)])
def test_eight_minutes_at_one_end_are_a_run(seconds: int, *, found: bool) -> None:
    assert bool(run_of(seconds)) == found


@pytest.mark.parametrize(("seconds", "found"), [(123, True), (124, False)])
def test_it_lies_within_two_minutes_of_the_end(seconds: int, *, found: bool) -> None:
    assert bool(run_of(away_s=seconds)) == found


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        ({"speed": 2.05}, False),
        ({"speed": 2.15}, True),
        ({"speed": 4.85}, True),  # 0.65 of the ride is 4.875
        ({"speed": 4.95}, False),
        ({"speed": 5.45, "riding": 9.0}, True),
        ({"speed": 5.55, "riding": 9.0}, False),
        ({"slope": 0.02}, True),
        ({"slope": 0.021}, False),
        ({"slope": -0.021}, False),
        ({"slope": NAN}, True),
        ({"uneven": 0.21}, True),  # a robust SD of a tenth
        ({"uneven": 0.23}, False),
        ({"spm": 144}, False),
        ({"spm": 145}, True),
        ({"spm": 73}, True),  # of one leg
        ({"spm": 72}, False),
        ({"spm": 160, "wide": 4.7}, True),
        ({"spm": 160, "wide": 4.8}, False),
        ({"spm": 30}, False),  # a sensor that counts nothing while it ran
    ],
)
def test_a_run_beside_a_ride_is_even_level_slower_and_has_the_steps_of_a_run(
    changed: dict[str, float], *, found: bool
) -> None:
    assert bool(run_of(**changed)) == found


@pytest.mark.parametrize(("seconds", "found"), [(122, True), (123, False)])
def test_it_lies_within_two_minutes_of_the_beginning_too(seconds: int, *, found: bool) -> None:
    whole = rows((60, 0.0), (seconds, 7.5), (600, 3.2), (1200, 7.5))
    assert bool(stretches(gait._run_beside_the_ride(moves(whole), LIMITS))) == found
