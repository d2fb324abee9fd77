"""Nights, mornings and what she says of her body."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from sample_exports.outing import ZONE, dice

FIRST, LAST = date(2026, 8, 20), date(2026, 10, 24)
RACE_DAY = date(2026, 10, 4)
ON_A_MAT = date(2026, 10, 9)  # the watch lay on its charger; the mat under the mattress kept this night

# day after the race: minutes asleep, or what is added to the usual resting heart rate and ln RMSSD
SLEEP_MIN = {-1: 475, 0: 388, 1: 425, 2: 515, 3: 490, 14: 328, 15: 346, 16: 358, 17: 470}
HEART_UP = {1: 7.0, 2: 3.5, 3: 2.0, 14: 6.6, 15: 6.2, 16: 2.0}
LN_RMSSD_DOWN = {1: -0.24, 2: -0.06, 3: 0.0, 14: -0.32, 15: -0.24, 16: -0.08}


@dataclass(frozen=True)
class NightAndMorning:
    day: date  # of waking
    bedtime: datetime
    wake: datetime
    sleep_min: int
    resting_hr: int
    rmssd_ms: float


def nights() -> list[NightAndMorning]:
    """One a day: six weeks as usual, then the race and what came of it."""
    rng = dice("nights")
    out = []
    for number in range((LAST - FIRST).days + 1):
        day = FIRST + timedelta(days=number)
        since_race = (day - RACE_DAY).days
        usual = round(452 + 18 * rng.standard_normal())
        asleep = SLEEP_MIN.get(since_race, usual)
        up_at = datetime(day.year, day.month, day.day, 6, 20, tzinfo=ZONE)
        wake = up_at + timedelta(minutes=round(14 * rng.standard_normal()))
        if since_race == 0:
            wake = up_at - timedelta(minutes=125)
        heart = 47 + HEART_UP.get(since_race, 0.0) + 1.0 * rng.standard_normal()
        rmssd = 2.718281828459045 ** (4.17 + LN_RMSSD_DOWN.get(since_race, 0.0) + 0.15 * rng.standard_normal())
        bedtime = wake - timedelta(minutes=asleep + 24)
        out.append(NightAndMorning(day, bedtime, wake, asleep, round(heart), round(rmssd, 1)))
    return out


def nights_csv() -> str:
    """The export that grows by a row every morning, in the default columns."""
    rows = ["date,bedtime,wake_time,total_sleep_min,resting_hr,rmssd_ms"]
    for night in nights():
        if night.day != ON_A_MAT:
            times = f"{night.bedtime:%Y-%m-%dT%H:%M},{night.wake:%Y-%m-%dT%H:%M}"
            rows.append(f"{night.day},{times},{night.sleep_min},{night.resting_hr},{night.rmssd_ms}")
    return "\n".join(rows) + "\n"


def mat_night() -> list[dict[str, Any]]:
    """The night on the mat as IEEE 1752.1 data points: the episode and the time asleep."""
    night = next(one for one in nights() if one.day == ON_A_MAT)
    frame = {
        "time_interval": {
            "start_date_time": night.bedtime.isoformat(timespec="seconds"),
            "end_date_time": night.wake.isoformat(timespec="seconds"),
        }
    }
    asleep = {"value": night.sleep_min, "unit": "min"}
    bodies = {
        "sleep-episode": {
            "effective_time_frame": frame,
            "total_sleep_time": asleep,
            "latency_to_sleep_onset": {"value": 14, "unit": "min"},
            "number_of_awakenings": 2,
            "is_main_sleep": True,
        },
        "total-sleep-time": {"total_sleep_time": asleep, "effective_time_frame": frame, "is_main_sleep": True},
    }
    return [
        {
            "header": {
                "uuid": str(uuid.uuid5(uuid.NAMESPACE_URL, f"fallow-sample/{night.day}/{name}")),
                "schema_id": {"namespace": "ieee", "name": name, "version": "1.0"},
                "source_creation_date_time": (night.wake + timedelta(minutes=9)).isoformat(timespec="seconds"),
                "modality": "sensed",
            },
            "body": body,
        }
        for name, body in bodies.items()
    ]


def checkins() -> dict[date, dict[str, Any]]:
    """What she said, on the days she said it: stairs by the rail on days 7 and 8, well again from day 9."""
    days: dict[int, dict[str, Any]] = {
        2: _said(stairs=True, soreness=7, pain=2, energy=3, mood=7, note="Stairs slowly, without the rail."),
        5: _said(stairs=True, soreness=4, pain=1, energy=6, mood=8, note="Feel almost normal. Itching to run."),
        7: _said(stairs=False, soreness=6, pain=3, energy=5, mood=6, where="thighs", note="Down only by the rail."),
        8: _said(stairs=False, soreness=5, pain=3, energy=5, mood=6, where="thighs", note="Still the rail."),
        9: _said(stairs=True, soreness=3, pain=2, energy=7, mood=7, note="Stairs are fine, up and down."),
        12: _said(stairs=True, soreness=2, pain=1, energy=8, mood=8),
        14: _said(stairs=True, soreness=5, pain=2, energy=4, mood=5, note="Slept badly. Heavy legs."),
        17: _said(stairs=True, soreness=1, pain=1, energy=7, mood=7),
        20: _said(stairs=True, soreness=1, pain=0, energy=8, mood=8),
    }
    return {RACE_DAY + timedelta(days=day): said for day, said in days.items()}


def _said(
    *, stairs: bool, soreness: int, pain: int, energy: int, mood: int, where: str | None = None, note: str | None = None
) -> dict[str, Any]:
    return {
        "stairs_unaided": stairs,
        "squat_unaided": stairs,
        "soreness": soreness,
        "pain": pain,
        "pain_where": where,
        "energy": energy,
        "mood": mood,
        "symptoms": [],
        "note": note,
    }
