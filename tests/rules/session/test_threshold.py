"""The threshold speed is what was known on the day that is judged."""

from __future__ import annotations

from datetime import timedelta

from rules.facts import SampleContext, Session
from rules.findings import Breach
from rules.session.threshold import choose
from tests.rules.people import FINISH, LIMITS, athlete, judged, race, session

SLOW = race("10k", result_seconds=3000)
FAST = race("10k", FINISH + timedelta(days=220), result_seconds=2100)


def test_a_result_raced_later_is_not_known_before_it_was_raced() -> None:
    one, both = athlete(SLOW), athlete(SLOW, FAST)
    then = choose(one, (), SLOW.finish, LIMITS)
    assert then is not None
    assert then.basis == "race result"
    assert choose(both, (), SLOW.finish, LIMITS) == then
    assert choose(both, (), SLOW.finish - timedelta(seconds=1), LIMITS) is None
    later = choose(both, (), FAST.finish, LIMITS)
    assert later is not None
    assert later.speed_mps > then.speed_mps


def test_a_result_raced_later_leaves_every_context_of_before_as_it_was() -> None:
    def asked(*races: object) -> list[SampleContext]:
        seen: list[SampleContext] = []

        def judge_one(one: Session, context: SampleContext) -> tuple[Breach, ...]:
            del one
            seen.append(context)
            return ()

        judged(session(5), runner=athlete(*races), judge_one=judge_one)  # type: ignore[arg-type]
        return seen

    assert asked(SLOW) == asked(SLOW, FAST)
