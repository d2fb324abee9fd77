"""What a calendar says: the one decision on every day, and nothing of the body unless it is asked for."""

from __future__ import annotations

import itertools
import re
from datetime import timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from monitor.calendars import CalendarEntry, calendar_view
from monitor.judging import View
from monitor.roster import RosterAthlete
from monitor.values import IntakeOptions
from rules import words as rule_words
from rules.day import decide, foresee
from rules.history import in_order
from rules.judge import judge
from tests.rules.day.random_days import Life, lives
from tests.rules.day.test_one_voice import OF_A_COACH, contradictions
from tests.rules.people import LIMITS, at, athlete, history, hold, quiet

SOME = settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
OF_THE_BODY = re.compile(
    r"\bpain|stairs|squat|heart|pulse|bpm|\bbeats\b|resting|variab|doctor|symptom|check-in|chest|fever|urine|\bhead\b"
    r"|stroke|fracture|\btold on\b|calf|because",
    re.IGNORECASE,
)


def _entries(life: Life, *, body: bool) -> tuple[CalendarEntry, ...]:
    one = RosterAthlete(life.runner, Path("/nowhere"), ("coach",), IntakeOptions(life.runner.timezone))
    return calendar_view(View(one, life.facts, life.judgement, None), life.now, LIMITS, body=body).entries


def _texts(entry: CalendarEntry) -> list[str]:
    return [entry.title, *entry.lines]


@SOME
@given(lives())
def test_nothing_tells_of_the_body_unless_it_is_asked_for(life: Life) -> None:
    for entry in _entries(life, body=False):
        assert [each for each in _texts(entry) if OF_THE_BODY.search(each)] == [], entry


def test_two_holds_of_the_same_moment_are_two_entries() -> None:
    runner, now = athlete(), at(3, 12)
    known = history(hold(2, 2), hold(2), runner=runner, last_file_at=now)
    life = Life(runner, known, now, judge(known, now, LIMITS, 72, quiet))
    holds = [each for each in _entries(life, body=False) if each.kind == "hold"]
    assert len({each.subject for each in holds}) == len(holds) == 2


@SOME
@given(lives())
def test_with_or_without_the_body_the_same_days_are_told_of_the_same_things(life: Life) -> None:
    plain, whole = (_entries(life, body=body) for body in (False, True))
    assert [(each.kind, each.subject, each.first, each.last) for each in plain] == [
        (each.kind, each.subject, each.first, each.last) for each in whole
    ]
    assert len({(each.kind, each.subject) for each in plain}) == len(plain)
    assert all(each.first <= each.last for each in plain)


@SOME
@given(lives())
def test_today_is_told_as_everywhere_and_offers_nothing_that_it_forbids(life: Life) -> None:
    decision = decide(life.judgement, in_order(life.facts, LIMITS), life.now, LIMITS)
    today = life.facts.athlete.local_date(life.now)
    for body in (False, True):
        told = [each for each in _entries(life, body=body) if each.kind == "day" and each.first == today]
        assert len(told) == decision.active
        for each in told:
            assert each.title == f"Day {decision.day}: {rule_words.day.answer(decision, body=body)}"
            assert contradictions(_texts(each), decision) == []
        if not life.runner.coached:
            assert [text for each in told for text in _texts(each) if OF_A_COACH.search(text)] == []


@SOME
@given(lives())
def test_days_to_come_are_told_as_they_are_foreseen_and_say_if_something_must_be_answered_first(life: Life) -> None:
    facts = in_order(life.facts, LIMITS)
    waits = any(each.until is None for each in decide(life.judgement, facts, life.now, LIMITS).reasons)
    today = life.facts.athlete.local_date(life.now)
    for each in _entries(life, body=False):
        if each.kind == "day" and each.first > today:
            coming = foresee(life.judgement, facts, each.first, LIMITS)
            assert rule_words.day.answer(coming, body=False) in each.title
            assert each.title.startswith(f"Day {coming.day}: if nothing holds you back by then") == waits
            assert contradictions(_texts(each), coming) == []


@SOME
@given(lives())
def test_what_a_clock_ends_counts_up_to_its_hour_on_days_to_come(life: Life) -> None:
    facts = in_order(life.facts, LIMITS)
    decision = decide(life.judgement, facts, life.now, LIMITS)
    tomorrow = decision.date + timedelta(days=1)
    coming = foresee(life.judgement, facts, tomorrow, LIMITS)
    assert all(each.until is not None for each in coming.reasons)
    rests = [each for each in decision.reasons if each.forbids == "sport" and each.until and each.kind != "time_used"]
    if coming.active and any(each.until.date() > tomorrow for each in rests if each.until):
        assert (coming.sport, coming.allowed_min) == (False, 0)


@SOME
@given(lives())
def test_stages_follow_each_other_without_a_gap_and_those_behind_a_shut_gate_are_at_the_earliest(life: Life) -> None:
    plan = life.judgement.current
    assert plan is not None
    stages = [
        each
        for each in _entries(life, body=False)
        if each.kind == "stage" and each.subject.startswith(plan.day0.isoformat())
    ]
    for one, following in itertools.pairwise(stages):
        assert following.first == one.last + timedelta(days=1)
    shut = any(gate.until is None for gate in plan.gates)
    today = life.facts.athlete.local_date(life.now)
    for each in stages:
        assert each.title.endswith("at the earliest") == (shut and each.first > today)
