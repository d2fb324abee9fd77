"""After the race: twenty days of walks, rides and good intentions, and the four times she did too much.

Days count from the race, Sunday 4 October 2026; day 1 is the Monday. README.md tells the same story in words.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sample_exports.history import RACE_START
from sample_exports.outing import Outing, Saving
from sample_exports.physiology import Heart, Leg

TIRED = Heart(offset_bpm=4, start_bpm=80)
RESTED = Heart(offset_bpm=1, start_bpm=76)


def at(day: int, hour: int, minute: int) -> datetime:
    """Local time on a day after the race."""
    return RACE_START.replace(hour=0) + timedelta(days=day, hours=hour, minutes=minute)


def walks() -> list[Outing]:
    """Three walks as they should be; the last one down from the hill, easily."""
    return [
        Outing(
            "activities/2026-10-05_walk.fit",
            at(1, 17, 40),
            "walking",
            [Leg("walk", 660, 1.22), Leg("walk", 690, 1.18)],
            heart=TIRED,
            saving=3,
        ),
        Outing(
            "phone/2026-10-06_walk.gpx",
            at(2, 12, 5),
            "walking",
            [Leg("walk", 900, 1.32), Leg("stand", 60), Leg("walk", 1080, 1.3)],
            heart=TIRED,
            saving=5,
        ),
        Outing(
            "activities/2026-10-07_walk_down.fit",
            at(3, 16, 30),
            "walking",
            [Leg("walk", 420, 1.3), Leg("walk", 1200, 1.36, -0.045), Leg("walk", 480, 1.3)],
            heart=TIRED,
            shape="line",
            start_altitude_m=742,
            saving=3,
        ),
    ]


def commute() -> Outing:
    """Saved as a walk home; it was late, and cold, and most of the middle was a jog."""
    legs = [
        Leg("walk", 560, 1.52),
        Leg("run", 500, 2.72, 0.004),
        Leg("walk", 240, 1.5),
        Leg("run", 270, 2.85, -0.006),
        Leg("walk", 420, 1.48),
    ]
    return Outing(
        "activities/2026-10-08_commute.fit",
        at(4, 16, 48),
        "walking",
        legs,
        heart=TIRED,
        shape="line",
        temperature_c=5.0,
    )


def swim() -> Outing:
    """Easy lengths in a 25 m pool, with a strap that works under water."""
    length = [Leg("swim", 33, 0.758, bpm=106), Leg("stand", 4, bpm=101)]
    return Outing(
        "activities/2026-10-09_swim.fit",
        at(5, 7, 10),
        "swimming",
        length * 44,
        "lap_swimming",
        Heart(start_bpm=84),
        "indoors",
        temperature_c=27.0,
        saving=4,
        pool_m=25.0,
    )


def _ride(
    path: str,
    start: datetime,
    minutes: float,
    watts: float,
    *,
    power: bool = False,
    coffee: tuple[int, int] | None = None,
    heart: Heart = RESTED,
    saving: Saving = "when something changes",
) -> Outing:
    """Rolling roads; climbs a little harder than the way down; a pause at a café where one is given."""
    rolling = ((0.0, 0.0), (0.02, 18.0), (-0.012, -16.0), (0.004, 2.0), (0.015, 12.0), (-0.02, -18.0))
    piece = minutes * 60 / 12
    legs = [Leg("ride", piece, grade=grade, watts=watts + more) for grade, more in rolling * 2]
    if coffee:
        half = len(legs) // 2
        at_s = sum(round(leg.seconds) for leg in legs[:half])
        legs = [*legs[:half], Leg("stand", coffee[1] - coffee[0]), *legs[half:]]
        coffee = (at_s, at_s + coffee[1] - coffee[0])
    return Outing(
        path,
        start,
        "cycling",
        legs,
        "road",
        heart,
        saving=saving,
        has_power=power,
        pauses=(coffee,) if coffee else (),
    )


def rides() -> list[Outing]:
    """Two inside their caps, one with a coffee in the middle, and one that ran long."""
    return [
        _ride("computer/2026-10-10_ride.tcx", at(6, 10, 15), 39, 88, heart=TIRED, saving=8),
        _ride("activities/2026-10-13_ride.fit", at(9, 17, 15), 52, 118, coffee=(0, 720)),
        _ride("activities/2026-10-16_ride.fit", at(12, 16, 20), 76, 122, power=True),
        _ride("activities/2026-10-22_ride.fit.gz", at(18, 17, 0), 46, 116),
    ]


def strength() -> Outing:
    """Sets of half a minute with long rests: fine by now, and under the ceiling."""
    legs = [Leg("lift", 300, bpm=96)]
    for effort in (116.0, 121.0, 124.0, 126.0, 122.0, 118.0):
        legs += [Leg("lift", 45, bpm=effort + 12), Leg("lift", 110, bpm=94)] * 2
    return Outing(
        "activities/2026-10-14_strength.fit",
        at(10, 18, 5),
        "training",
        [*legs, Leg("lift", 240, bpm=88)],
        "strength_training",
        RESTED,
        "indoors",
        temperature_c=20.0,
        saving=2,
    )


def hill_repeats() -> Outing:
    """An evening with friends: eight times up the steep lane, slow to look at and hard to do."""
    legs = [Leg("run", 660, 2.45)]
    for turn in range(8):
        up = Leg("run", 78, 2.62 - 0.02 * turn, 0.11)
        metres = up.seconds * up.speed_mps
        legs += [up, Leg("walk", 20, 0.0), Leg("walk", round(metres / 1.75), 1.75, -0.11, back=True)]
    legs.append(Leg("run", 540, 2.35))
    return Outing(
        "activities/2026-10-17_evening.fit",
        at(13, 18, 10),
        "running",
        legs,
        heart=Heart(offset_bpm=3, start_bpm=84),
        shape="line",
    )


def test_runs() -> list[Outing]:
    """Two easy runs with a day of rest between; in the second the sensor follows the feet for six minutes."""
    return [
        Outing(
            "activities/2026-10-21_test_run.fit",
            at(17, 17, 30),
            "running",
            [Leg("walk", 240, 1.5), Leg("run", 1080, 2.38), Leg("walk", 210, 1.5)],
            heart=RESTED,
        ),
        Outing(
            "activities/2026-10-23_test_run.fit",
            at(19, 12, 10),
            "running",
            [Leg("walk", 180, 1.5), Leg("run", 1320, 2.4), Leg("walk", 180, 1.5)],
            heart=RESTED,
            locked_s=(560, 920),
        ),
    ]


def after() -> list[Outing]:
    """All outings since the race, by time."""
    outings = [*walks(), commute(), swim(), *rides(), strength(), hill_repeats(), *test_runs()]
    return sorted(outings, key=lambda outing: outing.start)
