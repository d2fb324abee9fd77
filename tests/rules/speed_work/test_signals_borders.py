"""What one signal says of fast stretches, at its borders, through its own function."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from rules.facts import held_for
from rules.findings import Says
from rules.session.heart import HeartAnswer
from rules.speed_work import bouts as cutting
from rules.speed_work import signals as hearing
from rules.speed_work.bouts import bout
from rules.speed_work.signals import steps_signal
from rules.words import rendered
from tests.rules.speed_work.scene import (
    BOUTS,
    EASY,
    LIMITS,
    NAN,
    ROWS,
    THRESHOLD,
    levels_of,
    of,
    repeats,
    says,
    several,
    stretches_of,
    stub,
    track,
)

# Signals.


@pytest.mark.parametrize(
    ("share", "error", "told"),
    [
        (1.0, 0.1, ("good", "for")),
        (0.3, 0.0, ("good", "for")),
        (0.29, 0.0, ("good", "against")),
        (0.6, 0.0, ("good", "for")),
        (1.0, 0.3, ("good", "for")),
        (1.0, 0.31, ("weak", "for")),
        (0.9, 0.3, ("good", "for")),
        (0.89, 0.3, ("weak", "for")),
        (1.1, 0.5, ("weak", "for")),
        (1.2, 0.51, ("weak", "nothing")),
        (0.4, 0.2, ("weak", "nothing")),
        (0.5, 0.2, ("weak", "for")),
        (0.1, 0.25, ("weak", "against")),
        (0.1, 0.26, ("weak", "nothing")),
        (0.09, 0.1, ("good", "against")),
        (1.8, 0.1, ("good", "for")),
        (1.81, 0.1, ("weak", "nothing")),
        (-0.5, 0.1, ("good", "against")),
    ],
)
def test_a_heart_answers_by_its_share_and_the_error_of_that(share: float, error: float, told: tuple[str, str]) -> None:
    found = hearing._of_answer(HeartAnswer(share, error, 20.0, 1.0), LIMITS)
    assert (found.quality, found.says) == told


@pytest.mark.parametrize(
    ("before", "after", "rest"), [(60, 0, False), (119, 0, False), (120, 0, True), (60, 60, True), (59, 59, False)]
)
def test_a_minute_of_rest_beside_what_came_first_is_something_to_compare_with(
    before: int, after: int, *, rest: bool
) -> None:
    """What was easy in the first minute is the warming up of the heart."""
    whole = stub(before + 900 + after)
    inside = np.zeros(before + 900 + after, np.bool_)
    inside[before : before + 900] = True
    assert hearing._has_rest(whole, inside, LIMITS) == rest


@pytest.mark.parametrize(("missing", "stood"), [(14, False), (16, True)])
def test_more_than_a_quarter_of_a_minute_unrecorded_beside_a_stretch_is_a_stopped_timer(
    missing: int, *, stood: bool
) -> None:
    """`rows_s` of 120 rows span 119 s."""
    whole = stub(600)
    whole.clock.rows_s[280:] += missing + 1
    assert hearing._timer_stood(whole, of(60, start=200), LIMITS) == stood
    assert not hearing._timer_stood(whole, of(60, start=100), LIMITS)


def stepped(
    rise: float, *, wide: float = 0.0, seconds: int = 60, spm: float = 165.0, beside: int | None = None
) -> tuple[str, str]:
    flags, spans = repeats(seconds, seconds, seconds, seconds, apart=300)
    wave = wide * (-1.0) ** np.arange(ROWS)
    found = track(np.where(flags, 4.2, 2.7), np.where(flags, spm + rise, spm) + wave)
    if beside is not None:
        found.spm[: spans[0][0] - 8 - beside] = NAN
        found.spm[spans[0][1] + 2 :] = NAN
    bouts = [cutting.bout(found, found.effort_mps, a, b) for a, b in spans]
    told = hearing.steps_signal(found, bouts if beside is None else bouts[:1], LIMITS)
    return told.quality, told.says


@pytest.mark.parametrize(
    ("rise", "wide", "told"),
    [
        (4.9, 0.0, ("weak", "nothing")),
        (5.0, 0.0, ("good", "for")),
        (8.0, 5.0, ("weak", "for")),
        (9.0, 5.0, ("good", "for")),
        (5.0, 5.0, ("weak", "for")),
        (6.0, 15.0, ("weak", "nothing")),
        (-9.0, 0.0, ("weak", "nothing")),
    ],
)
def test_steps_rise_by_five_and_by_thrice_their_error(rise: float, wide: float, told: tuple[str, str]) -> None:
    """Of 4 x 56 s in the stretches and some 650 beside them an SD of 5 is an error of 1.2; ten seconds count once."""
    assert stepped(rise, wide=wide) == told


@pytest.mark.parametrize(("spm", "known"), [(100.0, False), (101.0, True)])
def test_a_hundred_steps_a_minute_are_no_running(spm: float, *, known: bool) -> None:
    assert (stepped(12.0, spm=spm)[0] != "none") == known


@pytest.mark.parametrize(("seconds", "known"), [(13, False), (14, True)])
def test_ten_seconds_of_steps_without_the_ends_are_known(seconds: int, *, known: bool) -> None:
    """Two at each end are left out."""
    whole, _, found = stretches_of((seconds,))
    assert (hearing.steps_signal(whole, found, LIMITS).quality != "none") == known


@pytest.mark.parametrize(("beside", "known"), [(29, False), (30, True)])
def test_half_a_minute_of_steps_beside_the_stretch_is_known(beside: int, *, known: bool) -> None:
    assert (stepped(12.0, beside=beside)[0] != "none") == known


def spoken(
    effort: float = 4.2, *lengths: int, noise: float = 0.05, own_easy: float | None = EASY,
    threshold: float | None = THRESHOLD, source: str = "device", alike_s: float = 12.0,
) -> str:  # fmt: skip
    found = several(*(lengths or (60, 60, 60)), effort=effort)
    fast = levels_of(threshold, own_easy, noise, alike_s=alike_s)
    return hearing.speed_signal(stub(source=source), found, fast, LIMITS).quality


@pytest.mark.parametrize(
    ("quality", "effort", "changed"),
    [
        ("good", 4.2, {}),
        ("good", BOUTS + 0.01, {}),
        ("weak", BOUTS - 0.01, {}),
        ("none", BOUTS - 0.01, {"source": "position"}),
        ("none", BOUTS - 0.01, {"noise": 0.16, "alike_s": 1.0}),
        ("weak", 1.2 * EASY - 0.01, {"threshold": None}),
        ("good", 1.2 * EASY + 0.01, {"threshold": None}),
        ("good", 4.2, {"noise": 0.15}),
        ("good", 4.2, {"noise": 0.15, "source": "distance"}),
        ("weak", 3.5, {"noise": 0.15, "source": "position"}),
        ("good", 3.5, {"noise": 0.1, "source": "position"}),
        ("good", 3.52, {"noise": 0.16, "alike_s": 12.0}),  # far: 1.3, and eleven errors
        ("weak", 3.5, {"noise": 0.16, "alike_s": 12.0}),
        ("good", 4.2, {"noise": 0.33}),
        ("weak", 4.2, {"noise": 0.34}),  # 1.5 m/s are not ten errors of 0.152
    ],
)
def test_the_speed_is_as_good_as_it_stands_out_and_its_error_is_small(
    quality: str, effort: float, changed: dict[str, Any]
) -> None:
    assert spoken(effort, **changed) == quality


@pytest.mark.parametrize(
    ("seconds", "count", "noise", "quality"),
    [
        (89, 1, 0.22, "none"),  # 6.8 errors
        (89, 1, 0.21, "weak"),  # 7.1
        (90, 1, 0.22, "weak"),
        (89, 4, 0.22, "none"),  # 6.8 x 2
        (89, 5, 0.22, "weak"),  # the same five times over: 6.8 x 2.24
    ],
)
def test_less_than_a_minute_and_a_half_stands_out_by_seven_errors_or_many_times(
    seconds: int, count: int, noise: float, quality: str
) -> None:
    """In the same way for all of the time, so that a mean of it errs as much."""
    assert spoken(4.2, *[seconds] * count, noise=noise, alike_s=100.0) == quality


@pytest.mark.parametrize(
    ("effort", "lengths", "noise", "quality"),
    [
        (4.99, (60, 60), 0.2, "weak"),
        (5.0, (60, 60), 0.2, "good"),
        (4.39, (60, 60, 60), 0.05, "weak"),
        (4.41, (60, 60, 60), 0.05, "good"),
        (4.41, (60, 60, 60), 0.16, "weak"),
        (4.41, (60, 60), 0.05, "weak"),
    ],
)
def test_without_easy_running_only_what_nobody_jogs_is_sure(
    effort: float, lengths: tuple[int, ...], noise: float, quality: str
) -> None:
    assert spoken(effort, *lengths, noise=noise, own_easy=None) == quality


@pytest.mark.parametrize(
    ("seconds", "share", "sure"), [(299, 1.0, False), (300, 0.965, False), (300, 0.975, True), (1200, 0.975, True)]
)
def test_near_the_most_that_is_held_for_so_long_nobody_jogs(seconds: int, share: float, *, sure: bool) -> None:
    most = held_for(THRESHOLD, seconds)
    assert hearing._nobody_jogs(share * most, [seconds], levels_of(), LIMITS) == sure
    assert not hearing._nobody_jogs(share * most, [seconds], levels_of(None), LIMITS)


@pytest.mark.parametrize(
    ("noise_m", "speed", "heart", "threshold", "quality"),
    [
        (0.6, 2.7, "nothing", THRESHOLD, "weak"),
        (0.61, 2.7, "nothing", THRESHOLD, "none"),
        (0.6, 2.69, "nothing", THRESHOLD, "none"),
        (0.6, 2.0, "for", THRESHOLD, "weak"),
        (0.6, 2.7, "nothing", None, "none"),
        (0.6, 2.0, "for", None, "weak"),
    ],
)
def test_climbs_are_heard_where_a_heart_answers_or_they_are_run_as_fast_as_on_the_level(
    noise_m: float, speed: float, heart: Says, threshold: float | None, quality: str
) -> None:
    whole = stub()
    whole.ground.noise_m = noise_m
    found = [of(120, 4.0, 0.08, speed=speed)]
    told = hearing.altitude_signal(whole, found, levels_of(threshold), says(what=heart), LIMITS)
    assert (told.quality, told.says) == (quality, "for")


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


@pytest.mark.parametrize(("count", "stood"), [(1, False), (2, True), (3, True)])
def test_a_stopped_timer_beside_most_of_several_stretches_hides_the_heart(count: int, *, stood: bool) -> None:
    """Beside a single one there are minutes enough."""
    whole, _, bouts = stretches_of((60,) * count)
    for one in bouts:
        whole.clock.rows_s[one.end + 10 :] += 60
    said = hearing.heart_signal(whole, bouts, levels_of(), LIMITS)
    assert said.quality == "none"
    assert ("timer" in rendered(said.why)) == stood
