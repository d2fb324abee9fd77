"""The threshold speed is what was known on the day that is judged."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from rules.facts import SampleContext, Session, held_for, threshold_of
from rules.findings import Breach
from tests.rules.people import FINISH, LIMITS, athlete, judged, race, session

SLOW = race("10k", result_seconds=3000)
FAST = race("10k", FINISH + timedelta(days=220), result_seconds=2100)


def test_a_result_raced_later_is_not_known_before_it_was_raced() -> None:
    one, both = athlete(SLOW), athlete(SLOW, FAST)
    then = threshold_of(one, (), SLOW.finish, LIMITS)
    assert then is not None
    assert then.basis == "race result"
    assert threshold_of(both, (), SLOW.finish, LIMITS) == then
    assert threshold_of(both, (), SLOW.finish - timedelta(seconds=1), LIMITS) is None
    later = threshold_of(both, (), FAST.finish, LIMITS)
    assert later is not None
    assert later.speed_mps > then.speed_mps


def test_a_result_raced_later_leaves_every_context_of_before_as_it_was() -> None:
    def asked(*races: object) -> list[SampleContext]:
        seen: list[SampleContext] = []

        def judge_one(one: Session, context: SampleContext) -> tuple[Breach, ...]:
            del one
            seen.append(context)
            return ()

        judged(session(5), runner=athlete(*races), judge_one=judge_one)
        return seen

    assert asked(SLOW) == asked(SLOW, FAST)


def runs(*speeds: float) -> list[Session]:
    """Runs of two months before the race, each with twenty minutes at a speed."""
    return [session(-60 + day, digest={"best_speed_mps": {60: 6.0, 1200: mps}}) for day, mps in enumerate(speeds)]


def test_a_pace_that_two_sessions_before_show_to_be_too_slow_gives_way_to_what_they_show() -> None:
    roster = replace(athlete(), threshold_pace_s_per_km=300.0)
    most = LIMITS.speed_work.refuted * held_for(1000 / 300, 1200)
    for speeds, basis in (
        ((most * 0.999, most * 1.2, 3.0), "roster"),  # one alone may be a ride or a bad watch
        ((most, most), "roster"),
        ((most * 1.001, most * 1.2), "history"),
    ):
        known = threshold_of(roster, runs(*speeds), SLOW.finish, LIMITS)
        assert known is not None
        assert known.basis == basis
    assert known.speed_mps == pytest.approx(most * 1.001 / held_for(1.0, 1200))
    assert (known.confidence, known.instead_of_mps) == ("medium", 1000 / 300)


def test_a_pace_slower_than_a_race_shows_gives_way_to_the_race() -> None:
    slow = replace(athlete(FAST), threshold_pace_s_per_km=300.0)
    known = threshold_of(slow, (), FAST.finish, LIMITS)
    assert known is not None
    assert known.basis == "race result"
    before = threshold_of(slow, (), FAST.finish - timedelta(seconds=1), LIMITS)
    assert before is not None
    assert before.basis == "roster"


@pytest.mark.parametrize(("late_s", "counts"), [(-1, True), (0, True), (1, False)])
def test_a_run_counts_for_what_came_when_it_was_over(late_s: int, *, counts: bool) -> None:
    [run] = runs(4.0)
    known = threshold_of(athlete(), [run] * 8, run.end - timedelta(seconds=late_s), LIMITS)
    assert (known is not None) is counts


@pytest.mark.parametrize(("usual", "confidence"), [(3.5, "low"), (2.9, "medium")])
def test_the_middle_of_all_runs_is_the_usual_one(usual: float, confidence: str) -> None:
    """Of eight the fifth: those below and above it say nothing."""
    speeds = [2.0, 2.1, 2.2, 2.3, usual, 5.0, 5.0, 5.0]
    whole = [
        replace(one, digest=replace(one.digest, running_m=mps * 1800))
        for one, mps in zip(runs(*[4.0] * 8), speeds, strict=True)
    ]
    known = threshold_of(athlete(), whole, SLOW.finish, LIMITS)
    assert known is not None
    assert known.confidence == confidence
