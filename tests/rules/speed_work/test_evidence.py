"""Fast running as gravely as its signals tell it: invented recordings with the errors that devices make."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.facts import SampleContext, held_for
from rules.findings import Severity
from rules.session.digest import digest
from rules.session.heart import followed, heart_answer
from rules.session_rules import judge_samples
from rules.speed_work.bouts import best_spans
from rules.words import said
from tests.rules.speed_work.made_runs import (
    BOTH,
    EASY_MPS,
    LIMITS,
    REPEATS,
    STRIDES,
    THRESHOLD_MPS,
    Floats,
    by_device,
    by_positions,
    findings,
    heart,
    made,
    run,
    told,
)


@BOTH
@pytest.mark.parametrize("seed", range(6))
def test_positions_that_wander_are_no_strides(seed: int, threshold: float | None) -> None:
    steady = run((2700, EASY_MPS), wander=0.03)
    found = told(by_positions(steady, 6.0, 4, seed), None if threshold is None else 3.0)
    assert found is None


@BOTH
def test_altitude_that_drifts_smoothly_makes_no_hill_repeats_no_steep_ground_and_no_ascent(
    threshold: float | None,
) -> None:
    steady = run((3600, 3.2), wander=0.02)
    phantom = 100 + 30 * np.sin(np.arange(3600) / 60) + 12 * np.sin(np.arange(3600) / 23)
    table = by_device(steady, altitude_m=phantom)
    one, _ = made(table)
    found = findings(table, threshold)
    assert "no_speed_work" not in found
    assert "steep_ground" not in found
    assert one.ascent_m is None
    assert "altitude_doubted" in one.notes


def test_climbs_that_the_heart_answers_are_believed() -> None:
    slope = np.tile(np.concatenate((np.full(80, 0.10), np.full(80, -0.10), np.zeros(60))), 15)
    speed = np.full(len(slope), EASY_MPS)
    effort = speed * np.where(slope > 0, 1.6, 1.0)
    table = by_device(speed, altitude_m=200 + np.cumsum(speed * slope), hr_bpm=heart(effort))
    one, _ = made(table)
    assert "altitude_doubted" not in one.notes
    assert one.ascent_m is not None
    assert "steep_ground" in findings(table)


def test_places_that_lie_at_another_height_each_time_make_the_altitude_doubtful() -> None:
    size = 3600
    turn = 2 * np.pi * np.cumsum(np.full(size, 3.0)) / 900  # a loop of 900 m
    east, north = 143 * np.sin(turn), 143 * np.cos(turn)
    table = by_device(
        np.full(size, 3.0),
        lat_deg=60 + np.degrees(north / 6371008.8),
        lon_deg=10 + np.degrees(east / 6371008.8 / np.cos(np.radians(60))),
        altitude_m=100 + 25 * np.sin(np.arange(size) / 190),
        hr_bpm=np.full(size, 140.0) + np.sin(np.arange(size) / 50),
    )
    one, _ = made(table)
    assert "altitude_doubted" in one.notes


@pytest.mark.parametrize(
    ("barometer", "answers", "doubted"),
    [(None, False, False), (True, False, False), (False, False, True), (False, True, False)],
)
def test_an_altitude_without_a_barometer_needs_something_that_confirms_it(
    *, barometer: bool | None, answers: bool, doubted: bool
) -> None:
    slope = np.tile(np.concatenate((np.full(80, 0.10), np.full(80, -0.10), np.zeros(60))), 15)
    speed = np.full(len(slope), EASY_MPS)
    beats = heart(speed * np.where(slope > 0, 1.6, 1.0)) if answers else None
    table = by_device(speed, altitude_m=200 + np.cumsum(speed * slope), hr_bpm=beats)
    one = digest("running", "generic", len(speed), len(speed), (), table, LIMITS, barometer)
    assert ("altitude_doubted" in one.notes) is doubted
    assert (one.ascent_m is None) is doubted


def test_flat_running_between_slow_climbs_at_no_more_effort_is_no_fartlek() -> None:
    slope = np.tile(np.concatenate((np.full(300, 0.12), np.full(240, 0.0), np.full(120, -0.08))), 5)
    speed = np.where(slope > 0, 1.9, np.where(slope < 0, 3.0, 2.9))
    level = np.where(slope > 0, 3.2, np.where(slope < 0, 2.4, 2.9))
    table = by_device(speed, altitude_m=300 + np.cumsum(speed * slope), hr_bpm=heart(level))
    found = told(table, None)
    assert found is None


@BOTH
def test_the_first_minute_of_position_fixing_is_no_fast_running(threshold: float | None) -> None:
    table = by_positions(run((2700, 2.9)), 1.0, 1, 3)
    jump = np.concatenate((np.linspace(400, 0, 60), np.zeros(2640)))
    table["lon_deg"] = table["lon_deg"] - np.degrees(jump / 6371008.8 / 0.5)
    found = told(table, threshold)
    assert found is None


def test_running_is_not_joined_over_a_stopped_timer() -> None:
    speed = run((600, EASY_MPS), (170, 3.9), (600, 0.0), (170, 3.9), (600, EASY_MPS))
    table = by_device(speed)
    keep = (table["t_s"] <= 770) | (table["t_s"] >= 1370)
    found = told({name: values[keep] for name, values in table.items()}, pauses=((770.0, 1370.0),))
    assert found is not None
    assert found.evidence["bouts"] == 2


@BOTH
@pytest.mark.parametrize(("count", "seconds", "rest"), [(20, 60, 60), (16, 60, 45), (5, 180, 90), (10, 28, 100)])
def test_repeats_are_told_by_their_number_and_length(
    count: int, seconds: int, rest: int, threshold: float | None
) -> None:
    speed = run((800, EASY_MPS), *[(seconds, 4.6), (rest, 2.3)] * count, (500, EASY_MPS), wander=0.02)
    found = told(by_device(speed), threshold)
    assert found is not None
    assert found.severity == Severity.STOP
    assert abs(found.evidence["bouts"] - count) <= 0.1 * count
    assert abs(float(np.median(found.evidence["bout_seconds"])) - seconds) <= max(0.1 * seconds, 3)


@BOTH
def test_a_tempo_run_with_short_dips_is_one_effort(threshold: float | None) -> None:
    block = [(390, 3.9), (12, 3.0)] * 4
    found = told(by_device(run((600, EASY_MPS), *block, (600, EASY_MPS))), threshold)
    assert found is not None
    assert found.evidence["bouts"] == 1
    assert found.evidence["fast_s"] == pytest.approx(1608, rel=0.1)
    assert "slower" not in said(found.summary)


def test_five_kilometres_all_out_from_the_first_step_are_one_effort_and_a_question() -> None:
    found = told(by_device(run((1130, 4.15), (5, 1.0))))
    assert found is not None
    assert found.severity == Severity.CAUTION
    assert found.evidence["bouts"] == 1
    assert said(found.summary).endswith("was it?")


@pytest.mark.parametrize("speed", [STRIDES, REPEATS], ids=["strides", "repeats"])
@BOTH
def test_the_same_session_is_told_the_same_from_every_kind_of_file(speed: Floats, threshold: float | None) -> None:
    fit = told(by_device(speed), threshold)
    tcx = told(by_device(speed, speed_mps=None), threshold)
    gpx = told(by_positions(speed, 0.7, 1, 1), threshold)
    assert fit is not None
    assert tcx is not None
    assert gpx is not None
    for other in (tcx, gpx):
        assert other.severity == fit.severity
        assert other.evidence["kind"] == fit.evidence["kind"]
        assert other.evidence["bouts"] == fit.evidence["bouts"] == 6
        assert other.observed == pytest.approx(fit.observed, rel=0.05)


def test_strides_that_a_well_known_heart_does_not_answer_are_never_a_stop() -> None:
    speed = STRIDES
    calm = np.full(len(speed), 140.0) + np.rint(np.sin(np.arange(len(speed)) / 30))
    found = told(by_device(speed, hr_bpm=calm))
    assert found is not None
    assert found.severity == Severity.CAUTION
    noisy = told(by_positions(run((2400, EASY_MPS)), 7.0, 4, 5, hr_bpm=np.full(2400, 140.0)), 3.0)
    assert noisy is None


def by_speed_alone(every: int = 1, *, heart: bool = False, altitude: bool = True, sub_sport: str = "generic") -> str:
    """Four minutes of repeats, told every so many seconds, of a device without steps."""
    table = by_device(run((900, EASY_MPS), *[(60, 4.3), (120, 2.5)] * 4, (400, EASY_MPS)))
    hidden = set() if heart else {"hr_bpm"}
    table["altitude_m"] = np.zeros(len(table["t_s"]))
    hidden |= set() if altitude else {"altitude_m"}
    table = {name: values[::every] for name, values in table.items() if name not in hidden}
    _, session = made(table)
    context = SampleContext(None, "none", True, None)
    found = judge_samples(replace(session, sub_sport=sub_sport), table, context, LIMITS)
    return next((one.severity.name for one in found if one.rule == "no_speed_work"), "none")


@pytest.mark.parametrize(("every", "told"), [(1, "STOP"), (5, "STOP"), (6, "CAUTION"), (8, "CAUTION")])
def test_stretches_of_few_records_are_a_question_where_only_their_speed_tells_of_them(every: int, told: str) -> None:
    """240 s of them: 48 records five seconds apart, 40 six seconds apart."""
    assert by_speed_alone(every) == told


def test_stretches_of_few_records_that_the_heart_tells_too_are_a_stop() -> None:
    assert by_speed_alone(6, heart=True) == "STOP"


def test_over_unknown_ground_speed_alone_is_a_question_but_not_on_a_treadmill() -> None:
    assert by_speed_alone(altitude=False) == "CAUTION"
    assert by_speed_alone(altitude=False, heart=True) == "STOP"
    assert by_speed_alone(altitude=False, sub_sport="treadmill") == "STOP"


def test_one_surge_is_a_question_where_heart_or_steps_tell_of_it_too() -> None:
    speed = run((1200, EASY_MPS), (180, 3.4), (1200, EASY_MPS))
    asked = told(by_device(speed), 3.3)
    assert asked is not None
    assert asked.severity == Severity.CAUTION
    assert said(asked.summary).startswith("Looks like")
    assert told(by_device(speed, hr_bpm=None), 3.3) is None


def test_the_evidence_names_the_signals_with_their_quality_and_what_they_say() -> None:
    found = told(by_device(REPEATS, cadence_spm=160 + 8 * (REPEATS - EASY_MPS)))
    assert found is not None
    said = {one["signal"]: (one["quality"], one["says"]) for one in found.evidence["signals"]}
    assert said == {"speed": ("good", "for"), "heart rate": ("good", "for"), "cadence": ("good", "for")}


def test_one_effort_a_little_slower_than_threshold_is_a_question() -> None:
    found = told(by_device(run((900, 3.15), (900, 3.8), (300, 3.15))))
    assert found is not None
    assert found.severity == Severity.CAUTION
    assert "slower" not in said(found.summary)


def test_a_threshold_that_twenty_minutes_refute_is_not_held_against_them() -> None:
    steady = run((1500, 3.4), wander=0.01)
    assert told(by_device(steady), 2.9) is None


def test_a_descent_carries_and_is_fast_only_beyond_threshold() -> None:
    slope = np.concatenate((np.zeros(900), np.full(600, -0.06), np.zeros(600)))
    for mps, is_told in ((3.7, False), (4.6, True)):
        speed = np.where(slope < 0, mps, EASY_MPS)
        table = by_device(speed, altitude_m=400 + np.cumsum(speed * slope))
        assert (told(table) is not None) == is_told


def test_the_answer_of_a_heart_is_whole_where_it_follows_and_nothing_where_it_does_not() -> None:
    cause = np.where((np.arange(2400) // 120) % 2 == 1, 1.5, 0.0)
    whole = heart_answer(140 + 24 * followed(cause), cause, [], slice(0, 2400), LIMITS)
    none = heart_answer(140 + np.sin(np.arange(2400) / 60), cause, [], slice(0, 2400), LIMITS)
    assert whole is not None
    assert none is not None
    assert whole.share == pytest.approx(1.0, abs=0.05)
    assert abs(none.share) < 0.1
    assert (whole.given(0.3), none.given(0.3)) == (True, False)
    assert heart_answer(np.full(2400, np.nan), cause, [], slice(0, 2400), LIMITS) is None


@pytest.mark.parametrize(
    ("gain", "spans"),
    [
        ([], []),
        ([-1.0] * 20, []),
        ([1.0] * 20, [(0, 20)]),
        ([-1.0] * 5 + [1.0] * 8 + [-1.0] * 5, []),
        ([-1.0] * 5 + [1.0] * 9 + [-1.0] * 5, [(5, 14)]),
        ([1.0] * 20 + [-1.0] * 7 + [1.0] * 20, [(0, 47)]),
        ([1.0] * 20 + [-1.0] * 9 + [1.0] * 20, [(0, 20), (29, 49)]),
    ],
)
def test_spans_begin_and_end_where_that_gains_more_than_a_turn_costs(
    gain: list[float], spans: list[tuple[int, int]]
) -> None:
    assert best_spans(np.array(gain), 8.0) == spans


@BOTH
def test_repeats_of_minutes_are_told_with_the_edges_they_were_run_with(threshold: float | None) -> None:
    breach = told(by_device(run((900, EASY_MPS), *[(180, 4.3), (300, 1.2)] * 5, (600, EASY_MPS))), threshold)
    assert breach is not None
    assert said(breach.summary).startswith("repeats: 5 x 3 min")
    np.testing.assert_allclose(breach.evidence["bout_seconds"], 180, rtol=0.05)


def test_a_faster_part_of_the_way_there_is_not_counted_to_the_repeats() -> None:
    table = by_device(run((600, EASY_MPS), (90, 3.4), (200, EASY_MPS), *[(180, 4.4), (300, 1.2)] * 5, (600, EASY_MPS)))
    breach = told(table, None)
    assert breach is not None
    assert breach.evidence["bouts"] == 5


@pytest.mark.parametrize(
    ("lengths", "kind"),
    [
        ((180,) * 4, "repeats"),
        ((290, 140, 120, 270), "fast running"),
        ((60, 150, 45, 200, 70, 160, 50), "fast running"),
    ],
)
def test_only_stretches_alike_are_told_as_so_many_times_so_long(lengths: tuple[int, ...], kind: str) -> None:
    table = by_device(
        run((900, EASY_MPS), *[part for s in lengths for part in ((s, 4.4), (150, 2.0))], (600, EASY_MPS))
    )
    breach = told(table)
    assert breach is not None
    assert said(breach.evidence["kind"]) == kind
    assert (" x " in said(breach.summary)) is (kind == "repeats")


def test_a_stop_that_a_threshold_alone_would_make_is_a_question() -> None:
    run_walk = by_device(run(*[(120, 3.85), (60, 1.4)] * 10))
    assert told(run_walk, None) is None
    for threshold in (3.2, 3.4):
        breach = told(run_walk, threshold)
        assert breach is not None
        assert breach.evidence["signals"][0]["quality"] == "good"
        assert breach.severity == Severity.CAUTION


@pytest.mark.parametrize(("share", "severity"), [(0.965, Severity.CAUTION), (0.975, Severity.STOP)])
def test_a_run_near_the_most_that_a_threshold_allows_is_a_time_trial(share: float, severity: Severity) -> None:
    threshold = 4.4
    table = by_device(run((60, 3.9), (1140, share * held_for(threshold, 1140))))
    breach = told(table, threshold)
    assert breach is not None
    assert breach.severity == severity


@BOTH
def test_one_stretch_of_minutes_far_over_threshold_that_heart_and_steps_tell_is_speed_work(
    threshold: float | None,
) -> None:
    speed = run((900, 3.85), (190, 4.9), (500, 3.85))
    steps = np.round(165 + 12 * (speed - 3.85)) + np.random.default_rng(1).normal(0, 1.0, len(speed))
    breach = told(by_device(speed, cadence_spm=steps), threshold)
    assert breach is not None
    assert breach.severity == Severity.STOP
    np.testing.assert_allclose(breach.evidence["fast_s"], 190, rtol=0.1)


@pytest.mark.parametrize(("climb", "flat", "threshold"), [(1.9, 3.3, 3.4), (2.2, 3.6, 3.85)])
def test_a_trail_with_slow_climbs_is_no_time_trial_whatever_the_climbs_are_worth(
    climb: float, flat: float, threshold: float
) -> None:
    slope = np.tile(np.concatenate((np.full(300, 0.12), np.zeros(240), np.full(120, -0.084))), 5)
    speed = np.where(slope > 0, climb, flat)
    effort = np.where(slope > 0, 3.4, np.where(slope < 0, 2.4, 0.95 * flat))
    table = by_device(speed, altitude_m=300 + np.cumsum(speed * slope), hr_bpm=heart(effort))
    assert told(table, threshold) is None


def test_speeds_of_the_first_minute_enter_no_mean_of_the_run_that_follows() -> None:
    speed = np.concatenate((np.linspace(9, 7, 60), np.full(2000, 2.74)))
    found = told(by_device(speed, hr_bpm=heart(np.full(2060, 2.74))), 3.0)
    assert found is None


@pytest.mark.parametrize("cool_down_s", [1, 120, 600])
def test_steady_running_under_threshold_is_no_slow_time_trial(cool_down_s: float) -> None:
    found = told(by_device(run((2400, 0.93 * THRESHOLD_MPS), (cool_down_s, 2.2))))
    assert found is None


@pytest.mark.parametrize("every", [1, 4, 6])
@pytest.mark.parametrize("speed", [STRIDES, REPEATS], ids=["strides", "repeats"])
@BOTH
def test_lengths_are_told_the_same_from_every_kind_of_file(speed: Floats, every: int, threshold: float | None) -> None:
    fit, gpx = told(by_device(speed), threshold), told(by_positions(speed, 0.7, every, 1), threshold)
    assert fit is not None
    assert gpx is not None
    assert gpx.evidence["fast_s"] == pytest.approx(fit.evidence["fast_s"], rel=0.05)
    assert gpx.observed == pytest.approx(fit.observed, rel=0.05)
