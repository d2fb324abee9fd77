"""Laps that were pressed make sure of stretches that are fast, and tell how many there were and how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from rules.facts import SampleContext, Threshold
from rules.findings import Breach, Severity
from rules.session.track import clean
from rules.session_rules import judge_samples, judge_track
from rules.words import said
from tests.rules.session import pieces
from tests.rules.speed_work.made_runs import EASY_MPS, LIMITS, REPEATS, THRESHOLD_MPS, Table, by_device, made, run

BEFORE_S, REST_S = 600, 120
RUN_WALK = run((BEFORE_S, 2.9), *[(58, 3.6), (REST_S, 1.6)] * 8, (600, 2.9))  # walked between
PRESSED = [BEFORE_S + each * (58 + REST_S) + after for each in range(8) for after in (0, 58)] + [2024]
PRESS_S = LIMITS.speed_work.press_s


def told(table: Table, marks_s: Sequence[float] = (), threshold: float | None = None) -> Breach | None:
    session = replace(made(table)[1], lap_marks_s=tuple(marks_s))
    known = None if threshold is None else Threshold(threshold, "roster", "high")
    context = SampleContext(None, "none", True, known)
    found = judge_samples(session, table, context, LIMITS)
    return next((one for one in found if one.rule == "no_speed_work"), None)


def watch(speed: np.ndarray) -> Table:
    """A watch without heart rate, whose speed errs a little."""
    rng = np.random.default_rng(4)
    return by_device(np.round(speed + rng.normal(0, 0.05, len(speed)), 3), hr_bpm=None)


def laps_of(breach: Breach) -> list[dict[str, str]]:
    return [one for one in breach.evidence["signals"] if one["signal"] == "laps"]


def test_repeats_that_are_a_question_by_their_speed_are_sure_where_they_were_pressed() -> None:
    asked, sure = told(watch(RUN_WALK)), told(watch(RUN_WALK), PRESSED)
    assert asked is None or asked.severity == Severity.CAUTION
    assert sure is not None
    assert sure.severity == Severity.STOP
    assert said(sure.summary).startswith("repeats: 8 x 58 s at 4:4")
    assert sure.evidence["bout_seconds"] == [58] * 8
    assert [(one["quality"], one["says"]) for one in laps_of(sure)] == [("weak", "for")]


def test_runs_between_walks_that_are_no_faster_than_easy_running_are_none_however_they_are_pressed() -> None:
    easy = run((BEFORE_S, EASY_MPS), *[(240, EASY_MPS), (60, 1.4)] * 6, (600, EASY_MPS))
    marks = [BEFORE_S + each * 300 + after for each in range(6) for after in (0, 240)]
    assert told(by_device(easy), marks) is None


def test_count_and_lengths_are_those_of_the_laps() -> None:
    marks = [900 + each * 210 + after for each in range(6) for after in (0, 90)]
    breach = told(by_device(REPEATS), marks, THRESHOLD_MPS)
    assert breach is not None
    assert breach.evidence["bout_seconds"] == [90] * 6
    assert breach.evidence["times"] == [[900.0 + each * 210, 990.0 + each * 210] for each in range(6)]


def test_the_way_home_after_the_last_rest_is_no_repeat() -> None:
    marks = [900 + each * 210 + after for each in range(6) for after in (0, 90)] + [900 + 6 * 210]
    breach = told(by_device(REPEATS), marks, THRESHOLD_MPS)
    assert breach is not None
    assert breach.evidence["bouts"] == 6


def test_a_lap_pressed_twice_counts_once() -> None:
    marks = [900 + each * 210 + after for each in range(6) for after in (0, 90, 92)]
    breach = told(by_device(REPEATS), marks, THRESHOLD_MPS)
    assert breach is not None
    assert breach.evidence["bouts"] == 6


@pytest.mark.parametrize(
    ("off_s", "heard"), [(PRESS_S - 2, True), (PRESS_S, True), (PRESS_S + 3, False)], ids=["below", "at", "above"]
)
def test_one_effort_takes_the_edges_of_laps_pressed_near_them(off_s: float, *, heard: bool) -> None:
    tempo = by_device(run((900, EASY_MPS), (1200, 3.8), (600, EASY_MPS)))
    without = told(tempo)
    assert without is not None
    ((begin, end),) = without.evidence["times"]
    breach = told(tempo, [begin - off_s, end + off_s])
    assert breach is not None
    assert bool(laps_of(breach)) is heard
    assert breach.evidence["times"] == ([[begin - off_s, end + off_s]] if heard else [[begin, end]])


def test_laps_that_fit_no_stretch_change_nothing() -> None:
    table = by_device(REPEATS)
    assert told(table, [200.0, 500.0, 2300.0], THRESHOLD_MPS) == told(table, (), THRESHOLD_MPS)


def test_a_pressed_lap_in_which_no_running_is_known_is_no_repeat_and_keeps_nothing_from_being_judged() -> None:
    """Six laps were pressed; of the last one the device kept a record in some ten seconds, and those are of walking."""
    one = pieces.made(2035)
    track = clean(*one.label, one.elapsed_s, one.pauses, one.table, LIMITS)
    whole = replace(made(one.table)[1], lap_marks_s=one.laps, elapsed_s=one.elapsed_s)
    context = SampleContext(None, "none", True, Threshold(4.4, "history", "low"))
    found = [each for each in judge_track(whole, track, context, LIMITS) if each.rule == "no_speed_work"]
    assert [each.evidence["bout_seconds"] for each in found] == [[40, 31, 30, 38, 32]]
