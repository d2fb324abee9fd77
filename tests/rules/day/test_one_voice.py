"""On no day of anybody does one text allow what another forbids."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable
from importlib import resources
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings

from rules import words as rule_words
from rules.day import COACH, Decision, decide
from rules.day.decision import Audience
from rules.history import in_order
from rules.today import Today, today
from tests.rules.day.random_days import Life, lives
from tests.rules.people import LIMITS

OFFERS_SPORT = re.compile(
    r"\b[1-9]\d* min easy|^Allowed: [1-9]|heart rate up to|on the bike|swim or spin|\bride instead|easy ones are fine"
    r"|^No cap on time|count towards the day's time|^Lift |^On the bike|Keep moving|exercise, not training: stop while"
    r"|something that is allowed",
    re.IGNORECASE,
)
OFFERS_A_RUN = re.compile(
    r"a run of up to [1-9]|should you run|at most one run|running by the week's share|strides are fine"
    r"|[1-9]\d* of \d+ min of the week's running left|^A test run asks|^Thirty minutes are|run alone this week",
    re.IGNORECASE,
)
OF_A_COACH = re.compile(r"\b(ask|tell) your coach|your coach('s| decides)|by the coach|for the coach", re.IGNORECASE)


def contradictions(texts: Iterable[str], decision: Decision) -> list[str]:
    """Sentences that offer what the decision forbids; what comes after it, or is the stage's, says so itself."""
    said = [each for each in texts if not each.startswith(("After that:", "The stage has"))]
    found = []
    if decision.active and not decision.sport:
        found += [each for each in said if OFFERS_SPORT.search(each)]
    if decision.active and not decision.runs:
        found += [each for each in said if OFFERS_A_RUN.search(each)]
    return found


def _decided(life: Life) -> tuple[Decision, Today]:
    facts = in_order(life.facts, LIMITS)
    return decide(life.judgement, facts, life.now, LIMITS), today(life.judgement, life.facts, life.now, LIMITS)


SLOW = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])


KINDS: dict[str, Callable[[Life, Decision], bool]] = {
    "no plan runs": lambda life, decision: not decision.active,
    "rest after a red flag": lambda life, decision: decision.rest and _shut_by(decision, "red flag"),
    "rest by a check-in": lambda life, decision: decision.rest and _shut_by(decision, "check-in"),
    "rest by a morning": lambda life, decision: decision.rest and _shut_by(decision, "morning"),
    "a run with a cap": lambda life, decision: bool(decision.runs and decision.run_allowed_min and decision.left_min),
    "nobody coaches": lambda life, decision: not life.runner.coached,
    "something waits for an answer": lambda life, decision: any(each.until is None for each in decision.reasons),
    "a stop before": lambda life, decision: any(
        each.rule in {"no_running", "no_speed_work"} and each.severity > 2 and each.date < decision.date
        for each in life.judgement.findings
    ),
}


def _shut_by(decision: Decision, by: str) -> bool:
    gates = decision.plan.gates if decision.active and decision.plan else ()
    return any(each.by == by for gate in gates if gate.until is None for each in gate.reasons)


def test_the_days_drawn_are_of_all_kinds() -> None:
    drawn: set[str] = set()

    @settings(SLOW, derandomize=True, phases=[Phase.generate])
    @given(lives())
    def look(life: Life) -> None:
        decision, _ = _decided(life)
        drawn.update(kind for kind, holds in KINDS.items() if holds(life, decision))

    look()
    assert drawn == set(KINDS)


@SLOW
@given(lives())
def test_no_sentence_of_a_day_offers_what_the_decision_forbids(life: Life) -> None:
    decision, day = _decided(life)
    for audience in (Audience(), COACH):
        assert (
            contradictions([rule_words.day.answer(decision), *rule_words.day.now_words(decision, audience)], decision)
            == []
        )
    assert contradictions([*day.sentences, *day.notes, day.caution, *day.remarks], decision) == []


@SLOW
@given(lives())
def test_the_figures_of_a_day_agree_with_each_other(life: Life) -> None:
    decision, day = _decided(life)
    assert (day.allowed_min, day.run_allowed_min, day.running) == (
        decision.allowed_min,
        decision.run_allowed_min,
        decision.running,
    )
    assert day.answer == rule_words.day.answer(decision)
    if not decision.active:
        assert decision.reasons == ()
        return
    assert decision.sport == (not any(each.forbids in {"everything", "sport"} for each in decision.reasons))
    if decision.rest:
        assert (decision.allowed_min, decision.run_allowed_min, decision.runs) == (0, 0, False)
        assert "running" in day.not_allowed
        assert day.sentences[0].split(":")[0].startswith(("Walking only", *_first_calls(decision)))
    if decision.runs and decision.run_allowed_min is not None and decision.left_min is not None:
        assert 0 < decision.run_allowed_min <= decision.left_min
    assert list(decision.reasons) == sorted(decision.reasons, key=lambda each: each.rank)
    assert all(each.until is None or each.until > decision.now for each in decision.reasons)
    assert all((each.until is None) == (each.ends != "clock") for each in decision.reasons)


def _first_calls(decision: Decision) -> list[str]:
    return [rule_words.day.now_words(decision)[0].split(":")[0]] if decision.flags else []


@SLOW
@given(lives())
def test_what_shuts_a_gate_by_the_body_is_a_reason_of_the_day_and_a_stop_allows_no_run(life: Life) -> None:
    decision, _ = _decided(life)
    if not decision.active or decision.plan is None:
        return
    shut = [each for gate in decision.plan.gates if gate.until is None for each in gate.reasons]
    if any(each.by in {"red flag", "check-in", "morning"} for each in shut):
        assert decision.rest
    stops = [
        each for each in life.judgement.findings if each.rule in {"no_running", "no_speed_work"} and each.severity > 2
    ]
    if any(each.date < decision.date for each in stops if each.subject_start >= decision.plan.begins):
        assert decision.running != "tolerated"


@SLOW
@given(lives())
def test_who_has_no_coach_is_told_of_none(life: Life) -> None:
    decision, day = _decided(life)
    said = [
        *day.sentences,
        *day.gates,
        *day.asks,
        *(each.ends_text for each in day.reasons),
        *rule_words.day.now_words(decision),
    ]
    if not life.runner.coached:
        assert [each for each in day.sentences if OF_A_COACH.search(each)] == []
        assert [each for each in (*day.gates, *day.asks) if OF_A_COACH.search(each)] == []
        assert [each.ends_text for each in day.reasons if OF_A_COACH.search(each.ends_text)] == []
    assert all(said)


def test_the_detector_finds_the_contradictions_that_there_were() -> None:
    assert OFFERS_SPORT.search("Keep moving on the bike, in the water, on foot at a walk.")
    assert OFFERS_SPORT.search("Allowed: 60 min in all; walks come on top.")
    assert OFFERS_A_RUN.search("Should you run, once and for 20 min at most; it is noted.")
    assert not OFFERS_SPORT.search("Walking only until Sat 11:30: 65 h of rest after a run on Wed 14 Oct.")
    assert OF_A_COACH.search("A second such run, and your coach decides when it begins.")


def _sentences_of(texts: Any) -> list[str]:
    """Every text in a table of advice."""
    if isinstance(texts, str):
        return [texts]
    return [text for each in (texts.values() if isinstance(texts, dict) else texts) for text in _sentences_of(each)]


def test_advice_by_rule_never_says_how_long_how_hard_or_whether_at_all() -> None:
    """That is the decision's: so no advice can contradict it, whatever else is open on that day."""
    said = _sentences_of(tomllib.loads(resources.files("rules").joinpath("words/en/advice.toml").read_text("utf-8")))
    assert len(said) > 100
    assert [each for each in said if OFFERS_SPORT.search(each) or OFFERS_A_RUN.search(each)] == []
    assert [each for each in said if re.search(r"\b(min|minutes) (a day|in all)|walk(ing)? only", each)] == []


def test_cautions_of_a_day_of_rest_offer_nothing() -> None:
    cautions = rule_words.texts("today")["caution"]
    for about in ("first_hours", "after_a_stop"):
        assert [each for each in cautions[about] if OFFERS_SPORT.search(each) or OFFERS_A_RUN.search(each)] == []
    assert [each for each in cautions["between_runs"] if OFFERS_A_RUN.search(each)] == []
