"""Where fast stretches begin and end, what laps say of them, and from which speed on running is fast."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules.facts import Threshold, held_for
from rules.session.track import Track
from rules.speed_work import bouts as cutting
from rules.speed_work import bouts as easy
from rules.speed_work.bouts import Levels, Scale
from tests.rules.speed_work.scene import EASY, LIMITS, NAN, ROWS, THRESHOLD, of, repeats, several, stub, track

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


def cut(*parts: tuple[int, float], unknown: str = "run") -> list[tuple[int, int]]:
    """Spans over 3.5 m/s of so many seconds at each speed; in what is NaN it was run, or it stood."""
    speed = np.concatenate([np.full(900, EASY), *(np.full(seconds, mps) for seconds, mps in parts)])
    speed = np.concatenate((speed, np.full(ROWS - len(speed), EASY)))
    whole = track(np.where(np.isnan(speed), 0.0, speed), np.full(ROWS, 165.0))
    hard = np.concatenate((speed, np.full(whole.size - ROWS, NAN)))
    if unknown == "stood":
        whole = replace(whole, gait=replace(whole.gait, running=whole.gait.running & np.isfinite(hard)))
    return [(b.start - 900, b.end - 900) for b in cutting._cut(whole, hard, 3.5, EASY, LIMITS, sustained=False)]


def test_running_at_an_unknown_speed_ends_no_bout_and_makes_none_longer() -> None:
    """The mean of seven seconds is known for one second more where three of them are."""
    assert cut((60, 4.2), (40, NAN), (60, 4.2)) == [(0, 160)]
    assert cut((60, 4.2), (40, NAN)) == [(0, 61)]


@pytest.mark.parametrize(("seconds", "count"), [(9, 1), (10, 1), (11, 2)])
def test_a_stand_of_more_than_eight_seconds_ends_a_bout(seconds: int, count: int) -> None:
    """Of which the mean of seven seconds knows the first and the last."""
    assert len(cut((60, 4.2), (seconds, NAN), (60, 4.2), unknown="stood")) == count


@pytest.mark.parametrize(("seconds", "found"), [(6, 0), (7, 1)])
def test_the_fastest_second_counts_as_one(seconds: int, found: int) -> None:
    assert len(cut((100, NAN), (seconds, 9.0), (100, NAN), unknown="stood")) == found


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
        ([(100, 201)], [(100, 160), (200, 260), (300, 360)], True),  # two laps of three hold some of it
        ([(100, 160)], [(100, 160), (200, 260), (300, 360)], False),
        ([], [], False),
    ],
)
def test_laps_are_the_stretches_where_they_hold_most_of_them(
    found: list[tuple[int, int]], repeated: list[tuple[int, int]], *, same: bool
) -> None:
    assert cutting._same([of(b - a, start=a) for a, b in found], repeated) == same


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
    for own in (3.9, 4.0):
        assert levels_at(monkeypatch, own, KNOWN, refuted=True).threshold == KNOWN


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
