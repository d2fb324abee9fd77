"""How much: `duration_cap`, `run_spacing`, `weekly_running`, `long_run_jump`."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite

import pytest

from rules.findings import Severity
from rules.words import said
from tests.rules.people import at, athlete, judged, only, race, session, told

# duration_cap


@pytest.mark.parametrize(
    ("day", "minutes", "severity"),
    [
        (5, 45, None), (5, 47.25, None), (5, 47.3, "caution"), (5, 67.5, "caution"), (5, 67.6, "stop"),
        (9, 63, None), (9, 63.1, "caution"), (9, 90, "caution"), (9, 90.1, "stop"), (16, 63, None), (16, 64, "caution"),
    ],
)  # fmt: skip
def test_a_day_over_its_cap_by_more_than_the_slack_is_a_caution_and_half_as_much_again_a_stop(
    day: int, minutes: float, severity: str | None
) -> None:
    found = judged(session(day, "cycling", minutes)).findings
    assert [str(each.severity) for each in found] == ([severity] if severity else [])


def test_the_sessions_of_a_day_add_up_and_walking_does_not() -> None:
    rides = [session(9, "cycling", 40, 7), session(9, "walking", 120, 12), session(9, "swimming", 30, 18)]
    [found] = judged(rides).findings
    assert found.session_start == rides[2].start
    assert found.observed == 70
    assert [part["minutes"] for part in found.evidence["day"]] == [40, 30]


def test_every_session_that_finds_the_day_over_its_cap_is_told_with_the_day_so_far() -> None:
    found = judged([session(9, "cycling", 40, hour) for hour in (7, 12, 18)]).findings
    assert [(each.observed, str(each.severity)) for each in found] == [(80, "caution"), (120, "stop")]


def test_only_the_running_in_a_walk_counts_to_the_day() -> None:
    day = [session(16, "cycling", 45, 7), session(16, "walking", 90, 18, running_min=20)]
    assert [each.observed for each in only(judged(day), "duration_cap")] == [65]


def test_a_session_belongs_to_the_local_day_of_its_start() -> None:
    late = session(9, "cycling", 50, 23.5)  # to 0:20 of the next day
    assert told(judged(late, session(10, "cycling", 50, 8))) == []
    assert len(judged(late, session(9, "cycling", 20, 8)).findings) == 1


@pytest.mark.parametrize(("minutes", "severity"), [(32, None), (32.1, "caution"), (45, "caution"), (45.1, "stop")])
def test_a_run_has_a_cap_of_its_own_in_the_test_runs(minutes: float, severity: str | None) -> None:
    found = judged(session(16, minutes=minutes)).findings
    assert [str(each.severity) for each in found] == ([severity] if severity else [])


def test_a_session_over_both_caps_is_one_finding_with_the_graver_first() -> None:
    [found] = judged(session(16, "cycling", 30, 7), session(16, minutes=46, hour=18)).findings
    assert found.severity == Severity.STOP
    assert found.evidence["of"] == "run"
    assert "76 min" in said(found.evidence["also"])


def test_of_two_caps_broken_alike_the_one_further_over_is_told() -> None:
    [found] = judged(session(16, "cycling", 45, 7), session(16, minutes=34, hour=18)).findings
    assert (found.evidence["of"], found.observed) == ("day", 79)
    assert "34 min" in said(found.evidence["also"])


def test_the_on_ramp_has_no_cap() -> None:
    assert told(judged(session(23, "cycling", 200), runner=athlete(race("ultra_50k")))) == []


# run_spacing


def test_runs_on_following_days_are_a_caution_in_the_test_runs() -> None:
    assert told(judged(session(15), session(16), session(18))) == [(16, "run_spacing", "caution")]
    assert (15, "run_spacing", "caution") in told(judged(session(14, minutes=15), session(15)))


def test_two_files_of_one_run_are_one_run_and_a_second_run_of_the_day_is_not() -> None:
    assert told(judged(session(15, minutes=10, hour=9), session(15, minutes=10, hour=10))) == []
    assert told(judged(session(15, minutes=10, hour=7), session(15, minutes=10, hour=18))) == [
        (15, "run_spacing", "caution")
    ]


# weekly_running and long_run_jump

ULTRA = athlete(race("ultra_100k"))
BEFORE = [session(-35 - 7 * week - each, minutes=60) for week in range(6) for each in (2, 4, 6)]
"""Three hours of running in each of the six weeks before a taper of 35 days."""


def test_running_over_the_weeks_share_is_a_caution() -> None:
    # usual week 180 min: 90 in the first week of the on-ramp, 135 in the second
    first = [session(day, minutes=30, km=5) for day in (22, 24, 26)]
    assert told(judged(BEFORE, first, runner=ULTRA)) == []
    over = judged(BEFORE, first, session(28, minutes=10, km=2), runner=ULTRA)
    assert told(over) == [(28, "weekly_running", "caution")]
    assert (over.findings[0].observed, over.findings[0].limit) == (100, 90)
    assert said(over.findings[0].summary) == (
        "100 min of running this week, where 90 min are allowed: 50 % of the usual 180 min"
    )
    assert over.findings[0].evidence["usual_weeks_min"] == [180.0] * 6
    assert told(judged(BEFORE, first, session(29, minutes=35, km=5), runner=ULTRA)) == []


def test_without_a_usual_week_nothing_is_found_and_it_is_said() -> None:
    found = judged([session(day, minutes=90, km=15) for day in (22, 23, 24, 25)], runner=ULTRA)
    assert told(found) == []
    assert any("running a week" in said(each) for each in found.thin)


def test_weeks_before_the_history_began_are_not_weeks_without_running() -> None:
    young = [each for each in BEFORE if each.start > at(-35 - 28)]
    [found] = judged(young, session(22, minutes=100), runner=ULTRA).findings
    assert found.evidence["usual_week_min"] == 180


def test_a_run_longer_than_a_tenth_over_the_longest_since_the_race_is_a_caution() -> None:
    longest = session(19, minutes=30, km=10)
    assert told(judged(longest, session(23, minutes=60, km=11), runner=ULTRA)) == []
    [found] = judged(longest, session(23, minutes=60, km=11.001), runner=ULTRA).findings
    assert (found.rule, found.observed, found.limit) == ("long_run_jump", 11001, 11000)


def test_the_race_itself_and_runs_before_it_do_not_blind_the_jump_rule() -> None:
    own = session(0, minutes=300, km=100, hour=8.8)
    found = judged(own, session(-3, km=20), session(19, km=5), session(23, km=6), runner=ULTRA)
    assert told(found) == [(23, "long_run_jump", "caution")]


def test_runs_of_more_than_thirty_days_ago_do_not_count() -> None:
    long_plan = athlete(race("ultra_100k", taper_days=60))
    runs = [session(16, minutes=30, km=10), session(40, minutes=30, km=5), session(47, minutes=40, km=8)]
    assert (47, "long_run_jump", "caution") in told(judged(runs, runner=long_plan))
    assert (46, "long_run_jump", "caution") not in told(judged([*runs[:2], session(46, km=8)], runner=long_plan))


# What the file does not say.


@pytest.mark.parametrize("minutes", [float("nan"), 0.0, float("inf")])
@pytest.mark.parametrize("day", [0, 1, 9, 16, 40])
@pytest.mark.parametrize("sport", ["strength", "yoga", "running", "walking", "cycling", "unknown", "mobility"])
def test_a_session_of_unknown_length_is_judged_by_what_is_known_of_it(sport: str, day: int, minutes: float) -> None:
    lost = replace(session(day, sport, 30, hour=18), timer_s=minutes * 60)
    for found in judged(lost).findings:
        assert "nan" not in said(found.summary)
        assert "inf" not in said(found.summary)
        assert found.observed is None or isfinite(found.observed)


@pytest.mark.parametrize(("sport", "severity"), [("strength", Severity.STOP), ("yoga", Severity.NOTE)])
def test_strength_of_unknown_length_is_as_grave_and_said_so(sport: str, severity: Severity) -> None:
    lost = replace(session(5, sport, 30), timer_s=float("nan"))
    [found] = only(judged(lost), "no_strength")
    assert (found.severity, found.observed) == (severity, None)
    assert said(found.summary).startswith("An unknown time of ")
