"""Numbers as a finding tells and keeps them, and what is alike, at the border or missing."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules import day_rules, facts, judge, session_rules
from rules.body import checkins
from rules.body import checkins as good
from rules.body import mornings as judged
from rules.body.mornings import Baseline, baseline, ln_rmssd
from rules.facts import Morning, Session, Threshold
from rules.findings import Severity, Signal, shown
from rules.plan.days import Allowance
from rules.plan.stages import StageName, trimp
from rules.session import digest
from rules.session import digest as measures
from rules.session import gait as walking
from rules.session import ground as heights
from rules.session import heart as hearts
from rules.session.digest import SteadyPart
from rules.session.gait import Motion
from rules.session.heart import HeartAnswer
from rules.session.timeline import trailing_mean
from rules.session.track import Sport
from rules.speed_work import bouts as cutting
from rules.speed_work import bouts as easy
from rules.speed_work import signals as hearing
from rules.words import said
from tests.rules.people import LIMITS, at, athlete, checkin, on, plan, race, session, spans
from tests.rules.speed_work.scene import ROWS, breach, of, track

NAN = float("nan")


def day(stage: StageName = "days_off", number: int = 5, **more: Any) -> Allowance:
    return Allowance(stage, number, on(number), more.pop("running", "none"), **more)


def lasted(sport: str, seconds: float) -> Session:
    return replace(session(5, sport, 30), timer_s=seconds)


# Sessions.


@pytest.mark.parametrize(("sport", "severity"), [("strength", Severity.STOP), ("yoga", Severity.NOTE)])
def test_strength_in_the_days_off_is_told_in_minutes_with_one_decimal(sport: str, severity: Severity) -> None:
    found = day_rules.no_strength(lasted(sport, 1823), day(), LIMITS)
    assert found is not None
    assert (found.severity, found.observed, found.limit, found.unit) == (severity, 30.4, 0.0, "min")
    assert found.evidence["minutes"] == 30.4
    assert day_rules.no_strength(lasted("mobility", 1823), day(), LIMITS) is None
    assert day_rules.no_strength(lasted(sport, 1823), day(strength="free"), LIMITS) is None


def test_a_day_and_a_run_over_their_caps_are_told_in_minutes_with_one_decimal() -> None:
    over = lasted("cycling", 4003)
    found = day_rules._day_breach([over], day(day_cap_min=60), LIMITS)
    assert found is not None
    assert (found.observed, found.limit) == (66.7, 60.0)
    assert found.evidence["day"] == [{"session": over.key, "sport": "cycling", "minutes": 66.7}]
    ran = day_rules._run_breach(lasted("running", 2003), day(run_cap_min=30), LIMITS)
    assert ran is not None
    assert (ran.observed, ran.limit) == (33.4, 30.0)


@pytest.mark.parametrize(
    ("cap", "seconds", "severity"),
    [
        (60, 3780, None),  # a twentieth
        (60, 3781, Severity.CAUTION),
        (60, 5400, Severity.CAUTION),
        (60, 5401, Severity.STOP),
        (30, 1920, None),  # two minutes where a twentieth is less
        (30, 1921, Severity.CAUTION),
        (40, 2520, None),
        (40, 2521, Severity.CAUTION),
    ],
)
def test_a_cap_has_a_slack_of_a_twentieth_or_two_minutes(cap: float, seconds: float, severity: Severity | None) -> None:
    assert day_rules.over_cap(seconds, cap, LIMITS) == severity


@pytest.mark.parametrize(
    ("hours", "told"),
    [(-0.01, None), (0, 2.0), (47.99, 2.0), (48, 1.0), (64.99, 1.0), (65, None)],
)
def test_the_hours_of_rest_are_told_with_two_decimals(hours: float, told: float | None) -> None:
    found = day_rules.rest_hours(session(1, "cycling", 30), hours * 3600, LIMITS)
    assert (found is not None) == (told is not None)
    if found is not None:
        assert found.severity == (Severity.STOP if told == 2.0 else Severity.CAUTION)
        assert (found.observed, found.limit) == (round(hours, 2), 65)
        assert found.evidence["hours_since_finish"] == round(hours, 2)
    asked = day_rules.rest_hours(session(1, "unknown", 30), 3600.0, LIMITS)
    assert asked is not None
    assert asked.severity == Severity.CAUTION


def test_running_where_there_is_none_is_told_in_minutes_with_one_decimal() -> None:
    one = session(9, "walking", 60, running_min=10.06, running_m=1500.4)
    found = day_rules.no_running(one, day("cross_training", 9), ceiling_broken=False, run_before=False, limits=LIMITS)
    assert found is not None
    assert (found.observed, found.limit, found.evidence["running_minutes"], found.evidence["running_m"]) == (
        10.1,
        0,
        10.1,
        1500,
    )


@pytest.mark.parametrize(("minutes", "severity"), [(21, Severity.NOTE), (21.02, Severity.STOP)])
def test_a_tolerated_run_has_a_minute_of_slack(minutes: float, severity: Severity) -> None:
    allowed = day("cross_training", 14, running="tolerated", tolerated_run_min=20)
    one = session(14, minutes=minutes)
    found = day_rules.no_running(one, allowed, ceiling_broken=False, run_before=False, limits=LIMITS)
    assert found is not None
    assert (found.severity, found.observed, found.limit) == (severity, 21.0, 20.0)
    assert found.evidence.get("not_tolerated") == (
        None if severity == Severity.NOTE else found.evidence["not_tolerated"]
    )
    for broken, before in ((True, False), (False, True)):
        again = day_rules.no_running(one, allowed, ceiling_broken=broken, run_before=before, limits=LIMITS)
        assert again is not None
        assert again.severity == Severity.STOP


def test_a_run_without_an_end_adds_no_minutes_to_a_week() -> None:
    assert day_rules._run_minutes(session(5, minutes=30), LIMITS) == 30
    endless = replace(session(5), timer_s=math.inf)
    assert day_rules._run_minutes(endless, LIMITS) == 0
    assert day_rules._run_minutes(session(5, "walking", 30), LIMITS) == 0


@pytest.mark.parametrize(("metres", "told"), [(11000, False), (11001, True)])
def test_a_jump_is_told_in_kilometres(metres: float, told: bool) -> None:
    before = session(20, km=10)
    allowed = day("on_ramp", 23, running="share", weekly_share=0.5)
    found = day_rules.long_run_jump(session(23, minutes=60, km=metres / 1000), allowed, [before], athlete(), LIMITS)
    assert (found is not None) == told
    if found is not None:
        assert said(found.summary).startswith("A run of 11.00 km, where 11.00 km are allowed: 1.1 x the longest")
        assert (found.observed, found.limit) == (11001, 11000)


@pytest.mark.parametrize(("before", "told"), [(-7, True), (-8, False)])
def test_the_longest_of_thirty_days_before_counts(before: int, told: bool) -> None:
    allowed = day("on_ramp", 23, running="share", weekly_share=0.5)
    runs = [session(before, km=5)]
    found = day_rules.long_run_jump(session(23, minutes=60, km=10), allowed, runs, athlete(), LIMITS)
    assert (found is not None) == told


@pytest.mark.parametrize(("first", "weeks"), [(0, 6), (6, 6), (7, 5), (13, 5), (14, 4), (41, 1), (42, 0)])
def test_weeks_that_ended_before_the_history_began_are_not_known(first: int, weeks: int) -> None:
    found = day_rules._weeks_before([session(first, minutes=30)], on(0), 6, athlete(), LIMITS)
    assert len(found) == weeks
    assert sum(found) == (30 if weeks else 0)
    assert day_rules._weeks_before([], on(0), 6, athlete(), LIMITS) == []


def test_a_week_over_its_share_is_told_in_minutes() -> None:
    usual = day_rules.UsualWeek(180.0, (180.0,) * 6, on(-77), on(-36), "median")
    whole = plan(race("ultra_100k"))
    allowed = whole.allowance_on(on(24))
    for minutes, told in ((94.5, False), (94.6, True), (100, True)):
        found = day_rules.weekly_running([session(22, minutes=minutes)], allowed, whole, usual, LIMITS)
        assert (found is not None) == told
    assert found is not None
    assert (found.observed, found.limit, found.evidence["usual_week_min"]) == (100, 90, 180)
    assert said(found.summary) == "100 min of running this week, where 90 min are allowed: 50 % of the usual 180 min"


def test_a_stage_has_its_days_and_the_next_begins_after_them() -> None:
    assert spans(plan())[:2] == [("days_off", 1, 7), ("cross_training", 8, 14)]


@pytest.mark.parametrize(("hours", "changes"), [(0, 72), (71.99, 72), (72, 96), (95.99, 96), (96, 120)])
def test_a_silence_begins_after_three_days_and_changes_once_a_day(
    monkeypatch: pytest.MonkeyPatch, hours: float, changes: float
) -> None:
    since = at(5)
    monkeypatch.setattr(judge, "ruling_at", lambda *_: object())
    monkeypatch.setattr(judge, "_quiet_in_plan", lambda *_: since)
    found = judge.silence_changes_at(cast("Any", None), [], since + timedelta(hours=hours), 72)
    assert found == since + timedelta(hours=changes)


# Samples.


def judged_track(known: float, masked: float, whole: float) -> Any:
    return cast(
        "Any",
        SimpleNamespace(
            heart=SimpleNamespace(known_s=known, masked_s=masked, reasons={"jump": 1.0}),
            clock=SimpleNamespace(seconds=whole),
        ),
    )


@pytest.mark.parametrize(("seconds", "told"), [(299, False), (300, True)])
def test_what_was_not_judged_is_told_of_five_minutes_and_more(seconds: float, told: bool) -> None:
    one = replace(session(5), timer_s=seconds)
    found = session_rules._not_judged(judged_track(12.345, 6.789, 100.06), {"intensity_ceiling": "why"}, one, LIMITS)
    assert (found is not None) == told
    if found is not None:
        assert (found.evidence["hr_known_s"], found.evidence["masked_s"], found.evidence["recorded_s"]) == (
            12.3,
            6.8,
            100.1,
        )
        assert found.severity == Severity.NOTE
    assert session_rules._not_judged(judged_track(1, 1, 1), {}, one, LIMITS) is None


def test_an_altitude_that_is_not_believed_is_masked_whole() -> None:
    known = np.where(np.arange(100) < 60, 100.0, NAN)
    found = heights.not_believed(heights.Ground(known, known, known, 0.5, 10.0), "why")
    assert (found.masked_s, found.doubt) == (70, "why")
    assert np.isnan(found.slope).all()


def test_metres_and_shares_are_rounded_as_they_are_told() -> None:
    ran = cast(
        "Any",
        SimpleNamespace(
            pace=SimpleNamespace(speed_mps=np.full(3, 3.33333)), gait=SimpleNamespace(running=np.ones(3, np.bool_))
        ),
    )
    assert measures._metres(ran, Sport("running", "", 200.0, 0.0, 0.0, 0.0, 200.0)) == 666.7
    settled = SteadyPart(np.arange(480.0, 2400), np.full(1920, 3.0), np.where(np.arange(1920) < 960, 140.0, 141.11))
    assert digest.drift(settled, LIMITS) == 1.0079
    assert digest.easy_hr_per_mps(settled, LIMITS) == round((140 / 3 + 141.11 / 3) / 2, 3)


@pytest.mark.parametrize(
    ("spm", "speed", "found"), [(132, 2.35, False), (132, 2.4, True), (146, 1.75, False), (146, 1.8, True)]
)
def test_steps_and_speed_weigh_by_their_widths(spm: float, speed: float, found: bool) -> None:
    """Of a game, whose label says nothing: 6 steps less are 0.75 of 8, 0.3 m/s more 0.86 of 0.35."""
    size = 600
    moves = Motion(
        np.full(size, spm),
        np.full(size, speed),
        np.full(size, NAN),
        np.zeros(size),
        np.ones(size, np.bool_),
        1.0,
        LIMITS,
    )
    assert bool(walking.gait("game", moves, np.zeros(size, np.bool_), LIMITS).running.any()) == found


@pytest.mark.parametrize(("size", "found"), [(274, False), (275, True), (340, True)])
def test_a_climb_by_itself_is_found_as_soon_as_it_stands(size: int, *, found: bool) -> None:
    """At 160 from second 270 on; the middle of the last seconds must be there."""
    values = np.concatenate((np.full(251, 120.0), np.linspace(122, 160, 20), np.full(69, 160.0)))[:size]
    assert hearts._rises_by_itself(values, np.full(size, 3.0), LIMITS).any() == found


def test_a_mean_that_ends_here_is_of_all_rows_before_it() -> None:
    assert trailing_mean(np.array([1.0, 2.0, 6.0]), 2).tolist()[1:] == [1.5, 4.0]
    assert trailing_mean(np.array([5.0]), 1).tolist() == [5.0]


@pytest.mark.parametrize(("uneven", "told"), [(0.24, True), (0.265, False)])
def test_a_quarter_of_a_metre_a_second_off_the_mean_of_a_minute_is_uneven(uneven: float, told: bool) -> None:
    rows = np.arange(800)
    side = np.where(rows // 30 % 2 == 0, 1.0, -1.0)
    scene = cast(
        "Any",
        SimpleNamespace(
            gait=SimpleNamespace(running=np.ones(800, np.bool_)), effort_mps=3.0 + uneven * side,
            heart=SimpleNamespace(rows_bpm=np.full(800, 140.0)), clock=SimpleNamespace(rows_s=rows.astype(np.float64)),
        ),
    )  # fmt: skip
    assert (digest._scatter(scene, LIMITS) is not None) == told


# Fast running.


def test_one_stretch_is_told_by_its_length_alone() -> None:
    assert ": 44 min at " in said(breach(of(2640, 4.4)).summary)


@pytest.mark.parametrize(("dip", "count"), [(5, 1), (14, 2)])
def test_a_few_seconds_of_slow_running_part_no_bout_however_slow(dip: int, count: int) -> None:
    speed = np.full(ROWS, 2.7)
    speed[900:1040] = 4.2
    speed[960 : 960 + dip] = 1.6
    whole = track(speed, np.full(ROWS, 165.0))
    assert len(cutting.bouts_above(whole, whole.effort_mps, 3.5, 2.7, LIMITS)) == count


def test_a_third_of_the_running_was_run_no_faster_than_the_slow_speed() -> None:
    size = 3000
    speed = np.linspace(2.5, 3.5, size)
    scene = cast(
        "Any",
        SimpleNamespace(
            size=size, gait=SimpleNamespace(running=np.ones(size, np.bool_)),
            ground=SimpleNamespace(slope=np.zeros(size)), heart=SimpleNamespace(rows_bpm=np.full(size, NAN)),
        ),
    )  # fmt: skip
    assert easy.easy_speed(scene, speed, LIMITS) == pytest.approx(2.8333, abs=0.003)


def test_what_a_heart_answered_is_told_in_percent() -> None:
    assert "90 % (error 10)" in said(hearing._of_answer(HeartAnswer(0.9, 0.1, 20, 1), LIMITS).why)


def test_a_stop_is_told_by_what_spoke_for_it_first() -> None:
    heard = [Signal("a", "good", "nothing"), Signal("b", "good", "against"), Signal("c", "good", "for")]
    assert [one["signal"] for one in shown(heard)] == ["c", "b", "a"]


def test_of_a_race_and_a_history_that_show_the_same_the_race_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    runner = athlete(race("10k", result_seconds=3000))
    known = facts.threshold_of(runner, (), runner.races[0].finish, LIMITS)
    assert known is not None
    for off, basis in ((0.0, "race result"), (0.01, "history")):
        other = Threshold(known.speed_mps + off, "history", "medium")
        monkeypatch.setattr(facts, "_by_history", lambda *_, shown=other: shown)
        found = facts.threshold_of(runner, (), runner.races[0].finish, LIMITS)
        assert found is not None
        assert found.basis == basis


# Body.


def test_a_variability_of_nothing_has_no_logarithm() -> None:
    assert ln_rmssd(Morning(on(1), None, 0.0)) is None
    assert ln_rmssd(Morning(on(1), None, None)) is None
    assert ln_rmssd(Morning(on(1), None, math.e)) == 1.0


def test_a_fall_is_kept_with_its_numbers() -> None:
    normal = Baseline(4.1, 0.1, 20, 14, on(-30), on(-8), 4.1, 0.12345, 0.2345)
    [found] = judged.hrv_down({on(day): 3.456789 for day in (3, 4, 5)}, on(0), normal, LIMITS).values()
    level = judged.level_on({on(day): 3.456789 for day in (3, 4, 5)}, on(5), on(0), normal, LIMITS)
    assert level is not None
    assert found.observed == 3.457
    assert found.limit == round(level.note, 3)
    assert found.evidence["mornings_ln_rmssd"] == {on(day).isoformat(): 3.457 for day in (3, 4, 5)}
    assert found.evidence["sd_under"] == round((4.1 - level.mean) / level.spread, 2)
    assert found.evidence["smallest_worthwhile_changes_under"] == round((4.1 - level.mean) / level.spread / 0.5, 1)
    assert found.evidence["caution_below"] == round(level.caution, 3)
    assert found.evidence["correlation_of_following_days"] == 0.23
    assert (found.evidence["baseline_ln_rmssd"], found.evidence["baseline_sd_ln_rmssd"]) == (
        4.1,
        round(level.spread, 3),
    )


def test_short_nights_are_kept_with_their_numbers() -> None:
    [found] = judged.short_sleep({on(day): 350.26 for day in (1, 2, 3)}, on(0), LIMITS).values()
    assert (found.observed, found.limit, found.unit) == (5.84, 7, "h")
    assert found.evidence["nights_min"] == {on(day).isoformat(): 350.3 for day in (1, 2, 3)}


def test_impact_counts_up_to_now() -> None:
    finish, now = at(0, 14), at(10, 14)
    before = replace(session(-20), digest=replace(session(-20).digest, impact_load=500.0))
    one = replace(session(10, start=now), digest=replace(session(10).digest, impact_load=50.0))
    assert good.impact_share(now, [before, one], finish, LIMITS) == pytest.approx(0.5)
    assert good.impact_share(now - timedelta(seconds=1), [before, one], finish, LIMITS) == 0


@pytest.mark.parametrize(
    ("answers", "failed"),
    [
        ({}, []),
        ({"stairs_unaided": True, "squat_unaided": True}, []),
        ({"stairs_unaided": False}, ["stairs"]),
        ({"squat_unaided": False}, ["a squat"]),
        ({"stairs_unaided": False, "squat_unaided": False}, ["stairs", "a squat"]),
    ],
)
def test_stairs_and_a_squat_are_asked_each_by_itself(answers: dict[str, bool], failed: list[str]) -> None:
    found = checkins.stairs_test(checkin(5, **answers), (), LIMITS)
    assert (found.evidence["failed"] if found else []) == failed


@pytest.mark.parametrize("answer", ["stairs_unaided", "squat_unaided"])
def test_of_two_answers_of_one_moment_the_worse_is_the_later(answer: str) -> None:
    good_news, bad_news = checkin(5, order=1.0, **{answer: True}), checkin(5, order=1.0, **{answer: False})
    for given in ([good_news, bad_news], [bad_news, good_news]):
        assert checkins.in_time(given) == [good_news, bad_news]
        assert getattr(checkins.by_day(given)[on(5)], answer) is False


@pytest.mark.parametrize("sex", ["male", "female", None])
def test_an_impulse_is_the_mean_of_both_weightings_where_sex_is_not_told(sex: Any) -> None:
    """An hour at half of the reserve."""
    of = {"male": 0.64 * math.exp(1.92 / 2), "female": 0.86 * math.exp(1.67 / 2)}
    weight = of[sex] if sex else (of["male"] + of["female"]) / 2
    assert trimp({125: 3600}, 60, 190, sex) == pytest.approx(60 * 0.5 * weight)
    assert trimp({50: 600}, 60, 190, sex) == 0
    assert trimp({200: 60}, 60, 190, sex) == trimp({190: 60}, 60, 190, sex)
    assert trimp({125: 3600}, 60, 60, sex) == 0


@pytest.mark.parametrize("day", [0, 1, 2])
def test_no_morning_after_the_race_is_of_the_usual(day: int) -> None:
    """Thirteen before it are too few, and stay too few but for that of the race."""
    values = {on(-number): 48.0 for number in range(1, 14)} | {on(day): 48.0}
    found = baseline(values, on(0), (), LIMITS)
    assert found is not None
    assert found.mornings == (14 if day == 0 else 13)


@pytest.mark.parametrize(("until", "days"), [(20, list(range(14, 21))), (3, [1, 2, 3]), (7, list(range(1, 8)))])
def test_the_last_week_has_seven_mornings_after_the_race(until: int, days: list[int]) -> None:
    values = {on(day): 1.0 for day in range(-5, 30)}
    assert list(judged.recent(values, on(until), on(0), LIMITS)) == [on(day) for day in days]


@pytest.mark.parametrize(
    ("share", "error", "given"), [(0.51, 0.1, True), (0.49, 0.1, None), (0.11, 0.1, None), (0.09, 0.1, False)]
)
def test_an_answer_is_sure_by_twice_its_error(share: float, error: float, given: bool | None) -> None:
    assert HeartAnswer(share, error, 20.0, 1.0).given(0.3) == given


def test_the_usual_is_kept_with_three_decimals() -> None:
    found = judged._baseline_evidence(Baseline(48.12345, 1.98765, 20, 14, on(-30), on(-8), 48.0, 2.0), "bpm")
    assert (found["baseline_bpm"], found["baseline_sd_bpm"], found["baseline_mornings"]) == (48.123, 1.988, 20)
    assert (found["baseline_from"], found["baseline_to"]) == (on(-30).isoformat(), on(-8).isoformat())
