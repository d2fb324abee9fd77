from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import pytest

from monitor.board.athlete_view import data_gaps
from monitor.board.days import GUTTER, ChartDays, runs, sheet
from monitor.board.plan_charts import strip
from monitor.board.tables import checkin_rows, day_rows, decisions
from monitor.board.two_clocks import clocks
from tests.monitor.board.scenes import scene
from tests.rules.people import LIMITS, at, checkin, hold, mornings, nights, on, release, session


def _sheet(*facts: Any, day: int = 20) -> ChartDays:
    known = scene(*facts, day=day)
    plan = known.made.judgement.current
    assert plan is not None
    return sheet(plan, known.facts, on(day), LIMITS)


def _spans(laid: ChartDays, what: str = "stage") -> list[tuple[str, int, int]]:
    return [(name, first.number, last.number) for name, first, last in runs(laid.days[1:], what)]


def test_the_days_stand_as_planned_and_as_they_go() -> None:
    laid = _sheet(hold(5), release(9), day=12)
    assert _spans(laid, "planned") == [
        ("days_off", 1, 7),
        ("cross_training", 8, 14),
        ("test_runs", 15, 21),
        ("done", 22, 22),
    ]
    assert _spans(laid) == [("days_off", 1, 8), ("cross_training", 9, 15), ("test_runs", 16, 22)]
    assert [each.number for each in laid.days if each.held] == [8]


def test_the_days_fill_the_width_beside_the_words() -> None:
    laid = _sheet()
    assert laid.edge(on(0)) == GUTTER
    assert laid.edge(laid.days[-1].date) + laid.width == pytest.approx(1.0)
    assert laid.middle(on(3)) == pytest.approx(laid.edge(on(3)) + laid.width / 2)


def test_the_ribbon_tells_the_stages_by_word_and_by_texture() -> None:
    figure = strip(_sheet(hold(5), release(9), day=12))
    for stage, words, short in (
        ("days_off", "days off", "off"),
        ("cross_training", "cross-training", "cross"),
        ("test_runs", "test runs", "tests"),
    ):
        assert f'class="stage {stage}"' in figure.chart
        assert f'class="stage thin {stage}"' in figure.chart
        assert f">{words}<" in figure.chart
        assert f">{short}<" in figure.chart
    assert ">today, day 12<" in figure.chart
    assert ">held<" in figure.chart
    assert figure.said == (
        "Days off to Mon 12 Oct (1 day longer than planned), cross-training to Mon 19 Oct, test runs to Mon 26 Oct."
        " 22 days, planned for 21."
    )


def _seconds(bpm: Sequence[int]) -> dict[str, Any]:
    return {"hr_seconds": dict.fromkeys(bpm, 60.0)}


def test_beats_over_what_a_measured_heart_can_do_count_for_nothing() -> None:
    most = 190 + round(LIMITS.cleaning.over_hr_max_bpm["measured"])
    laid = _sheet(session(3, "cycling", 50, digest=_seconds((110, most, most + 1, 215))))
    (ride,) = laid.days[3].outings
    assert (ride.above_min, ride.highest) == (1.0, most)


def test_a_session_is_held_against_its_own_days_cap_and_ceiling() -> None:
    laid = _sheet(
        session(3, "cycling", 50, digest=_seconds(range(110, 130))),
        session(3, "walking", 40, hour=15),
        session(9, "cycling", 50, digest=_seconds(range(110, 130))),
    )
    ride, walk = laid.days[3].outings
    assert (ride.ceiling, ride.above_min, ride.highest) == (121, 8.0, 129)
    assert ride.heart == (110, 119, 128)
    assert walk.counted_min == 0
    assert laid.days[3].counted_min == 50
    later = laid.days[9].outings[0]
    assert (later.ceiling, later.above_min) == (146, 0.0)
    rows = {row[1]: row for row in day_rows(laid)}
    assert rows["Wed 7 Oct"][3:6] == ("cycling 50 min, walking 40 min", "50 of 45", "8 over 121")
    assert rows["Tue 13 Oct"][4:6] == ("50 of 60", "0 over 146")


def test_the_race_itself_is_no_session_after_it() -> None:
    laid = _sheet(session(0, minutes=200, start=at(0, 10.5)), session(0, "walking", 20, hour=18))
    assert [outing.sport for outing in laid.days[0].outings] == ["walking"]


def test_the_table_says_what_mornings_and_nights_said() -> None:
    laid = _sheet(mornings({10: 55.4}, {10: 61.0}), nights({10: 6.5}))
    row = next(row for row in day_rows(laid) if row[0] == "10")
    assert row == ("10", "Wed 14 Oct", "cross-training", "", "", "", "55", "61", "6:30")
    assert day_rows(laid)[0][0] == "20", "today first"


def test_check_ins_are_told_in_full() -> None:
    said = checkin(
        5, stairs_unaided=False, squat_unaided=True, pain=3, pain_where="calf", mood=6, symptoms=("numb",), note="Hm"
    )
    assert checkin_rows(_sheet(said)) == (
        ("Fri 9 Oct", "stairs not unaided, squat unaided, pain 3 (calf), mood 6, symptoms: numb, “Hm”"),
    )


def test_gates_and_holds_are_told_by_date() -> None:
    known = scene(hold(5), release(9), day=17)
    plan = known.made.judgement.current
    assert plan is not None
    assert decisions(plan) == (
        "Held on Fri 9 Oct by the coach: sore.",
        "The gate before cross-training shut on Mon 12 Oct, open again on Tue 13 Oct: held since Fri 9 Oct: sore.",
        "Released on Tue 13 Oct by the coach.",
    )


def test_what_did_not_come_in_is_said() -> None:
    laid = _sheet(mornings({1: 48, 2: 48}), session(4, "cycling"), checkin(6, pain=0), day=6)
    said = data_gaps(laid, ("a thin thing",), [("a.fit", "broken")])
    assert said[0] == "a thin thing"
    assert "nothing at all on Wed 7 Oct, Fri 9 Oct" in said
    assert "no resting heart rate on 4 of 6 days since the race: Wed 7 Oct, Thu 8 Oct, Fri 9 Oct, Sat 10 Oct" in said
    assert "no sleep since the race" in said
    assert "check-ins on 1 of 6 days, the latest on Sat 10 Oct" in said
    assert "cycling on Thu 8 Oct: no heart rate" in said
    assert "the file a.fit could not be read: broken" in said


def test_the_clock_of_the_heart_counts_no_beats_that_it_cannot_do() -> None:
    def shares(more: dict[int, float]) -> dict[date, float]:
        usual = [session(-back, minutes=60, digest={"hr_seconds": {150: 3600.0}}) for back in range(8, 43)]
        ride = session(10, "cycling", 60, digest={"hr_seconds": {150: 3600.0} | more})
        known = scene(*usual, ride, mornings({9: 48, 10: 48}), day=10)
        plan = known.made.judgement.current
        assert plan is not None
        return clocks(sheet(plan, known.facts, on(10), LIMITS), known.facts, LIMITS).heart

    assert shares({199: 600.0, 230: 60.0}) == shares({}) != shares({198: 600.0})


def test_the_two_clocks_run_apart() -> None:
    usual = [
        session(-back, minutes=60, digest={"impact_load": 1000.0, "hr_seconds": {150: 3600.0}}) for back in range(8, 43)
    ]
    ride = session(10, "cycling", 60, digest={"hr_seconds": {150: 7 * 3600.0}})
    known = scene(*usual, ride, mornings({9: 48, 10: 48}), day=10)
    plan = known.made.judgement.current
    assert plan is not None
    both = clocks(sheet(plan, known.facts, on(10), LIMITS), known.facts, LIMITS)
    assert both.heart[on(10)] == pytest.approx(1.0), "seven hours at 150, as in a usual week"
    assert both.heart[on(9)] == 0.0
    assert both.impact[on(10)] == 0.0
    assert "resting heart rate near its usual since Tue 13 Oct" in both.said.lower().replace("tue 13 oct", "Tue 13 Oct")


def test_without_a_season_before_there_is_no_usual_week() -> None:
    known = scene(session(10, "cycling", 60), day=10)
    plan = known.made.judgement.current
    assert plan is not None
    both = clocks(sheet(plan, known.facts, on(10), LIMITS), known.facts, LIMITS)
    assert (both.heart, both.impact) == ({}, {})
    assert "no usual week known" in both.said


def test_check_ins_that_say_nearly_the_same_are_one_line() -> None:
    same = [checkin(day, pain=pain, stairs_unaided=True) for day, pain in ((2, 2), (3, 1), (4, 2))]
    rows = checkin_rows(_sheet(*same))
    assert rows == (("Tue 6 Oct – Thu 8 Oct, 3 check-ins", "stairs unaided, pain 1–2"),)
    apart = checkin_rows(_sheet(*same[:2], checkin(4, pain=4, stairs_unaided=True)))
    assert [dates for dates, _ in apart] == ["Thu 8 Oct", "Tue 6 Oct – Wed 7 Oct, 2 check-ins"]
    noted = checkin_rows(_sheet(*same[:2], checkin(4, pain=2, stairs_unaided=True, note="by the rail")))
    assert len(noted) == 2, "what is said in words keeps its line"
