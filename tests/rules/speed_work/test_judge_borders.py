"""When fast stretches are believed, each step just below, at and just above its limit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from rules.findings import Quality, Says, Severity, Signal
from rules.speed_work import judge
from rules.speed_work.bouts import Bout, Scale
from rules.speed_work.judge import Work
from rules.words import said
from tests.rules.speed_work.scene import (
    BOUTS,
    EASY,
    LIMITS,
    ROWS,
    STRIDES,
    THRESHOLD,
    breach,
    levels_of,
    of,
    says,
    several,
    stub,
    track,
)

# One stretch.


def one(
    seconds: int = 200, effort: float = 3.6, *, running: int = 3600, severity: Severity | None = Severity.STOP,
    heard: tuple[Signal, ...] = (says(),), own_easy: float | None = EASY, threshold: float | None = THRESHOLD,
) -> Severity | None:  # fmt: skip
    fast = levels_of(threshold, own_easy)
    return judge._of_one(stub(running), of(seconds, effort), fast, severity, [says(name="speed"), *heard], LIMITS)


@pytest.mark.parametrize(("seconds", "told"), [(599, None), (600, Severity.STOP)])
def test_ten_minutes_are_no_surge_however_little_they_stand_out(seconds: int, told: Severity | None) -> None:
    assert one(seconds, 1.1 * EASY) == told


@pytest.mark.parametrize(("seconds", "told"), [(279, None), (280, Severity.STOP)])
def test_seven_tenths_of_a_short_run_are_none_either(seconds: int, told: Severity | None) -> None:
    assert one(seconds, 1.1 * EASY, running=400) == told


@pytest.mark.parametrize(("effort", "told"), [(BOUTS - 0.01, None), (BOUTS + 0.01, Severity.STOP)])
def test_a_sustained_effort_stands_out_as_bouts_do(effort: float, told: Severity | None) -> None:
    assert one(400, effort) == told


@pytest.mark.parametrize(("seconds", "told"), [(299, Severity.CAUTION), (300, Severity.STOP)])
def test_less_than_five_minutes_that_stand_out_less_than_strides_are_a_question(seconds: int, told: Severity) -> None:
    assert one(seconds, STRIDES - 0.01) == told


@pytest.mark.parametrize(
    ("effort", "own_easy", "threshold", "told"),
    [
        (STRIDES - 0.01, EASY, THRESHOLD, Severity.CAUTION),
        (STRIDES + 0.01, EASY, THRESHOLD, Severity.STOP),
        (1.1 * 3.0 - 0.01, EASY, 3.0, Severity.CAUTION),
        (1.1 * 3.0 + 0.01, EASY, 3.0, Severity.STOP),
    ],
)
def test_a_surge_far_out_of_easy_running_or_far_over_threshold_is_believed(
    effort: float, own_easy: float, threshold: float, told: Severity
) -> None:
    assert one(200, effort, own_easy=own_easy, threshold=threshold) == told


@pytest.mark.parametrize(
    ("heard", "own_easy", "told"),
    [
        ((says(),), EASY, Severity.STOP),
        ((says("weak"),), EASY, Severity.STOP),
        ((says("none"),), EASY, None),
        ((says(what="nothing"),), EASY, None),
        ((says(), says(what="against", name="cadence")), EASY, Severity.CAUTION),
        ((), EASY, None),
        ((), None, Severity.CAUTION),
    ],
)
def test_a_surge_that_nothing_else_tells_of_is_none(
    heard: tuple[Signal, ...], own_easy: float | None, told: Severity | None
) -> None:
    assert one(200, STRIDES + 0.1, heard=heard, own_easy=own_easy) == told


@pytest.mark.parametrize(
    ("speed", "heart", "told"),
    [("weak", "weak", Severity.CAUTION), ("good", "weak", Severity.STOP), ("weak", "good", Severity.STOP)],
)
def test_a_surge_of_which_no_sign_is_good_is_a_question(speed: Quality, heart: Quality, told: Severity) -> None:
    heard = [says(speed, name="speed"), says(heart)]
    assert judge._of_one(stub(), of(200, STRIDES + 0.1), levels_of(), Severity.STOP, heard, LIMITS) == told


def test_what_is_not_grave_stays_so() -> None:
    assert one(400, severity=None) is None
    assert one(200, severity=None) is None
    assert one(200, STRIDES + 0.1, severity=Severity.CAUTION) == Severity.CAUTION


# Is it more than the ground makes it?


@pytest.mark.parametrize(
    ("slope", "effort", "hard"), [(0.039, 4.0, False), (0.04, 4.0, True), (0.1, 6.0, True), (0.1, 6.01, False)]
)
def test_a_climb_is_steep_and_worth_no_more_than_half_over_threshold(
    slope: float, effort: float, *, hard: bool
) -> None:
    assert judge._run_hard(stub(), of(120, effort, slope), levels_of(), "climbs", LIMITS) == hard


@pytest.mark.parametrize(
    ("scale", "seconds", "hard"), [("sustained", 149, False), ("sustained", 150, True), ("bouts", 31, True)]
)
def test_half_of_five_minutes_is_the_least_that_is_sustained(scale: Scale, seconds: int, *, hard: bool) -> None:
    assert judge._run_hard(stub(effort=EASY), of(seconds), levels_of(), scale, LIMITS) == hard


@pytest.mark.parametrize(("seconds", "effort", "hard"), [(30, 3.9, False), (30, 4.0, True), (31, 3.9, True)])
def test_up_to_half_a_minute_a_bout_is_run_as_strides_are(seconds: int, effort: float, *, hard: bool) -> None:
    assert judge._run_hard(stub(effort=effort), of(seconds), levels_of(), "bouts", LIMITS) == hard


@pytest.mark.parametrize(
    ("effort", "threshold", "own_easy", "like"),
    [
        (STRIDES - 0.01, 3.0, EASY, False),
        (STRIDES + 0.01, 3.0, EASY, True),
        (STRIDES - 0.01, 3.0, None, True),
        (3.99, THRESHOLD, EASY, False),
        (4.0, THRESHOLD, EASY, True),
        (STRIDES + 0.01, None, EASY, True),
        (STRIDES - 0.01, None, EASY, False),
    ],
)
def test_strides_are_three_tenths_out_of_easy_running_and_no_slower_than_threshold(
    effort: float, threshold: float | None, own_easy: float | None, *, like: bool
) -> None:
    fast = levels_of(threshold, own_easy)
    assert judge._like_a_stride(stub(effort=effort), of(20), fast, LIMITS) == like


@pytest.mark.parametrize(
    ("slope", "speed", "threshold", "hard"),
    [
        (-0.03, 3.5, THRESHOLD, True),
        (-0.031, 4.39, THRESHOLD, False),
        (-0.031, 4.41, THRESHOLD, True),
        (-0.031, 4.29, None, False),
        (-0.031, 4.3, None, True),
    ],
)
def test_down_a_hill_only_what_is_far_over_threshold_is_hard(
    slope: float, speed: float, threshold: float | None, *, hard: bool
) -> None:
    assert judge._run_hard(stub(), of(120, speed, slope), levels_of(threshold), "bouts", LIMITS) == hard


# A set of stretches.


@pytest.mark.parametrize(
    ("lengths", "apart", "rested"),
    [((60, 60), 300, False), ((60, 60, 60), 89, False), ((60, 60, 60), 90, True), ((60, 60, 60), 91, True)],
)
def test_three_stretches_with_as_much_rest_as_running_are_rested(
    lengths: tuple[int, ...], apart: int, *, rested: bool
) -> None:
    assert judge._rested(stub(), several(*lengths, apart=apart), LIMITS) == rested


@pytest.mark.parametrize(("lengths", "only"), [((30,) * 8, True), ((30,) * 9, False), ((30, 31), False), ((20,), True)])
def test_eight_times_half_a_minute_are_only_strides(lengths: tuple[int, ...], *, only: bool) -> None:
    assert judge._only_strides(several(*lengths), LIMITS) == only


def kept(monkeypatch: pytest.MonkeyPatch, found: list[Bout], scale: Scale = "bouts", **more: Any) -> int:
    monkeypatch.setattr(judge, "bouts_above", lambda *_, **__: found)
    return len(judge.fast_stretches(stub(effort=4.2), np.full(3600, 4.2), levels_of(**more), scale, LIMITS))


@pytest.mark.parametrize(
    ("lengths", "count"),
    [((40, 40, 40), 3), ((89,), 0), ((90,), 1), ((59, 60), 0), ((60, 60), 2), ((40, 40), 0)],
)
def test_three_stretches_one_of_a_minute_and_a_half_or_two_minutes_in_all_are_enough(
    monkeypatch: pytest.MonkeyPatch, lengths: tuple[int, ...], count: int
) -> None:
    assert kept(monkeypatch, several(*lengths)) == count


@pytest.mark.parametrize(("slope", "scale", "count"), [(0.05, "climbs", 0), (0.0, "bouts", 2)])
def test_one_or_two_climbs_are_the_ground(
    monkeypatch: pytest.MonkeyPatch, slope: float, scale: Scale, count: int
) -> None:
    assert kept(monkeypatch, [of(200, slope=slope), of(200, slope=slope, start=1300)], scale) == count


@pytest.mark.parametrize(("effort", "count"), [(4.39, 0), (4.41, 1)])
def test_without_easy_running_or_rests_it_is_far_over_threshold(
    monkeypatch: pytest.MonkeyPatch, effort: float, count: int
) -> None:
    assert kept(monkeypatch, [of(299, effort)], own_easy=None) == count
    assert kept(monkeypatch, [of(300, effort)], own_easy=None) == 1
    assert kept(monkeypatch, several(90, 90, 90, apart=150, effort=effort), own_easy=None) == 3


@pytest.mark.parametrize(("effort", "count"), [(3.49, 0), (3.5, 1)])
def test_without_easy_running_it_is_as_fast_as_what_is_fast(
    monkeypatch: pytest.MonkeyPatch, effort: float, count: int
) -> None:
    assert kept(monkeypatch, [of(400, effort)], own_easy=None) == count


@pytest.mark.parametrize(("noise", "count"), [(0.37, 1), (0.38, 0)])
def test_it_stands_out_by_four_times_the_error_of_its_mean(
    monkeypatch: pytest.MonkeyPatch, noise: float, count: int
) -> None:
    """1.5 m/s in 12 s, over which the error is that of the recording."""
    assert levels_of(noise=noise).stands_out(of(12)) == bool(count)


@pytest.mark.parametrize(("seconds", "error"), [(0, 0.2), (6, 0.2), (12, 0.2), (48, 0.1), (1200, 0.02)])
def test_the_error_of_a_mean_falls_with_the_root_of_its_length(seconds: int, error: float) -> None:
    assert levels_of(noise=0.2).error(seconds) == pytest.approx(error)


def test_plain_is_what_no_steady_running_stands_out_by() -> None:
    assert not levels_of().plain(1.2 * EASY - 0.01)
    assert levels_of().plain(1.2 * EASY + 0.01)
    assert levels_of(own_easy=None).plain(1.0)


def worked(
    monkeypatch: pytest.MonkeyPatch, *, effort: float = 3.3, count: int = 3, threshold: float | None = THRESHOLD,
    heard: tuple[Signal, ...] = (says("good", name="speed"), says()), laps_say: Says = "nothing",
    policy: judge.Policy = "none", seconds: int = 60, own_easy: float | None = EASY,
) -> Severity | None:  # fmt: skip
    """What so many stretches come to; easy is 2.7, so plain from 3.24 on."""
    found = several(*[seconds] * count, effort=effort)
    monkeypatch.setattr(judge, "levels", lambda *_: levels_of(threshold, own_easy))
    monkeypatch.setattr(judge, "fast_stretches", lambda *_: found)
    monkeypatch.setattr(judge, "by_laps", lambda *_: (found, Signal("laps", "weak", laps_say, "")))
    monkeypatch.setattr(judge, "signals", lambda *_: list(heard))
    work = judge._work(stub(), np.full(3600, effort), policy, None, "bouts", LIMITS)
    return None if work is None else work.severity


WEAK = (says("weak", name="speed"), says(what="nothing"))


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({}, Severity.STOP),
        ({"heard": (says("none", name="speed"), says())}, None),
        ({"threshold": None}, Severity.STOP),
        ({"threshold": None, "effort": 3.2}, Severity.CAUTION),
        ({"threshold": None, "effort": 3.2, "heard": WEAK}, None),
        ({"threshold": None, "effort": 3.3, "heard": WEAK}, Severity.CAUTION),
        ({"effort": 3.2}, Severity.STOP),
        ({"effort": 3.2, "count": 2}, Severity.CAUTION),
        ({"effort": 3.3, "count": 2}, Severity.STOP),
        ({"effort": 3.2, "count": 2, "threshold": 3.1}, Severity.STOP),
        ({"effort": 3.2, "threshold": None, "laps_say": "for"}, Severity.STOP),
        ({"effort": 3.2, "threshold": None, "laps_say": "for", "count": 2}, Severity.CAUTION),
        ({"policy": "strides", "seconds": 30}, None),
        ({"policy": "strides", "seconds": 31}, Severity.STOP),
        ({"policy": "none", "seconds": 30}, Severity.STOP),
        ({"count": 0}, None),
        ({"effort": 3.0, "count": 1, "seconds": 400}, None),
    ],
)
def test_what_is_slower_than_threshold_and_no_plain_repeats_is_a_question(
    monkeypatch: pytest.MonkeyPatch, changed: dict[str, Any], told: Severity | None
) -> None:
    assert worked(monkeypatch, **changed) == told


@pytest.mark.parametrize(("seconds", "half"), [(44, True), (45, False), (46, False)])
def test_forty_five_records_tell_a_speed(seconds: int, *, half: bool) -> None:
    whole = track(np.full(ROWS, EASY), np.full(ROWS, 165.0))
    assert judge._half_seen(whole, [of(seconds)], LIMITS) == half
    assert judge._half_seen(whole, [of(20), of(seconds - 20, start=1200)], LIMITS) == half


def test_the_gain_is_the_metres_won_over_easy_running() -> None:
    work = Work(np.zeros(1), several(60, 40, effort=3.7), levels_of(), Severity.STOP, [])
    assert work.gain == pytest.approx(100)
    assert work.effort_mps == pytest.approx(3.7)


@pytest.mark.parametrize(
    ("heard", "agreed"),
    [
        ((says(),), True),
        ((says("weak"),), False),
        ((says("weak", name="laps"),), True),
        ((says("good", "against"),), False),
        ((), False),
    ],
)
def test_a_good_signal_beside_the_speed_or_a_lap_agrees(heard: tuple[Signal, ...], *, agreed: bool) -> None:
    work = Work(np.zeros(1), several(60), levels_of(), Severity.STOP, [says(name="speed"), *heard])
    assert judge._agreed(work) == agreed


def test_it_is_held_against_threshold_where_it_is_faster_and_else_against_easy_running() -> None:
    assert judge._reference(levels_of(), 4.0) == (4.0, "own_threshold")
    assert judge._reference(levels_of(), 3.99) == (2.7, "own_easy")
    assert judge._reference(levels_of(own_easy=None), 3.99) == (3.5, "easy_of_most")
    assert judge._reference(levels_of(None), 5.0) == (2.7, "own_easy")


@pytest.mark.parametrize(("effort", "uphill"), [(3.3, False), (3.31, True)])
def test_a_tenth_more_on_the_level_is_told_as_uphill(effort: float, *, uphill: bool) -> None:
    assert (" uphill, worth" in said(breach(of(300, effort, speed=3.0)).summary)) == uphill


def test_the_breach_says_how_many_how_long_and_how_much_faster() -> None:
    told = breach(*several(60, 60, 120, effort=4.4))
    assert said(told.summary).startswith("fast running: 4 min at ")
    assert said(told.summary).endswith(", 10 % faster than your threshold pace")
    assert (told.observed, told.limit) == (4.4, 4.0)
    assert told.evidence["fast_s"] == 240
    assert told.evidence["over_reference"] == 0.1
    assert told.evidence["bout_seconds"] == [60, 60, 120]
    assert said(breach(*several(60, 60, 60)).summary).startswith("repeats: 3 x 1 min at ")
    asked = breach(*several(60, 60, 60), severity=Severity.CAUTION)
    assert said(asked.summary).startswith("Looks like fast running: 3 min at ")
    assert said(asked.summary).endswith("; was it?")


# The gravest of bouts, sustained efforts and climbs.


def best_of(monkeypatch: pytest.MonkeyPatch, **works: tuple[float, Severity] | None) -> str | None:
    """Which scale is told, of stretches of three minutes at so many m/s; easy is 2.7."""

    def made(_track: Any, hard: Any, _policy: Any, _threshold: Any, scale: Scale, *_: Any) -> Work | None:
        told = works.get(scale)
        if told is None:
            return None
        start = {"bouts": 1000, "sustained": 2000, "climbs": 3000}[scale]
        return Work(hard, [of(180, told[0], start=start)], levels_of(), told[1], [])

    monkeypatch.setattr(judge, "_work", made)
    found = judge._best(track(np.full(ROWS, 3.0), np.full(ROWS, 165.0)), "none", None, LIMITS, ())
    return None if found is None else {1000: "bouts", 2000: "sustained", 3000: "climbs"}[found.found[0].start]


STOP, ASKED = Severity.STOP, Severity.CAUTION


@pytest.mark.parametrize(
    ("works", "told"),
    [
        ({}, None),
        ({"bouts": (4.0, ASKED)}, "bouts"),
        ({"climbs": (4.0, ASKED)}, "climbs"),
        ({"bouts": (4.0, STOP), "climbs": (4.5, STOP)}, "bouts"),  # climbs only where they are graver
        ({"bouts": (4.0, ASKED), "climbs": (4.0, STOP)}, "climbs"),
        ({"bouts": (4.0, ASKED), "sustained": (3.9, STOP)}, "sustained"),
        ({"bouts": (4.0, STOP), "sustained": (4.1, STOP)}, "sustained"),  # more metres won
        ({"bouts": (4.1, STOP), "sustained": (4.0, STOP)}, "bouts"),
        ({"bouts": (4.0, ASKED), "sustained": (3.83, STOP)}, "bouts"),  # slower by more than four in a hundred
        ({"bouts": (4.0, ASKED), "sustained": (3.85, STOP)}, "sustained"),
    ],
)
def test_the_gravest_is_told_and_of_two_alike_the_one_that_won_more(
    monkeypatch: pytest.MonkeyPatch, works: dict[str, tuple[float, Severity]], told: str | None
) -> None:
    assert best_of(monkeypatch, **works) == told
