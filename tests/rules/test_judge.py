"""The judge as a whole: order, time and repetition change nothing; what it asks and says is stable."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from hypothesis import given, settings
from hypothesis import strategies as st

from rules.catalogue import advice_for, advice_of
from rules.facts import CheckIn, Morning, Night, SampleContext, Session
from rules.findings import Breach, Finding, Severity, finding_id
from rules.judge import judge, merged
from rules.limits import default_limits
from rules.words import said
from tests.rules.people import (
    FINISH,
    LIMITS,
    at,
    athlete,
    checkin,
    history,
    judged,
    mornings,
    nights,
    on,
    race,
    session,
    told,
)

SPORTS = ["running", "walking", "cycling", "swimming", "strength", "yoga", "mobility", "elliptical", "other", "unknown"]
SESSIONS = st.lists(
    st.builds(
        session,
        st.integers(-60, 40),
        st.sampled_from(SPORTS),
        st.integers(1, 120),
        st.integers(0, 23),
        running_min=st.just(0),
    ),
    max_size=14,
    unique_by=lambda each: each.key,
)
RUNS = st.lists(
    st.builds(session, st.integers(-60, 40), st.just("running"), st.integers(1, 90), st.integers(0, 23)),
    max_size=8,
    unique_by=lambda each: each.key,
)
CHECKINS = st.lists(
    st.builds(
        checkin,
        st.integers(0, 40),
        stairs_unaided=st.sampled_from([True, False, None]),
        pain=st.one_of(st.none(), st.integers(0, 10)),
        mood=st.one_of(st.none(), st.integers(0, 10)),
        symptoms=st.sampled_from([(), ("fever",), ("tired",)]),
    ),
    max_size=8,
)
MORNINGS = st.builds(
    mornings,
    st.dictionaries(st.integers(1, 40), st.integers(40, 70).map(float), max_size=10),
    st.dictionaries(st.integers(1, 40), st.integers(20, 90).map(float), max_size=10),
)
NIGHTS = st.dictionaries(st.integers(0, 40), st.floats(3, 9), max_size=10).map(nights)
EVENTS = st.sampled_from(["5k", "half", "marathon", "ultra_50k"])


def by_length(session: Session, context: SampleContext) -> tuple[Breach, ...]:
    """A verdict that hangs on the session and what it was allowed, and on nothing else."""
    found = []
    if context.ceiling is not None and session.timer_s > 4000:
        found.append(Breach("intensity_ceiling", Severity.CAUTION, f"over {context.ceiling.bpm}"))
    if context.speed_work == "none" and session.digest.sport == "running" and int(session.timer_s) % 7 == 0:
        found.append(Breach("no_speed_work", Severity.STOP, "fast"))
    return tuple(found)


def _merged(sessions: list[Session], runs: list[Session]) -> list[Session]:
    return list({each.key: each for each in (*sessions, *runs)}.values())


@settings(max_examples=60, deadline=None)
@given(EVENTS, SESSIONS, RUNS, CHECKINS, MORNINGS, NIGHTS, st.integers(0, 50), st.integers(0, 10**6))
def test_the_order_of_arrival_changes_nothing(
    event: str,
    sessions: list[Session],
    runs: list[Session],
    checkins: list[CheckIn],
    some_mornings: list[Morning],
    some_nights: list[Night],
    day: int,
    seed: int,
) -> None:
    facts: list[Any] = [*_merged(sessions, runs), *checkins, *some_mornings, *some_nights]
    shuffled = list(facts)
    random.Random(seed).shuffle(shuffled)
    runner = athlete(race(event))
    first = judged(facts, runner=runner, day=day, judge_one=by_length)
    assert judged(shuffled, runner=runner, day=day, judge_one=by_length) == first
    assert len({each.id for each in first.findings}) == len(first.findings)


@settings(max_examples=60, deadline=None)
@given(EVENTS, SESSIONS, RUNS, st.integers(1, 20))
def test_what_comes_later_changes_no_earlier_finding(
    event: str, sessions: list[Session], runs: list[Session], cut: int
) -> None:
    every = _merged(sessions, runs)
    runner = athlete(race(event))
    whole = judged(every, runner=runner, judge_one=by_length)
    part = judged([each for each in every if each.start < at(cut, 0)], runner=runner, judge_one=by_length)
    before = [each for each in whole.findings if each.subject_start < at(cut, 0)]
    assert before == list(part.findings)


def _shifted(found: Finding, days: int) -> tuple[Any, ...]:
    return (
        found.rule,
        found.severity,
        found.stage,
        found.day,
        found.date + timedelta(days=days),
        found.observed,
        found.limit,
    )


@settings(max_examples=40, deadline=None)
@given(
    EVENTS,
    st.lists(
        st.tuples(st.integers(-50, 35), st.sampled_from(SPORTS), st.integers(1, 120), st.integers(0, 23)), max_size=14
    ),
    st.sampled_from([7, 364, 1000]),
)
def test_a_shift_of_whole_days_with_the_race_moves_nothing_but_dates(
    event: str, rows: list[tuple[int, str, int, int]], days: int
) -> None:
    # in a zone without clock changes, so that local hours stay where they are
    zone = "Africa/Nairobi"
    rows = list({(day, hour): (day, sport, minutes, hour) for day, sport, minutes, hour in rows}.values())

    def found(shift: int) -> list[Finding]:
        moved = race(event, FINISH + timedelta(days=shift), zone)
        sessions = [
            session(0, sport, minutes, start=at(day, hour, zone) + timedelta(days=shift))
            for day, sport, minutes, hour in rows
        ]
        now = at(50, 12, zone) + timedelta(days=shift)
        return list(judged(sessions, runner=athlete(moved, zone=zone), now=now, judge_one=by_length).findings)

    assert [_shifted(each, days) for each in found(0)] == [_shifted(each, 0) for each in found(days)]


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 30), st.sampled_from(SPORTS), st.integers(5, 100), st.integers(1, 60))
def test_a_longer_session_never_has_fewer_or_milder_findings(day: int, sport: str, minutes: int, more: int) -> None:
    def worst(length: int) -> dict[str, Severity]:
        runner = athlete(race("ultra_50k"))
        return {each.rule: each.severity for each in judged(session(day, sport, length), runner=runner).findings}

    short, long = worst(minutes), worst(minutes + more)
    assert set(short) <= set(long)
    assert all(long[rule] >= severity for rule, severity in short.items())


def test_judging_again_gives_the_very_same_judgement() -> None:
    facts = [session(3), session(9, "cycling", 80), checkin(4, pain=5), *mornings({3: 60, 4: 60})]
    assert judged(facts) == judged(facts)


def test_a_finding_keeps_its_id_whatever_file_brought_the_session() -> None:
    one = session(5)
    [found] = judged(one).findings
    assert found.id == finding_id("runa", "no_running", "session", one.key)
    assert found.subject == one.key
    assert (found.session_start, found.session_end, found.source) == (one.start, one.end, one.source)


def test_a_verdict_on_samples_is_asked_for_once_for_a_session_and_what_it_was_allowed() -> None:
    asked: list[tuple[str, SampleContext]] = []

    def count(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        asked.append((session.key, context))
        return (Breach("no_speed_work", Severity.STOP, "fast"),) if session.digest.sport == "running" else ()

    judged(session(3), session(7), session(9, "cycling"), session(12), session(16), judge_one=count)
    assert len(asked) == len(set(asked))


def test_every_finding_can_be_written_as_json_and_carries_advice() -> None:
    facts = [
        session(1, "cycling"), session(3), session(4, "strength"), session(13, minutes=15), session(16, minutes=70),
        session(17), checkin(3, stairs_unaided=False, pain=6, symptoms=("fever",)),
        *mornings({3: 60, 4: 60}, {3: 30, 4: 30, 5: 30}),
        *nights({3: 5, 4: 5, 5: 5}), session(6, "unknown"),
    ]  # fmt: skip
    found = judged(facts)
    rules = {each.rule for each in found.findings}
    assert rules >= {
        "rest_hours", "no_running", "no_strength", "duration_cap", "stairs_test", "pain", "see_a_doctor",
        "resting_hr_up", "hrv_down", "short_sleep", "not_judged",
    }  # fmt: skip
    for each in found.findings:
        assert json.loads(json.dumps(each.evidence)) is not None
        assert said(each.summary)
        assert advice_of(each, default_limits())
        assert advice_for(each.rule)


def test_findings_say_where_they_stand_in_the_plan() -> None:
    [found] = judged(session(10, "cycling", 100)).findings
    assert (found.athlete, found.stage, found.day, found.date) == ("runa", "cross_training", 10, on(10))


def test_a_morning_is_about_the_whole_local_day_and_a_session_about_its_own_time() -> None:
    [found] = judged(checkin(21, pain=6), day=21).findings  # clocks go back that night in Oslo
    assert (found.subject_start, found.subject_end) == (at(21, 0), at(22, 0))
    assert found.subject_end - found.subject_start == timedelta(hours=25)
    assert (found.session_start, found.sport) == (None, None)


def test_days_follow_the_athletes_clock_and_not_utc() -> None:
    for zone in ("Pacific/Auckland", "Pacific/Kiritimati", "America/St_Johns"):
        runner = athlete(race(zone=zone), zone=zone)
        late = session(0, start=at(5, 23.5, zone))
        early = session(0, start=at(6, 0.5, zone))
        assert [each.day for each in judged(late, early, runner=runner).findings] == [5, 6]


def test_naive_sums_across_clock_changes_are_not_used() -> None:
    # both sides of the hour that Oslo has twice on 2026-10-25
    zone = ZoneInfo("Europe/Oslo")
    runner = athlete(race("5k", datetime(2026, 10, 22, 12)))  # noqa: DTZ001 - local, a zone is added
    first = session(0, "cycling", 30, start=datetime(2026, 10, 25, 2, 30, tzinfo=zone).astimezone(UTC))
    again = session(0, "cycling", 30, start=datetime(2026, 10, 25, 2, 30, fold=1, tzinfo=zone).astimezone(UTC))
    assert again.start - first.start == timedelta(hours=1)
    hours = [each.observed for each in judged(first, again, runner=runner).findings if each.rule == "rest_hours"]
    assert hours == [62.5, 63.5]


def test_thin_data_are_said_for_the_plan_that_is_shown() -> None:
    thin = judged(runner=athlete(race("ultra_50k"), hr_max=None)).thin
    assert len(thin) == 4
    assert any("by feel" in said(each) for each in thin)


def test_nothing_at_all_is_judged_to_nothing() -> None:
    found = judge(history(), at(3, 13), LIMITS, 72, by_length)
    assert told(found) == []
    assert found.current is not None


def test_of_two_breaches_of_a_rule_the_graver_is_told_and_of_two_alike_the_first() -> None:
    def kept(*graded: tuple[str, Severity], rule: str = "duration_cap") -> tuple[str, list[str]]:
        [one] = merged([Breach(rule, severity, text, evidence={text: 1}) for text, severity in graded])
        assert {text for text, _ in graded} <= set(one.evidence)
        return said(one.summary), one.evidence["also_said"]

    stop, caution = Severity.STOP, Severity.CAUTION
    assert kept(("a", caution), ("b", caution)) == ("a", ["b"])
    assert kept(("a", caution), ("b", stop)) == ("b", ["a"])
    assert kept(("a", stop), ("b", caution)) == ("a", ["b"])
    assert kept(("a", caution), ("b", caution), ("c", caution)) == ("a", ["b", "c"])
    assert kept(("a", caution), ("b", caution), rule="not_judged") == ("a. b", ["b"])
