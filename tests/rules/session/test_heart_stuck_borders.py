"""A heart rate that stands still or is that of the feet: each step just below, at and just above its limit."""

from __future__ import annotations

import numpy as np
import pytest

from rules.session import heart as hearts
from rules.session.timeline import Floats, Stretch
from tests.rules.session.rows import LIMITS, NAN, ramp, rows, spans

# Values that stand still.


def smooth(*sticks: tuple[int, int], moves: int = 10, step: float = 1.0, leap: int = 1) -> list[Stretch]:
    """A recording without a waver, so many seconds long, in which values stand still from one second to another and
    then leap; which of these are stuck."""
    filled = 120 + np.repeat(np.arange(moves + 1.0) * step, 60)
    filled = np.concatenate((filled, np.full(1200 - len(filled), filled[-1])))
    others = np.ones(1200, np.bool_)
    for a, b in sticks:
        filled[a:b] = filled[a]
        filled[b + leap - 1 :] += 5
        others[a:b] = False
    return hearts._stuck_in_smooth(filled, list(sticks), others, LIMITS)


@pytest.mark.parametrize(("moves", "found"), [(9, False), (10, True)])
@pytest.mark.parametrize("step", [1.0, 2.0])
def test_a_recording_that_moved_ten_times_by_a_beat_or_two_can_stick(moves: int, step: float, *, found: bool) -> None:
    assert smooth((900, 1000), moves=moves, step=step) == ([(900, 1000)] if found else [])


def test_moves_of_more_than_two_beats_are_no_smooth_ones() -> None:
    assert smooth((900, 1000), step=2.5) == []


@pytest.mark.parametrize(("leap", "found"), [(1, True), (2, True), (3, False)])
def test_a_smooth_line_sticks_where_it_leaps_at_once(leap: int, *, found: bool) -> None:
    assert bool(smooth((900, 1000), leap=leap)) == found


def test_a_smooth_line_sticks_twice_at_most() -> None:
    assert smooth((700, 800), (900, 1000)) == [(700, 800), (900, 1000)]
    assert smooth((700, 760), (800, 860), (900, 1000)) == []


@pytest.mark.parametrize(("end", "found"), [(1099, True), (1101, False)])
def test_a_smooth_line_sticks_for_a_third_at_most(end: int, *, found: bool) -> None:
    assert bool(smooth((700, end))) == found


def flat(
    seconds: int = 100,
    leap: float = 5,
    *,
    elsewhere: int = 400,
    gaps: int = 0,
    every: int = 15,
    effort: Floats | None = None,
) -> list[Stretch]:
    """A heart that turns so often elsewhere and stands still for so many seconds, of which some are not known."""
    at = np.arange(elsewhere)
    half = elsewhere // 2
    wavering = 140.0 + (at // every % 2)
    still = rows((seconds, wavering[half - 1]))
    still[1 : 1 + gaps] = NAN
    values = np.concatenate((wavering[:half], still, wavering[half:] + leap))
    unknown = np.full(len(values), NAN)
    return spans(hearts._flat(values, unknown if effort is None else effort, LIMITS))


def test_a_still_line_is_masked_with_the_second_that_it_began_with() -> None:
    """The wavering before it stood at this value for 5 s already."""
    assert flat(100) == [(195, 300)]


@pytest.mark.parametrize(("seconds", "found"), [(85, False), (86, True)])
def test_ninety_seconds_without_a_beat_of_change_are_flat(seconds: int, *, found: bool) -> None:
    """With the five seconds before: ninety changes of nothing."""
    assert bool(flat(seconds)) == found


@pytest.mark.parametrize(("leap", "found"), [(2.9, False), (3, True)])
def test_a_still_line_that_leaps_at_its_end_is_stuck(leap: float, *, found: bool) -> None:
    assert bool(flat(leap=leap)) == found


@pytest.mark.parametrize(("gaps", "known"), [(41, 64), (42, None), (43, None)])
def test_a_still_line_is_known_for_more_than_six_tenths(gaps: int, known: int | None) -> None:
    """Of 105 s; what is not known is not masked."""
    assert sum(b - a for a, b in flat(gaps=gaps)) == (known or 0)


@pytest.mark.parametrize(("elsewhere", "found"), [(120, False), (121, True)])
def test_a_recording_that_is_flat_all_through_says_nothing_of_its_own(elsewhere: int, *, found: bool) -> None:
    """Two minutes elsewhere tell how it moves; one second of that is the first of the still line."""
    assert bool(flat(elsewhere=elsewhere, every=1)) == found


def test_a_still_line_through_a_change_of_effort_is_stuck() -> None:
    moved = rows((250, 2.0), (250, 3.0))
    assert flat(leap=0, effort=moved) == [(195, 310)]
    assert flat(leap=0, effort=rows((500, 2.0))) == []


# A heart rate that is the steps.


@pytest.mark.parametrize(("size", "alike"), [(0.36, 0.0), (0.45, 1.0)])
def test_ups_and_downs_of_four_tenths_can_be_alike(size: float, alike: float) -> None:
    steps = 160 + size * (-1.0) ** np.arange(200)
    for heart, spm in ((steps - 20, 160 + 4 * (steps - 160)), (4 * (steps - 160) + 140, steps)):
        assert hearts._likeness(heart, spm, (0, 200), LIMITS) == pytest.approx(alike, abs=1e-6)


def test_likeness_is_of_the_small_ups_and_downs_and_of_no_trend() -> None:
    rng = np.random.default_rng(2)
    trend = np.linspace(0, 60, 600)
    heart, steps = (120 + trend + rng.normal(0, 1, 600) for _ in range(2))
    assert abs(hearts._likeness(heart, steps, (0, 600), LIMITS)) < 0.15
    assert hearts._likeness(heart, 300 - heart, (0, 600), LIMITS) == pytest.approx(-1)


def test_what_is_not_known_is_not_alike() -> None:
    known, unknown = 160 + (-1.0) ** np.arange(100), np.full(100, NAN)
    assert hearts._likeness(unknown, known, (0, 100), LIMITS) == 0
    assert hearts._likeness(known, unknown, (0, 100), LIMITS) == 0


def unexplained(
    first: float,
    last: float,
    *,
    alike: float = 0.0,
    harder: float = 0.0,
    over: int = 0,
    start: int = 300,
    silent: int = 0,
) -> bool:
    """A heart at 150 as the steps are from 300 to 500, which it reached by a leap and left by one, each so large."""
    values = rows((300, 150 - first), (200, 150), (300, 150 - last))
    if over:
        values[300 - over // 2 : 300 + over // 2] = ramp(2 * (over // 2), 150 - first, 150)
    values[: 300 - start] = NAN
    spm, effort = rows((800, 150)), rows((300, 3.0), (200, 3.0 + harder), (300, 3.0))
    spm[300 - 40 : 300 - 40 + silent] = NAN
    return hearts._unexplained(values, spm, effort, (300, 500), alike, LIMITS)


@pytest.mark.parametrize(("off", "found"), [(-1, True), (0, False), (1, False)])
def test_effort_of_the_minute_on_either_side_explains_a_leap(off: int, *, found: bool) -> None:
    for leap_at, known_at in ((300, 300 - 60 + off), (500, 500 + 60 - 10 - off)):
        values, effort = rows((300, 150), (200, 150), (300, 150)), np.full(800, NAN)
        values[:300] -= 20 if leap_at == 300 else 0
        values[500:] -= 20 if leap_at == 500 else 0
        effort[300:500], effort[known_at : known_at + 10] = 4.0, 3.0
        assert hearts._unexplained(values, rows((800, 150)), effort, (300, 500), 0.0, LIMITS) == found, leap_at


@pytest.mark.parametrize(
    ("first", "last", "alike", "found"),
    [
        (17.9, 0, 0.4, False),
        (18, 0, 0.0, True),
        (0, 17.9, 0.4, False),
        (0, 18, 0.0, True),
        (9, 9, 0.0, True),
        (9, 8.9, 0.0, False),
        (8.9, 9, 0.0, False),
        (9, 0, 0.41, True),
        (9, 0, 0.4, False),
        (8.9, 0, 0.41, False),
        (8.9, 8.9, 0.7, False),
    ],
)
def test_one_great_leap_or_two_small_ones_or_a_small_one_with_likeness(
    first: float, last: float, alike: float, *, found: bool
) -> None:
    assert unexplained(first, last, alike=alike) == found


@pytest.mark.parametrize(("leap", "found"), [(41.9, False), (42, True)])
def test_effort_explains_twenty_four_beats_for_each_metre_a_second(leap: float, *, found: bool) -> None:
    assert unexplained(leap, 0, harder=1.0) == found


def test_running_slower_explains_no_leap_the_other_way() -> None:
    assert not unexplained(17, 0, harder=-1.0)


@pytest.mark.parametrize(("over", "found"), [(12, True), (20, False)])
def test_a_leap_is_there_within_ten_seconds_by_eight_tenths(over: int, *, found: bool) -> None:
    """20 beats over 12 s are 16.7 in ten, over 20 s 10: 0.8 of 18 are 14.4."""
    assert unexplained(20, 0, over=over) == found


@pytest.mark.parametrize(("start", "found"), [(119, False), (120, True)])
def test_in_the_first_two_minutes_a_heart_leaps_from_rest(start: int, *, found: bool) -> None:
    assert unexplained(20, 0, start=start) == found


@pytest.mark.parametrize(("silent", "found"), [(10, True), (11, False)])
def test_beside_a_pause_of_more_than_ten_seconds_a_leap_says_nothing(silent: int, *, found: bool) -> None:
    assert unexplained(20, 0, silent=silent) == found


def at_the_end(known: slice, *, inside: slice = slice(300, 500)) -> bool:
    """A heart at 150 as the steps are from 300 to 500, known there, and at 100 where it is known beside it."""
    values = np.full(800, NAN)
    values[inside] = 150
    values[480:500] = 150
    values[known] = 100
    return hearts._unexplained(values, rows((800, 150)), rows((800, 3.0)), (300, 500), 0.0, LIMITS)


@pytest.mark.parametrize(
    ("known", "found"),
    [
        (slice(505, 515), True),
        (slice(504, 514), False),  # the first five seconds behind it are its own
        (slice(550, 560), False),
        (slice(505, 514), False),
    ],
)
def test_ten_seconds_of_the_minute_behind_it_tell_a_leap_from_five_seconds_on(known: slice, *, found: bool) -> None:
    assert at_the_end(known) == found


def locked(
    seconds: int, *, off: float = 0.0, spm: float = 150.0, leap: float = 20, gap: int = 0, near: float = 1.0
) -> list[Stretch]:
    """At `spm` and so many more from second 300 on, for so many seconds, before and after lower by a leap."""
    values = rows((300, spm - leap), (seconds, spm + off), (500 - seconds, spm - leap))
    if near < 1.0:
        values[300 : 300 + seconds][np.arange(seconds) % 5 >= 5 * near] += 6
    values[350 : 350 + gap] = spm - leap
    return spans(hearts._locked(values, rows((800, spm)), rows((800, 3.0)), LIMITS))


def test_a_heart_at_the_steps_is_masked_with_what_leads_to_it() -> None:
    """In the mean of 15 s six tenths are reached a second inside the 100, and four on each side are added."""
    assert locked(100) == [(297, 403)]


@pytest.mark.parametrize(("off", "found"), [(3.0, True), (3.1, False), (-3.0, True), (-3.1, False)])
def test_within_three_of_the_steps_is_at_them(off: float, *, found: bool) -> None:
    assert bool(locked(100, off=off)) == found


@pytest.mark.parametrize(("seconds", "found"), [(61, False), (62, True)])
def test_a_heart_is_locked_for_a_minute_at_least(seconds: int, *, found: bool) -> None:
    """Of which the mean loses a second at each end."""
    assert bool(locked(seconds)) == found


@pytest.mark.parametrize(("gap", "begin"), [(18, 297), (19, 366)])
def test_a_heart_that_leaves_the_steps_for_longer_begins_to_be_locked_anew(gap: int, begin: int) -> None:
    """The mean is low for two seconds more than the gap, and twenty are bridged; fifty before it are too few."""
    assert locked(200, gap=gap) == [(begin, 503)]


@pytest.mark.parametrize(("spm", "found"), [(100.0, False), (101.0, True)])
def test_a_hundred_steps_are_no_runners(spm: float, *, found: bool) -> None:
    assert bool(locked(100, spm=spm)) == found


@pytest.mark.parametrize(("near", "found"), [(0.4, False), (0.6, True)])
def test_a_heart_is_at_the_steps_where_six_tenths_of_it_are(near: float, *, found: bool) -> None:
    assert bool(locked(150, near=near)) == found


@pytest.mark.parametrize(("alike", "masked"), [(0.74, False), (0.75, False), (0.76, True)])
def test_a_heart_that_repeats_the_ups_and_downs_of_the_steps_is_theirs(
    monkeypatch: pytest.MonkeyPatch, alike: float, *, masked: bool
) -> None:
    monkeypatch.setattr(hearts, "_likeness", lambda *_: alike)
    monkeypatch.setattr(hearts, "_unexplained", lambda *_: False)
    assert bool(locked(100)) == masked
