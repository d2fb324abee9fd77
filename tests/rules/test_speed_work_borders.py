"""Each step by which fast running is told, just below, at and just above its limit, through its own function."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules.facts import Threshold, held_for
from rules.findings import Quality, Says, Severity, Signal
from rules.limits import default_limits
from rules.session.heart import HeartAnswer
from rules.session.track import Track
from rules.speed_work import bouts as cutting
from rules.speed_work import bouts as easy
from rules.speed_work import judge
from rules.speed_work import signals as hearing
from rules.speed_work.bouts import Bout, Levels, Scale
from rules.speed_work.judge import Work
from tests.rules.test_speed_signals import ROWS, called, repeats, stretches_of, track

LIMITS = default_limits()
NAN = float("nan")
EASY, THRESHOLD = 2.7, 4.0
STRIDES, BOUTS = 1.3 * EASY, 1.15 * EASY


def levels_of(
    threshold: float | None = THRESHOLD, own_easy: float | None = EASY, noise: float = 0.05, fast: float = 3.5,
    alike_s: float = 12.0,
) -> Levels:  # fmt: skip
    known = None if threshold is None else Threshold(threshold, "roster", "high")
    return Levels(known, own_easy, EASY, fast, noise, 4.0, 1.2, alike_s)


def of(seconds: int, effort: float = 4.2, slope: float = 0.0, start: int = 900, speed: float | None = None) -> Bout:
    return Bout(start, start + seconds, effort if speed is None else speed, effort, slope)


def several(*seconds: int, apart: int = 120, effort: float = 4.2) -> list[Bout]:
    found, at = [], 900
    for each in seconds:
        found.append(of(each, effort, start=at))
        at += each + apart
    return found


def stub(running: int = 3600, *, real: int | None = None, effort: float = NAN, source: str = "device") -> Any:
    """What these functions ask of a track: so many seconds of running at an effort."""
    rows = running if real is None else real
    return cast(
        "Any",
        SimpleNamespace(
            size=rows,
            gait=SimpleNamespace(running=np.arange(rows) < running),
            clock=SimpleNamespace(real=np.ones(rows, np.bool_), rows_s=np.arange(float(rows))),
            effort_mps=np.full(rows, effort),
            pace=SimpleNamespace(source=source, noise_mps=0.05, masked=np.zeros(rows, np.bool_)),
            ground=SimpleNamespace(noise_m=0.1),
        ),
    )


def says(quality: Quality = "good", what: Says = "for", name: str = "heart rate") -> Signal:
    return Signal(name, quality, what, "")


# What a coach would call it.


@pytest.mark.parametrize(("seconds", "name"), [(34, "strides"), (35, "strides"), (36, "repeats")])
def test_up_to_thirty_five_seconds_are_strides(seconds: int, name: str) -> None:
    assert called(seconds, seconds, seconds) == name


@pytest.mark.parametrize(("longest", "name"), [(35, "strides"), (36, "fast running")])
def test_uneven_strides_stay_strides_up_to_their_length(longest: int, name: str) -> None:
    assert called(14, longest, 14) == name


@pytest.mark.parametrize(("seconds", "name"), [(2519, "sustained fast running"), (2520, "a time trial")])
def test_seven_tenths_of_the_running_are_a_time_trial(seconds: int, name: str) -> None:
    assert called(seconds, first=300) == name


@pytest.mark.parametrize(("seconds", "name"), [(299, "fast running"), (300, "sustained fast running")])
def test_five_minutes_are_sustained(seconds: int, name: str) -> None:
    assert called(seconds, first=900) == name


@pytest.mark.parametrize(("end", "name"), [(3418, "fast running"), (3419, "a fast finish"), (3500, "a fast finish")])
def test_what_ends_in_the_last_three_minutes_is_a_finish(end: int, name: str) -> None:
    """The last second of running is 3599."""
    assert called(100, first=end - 100) == name


@pytest.mark.parametrize(("slope", "name"), [(0.0399, "fast running"), (0.0401, "a hard climb")])
def test_four_in_a_hundred_are_a_climb(slope: float, name: str) -> None:
    assert called(100, slope=slope) == name
    assert called(90, 90, slope=slope) == ("hill repeats" if name == "a hard climb" else "repeats")


@pytest.mark.parametrize(("growing", "name"), [(1.019, False), (1.021, True)])
def test_each_quarter_of_a_progression_is_two_in_a_hundred_faster(growing: float, *, name: bool) -> None:
    speed = np.repeat(3.0 * growing ** np.arange(4), ROWS // 4)
    found = track(speed, np.full(ROWS, 165.0))
    end = [cutting.bout(found, found.effort_mps, 2700, 2800)]
    assert (judge.kind_of(found, found.effort_mps, end, LIMITS) == "a progression") == name


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
    assert judge._reference(levels_of(), 4.0) == (4.0, "your threshold pace")
    assert judge._reference(levels_of(), 3.99) == (2.7, "your easy running in this session")
    assert judge._reference(levels_of(own_easy=None), 3.99) == (3.5, "most people's easy running")
    assert judge._reference(levels_of(None), 5.0) == (2.7, "your easy running in this session")


def breach(*found: Bout, severity: Severity = Severity.STOP, **more: Any) -> Any:
    whole, hard, _ = stretches_of((300,))
    return judge._breach(whole, Work(hard, list(found), levels_of(**more), severity, [says()]), LIMITS)


@pytest.mark.parametrize(("effort", "uphill"), [(3.3, False), (3.31, True)])
def test_a_tenth_more_on_the_level_is_told_as_uphill(effort: float, *, uphill: bool) -> None:
    assert (" uphill, worth" in breach(of(300, effort, speed=3.0)).summary) == uphill


def test_the_breach_says_how_many_how_long_and_how_much_faster() -> None:
    told = breach(*several(60, 60, 120, effort=4.4))
    assert told.summary.startswith("fast running: 4 min at ")
    assert told.summary.endswith(", 10 % faster than your threshold pace")
    assert (told.observed, told.limit) == (4.4, 4.0)
    assert told.evidence["fast_s"] == 240
    assert told.evidence["over_reference"] == 0.1
    assert told.evidence["bout_seconds"] == [60, 60, 120]
    assert breach(*several(60, 60, 60)).summary.startswith("repeats: 3 x 1 min at ")
    asked = breach(*several(60, 60, 60), severity=Severity.CAUTION)
    assert asked.summary.startswith("Looks like fast running: 3 min at ")
    assert asked.summary.endswith("; was it?")


# Cutting out.


@pytest.mark.parametrize(("apart", "sets"), [(900, 3), (901, 2)])
def test_a_set_has_no_rest_of_more_than_a_quarter_of_an_hour(apart: int, sets: int) -> None:
    found = [of(60, start=0), of(60, start=60 + apart), of(60, start=180 + apart)]
    assert len(cutting.one_set(found, LIMITS)) == sets


@pytest.mark.parametrize(("speed", "count"), [(3.32, 3), (3.34, 4)])
def test_what_is_slower_than_the_set_by_fifteen_in_a_hundred_is_none_of_it(speed: float, count: int) -> None:
    """Of the mean of all: 3.93 m/s with a short one at 3.33, of which that is 0.85."""
    assert len(cutting.alike([*several(60, 60, 60, effort=4.0), of(25, speed, start=2000)], LIMITS)) == count


@pytest.mark.parametrize(("shared", "sharp"), [(240, True), (239, False)])
def test_an_effort_takes_the_edges_of_the_bout_that_holds_four_fifths_of_it(shared: int, *, sharp: bool) -> None:
    rough, fine = of(300, start=1000), of(300, start=1300 - shared)
    assert cutting.sharper([rough], [fine], LIMITS) == [fine if sharp else rough]


def test_the_mean_effort_weighs_seconds() -> None:
    assert cutting.mean_effort([of(100, 4.0), of(300, 3.0)]) == 3.25


@pytest.mark.parametrize(("seconds", "found"), [(11, 0), (12, 1), (13, 1)])
def test_a_bout_is_a_dozen_seconds_at_least(monkeypatch: pytest.MonkeyPatch, seconds: int, found: int) -> None:
    whole = stub(effort=4.2)
    monkeypatch.setattr(cutting, "_cut", lambda *_, **__: [of(seconds)])
    monkeypatch.setattr(cutting, "_whole", lambda _, __, b, ___: b)
    assert len(cutting.bouts_above(whole, np.full(3600, 4.2), 3.5, EASY, LIMITS)) == found


@pytest.mark.parametrize(("gap", "lengths"), [(0, [60]), (30, [60, 60])])
def test_bouts_have_the_seconds_that_were_run(gap: int, lengths: list[int]) -> None:
    """From easy running at 2.7 to 4.2 and back at once: the ends lie where the speed does."""
    flags, spans = repeats(*([60] * len(lengths)), apart=gap)
    whole = track(np.where(flags, 4.2, 2.7), np.full(ROWS, 165.0))
    for sustained in (False, True):
        found = cutting.bouts_above(whole, whole.effort_mps, 3.5, EASY, LIMITS, sustained=sustained)
        if not sustained:
            assert [(b.start, b.end) for b in found] == spans
            for b in found:
                assert (b.speed_mps, b.effort_mps, b.spm) == pytest.approx((4.2, 4.2, 165.0))


# Laps.


def rows_of(*marks: float) -> list[int]:
    return cutting._rows(stub(), marks, LIMITS)


def test_a_lap_pressed_again_within_five_seconds_is_one() -> None:
    assert rows_of(100, 104, 200) == [100, 200]
    assert rows_of(200, 105, 100) == [100, 105, 200]


@pytest.mark.parametrize(("away", "near"), [(15, 115), (-15, 85), (16, None), (-16, None)])
def test_a_lap_is_near_within_a_quarter_of_a_minute(away: int, near: int | None) -> None:
    assert cutting._nearest(100, [0, 100 + away, 500], LIMITS) == near


def test_the_nearest_lap_is_taken() -> None:
    assert cutting._nearest(100, [90, 107, 114], LIMITS) == 107


def lapped(speed: float = 3.2, count: int = 3, seconds: int = 60, other: float = 2.7) -> int:
    """So many laps at a speed between easy ones, the last of them perhaps at another."""
    flags, spans = repeats(*[seconds] * count)
    whole = track(np.where(flags, speed, 2.7), np.full(ROWS, 165.0))
    marks = [at for span in spans for at in span]
    if other != 2.7:
        whole.pace.speed_mps[spans[-1][0] : spans[-1][1]] = other
    return len(cutting._repeats(whole, marks, LIMITS))


@pytest.mark.parametrize(
    ("changed", "count"),
    [
        ({"speed": 1.15 * 2.7 - 0.01}, 0),
        ({"speed": 1.15 * 2.7 + 0.01}, 3),
        ({"count": 2}, 0),
        ({"count": 4}, 4),
        ({"seconds": 11}, 0),
        ({"seconds": 12}, 3),
        ({"count": 4, "speed": 4.0, "other": 3.39}, 3),
        ({"count": 4, "speed": 4.0, "other": 3.41}, 4),
    ],
)
def test_repeats_are_three_laps_faster_than_those_beside_them(changed: dict[str, Any], count: int) -> None:
    assert lapped(**changed) == count


@pytest.mark.parametrize(
    ("found", "repeated", "same"),
    [
        ([(100, 160), (200, 260)], [(100, 160), (200, 260)], True),
        ([(100, 160), (200, 260)], [(130, 190)], False),
        ([(100, 160), (200, 260)], [(100, 160)], False),
        ([(100, 160), (200, 260)], [(99, 161), (259, 300)], True),
        ([(100, 160)], [(100, 160), (200, 260)], True),
        ([(100, 160)], [(100, 160), (200, 260), (300, 360)], False),
        ([], [], False),
    ],
)
def test_laps_are_the_stretches_where_they_hold_most_of_them(
    found: list[tuple[int, int]], repeated: list[tuple[int, int]], *, same: bool
) -> None:
    assert cutting._same([of(b - a, start=a) for a, b in found], repeated) == same


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


# From which speed on it is fast.


def levels_at(
    monkeypatch: pytest.MonkeyPatch,
    own: float | None,
    threshold: Threshold | None,
    scale: Scale = "bouts",
    *,
    refuted: bool = False,
) -> Levels:
    monkeypatch.setattr(easy, "easy_speed", lambda *_: own)
    monkeypatch.setattr(easy, "_refuted", lambda *_: refuted)
    return easy.levels(stub(), np.full(3600, 3.0), threshold, scale, LIMITS)


KNOWN = Threshold(THRESHOLD, "roster", "high")
UNSURE = Threshold(3.6, "history", "low")


@pytest.mark.parametrize(
    ("own", "threshold", "scale", "fast"),
    [
        (2.7, KNOWN, "bouts", 3.6),
        (2.7, KNOWN, "sustained", 3.88),
        (2.7, KNOWN, "climbs", 4.0),
        (3.5, KNOWN, "bouts", 1.15 * 3.5),
        (3.6, KNOWN, "sustained", 1.1 * 3.6),
        (3.6, KNOWN, "climbs", 1.25 * 3.6),
        (2.7, None, "bouts", 1.2 * 2.7),
        (2.7, UNSURE, "bouts", 3.6),
        (3.2, UNSURE, "bouts", 1.2 * 3.2),
        (None, KNOWN, "bouts", 4.0),
        (None, None, "bouts", 4.3),
        (4.0, KNOWN, "bouts", 1.15 * 4.0),
        (4.01, KNOWN, "bouts", 4.0),
        (4.3, None, "bouts", 1.2 * 4.3),
        (4.31, None, "bouts", 4.3),
    ],
)
def test_fast_is_out_of_easy_running_by_a_share_and_near_threshold(
    monkeypatch: pytest.MonkeyPatch, own: float | None, threshold: Threshold | None, scale: Scale, fast: float
) -> None:
    found = levels_at(monkeypatch, own, threshold, scale)
    assert found.fast == pytest.approx(fast)
    most = 4.3 if threshold is None or threshold is UNSURE else THRESHOLD
    compared = own is not None and own <= most
    assert found.own_easy == (own if compared else None)
    assert found.easy == pytest.approx(own if compared else most / 1.2)


def test_a_threshold_that_is_refuted_is_as_none(monkeypatch: pytest.MonkeyPatch) -> None:
    found = levels_at(monkeypatch, 4.1, KNOWN, refuted=True)
    assert found.threshold is None
    assert found.fast == pytest.approx(1.2 * 4.1)
    assert levels_at(monkeypatch, 3.9, KNOWN, refuted=True).threshold == KNOWN


@pytest.mark.parametrize(("over", "refuted"), [(1.045, False), (1.055, True)])
def test_a_quarter_of_an_hour_faster_than_a_threshold_allows_anyone_refutes_it(over: float, *, refuted: bool) -> None:
    hard = np.full(1200, over * held_for(THRESHOLD, 900))
    assert easy._refuted(stub(1200), hard, KNOWN, LIMITS) == refuted
    assert not easy._refuted(stub(899), hard[:899], KNOWN, LIMITS)


def easy_of(
    parts: list[tuple[int, float, float]], *, slope: float = 0.0, hearts: bool = True, known: float = 1.0
) -> float | None:
    """The easy running of pieces of (seconds, m/s, bpm)."""
    speed = np.concatenate([np.full(seconds, mps) for seconds, mps, _ in parts])
    bpm = np.concatenate([np.full(seconds, beats) for seconds, _, beats in parts])
    size = len(speed)
    bpm[round(known * size) :] = NAN
    whole = cast(
        "Track",
        SimpleNamespace(
            size=size,
            gait=SimpleNamespace(running=speed > 2.0),
            ground=SimpleNamespace(slope=np.full(size, slope)),
            heart=SimpleNamespace(rows_bpm=bpm if hearts else np.full(size, NAN)),
        ),
    )
    return easy.easy_speed(whole, np.where(speed > 2.0, speed, NAN), LIMITS)


def test_easy_is_where_the_heart_was_lowest_and_not_where_the_speed_was() -> None:
    """A third uphill in the mind: slow with a high heart, then easy and faster with a low one."""
    parts = [(700, 2.5, 160.0), (600, 2.8, 130.0), (500, 3.6, 150.0)]
    assert easy_of(parts) == pytest.approx(2.8)
    assert easy_of(parts, hearts=False) == pytest.approx(2.5, abs=0.02)


@pytest.mark.parametrize(("known", "by_heart"), [(0.45, False), (0.56, True)])
def test_a_heart_known_for_half_of_the_running_tells_what_was_easy(known: float, *, by_heart: bool) -> None:
    parts = [(600, 2.8, 130.0), (700, 2.5, 160.0), (500, 3.6, 150.0)]
    assert easy_of(parts, known=known) == pytest.approx(2.8 if by_heart else 2.5, abs=0.02)


@pytest.mark.parametrize(("seconds", "told"), [(252, False), (253, True)])
def test_four_minutes_of_running_have_an_easy_part(seconds: int, *, told: bool) -> None:
    """Without the thirteen seconds that no mean of half a minute of settled running reaches."""
    assert (easy_of([(100, 1.0, 100.0), (seconds, 2.8, 130.0), (100, 1.0, 100.0)]) is not None) == told


@pytest.mark.parametrize(("slope", "told"), [(0.03, True), (-0.03, True), (0.031, False), (-0.031, False)])
def test_only_level_running_tells_what_was_easy(slope: float, *, told: bool) -> None:
    assert (easy_of([(600, 2.8, 130.0)], slope=slope) is not None) == told


def test_easy_is_never_faster_than_the_middle_of_all() -> None:
    assert easy_of([(500, 2.6, 160.0), (500, 2.6, 160.0), (500, 3.6, 120.0)]) == pytest.approx(2.6)


@pytest.mark.parametrize(("seconds", "told"), [(30, False), (31, True)])
def test_half_a_minute_afoot_has_no_settled_running(seconds: int, *, told: bool) -> None:
    """Ten seconds at the beginning and five at the end are left out."""
    running = np.zeros(100, np.bool_)
    running[20 : 20 + seconds] = True
    whole = cast(
        "Track",
        SimpleNamespace(size=100, gait=SimpleNamespace(running=running), ground=SimpleNamespace(slope=np.zeros(100))),
    )
    level = np.flatnonzero(easy._level_running(whole, LIMITS)).tolist()
    assert level == (list(range(30, 15 + seconds)) if told else [])
