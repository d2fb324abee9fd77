"""What of a heart rate is believed, on invented recordings of the ways in which sensors fail."""

from __future__ import annotations

import numpy as np
import pytest

from rules.facts import Ceiling
from rules.findings import Severity
from rules.limits import default_limits
from rules.plan.stages import believable_bpm
from rules.session.track import Track, clean
from rules.session_rules import over_ceiling
from tests.rules.people import athlete

LIMITS = default_limits()
CEILING = Ceiling(150, 1, "invented")


def steady(minutes: float = 40, bpm: float = 138.0, speed: float | None = 3.0) -> dict[str, np.ndarray]:
    """An even hour's heart with a waver of its own, a row a second."""
    rows = round(minutes * 60)
    at = np.arange(rows, dtype=np.float64)
    table = {"t_s": at, "hr_bpm": np.rint(bpm + 3 * np.sin(at / 17) + 2 * np.sin(at / 5.3))}
    if speed is not None:
        table["speed_mps"] = speed + 0.1 * np.sin(at / 9)
    return table


def waver(rows: int) -> np.ndarray:
    at = np.arange(rows)
    return 2 * np.sin(at / 17) + 2 * np.sin(at / 5.3)


def answer(rows: int, since: float, to: float, tau_s: float = 40) -> np.ndarray:
    """A heart on its way from one level to another."""
    return np.rint(to + (since - to) * np.exp(-np.arange(rows) / tau_s) + waver(rows))


def track(table: dict[str, np.ndarray], sport: str = "running", highest_bpm: float | None = None) -> Track:
    return clean(sport, "generic", float(table["t_s"][-1]), (), table, LIMITS, highest_bpm)


def above(found: Track) -> Severity | None:
    breach = over_ceiling(found, CEILING, LIMITS)
    return None if breach is None else breach.severity


@pytest.mark.parametrize(("bpm", "believed"), [(177, True), (178, True), (179, False), (215, False)])
def test_no_more_is_believed_of_a_heart_than_it_can_do(*, bpm: int, believed: bool) -> None:
    table = steady(speed=None)
    ramp = np.concatenate((np.linspace(140, bpm, 60), bpm - 4 + waver(600), np.linspace(bpm, 140, 60)))
    ramp[300] = bpm
    table["hr_bpm"][600:1320] = np.rint(ramp)
    highest = believable_bpm(athlete(hr_max=170, born=None), 2026, LIMITS)
    assert highest == 178
    found = track(table, "cycling", highest)
    assert (above(found) == Severity.STOP) == believed
    assert (above(track(table, "cycling")) == Severity.STOP) or not believed


def test_what_is_believed_of_a_heart_follows_its_measured_most_else_its_age() -> None:
    assert believable_bpm(athlete(hr_max=None, born=1976), 2026, LIMITS) == pytest.approx(208 - 35 + 30)
    assert believable_bpm(athlete(hr_max=None, born=None), 2026, LIMITS) is None


@pytest.mark.parametrize("seconds", [90, 150, 280])
def test_a_spike_on_a_bicycle_is_masked_however_little_is_known_of_the_effort(seconds: int) -> None:
    table = steady(speed=7.0)
    table["hr_bpm"][900 : 900 + seconds] = np.rint(190 + waver(seconds))
    found = track(table, "cycling")
    assert above(found) is None
    assert found.heart.masked_s == pytest.approx(seconds, abs=20)


@pytest.mark.parametrize("seconds", [120, 250])
@pytest.mark.parametrize("sport", ["running", "cycling"])
def test_a_spike_that_lasts_to_the_end_is_masked(seconds: int, sport: str) -> None:
    table = steady()
    table["hr_bpm"][-seconds:] = np.rint(195 + waver(seconds))
    assert above(track(table, sport)) is None


def test_a_finish_that_the_legs_explain_is_believed() -> None:
    table = steady()
    table["speed_mps"][-300:] = 5.0
    table["hr_bpm"][-280:] = answer(280, 138, 183)
    assert above(track(table)) == Severity.STOP


@pytest.mark.parametrize("sport", ["running", "cycling"])
def test_a_spike_between_two_gaps_is_masked(sport: str) -> None:
    table = steady()
    table["hr_bpm"][900:1080] = np.rint(196 + waver(180))
    kept = np.ones(len(table["t_s"]), np.bool_)
    kept[885:915] = kept[1065:1095] = False
    found = track({name: column[kept] for name, column in table.items()}, sport)
    assert above(found) is None


def test_a_rise_at_an_even_speed_that_no_heart_makes_is_masked() -> None:
    table = steady(speed=3.0)
    table["hr_bpm"][1200:1290] = np.rint(np.linspace(140, 225, 90))
    table["hr_bpm"][1290:1600] = 225
    table["hr_bpm"][1600:1690] = np.rint(np.linspace(225, 140, 90))
    assert above(track(table)) is None


def test_a_rise_that_speed_or_a_start_explains_is_believed() -> None:
    faster, started = steady(), steady(bpm=165)
    faster["speed_mps"][1200:1800] = 4.6
    faster["hr_bpm"][1200:1800] = answer(600, 138, 178)
    started["hr_bpm"][:300] = answer(300, 85, 165)
    assert above(track(faster)) == Severity.STOP
    assert above(track(started)) == Severity.STOP
    assert track(started).heart.masked_s < 10


def test_a_rise_after_a_pause_at_an_even_speed_is_believed() -> None:
    table = steady(bpm=160)
    table["hr_bpm"][1200:1500] = answer(300, 100, 160)
    kept = np.ones(len(table["t_s"]), np.bool_)
    kept[1020:1200] = False
    assert track({name: column[kept] for name, column in table.items()}).heart.masked_s < 20


def test_a_short_spike_in_the_first_minutes_masks_itself_and_nothing_before_it() -> None:
    table = steady()
    table["hr_bpm"][283:293] = 190
    assert track(table).heart.masked_s <= 30


def test_an_athlete_who_stops_early_keeps_the_minutes_before() -> None:
    table = steady(bpm=150)
    table["speed_mps"][193:280] = 0.0
    table["hr_bpm"][193:280] = answer(87, 150, 110, 9)
    table["hr_bpm"][280:400] = answer(120, 110, 150)
    assert track(table).heart.masked_s <= 25


def test_a_dry_strap_that_counts_too_much_at_the_start_is_masked_until_it_falls() -> None:
    table = steady(bpm=120)
    table["hr_bpm"][:150] = 175
    found = track(table)
    assert found.heart.masked_s == pytest.approx(150, abs=20)
    assert above(found) is None


def test_a_false_start_masks_only_what_stands_high() -> None:
    table = steady(bpm=120)
    table["hr_bpm"][:200] = np.rint(np.linspace(85, 115, 200))
    table["hr_bpm"][200:260] = np.rint(np.linspace(115, 150, 60))
    found = track(table)
    assert np.isfinite(found.heart.rows_bpm[:190]).all()


@pytest.mark.parametrize("seed", range(6))
def test_a_steady_heart_that_beats_as_often_as_the_feet_by_chance_is_believed(seed: int) -> None:
    rng = np.random.default_rng(seed)
    table = steady(bpm=168)
    table["cadence_spm"] = np.rint(168 + 1.5 * rng.normal(size=len(table["t_s"])))
    table["hr_bpm"][:240] = answer(240, 93, 168, 12 + 8 * seed)
    assert track(table).heart.masked_s < 15


@pytest.mark.parametrize("tau_s", [10.0, 14.0, 33.0])
def test_a_heart_that_comes_back_from_a_pause_to_the_rate_of_the_feet_is_believed(tau_s: float) -> None:
    table = steady(bpm=168)
    table["cadence_spm"] = np.rint(168 + 1.5 * np.random.default_rng(1).normal(size=2400))
    kept = np.ones(2400, np.bool_)
    table["hr_bpm"][:400] = answer(400, 90, 168, tau_s)
    for begin in (500, 1367, 1846):
        kept[begin : begin + 90] = False
        table["hr_bpm"][begin + 90 : begin + 290] = answer(200, 118, 168, tau_s)
    found = track({name: column[kept] for name, column in table.items()})
    assert found.heart.reasons.get("locked", 0.0) == 0.0


@pytest.mark.parametrize("every", [1, 5, 15, 30])
def test_a_heart_rate_in_every_so_many_records_counts_what_it_stands_for(every: int) -> None:
    table = steady(bpm=165)
    table["hr_bpm"][np.arange(2400) % every != 0] = np.nan
    found = track(table)
    assert found.heart.known_s == pytest.approx(2399, abs=every)
    assert above(found) == Severity.STOP


def test_a_strap_that_falls_silent_for_a_while_counts_no_more_than_before() -> None:
    table = steady()
    table["hr_bpm"][600:700] = np.nan
    assert track(table).heart.known_s == pytest.approx(2300 + 9, abs=2)


def test_what_rises_by_itself_is_masked_until_it_is_over_and_no_longer() -> None:
    table = steady(speed=3.0)
    table["hr_bpm"][1200:1290] = np.rint(np.linspace(140, 225, 90))
    table["hr_bpm"][1290:1600] = 225
    table["hr_bpm"][1600:1690] = np.rint(np.linspace(225, 140, 90))
    rows = track(table).heart.rows_bpm
    assert np.isnan(rows[1300:1600]).all()
    assert np.isfinite(rows[:1180]).all()
    assert np.isfinite(rows[1850:2400]).all()


def test_a_dry_strap_that_begins_a_minute_late_is_masked_from_its_first_beat_to_its_fall() -> None:
    table = steady(bpm=120)
    table["hr_bpm"][:60] = np.nan
    table["hr_bpm"][60:210] = 175
    found = track(table)
    assert found.heart.masked_s == pytest.approx(150, abs=20)
    assert np.isnan(found.heart.rows_bpm[60:200]).all()
    assert np.isfinite(found.heart.rows_bpm[260:2400]).all()


@pytest.mark.parametrize(("seconds", "masked"), [(330, True), (420, False)])
def test_a_false_start_ends_within_six_minutes(seconds: int, *, masked: bool) -> None:
    table = steady(bpm=120)
    table["hr_bpm"][:seconds] = np.rint(160 + waver(seconds))
    assert (track(table).heart.masked_s > seconds / 2) == masked
