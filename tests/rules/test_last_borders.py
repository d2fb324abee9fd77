"""Borders that no other test stands on: just below, at, just above."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from rules.body.checkins import impact_share, since_race
from rules.day import decide
from rules.day_rules import long_run_jump
from rules.facts import Digest
from rules.history import in_order
from rules.session.heart import followed, heart_answer
from rules.session.labels import quality
from rules.session.track import clean
from rules.session_rules import steep_ground
from rules.today import today
from rules.words import said
from tests.rules.people import LIMITS, at, athlete, checkin, history, judged, plan, race, release, session

FINISH = at(0, 13.8)


@pytest.mark.parametrize(("hour", "rests"), [(17.9, True), (18.4, True), (18.5, False), (18.6, False)])
def test_a_release_answers_a_stop_from_its_end_on(hour: float, rests: bool) -> None:
    facts = [session(10, hour=18, minutes=30), release(10, hour)]
    now = at(11, 7)
    decision = decide(judged(*facts, now=now), in_order(history(*facts), LIMITS), now, LIMITS)
    assert decision.rest is rests


@pytest.mark.parametrize(("before", "found"), [(None, False), (0.0, False), (9.0, True)])
def test_a_run_is_held_against_a_longest_that_is_known(before: float | None, found: bool) -> None:
    one = plan(race("ultra_100k"), as_of_day=30)
    ramp = next(each for each in one.allowances if each.running == "share")
    run = session(ramp.day, minutes=70, km=11.0)
    earlier = session(ramp.day - 3, minutes=60, km=before)
    assert (long_run_jump(run, ramp, [earlier], athlete(), LIMITS) is not None) is found


@pytest.mark.parametrize(("seconds", "known"), [(119, False), (120, True), (121, True)])
def test_an_answer_of_the_heart_takes_four_blocks(seconds: int, known: bool) -> None:
    cause = np.where(np.arange(600) % 60 < 30, 1.0, 0.0)
    heart = np.full(600, np.nan)
    heart[100 : 100 + seconds] = (130 + 24 * followed(cause))[100 : 100 + seconds]
    assert (heart_answer(heart, cause, [], slice(0, 600), LIMITS) is not None) is known


@pytest.mark.parametrize(("minutes", "share"), [(-1, 0.0), (0, 0.0), (1, 1.0)])
def test_the_impact_of_a_week_begins_after_its_first_moment(minutes: int, share: float) -> None:
    now = at(20, 12)
    runs = [session(-day, digest={"impact_load": 5000.0}) for day in (10, 17, 24, 31, 38)]
    start = now - timedelta(days=7) + timedelta(minutes=minutes)
    late = session(13, start=start, digest={"impact_load": 5000.0})
    assert impact_share(now, [*runs, late], FINISH, LIMITS) == pytest.approx(share)


@pytest.mark.parametrize(("records", "apart"), [(2, 30.0), (2, 9.0), (3, 9.0)])
def test_a_session_of_two_records_is_cleaned_like_any_other(records: int, apart: float) -> None:
    table = {
        "t_s": np.arange(records) * apart,
        "hr_bpm": np.full(records, 120.0),
        "speed_mps": np.full(records, 2.8),
        "cadence_spm": np.full(records, 160.0),
    }
    track = clean("running", "generic", records * apart, (), table, LIMITS)
    assert track.clock.seconds == min(apart, 10.0) * records
    assert np.nanmax(track.heart.rows_bpm) == 120


@pytest.mark.parametrize(("minutes", "used_up"), [(44.5, False), (44.6, True), (45, True)])
def test_a_day_is_used_up_when_no_whole_minute_is_left(minutes: float, used_up: bool) -> None:
    facts = [session(5, "cycling", minutes, hour=6)]
    now = at(5, 12)
    decision = decide(judged(*facts, now=now), in_order(history(*facts), LIMITS), now, LIMITS)
    assert any(each.kind == "time_used" for each in decision.reasons) is used_up


@pytest.mark.parametrize(("elapsed_s", "told"), [(0.0, True), (0.1, False), (59.9, False), (60.0, True)])
def test_what_lasted_less_than_a_minute_is_not_asked_about_but_no_time_at_all_is(elapsed_s: float, told: bool) -> None:
    found = judged(session(3, "unknown", 0, elapsed_s=elapsed_s), day=4).findings
    assert any(each.rule == "not_judged" for each in found) is told


@pytest.mark.parametrize(("running_s", "limit"), [(390, 300), (410, 150)])
def test_ground_is_steep_by_the_border_of_running_from_half_of_the_time_afoot_on(running_s: int, limit: int) -> None:
    seconds = np.arange(1600)
    runs = (seconds >= 400) & (seconds < 400 + 2 * running_s)
    speed = np.where(runs, 2.8, 1.4)
    table = {
        "t_s": seconds.astype(np.float64),
        "speed_mps": speed,
        "cadence_spm": np.where(runs, 164.0, 112.0),
        "altitude_m": 200 + 0.12 * np.cumsum(speed),
    }
    breach = steep_ground(clean("running", "trail", 1600.0, (), table, LIMITS), LIMITS)
    assert breach is not None
    assert breach.limit == limit


@pytest.mark.parametrize(("seconds", "counts"), [(-1, False), (0, True), (1, True)])
def test_a_check_in_of_the_race_day_counts_from_the_finish_on(seconds: int, counts: bool) -> None:
    finish = race().finish
    one = checkin(0, order=finish.timestamp() + seconds)
    assert since_race(one, finish, finish.date()) is counts


@pytest.mark.parametrize(("rest", "by_reserve"), [(189, True), (190, False), (191, False)])
def test_a_reserve_needs_a_rest_below_the_highest(rest: int, by_reserve: bool) -> None:
    one = plan(runner=athlete(hr_rest=rest, intensity_model="hrr")).ceilings
    assert one.zone1 is not None
    assert ("reserve" in said(one.zone1.reason)) is by_reserve


def test_evidence_of_a_recording_is_told_to_thousandths_of_a_second() -> None:
    digest = Digest("running", hr_known_s=100.0, speed_known_s=50.0)
    assert quality(digest, 100.126, LIMITS) == 260.013


@pytest.mark.parametrize(("minutes", "told"), [(0.9, False), (1.0, True), (1.1, True)])
def test_what_is_left_of_a_day_is_told_from_a_minute_of_sport_on(minutes: float, told: bool) -> None:
    facts = [session(9, "cycling", minutes, hour=6)]
    now = at(9, 12)
    judgement = judged(*facts, now=now)
    said = today(judgement, history(*facts), now, LIMITS).sentences
    assert any("min of them left" in each for each in said) is told
