"""What a session was, from invented recordings of the ways in which devices and days go wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.facts import Digest, Session
from rules.findings import RUNNING_SIGNALS, Severity, severity_of, signals_from_store
from rules.limits import default_limits
from rules.session.digest import digest
from rules.session.labels import has_running, running_seconds, sport_seconds
from tests.rules.people import session

LIMITS = default_limits()
METRES_PER_DEGREE = 111_195.0

Columns = dict[str, np.ndarray]


def part(
    minutes: float, speed: float, spm: float | None = None, hr: float | None = None, *, scatter: float = 0.1,
    spread: float = 2.0, seed: int = 0,
) -> Columns:  # fmt: skip
    """A stretch of one way of moving, a row a second. A cadence of None is NaN, of 0 a counter that counts nothing."""
    rng = np.random.default_rng(seed + round(speed * 100) + round(minutes))
    rows = round(minutes * 60)
    nothing = np.full(rows, np.nan)
    return {
        "speed_mps": np.clip(speed + scatter * rng.normal(size=rows), 0.0, None),
        "cadence_spm": nothing
        if spm is None
        else np.clip(np.rint(spm + (spread if spm else 0) * rng.normal(size=rows)), 0, None),
        "hr_bpm": nothing if hr is None else np.rint(hr + 2 * np.sin(np.arange(rows) / 20)),
    }


def outing(*parts: Columns, apart: int = 1, positions: bool = True) -> Columns:
    table = {name: np.concatenate([one[name] for one in parts]) for name in parts[0]}
    table["t_s"] = np.arange(len(table["speed_mps"]), dtype=np.float64)
    if positions:
        table["lat_deg"] = 60 + np.cumsum(table["speed_mps"]) / METRES_PER_DEGREE
        table["lon_deg"] = np.full(len(table["t_s"]), 10.0)
    kept = {name: column[::apart] for name, column in table.items()}
    return {name: column for name, column in kept.items() if np.isfinite(column).any()}


def digest_of(
    table: Columns, sport: str = "generic", sub_sport: str = "generic", timer_s: float | None = None
) -> Digest:
    elapsed = float(table["t_s"][-1])
    return digest(sport, sub_sport, elapsed if timer_s is None else timer_s, elapsed, (), table, LIMITS)


def as_session(table: Columns, sport: str = "generic", **more: float) -> Session:
    made = digest_of(table, sport, **more)
    elapsed = float(table["t_s"][-1])
    return replace(session(5), digest=made, sport=sport, timer_s=more.get("timer_s", elapsed), elapsed_s=elapsed)


def severity(made: Digest) -> Severity | None:
    return severity_of(signals_from_store(made.notes.get(RUNNING_SIGNALS, ())))


WALK = part(20, 1.4, 112, 95)


@pytest.mark.parametrize(
    ("what", "fast"),
    [
        ("a slow bus", part(12, 5.0, 0, 85, scatter=0.8)),
        ("a hired bicycle", part(12, 4.4, 0, 100, scatter=0.4)),
        ("a ferry", part(25, 6.5, 0, 80)),
        ("a cable car", part(6, 3.6, 0, 90, scatter=0.02)),
        ("a scooter", part(5, 3.8, 20, 92)),
        ("a rowing boat", part(15, 3.0, 44, 98, spread=1)),
    ],
)
@pytest.mark.parametrize("label", ["walking", "generic", "hiking"])
def test_what_carried_the_watch_within_a_walk_is_no_running(what: str, fast: Columns, label: str) -> None:
    made = as_session(outing(WALK, fast, WALK), label)
    assert made.digest.running_s == 0, what
    assert made.digest.sport == "walking", what
    assert not has_running(made, LIMITS)


@pytest.mark.parametrize("label", ["walking", "generic"])
def test_a_run_within_a_walk_whose_steps_were_counted_counts(label: str) -> None:
    made = as_session(outing(WALK, part(10, 2.8, 162, 140), WALK), label)
    assert made.digest.running_s == pytest.approx(600, abs=30)
    assert severity(made.digest) == Severity.STOP


def test_a_boat_in_a_walk_without_steps_is_told_by_the_heart_that_does_not_answer() -> None:
    walk = part(20, 1.4, None, 100)
    assert digest_of(outing(walk, part(15, 4.0, None, 84), walk), "walking").running_s == 0
    ran = digest_of(outing(walk, part(15, 3.0, None, 140), walk), "walking")
    assert ran.running_s == pytest.approx(900, abs=60)
    assert severity(ran) == Severity.STOP


def test_a_fast_part_of_a_walk_that_only_its_speed_tells_of_is_asked_about() -> None:
    walk = part(20, 1.4)
    made = digest_of(outing(walk, part(8, 3.2), walk), "walking")
    assert made.running_s == pytest.approx(480, abs=60)
    assert severity(made) == Severity.CAUTION


def test_a_bus_longer_than_the_walk_around_it_is_no_bicycle() -> None:
    made = digest_of(outing(part(8, 1.4, 110, 96), part(25, 7.0, 0, 84, scatter=1.5), part(6, 1.4, 110, 96)))
    assert made.sport == "walking"
    assert made.notes["carried_s"] == pytest.approx(1500, abs=60)


@pytest.mark.parametrize(("label", "steps"), [("walking", 114.0), ("hiking", 104.0)])
def test_steps_of_a_walk_without_speed_are_not_doubled_again(label: str, steps: float) -> None:
    table = outing(part(40, 0.0, steps, 95), positions=False)
    del table["speed_mps"]
    made = digest_of(table, label)
    assert made.running_s == 0
    assert made.steps == pytest.approx(steps * 40, rel=0.03)


def test_positions_that_jump_make_no_ride_of_a_run() -> None:
    made = as_session(outing(part(16, 2.5, None, 165), part(3, 60.0, None, 160, scatter=10), part(22, 2.5, None, 168)))
    assert made.digest.sport == "running"
    assert running_seconds(made) == pytest.approx(38 * 60, abs=120)


def test_a_step_counter_that_fails_now_and_then_makes_no_ride_of_a_run() -> None:
    run = part(40, 3.2, 166, 140)
    lost = np.arange(2400) % 100 < 12
    run["cadence_spm"][lost] = 0
    assert digest_of(outing(run)).sport == "running"


def test_a_treadmill_under_positions_that_drift_is_a_run() -> None:
    made = digest_of(outing(part(30, 0.2, 164, 140, scatter=0.1)), "training", "cardio_training")
    assert made.sport == "running"
    assert made.running_s == pytest.approx(1800, abs=30)


def test_steps_on_the_spot_that_are_no_runners_stay_what_they_were() -> None:
    assert digest_of(outing(part(30, 0.2, 112, 100)), "training", "cardio_training").running_s == 0


@pytest.mark.parametrize("steps", [None, 164.0])
@pytest.mark.parametrize("run_first", [True, False])
def test_a_bike_and_a_run_in_one_file_without_a_label_hold_the_run(steps: float | None, run_first: bool) -> None:
    bike = part(40, 7.5, None if steps is None else 0, 135, scatter=0.8)
    run = part(20, 3.2, steps, 150)
    made = as_session(outing(*((run, bike) if run_first else (bike, run))))
    assert made.digest.sport == "running"
    assert running_seconds(made) == pytest.approx(1200, abs=150)
    assert sport_seconds(made, LIMITS) == pytest.approx(3600, abs=150)
    assert severity(made.digest) == Severity.STOP


def test_a_ride_with_a_slow_climb_at_its_end_stays_a_ride() -> None:
    made = outing(part(40, 7.5, None, 135, scatter=0.8), part(20, 3.2, None, 150))
    made["altitude_m"] = np.concatenate((np.full(2400, 100.0), 100 + np.arange(1200) * 3.2 * 0.06))
    assert digest_of(made).sport == "cycling"


@pytest.mark.parametrize(("seconds", "is_run"), [(58, False), (59, False), (60, True), (61, True)])
def test_a_recording_labelled_running_of_under_a_minute_is_no_run(*, seconds: int, is_run: bool) -> None:
    made = as_session(outing(part((seconds + 1) / 60, 3.0, 160, 120)), "running")
    assert has_running(made, LIMITS) == is_run


@pytest.mark.parametrize("apart", [10, 14])
def test_a_wrong_position_or_two_in_a_hike_of_hours_is_no_running(apart: int) -> None:
    hike = part(300, 1.2, scatter=0.3)
    for begin in (3000, 9000, 14000):
        hike["speed_mps"][begin : begin + 3 * apart] = 3.6
    made = as_session(outing(hike, apart=apart))
    assert not has_running(made, LIMITS)
    assert made.digest.sport == "walking"


def test_a_run_that_goes_on_in_a_pocket_counts_what_was_run() -> None:
    made = as_session(outing(part(30, 2.8, None, 150), part(450, 0.6, None, None, scatter=0.4)))
    assert made.digest.sport in ("running", "walking", "unknown")
    labelled = as_session(outing(part(30, 2.8, None, 150), part(450, 0.6, None, None, scatter=0.4)), "running")
    for one in (made, labelled):
        assert has_running(one, LIMITS)
        assert running_seconds(one) == pytest.approx(1800, abs=90)


def test_a_run_with_walking_breaks_counts_as_a_whole() -> None:
    parts = [part(4, 2.8, 160, 150), part(2, 1.4, 110, 130)] * 6
    made = as_session(outing(*parts), "running")
    assert running_seconds(made) == made.timer_s


@pytest.mark.parametrize(("hr", "told"), [(172.0, True), (120.0, False), (None, False)])
def test_a_slow_jog_is_told_by_a_heart_that_no_walk_has(hr: float | None, *, told: bool) -> None:
    made = as_session(outing(part(14, 2.12, None, hr)))
    assert has_running(made, LIMITS) == told


@pytest.mark.parametrize(
    ("at_a_walk", "over", "told"), [(95, -1, False), (95, 1, True), (130, -1, False), (130, 1, True)]
)
def test_a_slow_jog_is_held_against_what_the_heart_does_at_a_walk(at_a_walk: float, over: float, *, told: bool) -> None:
    jog = at_a_walk + LIMITS.gait.over_walking_bpm + over
    walk = part(10, 1.4, None, at_a_walk)
    table = outing(walk, part(8, 2.12, None, jog, scatter=0.05), walk)
    table["hr_bpm"] = np.repeat([at_a_walk, jog, at_a_walk], [600, 480, 600])
    assert has_running(as_session(table), LIMITS) == told


def test_a_heart_that_works_up_a_hill_makes_no_jog_of_the_walk() -> None:
    made = outing(part(30, 2.0, None, 165))
    made["altitude_m"] = 100 + np.arange(1800) * 2.0 * 0.12
    assert digest_of(made).running_s == 0


def test_a_pool_swim_labelled_other_is_unknown_and_no_walk() -> None:
    made = digest_of(outing(part(20, 1.1, None, 120), positions=False))
    assert made.sport == "unknown"
    assert digest_of(outing(part(20, 1.3, None, 100))).sport == "walking"
    assert digest_of(outing(part(20, 1.3, 108, 100), positions=False)).sport == "walking"


def test_the_signals_name_what_spoke_and_how_good_it_was() -> None:
    heard = signals_from_store(digest_of(outing(part(30, 2.8, 162, 150)), "running").notes[RUNNING_SIGNALS])
    assert {one.name: (one.quality, one.says) for one in heard} == {
        "label": ("good", "for"),
        "cadence": ("good", "for"),
        "speed": ("good", "for"),
        "heart rate": ("weak", "for"),
    }


@pytest.mark.parametrize("drift", [0.6, 1.0, 1.3])
@pytest.mark.parametrize("steps", [None, 100.0])
def test_hours_in_a_pocket_after_a_run_are_none_of_it(drift: float, steps: float | None) -> None:
    after = part(420, drift, steps, None, scatter=0.4)
    made = as_session(outing(part(60, 2.8, None if steps is None else 164, 150), after), "running")
    assert running_seconds(made) == pytest.approx(3600, abs=120)
    assert made.timer_s > 25_000
