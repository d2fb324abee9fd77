"""Gates hold a stage a day at a time, on data that exists, and never shorten anything."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.facts import CheckIn, Hold, Morning
from rules.plan import Plan, Stop
from tests.rules.people import at, athlete, checkin, hold, mornings, on, plan, race, release, spans

MARATHON = [("days_off", 1, 7), ("cross_training", 8, 14), ("test_runs", 15, 21)]
UP = 60.0
CALM = 48.0


def stop(day: int, hour: float = 18) -> Stop:
    return Stop(f"stop {day} {hour}", on(day), at(day, hour))


def test_without_data_every_gate_is_open() -> None:
    assert spans(plan()) == MARATHON
    assert plan().gates == ()


@pytest.mark.parametrize("answer", [{"stairs_unaided": False}, {"squat_unaided": False}, {"pain": 4}, {"pain": 9}])
def test_a_bad_check_in_keeps_the_next_stage_waiting_until_a_better_one(answer: dict[str, object]) -> None:
    good = {"stairs_unaided": True, "squat_unaided": True, "pain": 1}
    one = plan(checkins=[checkin(7, **answer), checkin(10, **good)])
    assert spans(one) == [("days_off", 1, 9), ("cross_training", 10, 16), ("test_runs", 17, 23)]
    [gate] = one.gates
    assert (gate.before, gate.since, gate.until) == ("cross_training", on(8), on(10))
    assert one.stages[0].held_days == 2


def test_a_check_in_that_answers_well_opens_the_gate_on_its_own_day() -> None:
    assert spans(plan(checkins=[checkin(5, pain=6), checkin(8, pain=3.9)])) == MARATHON


def test_a_question_left_out_does_not_open_what_its_last_answer_shut() -> None:
    one = plan(checkins=[checkin(7, stairs_unaided=False), checkin(9, pain=0)])
    assert one.stages[0].last_day == 14


def test_a_check_in_without_newer_data_holds_seven_days_at_most() -> None:
    for day in (1, 7, 8):
        assert plan(checkins=[checkin(day, pain=5)]).stages[1].first_day == 15


def test_newer_bad_data_begins_the_seven_days_again() -> None:
    assert plan(checkins=[checkin(7, pain=5), checkin(10, pain=5)]).stages[1].first_day == 17


def test_a_check_in_from_before_the_finish_says_nothing_of_after_it() -> None:
    assert spans(plan(checkins=[checkin(-2, pain=8), checkin(0, pain=8, order=at(0, 7).timestamp())])) == MARATHON
    assert plan(checkins=[checkin(0, pain=8)]).stages[1].first_day == 15


def test_resting_heart_rate_up_on_the_last_two_mornings_shuts_a_gate() -> None:
    up = mornings({6: UP, 7: UP, 8: UP, 9: CALM})
    one = plan(mornings=up)
    assert one.stages[1].first_day == 9
    assert one.gates[0].reasons[0].reason == "resting heart rate up two mornings running, the last on Mon 12 Oct"
    assert plan(mornings=mornings(dict.fromkeys((7, 8, 9, 10), UP))).stages[1].first_day == 17
    assert plan(mornings=mornings({7: UP, 8: CALM})).stages[1].first_day == 8
    assert plan(mornings=mornings({8: UP})).stages[1].first_day == 8
    assert plan(mornings=mornings({6: UP, 7: UP})).stages[1].first_day == 15


def test_too_thin_a_baseline_leaves_the_gate_open() -> None:
    few = [each for each in mornings({7: UP, 8: UP}) if each.date >= on(-13)]
    assert plan(mornings=few).stages[1].first_day == 8


def test_good_signs_open_nothing_early() -> None:
    signs = [checkin(day, stairs_unaided=True, pain=0, mood=10) for day in range(1, 8)]
    assert spans(plan(checkins=signs, mornings=mornings(dict.fromkeys(range(1, 9), 40.0)))) == MARATHON


def test_a_stop_holds_the_next_gate_for_65_hours_from_its_end() -> None:
    # ends on day 7 at 18:00; 65 h later it is day 10, 11:00: days 8, 9 and 10 are held
    assert plan(stops=[stop(7)]).stages[1].first_day == 11
    # ends on day 4 at 18:00; the hours are over on day 7
    assert spans(plan(stops=[stop(4)])) == MARATHON
    # ends on day 5 at 6:00; over on day 7 at 23:00
    assert spans(plan(stops=[stop(5, 6)])) == MARATHON
    # an hour later: midnight exactly is open; a minute more is not
    assert spans(plan(stops=[stop(5, 7)])) == MARATHON
    assert plan(stops=[stop(5, 7.05)]).stages[1].first_day == 9


def test_the_hours_after_a_stop_are_known_beforehand_and_data_are_not() -> None:
    assert plan(as_of_day=7, stops=[stop(7)]).stages[1].first_day == 11
    assert plan(as_of_day=7, checkins=[checkin(7, pain=8)]).stages[1].first_day == 8
    assert plan(as_of_day=9, checkins=[checkin(7, pain=8)]).stages[1].first_day == 10


def test_a_stop_inside_the_next_stage_does_not_take_the_stage_back() -> None:
    one = plan(stops=[stop(8)])
    assert one.stages[1].first_day == 8


def test_a_second_stop_holds_the_stage_for_the_coach_until_a_release() -> None:
    two = [stop(2), stop(10)]
    waiting = plan(as_of_day=20, stops=two)
    assert waiting.stage_on(on(20)) == "cross_training"
    assert waiting.stages[2].first_day == 21
    [gate] = waiting.gates
    assert gate.until is None
    assert gate.asks == ("a release by the coach",)
    assert plan(as_of_day=20, stops=two, holds=[release(18)]).stages[2].first_day == 18
    assert spans(plan(as_of_day=20, stops=two, holds=[release(12)])) == MARATHON
    assert plan(as_of_day=20, stops=two, holds=[release(9)]).stage_on(on(20)) == "cross_training"


def test_stops_that_nobody_releases_end_some_day() -> None:
    assert plan(as_of_day=400, stops=[stop(2), stop(10)]).last_day < 60


def test_a_last_stage_waits_too_before_the_plan_is_done() -> None:
    one = plan(race("5k"), checkins=[checkin(6, pain=7), checkin(8, pain=1)])
    assert spans(one)[-1] == ("test_runs", 5, 7)
    assert one.gates[-1].before == "done"


def test_a_release_overrides_what_data_had_shut_up_to_its_day_only() -> None:
    bad = [checkin(7, pain=8)]
    assert plan(checkins=bad, holds=[release(9)]).stages[1].first_day == 9
    worse = [*bad, checkin(10, pain=8), checkin(12, pain=0)]
    assert plan(checkins=worse, holds=[release(9)]).stages[1].first_day == 9
    assert plan(checkins=[checkin(7, pain=8), checkin(9, pain=8)], holds=[release(8)]).stages[1].first_day == 8


# Any facts at all

DAYS = st.integers(0, 40)
CHECKINS = st.lists(
    st.builds(checkin, DAYS, stairs_unaided=st.sampled_from([True, False, None]), pain=st.integers(0, 10)), max_size=8
)
MORNINGS = st.dictionaries(st.integers(1, 40), st.sampled_from([UP, CALM]), max_size=12).map(mornings)
STOPS = st.lists(st.builds(stop, DAYS, st.integers(0, 23)), max_size=4, unique_by=lambda each: each.session)
HOLDS = st.lists(
    st.one_of(
        st.builds(hold, DAYS, st.one_of(st.none(), st.integers(1, 10)), st.integers(0, 23)),
        st.builds(release, DAYS, st.integers(0, 23)),
    ),
    max_size=4,
)
AS_OF = st.integers(-3, 60)
EVENTS = st.sampled_from(["5k", "10k", "half", "marathon", "ultra_50k", "ultra_100k"])


def _laid(
    event: str, checkins: list[CheckIn], up: list[Morning], stops: list[Stop], holds: list[Hold], as_of: int
) -> Plan:
    return plan(race(event), as_of_day=as_of, checkins=checkins, mornings=up, stops=stops, holds=holds)


@settings(max_examples=150, deadline=None)
@given(EVENTS, CHECKINS, MORNINGS, STOPS, HOLDS, AS_OF)
def test_stages_tile_the_days_whatever_happens(
    event: str, checkins: list[CheckIn], up: list[Morning], stops: list[Stop], holds: list[Hold], as_of: int
) -> None:
    one = _laid(event, checkins, up, stops, holds, as_of)
    rows = one.stages
    assert rows[0].first_day == 1
    assert all(
        b.first_day == a.last_day + 1 and b.first_date == a.last_date + timedelta(days=1) for a, b in pairwise(rows)
    )
    assert rows[-1].last_day == one.last_day
    for day in range(-2, one.last_day + 3):
        inside = [row.stage for row in rows if row.first_day <= day <= row.last_day]
        expected = inside[0] if inside else "before" if day < 0 else "days_off" if day == 0 else "done"
        assert one.stage_on(on(day)) == expected
        assert one.allowance_on(on(day)).day == day


@settings(max_examples=150, deadline=None)
@given(EVENTS, CHECKINS, MORNINGS, STOPS, HOLDS, AS_OF)
def test_nothing_ever_shortens_a_stage_or_begins_it_early(
    event: str, checkins: list[CheckIn], up: list[Morning], stops: list[Stop], holds: list[Hold], as_of: int
) -> None:
    moved, planned = _laid(event, checkins, up, stops, holds, as_of), plan(race(event))
    assert [row.stage for row in moved.stages] == [row.stage for row in planned.stages]
    for a, b in zip(moved.stages, planned.stages, strict=True):
        assert a.first_day >= b.first_day
        assert a.last_day - a.first_day >= b.last_day - b.first_day
        assert a.held_days >= 0


@settings(max_examples=100, deadline=None)
@given(EVENTS, CHECKINS, MORNINGS, STOPS, HOLDS, st.integers(1, 40), st.integers(1, 20))
def test_the_past_of_a_plan_does_not_hang_on_what_comes_later(
    event: str,
    checkins: list[CheckIn],
    up: list[Morning],
    stops: list[Stop],
    holds: list[Hold],
    until: int,
    later: int,
) -> None:
    cut = on(until)

    def known(day: date) -> bool:
        return day <= cut

    whole = _laid(event, checkins, up, stops, holds, until + later)
    part = _laid(
        event,
        [each for each in checkins if known(each.date)],
        [each for each in up if known(each.date)],
        [each for each in stops if each.day < cut],
        [each for each in holds if known(each.on)],
        until + later,
    )
    for day in range(until + 1):
        assert whole.allowance_on(on(day)) == part.allowance_on(on(day))


@settings(max_examples=100, deadline=None)
@given(EVENTS, CHECKINS, MORNINGS, STOPS, HOLDS, AS_OF, st.randoms(use_true_random=False))
def test_the_order_of_facts_changes_no_plan(
    event: str,
    checkins: list[CheckIn],
    up: list[Morning],
    stops: list[Stop],
    holds: list[Hold],
    as_of: int,
    random: object,
) -> None:
    one = _laid(event, checkins, up, stops, holds, as_of)
    for facts in (checkins, up, stops, holds):
        random.shuffle(facts)
    assert _laid(event, checkins, up, stops, holds, as_of) == one


def test_a_release_answers_what_was_known_when_it_was_given_and_newer_bad_news_holds_again() -> None:
    """To the minute: pain told at 19:00 is not answered by a release of 8:00 on that day."""
    told = checkin(7, pain=7.0, order=at(7, 19).timestamp())
    assert spans(plan(checkins=[told], holds=[release(7, 18.99)]))[0] == ("days_off", 1, 14)
    assert spans(plan(checkins=[told], holds=[release(7, 19)])) == MARATHON
    later = checkin(8, pain=7.0, order=at(8, 19).timestamp())
    assert spans(plan(checkins=[told, later], holds=[release(8, 8)]))[0][2] > 8
    up = mornings({7: UP, 8: UP})
    assert spans(plan(mornings=up, holds=[release(8, 6)])) == MARATHON
    assert spans(plan(mornings=up, holds=[release(7, 23)]))[0][2] > 7


def test_a_person_alone_hears_of_no_coach_at_the_gate() -> None:
    stops = [stop(9), stop(10)]
    together, alone = plan(stops=stops), plan(stops=stops, runner=replace(athlete(), coached=False))
    for one, spoken in ((together, True), (alone, False)):
        words = " ".join((each.reason + each.asks) for gate in one.gates for each in gate.reasons if each.by == "coach")
        assert words
        assert ("coach" in words) is spoken
