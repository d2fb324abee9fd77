"""Each limit that is called published, held through its rule against what its source says; the source stands beside it.

Nothing here reads a limit: the numbers are typed from the papers, and what the program says is compared with them.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from math import exp, log, pi
from statistics import NormalDist

import numpy as np
import pytest

from rules.body.mornings import (
    DRAWN_IN_TO_SD,
    MAD_TO_SD,
    MEAN_DEVIATION_TO_SD,
    Baseline,
    baseline,
    hrv_down,
    level_on,
    short_sleep,
)
from rules.facts import threshold_of
from rules.findings import Severity
from rules.limits import default_limits
from rules.plan.stages import ceilings
from rules.session.digest import decoupling, peak_force_bw
from rules.session.gait import Motion, gait
from rules.session.heart import heart_answer
from rules.session.track import clean
from rules.session_rules import over_ceiling
from rules.words import said
from tests.rules.people import athlete, judged, only, race, session

LIMITS = default_limits()
DAY0 = date(2026, 10, 4)


# Frandsen et al. 2025, Br J Sports Med 59:1203 (5,205 runners, 588,071 sessions): distance over the longest of the 30
# days before; up to 10 % is the reference, over 10 to 30 % hazard 1.64, over 30 to 100 % 1.52, over 100 % 2.28.
LONG_PLAN = athlete(race("ultra_100k", taper_days=60))
FRANDSEN = [
    (11.0, "reference"),
    (11.01, "small"),
    (13.0, "small"),
    (13.1, "moderate"),
    (20.0, "moderate"),
    (20.1, "large"),
]


@pytest.mark.parametrize(("km", "spike"), FRANDSEN)
def test_a_run_is_a_jump_from_the_classes_on_that_frandsen_found_dangerous(km: float, spike: str) -> None:
    runs = [session(30, minutes=60, km=10), session(40, minutes=100, km=km)]
    assert bool(only(judged(runs, runner=LONG_PLAN), "long_run_jump")) == (spike != "reference")


@pytest.mark.parametrize(("days_before", "jump"), [(29, False), (30, False), (31, True)])
def test_the_longest_of_the_thirty_days_before_is_what_frandsen_compares_with(days_before: int, *, jump: bool) -> None:
    day = 50
    runs = [session(day - days_before, minutes=60, km=10), session(day - 2, minutes=30, km=5), session(day, km=7)]
    assert bool(only(judged(runs, runner=LONG_PLAN), "long_run_jump")) == jump


# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4: lambda 0.3, target 50, s 2.0539, twenty measurements, the
# exponentially weighted means and the limits of three standard errors as printed there.
NIST_MEASURED = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
                 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]  # fmt: skip
NIST_MEANS = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
              50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
NIST_TARGET, NIST_SPREAD, NIST_LOWER = 50.0, 2.0539, 47.4115
SURE = Baseline(50.0, 2.0539, 10**9, 14, DAY0, DAY0, 50.0, 2.0539)
"""Mean and SD as good as known for certain, of independent days."""


def test_the_chart_of_mornings_is_that_of_the_handbook() -> None:
    """The handbook starts from the target, which fades; the chart from the mornings alone, for fourteen days."""
    values = {DAY0 + timedelta(days=1 + at): value for at, value in enumerate(NIST_MEASURED)}
    for number, printed in enumerate(NIST_MEANS[:14], 1):
        if number < 3:  # too few mornings to say anything
            continue
        level = level_on(values, DAY0 + timedelta(days=number), DAY0, SURE, LIMITS)
        assert level is not None
        left_of_target = 0.7**number
        assert (1 - left_of_target) * level.mean + left_of_target * NIST_TARGET == pytest.approx(printed, abs=0.006)


def test_the_chart_of_mornings_has_the_handbooks_limits() -> None:
    """k = 3: after fourteen mornings, which stand for 0.7 to the 14th less than endless ones, 47.4115."""
    values = {DAY0 + timedelta(days=1 + at): value for at, value in enumerate(NIST_MEASURED)}
    three = LIMITS.overridden({"hrv_down": {"note_z": 3.0}})
    level = level_on(values, DAY0 + timedelta(days=14), DAY0, SURE, three)
    assert level is not None
    finite = (1 + 0.7**14) / (1 - 0.7**14)
    assert NIST_TARGET - (NIST_TARGET - level.note) / finite**0.5 == pytest.approx(NIST_LOWER, abs=0.001)
    assert level.mean > level.note  # the handbook: in control


# Hopkins' smallest worthwhile change, 0.5 of the SD from day to day. A published week of ln RMSSD as science quotes it:
# 4.10 4.05 4.20 4.15 4.00 4.12 4.08: mean 4.100, SD 0.0656, half of which is 0.0328.
WEEK = (4.10, 4.05, 4.20, 4.15, 4.00, 4.12, 4.08)


def test_the_size_of_a_fall_is_told_in_halves_of_an_sd() -> None:
    values = {DAY0 - timedelta(days=9 + at): WEEK[at % 7] for at in range(42)}
    values |= {DAY0 + timedelta(days=day): 3.4 for day in range(1, 8)}
    found = hrv_down(values, DAY0, baseline(values, DAY0, (), LIMITS), LIMITS)
    evidence = found[max(found)].evidence
    assert evidence["smallest_worthwhile_changes_under"] == pytest.approx(2 * evidence["sd_under"], abs=0.1)


# Buchheit 2014, Front Physiol 5:73, table 1: the typical error of RMSSD from day to day is about 12 %.
def test_a_baseline_that_never_moves_is_taken_to_scatter_by_the_typical_error() -> None:
    values = {DAY0 - timedelta(days=9 + at): log(60.0) for at in range(30)}
    values |= {DAY0 + timedelta(days=day): log(60.0) for day in range(1, 5)}
    level = level_on(values, DAY0 + timedelta(days=4), DAY0, baseline(values, DAY0, (), LIMITS), LIMITS)
    assert level is not None
    assert exp(level.spread) - 1 == pytest.approx(0.12, abs=0.01)


# Plews et al. 2014, Int J Sports Physiol Perform 9:783: three mornings a week say what seven do; 2013, 8:688: the week.
@pytest.mark.parametrize(
    ("days", "judged_"),
    [((5, 6), False), ((4, 5, 6), True), ((1, 5, 6), True), ((2, 5, 8), True), ((2, 5, 9), False), ((3, 6, 9), True)],
)
def test_three_mornings_in_seven_days_are_judged_and_fewer_are_not(days: tuple[int, ...], *, judged_: bool) -> None:
    values = {DAY0 - timedelta(days=9 + at): 4.1 + 0.1 * (at % 3) for at in range(30)}
    values |= {DAY0 + timedelta(days=day): 4.1 for day in days}
    level = level_on(values, DAY0 + timedelta(days=max(days)), DAY0, baseline(values, DAY0, (), LIMITS), LIMITS)
    assert (level is not None) == judged_


# Watson et al. 2015, J Clin Sleep Med 11:591: adults should sleep seven hours or more.
@pytest.mark.parametrize(("minutes", "told"), [(420.0, None), (419.9, Severity.NOTE)])
def test_nights_under_the_consensus_of_seven_hours_are_short(minutes: float, told: Severity | None) -> None:
    nights = {DAY0 + timedelta(days=day): minutes for day in (1, 2, 3)}
    found = list(short_sleep(nights, DAY0, LIMITS).values())
    assert [(each.severity, each.limit, each.unit) for each in found] == ([(told, 7, "h")] if told else [])
    assert [each.observed for each in found] == [pytest.approx(minutes / 60, abs=0.005)] * len(found)


# Hunt 2015, Biomed Eng OnLine 14:117, treadmill: gain 24.3 and 24.1 bpm per m/s, time constant 55.7 and 59.5 s.
@pytest.mark.parametrize(("gain", "tau_s"), [(24.3, 55.7), (24.1, 59.5)])
def test_the_heart_of_the_treadmill_gives_the_whole_answer(gain: float, tau_s: float) -> None:
    speed = np.repeat([2.5, 3.3, 2.5, 3.3, 2.5, 3.3], 300).astype(np.float64)
    heart = np.empty(len(speed))
    bpm = 130.0
    for second, now in enumerate(speed):
        bpm += (130.0 + gain * (now - 2.5) - bpm) / tau_s
        heart[second] = bpm
    found = heart_answer(heart, speed, [], slice(0, len(speed)), LIMITS)
    assert found is not None
    assert found.share == pytest.approx(1.0, abs=0.03)


# Hum Mov Sci 2023 90:103117 (28 people): 135 to 140 steps a minute tell walking from running best, 92.9 % right.
@pytest.mark.parametrize(("spm", "running"), [(134.0, False), (141.0, True)])
def test_the_steps_that_tell_running_from_walking_lie_between_135_and_140(spm: float, *, running: bool) -> None:
    """At the speed of changing over (Froude 0.5 at a leg of 0.9 m: 2.1 m/s), under a label that says neither."""
    rows = 600
    even = np.full(rows, 2.1)
    moves = Motion(
        np.full(rows, spm), even, np.full(rows, np.nan), np.zeros(rows), np.ones(rows, np.bool_), 1.0, LIMITS
    )
    told = gait("game", moves, np.zeros(rows, np.bool_), LIMITS)
    assert told.running.mean() == pytest.approx(float(running), abs=0.05)


# Tanaka, Monahan, Seals 2001: SD of some 10 bpm about the line; a ceiling at 77 % of it carries 7.7.
def test_a_ceiling_from_age_may_be_off_by_its_share_of_an_sd() -> None:
    (told,) = re.findall(r"off by some (\d+) bpm", "".join(assumed(born=1991)))
    assert int(told) == pytest.approx(0.77 * 10, abs=0.5)


def assumed(**known: int) -> list[str]:
    """What the verdict on ten minutes over a ceiling assumes of an athlete."""
    ceiling = ceilings(athlete(hr_max=None, **known), 2026, None, LIMITS).zone2
    assert ceiling is not None
    table = {"t_s": np.arange(1200.0), "hr_bpm": np.tile([168.0, 170.0, 169.0], 400)}
    found = over_ceiling(clean("cycling", "generic", 1200.0, (), table, LIMITS), ceiling, LIMITS)
    assert found is not None
    return [said(one) for one in found.evidence["assumed"]]


# Keller 1996: 1.2 body weights walking at 1.5 m/s. Munro 1987: running 2.5 at 3.0 m/s, 2.8 at 5.0 m/s. From memory.
@pytest.mark.parametrize(
    ("speed", "running", "body_weights"), [(1.5, False, 1.2), (3.0, True, 2.5), (4.0, True, 2.65), (5.0, True, 2.8)]
)
def test_peak_forces_are_those_of_the_papers_at_their_speeds(
    speed: float, *, running: bool, body_weights: float
) -> None:
    found = peak_force_bw(np.array([speed]), np.array([running]), LIMITS)
    assert float(found[0]) == pytest.approx(body_weights, abs=0.02)


# Any printed table of Student's t: two-sided 5 %, one-sided 2.5 %.
@pytest.mark.parametrize(
    ("free", "t"), [(6, 2.447), (10, 2.228), (15, 2.131), (30, 2.042), (60, 2.000), (10**9, 1.960)]
)
@pytest.mark.parametrize("alike", [0.0, 0.5])
def test_the_interval_widens_as_students_t(free: int, t: float, alike: float) -> None:
    """Days that correlate by 0.5 count as 0.6 of as many (Bartlett: (1 - 0.25) / (1 + 0.25)) for the spread."""
    mornings = round((free + 1) / (0.6 if alike else 1.0))
    few = Baseline(50.0, 2.0, mornings, 1, DAY0, DAY0, 50.0, 2.0, alike)
    values = {DAY0 + timedelta(days=day): 50.0 for day in range(1, 8)}
    limits = LIMITS.overridden({"hrv_down": {"note_z": 1.959964}})
    level = level_on(values, DAY0 + timedelta(days=7), DAY0, few, limits)
    assert level is not None
    newest = [0.3 * 0.7**age / (1 - 0.7**7) for age in range(7)]
    chance = sum(newest[a] * newest[b] * alike ** abs(a - b) for a in range(7) for b in range(7))
    of_the_usual = min((1 + alike) / (1 - alike) / mornings, 0.75)
    assert (50.0 - level.note) / (level.spread * (chance + of_the_usual) ** 0.5) == pytest.approx(t, rel=0.015)


def test_the_factors_of_spread_are_those_of_the_normal_distribution() -> None:
    normal = NormalDist()
    assert pytest.approx(1 / normal.inv_cdf(0.75), abs=1e-4) == MAD_TO_SD
    assert pytest.approx((pi / 2) ** 0.5, abs=1e-4) == MEAN_DEVIATION_TO_SD
    many = np.random.default_rng(1).standard_normal((20_000, 40))
    middle = np.median(many, axis=1, keepdims=True)
    reach = 2.5 * np.median(np.abs(many - middle), axis=1, keepdims=True) / normal.inv_cdf(0.75)
    inside = np.clip(many, middle - reach, middle + reach)
    assert pytest.approx(1 / np.sqrt(inside.var(axis=1, ddof=1).mean()), abs=0.003) == DRAWN_IN_TO_SD


# Riegel 1981, Am Sci 69:285: the formula holds for efforts of 3.5 to 230 minutes.
@pytest.mark.parametrize(("minutes", "used"), [(3.4, False), (3.5, True), (40, True), (230, True), (230.1, False)])
def test_a_result_tells_of_the_threshold_within_the_minutes_of_riegel(minutes: float, *, used: bool) -> None:
    raced = athlete(race("custom", distance_km=minutes / 4, result_seconds=round(minutes * 60)))
    found = threshold_of(raced, (), race().finish, LIMITS)
    assert (found is not None) == used


# Heart rate for its speed. Smyth 2022: ratio of heart rate per speed, later over earlier.


def test_decoupling_is_the_published_ratio() -> None:
    """Heart rate 140, later 149, at 2.9 m/s throughout: 149 / 140 = 1.0643 (the efficiency falls by 6.04 %)."""
    before, after = np.full(600, 140 / 2.9), np.full(600, 149 / 2.9)
    assert decoupling(before, after) == pytest.approx(1.0642857)
    assert 1 - 1 / decoupling(before, after) == pytest.approx(0.0604027)
