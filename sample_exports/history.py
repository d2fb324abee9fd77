"""Before the race: eight weeks of training and a taper, saved thinly, and the race itself."""

from __future__ import annotations

from datetime import datetime, timedelta

from sample_exports.outing import ZONE, Outing, dice
from sample_exports.physiology import Heart, Leg, legs_by_effort

RACE_START = datetime(2026, 10, 4, 7, 0, tzinfo=ZONE)
FIRST_MONDAY = datetime(2026, 7, 20, tzinfo=ZONE)
WEEKS = 8
SPARE = 15  # seconds between records: old training is kept as an outline

LAP = [  # (metres, grade) of the hills that the race goes round three times
    (1200.0, 0.01),
    (2300.0, 0.085),
    (800.0, 0.015),
    (2100.0, -0.075),
    (1500.0, 0.005),
    (1300.0, 0.16),
    (1000.0, 0.0),
    (1700.0, -0.11),
    (2100.0, -0.03),
    (1400.0, 0.06),
    (1300.0, -0.09),
]


def race() -> Outing:
    """Three laps of hills, all out, with a stop to eat after each of the first two."""
    table = Leg("stand", 140)
    once = len(LAP)
    legs = legs_by_effort(LAP * 3, (11.0, 8.8))
    legs = [*legs[:once], table, *legs[once : 2 * once], table, *legs[2 * once :]]
    return Outing(
        "activities/2026-10-04_race.fit",
        RACE_START,
        "running",
        legs,
        "trail",
        Heart(offset_bpm=2, drift_bpm_per_min=0.02, start_bpm=96),
        temperature_c=8.0,
        saving=8,
    )


def _easy(minutes: float, pace: float) -> list[Leg]:
    """Easy over rolling ground."""
    quarter = minutes * 60 / 4
    return [Leg("run", quarter, pace, grade) for grade in (0.012, -0.01, 0.015, -0.017)]


def _tempo(blocks: int) -> list[Leg]:
    """Blocks of six minutes near the pace that she holds for an hour, easy between."""
    legs = [Leg("run", 900, 2.7)]
    for _ in range(blocks):
        legs += [Leg("run", 360, 3.75), Leg("run", 150, 2.4)]
    return [*legs, Leg("run", 600, 2.55)]


def _long(minutes: float) -> list[Leg]:
    """As much of the hills as fits into the time."""
    legs: list[Leg] = []
    for leg in legs_by_effort(LAP * 2, (9.2, 8.6)):
        if sum(one.seconds for one in legs) > minutes * 60:
            break
        legs.append(leg)
    return legs


def _training(day: datetime, what: str, legs: list[Leg], at: tuple[int, int]) -> Outing:
    start = day + timedelta(hours=at[0], minutes=at[1])
    return Outing(
        f"activities/before/{start:%Y-%m-%d}_{what}.fit",
        start,
        "running",
        legs,
        "trail" if what == "long" else "generic",
        Heart(start_bpm=82),
        temperature_c=14.0,
        saving=SPARE,
    )


def training() -> list[Outing]:
    """An easy run, one with blocks near threshold, and a long one in the hills each week; then less and less."""
    rng = dice("training")
    outings = []
    for week in range(WEEKS):
        monday = FIRST_MONDAY + timedelta(weeks=week)
        light = 0.75 if week % 4 == 3 else 1.0
        minute = int(rng.integers(0, 50))
        outings += [
            _training(monday + timedelta(days=1), "easy", _easy(52 * light, 2.68), (17, minute)),
            _training(monday + timedelta(days=3), "tempo", _tempo(3 if light < 1 else 4), (17, minute // 2)),
            _training(monday + timedelta(days=6), "long", _long((118 + 8 * week) * light), (8, minute)),
        ]
    taper = FIRST_MONDAY + timedelta(weeks=WEEKS)
    for days, minutes in ((1, 45.0), (4, 42.0), (8, 38.0), (11, 33.0), (15, 30.0), (17, 22.0)):
        outings.append(_training(taper + timedelta(days=days), "easy", _easy(minutes, 2.7), (17, 20)))
    return outings
