"""Mornings, nights and check-ins against the athlete's own normal."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import timedelta
from math import sin

import pytest

from rules.body.mornings import Baseline, baseline, by_date, hrv_down, level_on, levels, ln_rmssd
from rules.body.mornings import when_told as told_once
from rules.catalogue import advice_of
from rules.facts import Morning
from rules.findings import Breach, Severity
from rules.judge import judge
from rules.words import said
from tests.rules.people import (
    LIMITS,
    at,
    athlete,
    checkin,
    history,
    judged,
    mornings,
    nights,
    on,
    only,
    quiet,
    race,
    session,
    told,
)

# baseline


def normal_of(known: Iterable[Morning]) -> Baseline | None:
    return baseline(by_date(known, ln_rmssd), on(0), (), LIMITS)


def _quiet(first: int, last: int, value: float = 48.0) -> dict[object, float]:
    return {on(-day): value for day in range(first, last + 1)}


def test_a_baseline_is_the_median_and_does_not_follow_outliers() -> None:
    values = {on(-8 - day): 48.0 + day % 3 for day in range(30)} | {on(-20): 90.0, on(-21): 20.0}
    normal = baseline(values, on(0), (), LIMITS)
    assert normal is not None
    assert normal.middle == 49
    assert normal.sd == pytest.approx(1.4826)
    assert normal.mornings == 30


def test_the_race_week_is_left_out_where_enough_mornings_remain() -> None:
    nervous = _quiet(1, 7, 60.0)
    assert (normal := baseline(_quiet(8, 21) | nervous, on(0), (), LIMITS)) is not None
    assert (normal.middle, normal.mornings, normal.last) == (48, 14, on(-8))
    assert (normal := baseline(_quiet(8, 20) | nervous, on(0), (), LIMITS)) is not None
    assert (normal.mornings, normal.last) == (20, on(-1))


def test_the_days_after_another_race_are_left_out_where_enough_mornings_remain() -> None:
    values = _quiet(8, 60) | {on(-day): 58.0 for day in range(16, 30)}
    with_them = baseline(values, on(0), (), LIMITS)
    without = baseline(values, on(0), {on(-30)}, LIMITS)
    assert with_them is not None
    assert without is not None
    assert without.mornings == with_them.mornings - 14


def test_mornings_too_long_ago_or_after_the_race_are_no_baseline() -> None:
    assert baseline(_quiet(91, 120), on(0), (), LIMITS) is None
    assert baseline({on(3): 50.0}, on(0), (), LIMITS) is None


def test_fewer_than_fourteen_mornings_find_nothing_and_it_is_said() -> None:
    few = [each for each in mornings({3: 70.0, 4: 70.0}) if each.date >= on(-13)]
    found = judged(few)
    assert found.findings == ()
    assert any("13 of the 14 mornings" in said(each) for each in found.thin)
    enough = [each for each in mornings({3: 70.0, 4: 70.0}) if each.date >= on(-14)]
    assert told(judged(enough)) == [(4, "resting_hr_up", "caution")]


# resting_hr_up: usual 48, the limit is 53


@pytest.mark.parametrize(
    ("values", "days"),
    [
        ({3: 53, 4: 53}, [4]), ({3: 52.9, 4: 60}, []), ({3: 60}, []), ({3: 60, 5: 60}, []),
        ({3: 60, 4: 60, 5: 60}, [4, 5]),
        ({1: 60, 2: 60}, [2]), ({0: 60, 1: 60}, []),
        ({22: 60, 23: 60}, []),
    ],
)  # fmt: skip
def test_resting_heart_rate_is_up_on_two_mornings_running(values: dict[int, float], days: list[int]) -> None:
    found = judged(mornings(values))
    assert [each.day for each in only(found, "resting_hr_up")] == days


def test_a_restless_baseline_asks_for_its_own_standard_deviations() -> None:
    wide = [type(each)(each.date, 44.0 + 4 * (number % 3)) for number, each in enumerate(mornings())]
    limit = 48.1739 + 2.3 * 3.5136  # mean and SD of 44, 48, 52 in turn, of 23 mornings, with what 23 leave unsure
    for beats, expected in ((limit - 0.01, []), (limit + 0.01, [(4, "resting_hr_up", "caution")])):
        assert told(judged(wide, [type(wide[0])(on(day), beats) for day in (3, 4)])) == expected


# hrv_down: usual ln 60, days 56, 60, 64


def test_variability_lower_than_chance_explains_is_a_note_then_a_caution() -> None:
    normal = normal_of(mornings())
    few = level_on(dict.fromkeys((on(3), on(4), on(5)), 4.0), on(5), on(0), normal, LIMITS)
    assert few is not None

    def severities(value: float) -> list[tuple[int, str]]:
        found = hrv_down(dict.fromkeys((on(3), on(4), on(5)), value), on(0), normal, LIMITS)
        return [((day - on(0)).days, str(breach.severity)) for day, breach in found.items()]

    assert severities(few.note + 1e-6) == []
    assert severities(few.note - 1e-6) == [(5, "note")]
    assert severities(few.caution + 1e-6) == [(5, "note")]
    assert severities(few.caution - 1e-6) == [(5, "caution")]
    assert told(judged(mornings(rmssd=dict.fromkeys((3, 4, 5), 30.0)))) == [(5, "hrv_down", "caution")]
    assert told(judged(mornings(rmssd=dict.fromkeys((3, 4), 30.0)))) == []
    assert told(judged(mornings(rmssd=dict.fromkeys((3, 4, 5), 120.0)))) == []


def test_a_fall_is_told_in_ms_and_in_sizes_of_the_smallest_change_that_matters() -> None:
    [found] = judged(mornings(rmssd=dict.fromkeys((3, 4, 5), 40.0))).findings
    assert said(found.summary).startswith(
        "RMSSD has lately been about 40 ms, your usual 60 ms; chance explains down to 50 ms."
    )
    assert "smallest change that matters: 6.7 under" in said(found.summary)  # ln(60/40) = 0.40, half of 0.12 is 0.06


def test_few_mornings_on_either_side_widen_what_chance_explains() -> None:
    values = {on(day): 4.0 for day in range(3, 20)}
    many = {on(-8 - day): 4.1 + 0.2 * (-1) ** day for day in range(60)}
    widths = []
    for number in (14, 20, 30, 60):
        normal = baseline(dict(list(many.items())[:number]), on(0), (), LIMITS)
        level = level_on(values, on(19), on(0), normal, LIMITS)
        assert level is not None
        widths.append((level.usual - level.note) / level.spread)
    assert widths == sorted(widths, reverse=True)
    normal = baseline(many, on(0), (), LIMITS)
    notes = [level.note for level in levels(values, on(0), normal, LIMITS).values()]
    assert notes == sorted(notes)
    assert len(notes) == 15


def test_a_baseline_of_equal_values_makes_no_caution_of_two_milliseconds() -> None:
    flat = [type(each)(each.date, None, 62.0) for each in mornings()]
    assert told(judged(flat, [type(flat[0])(on(day), None, 60.0) for day in range(3, 12)])) == []


def test_mornings_that_follow_one_another_stand_for_fewer() -> None:
    chance = [0.3 * sin(day / 3) for day in range(60)]
    alike = baseline({on(-8 - day): 4.0 + value for day, value in enumerate(chance)}, on(0), (), LIMITS)
    mixed = baseline({on(-8 - day): 4.0 + chance[day * 7 % 60] for day in range(60)}, on(0), (), LIMITS)
    assert alike is not None
    assert mixed is not None
    assert alike.likeness == 0.5
    assert mixed.likeness < 0.3
    assert alike.unsure > mixed.unsure


def test_one_wild_morning_hardly_moves_the_usual() -> None:
    plain = {on(-8 - day): 4.0 + 0.1 * (-1) ** (day // 2) for day in range(20)}
    without, wild = (baseline(each, on(0), (), LIMITS) for each in (plain, plain | {on(-12): 9.0}))
    assert without is not None
    assert wild is not None
    assert abs(wild.mean - without.mean) < 0.03
    assert wild.spread < 1.4 * without.spread


def test_low_mornings_more_than_a_week_apart_are_no_week() -> None:
    assert told(judged(mornings(rmssd={3: 30.0, 4: 30.0, 10: 30.0}))) == []
    assert told(judged(mornings(rmssd={4: 30.0, 5: 30.0, 10: 30.0}))) == [(10, "hrv_down", "caution")]


def test_a_baseline_without_any_spread_still_tells_a_real_fall() -> None:
    flat = [type(each)(each.date, None, 60.0) for each in mornings()]
    low = [type(flat[0])(on(day), None, 40.0) for day in (3, 4, 5)]
    assert told(judged(flat, low)) == [(5, "hrv_down", "caution")]


def test_a_lasting_low_is_told_when_it_begins_when_it_grows_worse_and_weekly() -> None:
    note, caution = Breach("r", Severity.NOTE, ""), Breach("r", Severity.CAUTION, "")
    days = [on(day) for day in range(1, 21)]
    lasting = dict.fromkeys(days, note)
    assert [each.day for each in told_once(lasting, days, LIMITS)] == [on(1).day, on(8).day, on(15).day]
    worse = {**lasting, **dict.fromkeys(days[3:6], caution)}
    assert [(day - on(0)).days for day in told_once(worse, days, LIMITS)] == [1, 4, 11, 18]
    assert {each.evidence["since"] for each in told_once(lasting, days, LIMITS).values()} == {on(1).isoformat()}
    twice = {day: note for day in days if day not in {on(5)}}
    assert [(day - on(0)).days for day in told_once(twice, days, LIMITS)] == [1, 6, 13, 20]


# short_sleep


@pytest.mark.parametrize(
    ("hours", "expected"),
    [
        ({3: 7, 4: 7, 5: 7}, []), ({3: 7, 4: 7, 5: 6.9}, [(5, "note")]), ({3: 6, 4: 6, 5: 6}, [(5, "note")]),
        ({3: 5.9, 4: 6, 5: 6}, [(5, "caution")]), ({3: 5, 4: 5, 6: 5}, []), ({0: 4, 1: 4, 2: 4}, []),
        ({1: 5, 2: 5, 3: 5}, [(3, "caution")]),
    ],
)  # fmt: skip
def test_three_nights_running_are_short_on_average(hours: dict[int, float], expected: list[tuple[int, str]]) -> None:
    found = only(judged(nights(hours)), "short_sleep")
    assert [(each.day, str(each.severity)) for each in found] == expected


# feels_too_good


def test_heart_and_mood_back_early_are_noted_once_a_stage_before_any_damage() -> None:
    well = [checkin(day, mood=8, energy=8, soreness=1) for day in range(3, 13)]
    found = judged(mornings(dict.fromkeys(range(3, 13), 48.0)), well, day=13)
    assert told(found) == [(3, "feels_too_good", "note"), (8, "feels_too_good", "note")]
    assert advice_of(found.findings[0], LIMITS)


@pytest.mark.parametrize(
    ("answers", "resting"),
    [
        ({"mood": 6, "energy": 8}, 48.0), ({"mood": 8, "energy": 8, "soreness": 3}, 48.0), ({"mood": 8}, 51.0),
        ({"soreness": 0}, 48.0), ({"mood": 9, "stairs_unaided": False}, 48.0),
    ],
)  # fmt: skip
def test_one_sign_that_is_not_back_is_enough_to_say_nothing(answers: dict[str, object], resting: float) -> None:
    assert only(judged(mornings({5: resting}), checkin(5, **answers)), "feels_too_good") == []


def test_a_heart_that_works_harder_on_easy_runs_is_not_back() -> None:
    def easy(day: int, value: float) -> object:
        return session(day, minutes=20, km=3, digest={"easy_hr_per_mps": value})

    usual = [easy(-day, 48.0) for day in (20, 25, 30)]
    well = [checkin(17, mood=8), *mornings({17: 48.0})]
    for value, told_of in ((50.0, []), (49.0, [17])):
        found = only(judged(usual, easy(15, value), well), "feels_too_good")
        assert [each.day for each in found] == told_of


def test_the_load_on_bone_and_tendon_is_told_beside_the_heart() -> None:
    def run(day: int) -> object:
        return session(day, "walking", 30, digest={"impact_load": 700.0})

    before = [run(-day) for day in range(8, 43)]  # five weeks of 4900, the race week left out
    found = only(judged(before, run(3), run(4), mornings({5: 48.0}), checkin(5, mood=8)), "feels_too_good")
    assert found[0].evidence["impact_share_of_usual"] == 0.29


def test_feeling_well_in_the_on_ramp_is_fine() -> None:
    late = judged(mornings({24: 48.0}), checkin(24, mood=9), runner=athlete(race("ultra_50k")))
    assert late.findings == ()


# gone_quiet


def test_silence_in_a_plan_is_told_and_outside_it_is_not() -> None:
    def after(hours: float, last_day: int = 5) -> list[tuple[int, str, str]]:
        last = at(last_day, 12)
        return told(judge(history(last_file_at=last), last + timedelta(hours=hours), LIMITS, 72, quiet))

    assert after(71.9) == []
    assert after(72) == [(8, "gone_quiet", "caution")]
    assert after(100) == [(8, "gone_quiet", "caution")]
    assert after(100, 25) == []
    assert after(100, -4) == []
    last = at(5, 12)
    later = judge(history(last_file_at=last), last + timedelta(hours=100), LIMITS, 72, quiet).findings[0]
    assert (later.observed, later.limit) == (96, 72)  # whole days, so that it does not change with every look
    assert "2026-10-09 12:00" in said(later.summary)
    never = judge(history(), at(3, 14), LIMITS, 72, quiet)
    assert told(never) == [(3, "gone_quiet", "caution")]
    assert never.findings[0].subject_kind == "silence"
    assert "No file has ever come" in said(never.findings[0].summary)


def test_nobody_is_silent_before_the_folder_was_first_looked_at() -> None:
    def after(hours: float) -> list[tuple[int, str, str]]:
        old = replace(history(last_file_at=at(1, 12)), watched_since=at(10, 12))
        return told(judge(old, at(10, 12) + timedelta(hours=hours), LIMITS, 72, quiet))

    assert after(0) == after(71.9) == []
    assert after(72) == [(13, "gone_quiet", "caution")]
