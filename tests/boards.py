"""A home for tests of the board: a full reverse taper, an earlier one, a hostile name, and somebody without a race."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from monitor.home import Home
from monitor.roster import Roster, read_roster
from monitor.store.database import Store
from tests.fitwriter import activity
from tests.homes import fallow, put

OSLO = ZoneInfo("Europe/Oslo")
FINISH = datetime(2026, 10, 4, 13, 47, tzinfo=OSLO)
EARLIER = datetime(2026, 5, 10, 11, 0, tzinfo=OSLO)
NOW = datetime(2026, 10, 17, 12, 0, tzinfo=OSLO)
"""Day 13 of 21: cross-training."""
HOSTILE = "</h2><script>alert('name')</script>\u202eevil\x1b[31m"
NOTE = "<img src=x onerror=alert(1)> & \u202enote"

ROSTER = f"""\
[[contact]]
id = "coach"
name = "Coach Ida"
urls = ["json://127.0.0.1:9/nobody"]

[[athlete]]
id = "runa"
name = "Runa Vik"
folder = "exports/runa"
timezone = "Europe/Oslo"
born = 1991
sex = "female"
hr_max = 190
threshold_pace = "4:20"
contacts = ["coach"]

[[athlete.race]]
event = "10k"
finish = 2026-05-10T11:00:00

[[athlete.race]]
event = "marathon"
finish = 2026-10-04T13:47:00

[[athlete]]
id = "odd"
name = {json.dumps(HOSTILE)}
folder = "exports/odd"
timezone = "Europe/Oslo"
contacts = ["coach"]

[[athlete.race]]
event = "half"
finish = 2026-10-11T12:00:00

[[athlete]]
id = "nora"
folder = "exports/nora"
timezone = "Europe/Oslo"
contacts = ["coach"]
"""


def outing(start: datetime, minutes: int, sport: str = "running", *, bpm: float = 118, speed: float = 2.7) -> bytes:
    """An even outing on rolling ground."""
    t = np.arange(0, minutes * 60 + 1, 1.0)
    on_foot = sport in ("running", "walking")
    samples = {
        "t_s": t,
        "hr_bpm": bpm - 25 * np.exp(-t / 90) + 3 * np.sin(t / 37),
        "speed_mps": speed + 0.1 * np.sin(t / 11),
        "distance_m": speed * t,
        "altitude_m": 120 + 15 * np.sin(t / 300),
        **({"cadence_spm": np.full_like(t, 166.0 if sport == "running" else 112.0)} if on_foot else {}),
    }
    return activity(start, sport, samples=samples, utc_offset_s=7200)


def repeats(start: datetime) -> bytes:
    """40 minutes with six fast minutes, heart rate far over the ceiling, and a sensor that sticks to the step rate."""
    t = np.arange(0, 2401, 1.0)
    fast = (t > 600) & (t < 1800) & ((t % 200) < 60)
    speed = np.where(fast, 4.6, 2.6) + 0.05 * np.sin(t / 7)
    bpm = 132 + np.zeros_like(t)
    for i in range(1, len(t)):
        bpm[i] = bpm[i - 1] + ((178 if fast[i] else 132) - bpm[i - 1]) / 40
    bpm = np.rint(bpm + 2 * np.sin(t / 23))
    stuck = (t > 2000) & (t < 2300)
    cadence = np.where(fast, 182.0, 166.0) + np.rint(2 * np.sin(t / 9))
    samples = {
        "t_s": t,
        "hr_bpm": np.where(stuck, cadence, bpm),
        "speed_mps": speed,
        "distance_m": np.cumsum(speed),
        "altitude_m": 120 + 20 * np.sin(t / 200),
        "cadence_spm": cadence,
    }
    return activity(start, "running", samples=samples, utc_offset_s=7200, pauses=((1900.0, 1960.0),))


def exports() -> dict[str, bytes]:
    """Path below `exports` -> bytes."""

    def at(day: int, hour: int, race: datetime = FINISH) -> datetime:
        return (race + timedelta(days=day)).replace(hour=hour, minute=0)

    files = {
        f"runa/before_{back}.fit": outing(at(-back, 18), 45 + back % 7, bpm=135)
        for back in (16, 19, 23, 26, 30, 33, 37, 40, 44, 47, 51, 54, 58, 61, 65)
    }
    files |= {
        "runa/walk.fit": outing(at(2, 12), 30, "walking", speed=1.3, bpm=95),
        "runa/repeats.fit": repeats(at(5, 18)),
        "runa/ride.fit": outing(at(8, 17), 75, "cycling", speed=7.0, bpm=112),
        "runa/swim.fit": outing(at(10, 7), 40, "swimming", speed=0.8, bpm=110),
        "runa/spring.fit": outing(at(1, 18, EARLIER), 40),
        "runa/torn.fit": b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT",
        "runa/nights.csv": _nights().encode(),
    }
    said = (
        (2, {"stairs_unaided": True, "squat_unaided": True, "soreness": 6, "pain": 1, "note": NOTE}),
        (
            7,
            {
                "stairs_unaided": False,
                "soreness": 5,
                "pain": 4,
                "pain_where": "<b>calf</b>",
                "symptoms": ["<i>numb</i>"],
            },
        ),
        (9, {"stairs_unaided": True, "squat_unaided": True, "soreness": 1, "pain": 0, "energy": 8, "mood": 8}),
    )
    for day, answers in said:
        on = at(day, 8).date().isoformat()
        files[f"runa/{on}.checkin.json"] = json.dumps({"date": on, **answers}).encode()
    files["odd/jog.fit"] = outing(datetime(2026, 10, 15, 18, tzinfo=OSLO), 25)
    return files


def _nights() -> str:
    rows = ["date,total_sleep_min,resting_hr,rmssd_ms"]
    for back in range(50, -14, -1):
        on = (FINISH - timedelta(days=back)).date()
        ill = back in (-11, -12)
        rows.append(
            f"{on},{330 if ill else 440 + back % 5},{57 if ill else 47 + back % 3},{44 if ill else 60 + back % 7}"
        )
    return "\n".join(rows) + "\n"


def make_board_home(path: Path) -> Home:
    """The home with everything read, judged as of NOW, and its board written."""
    for athlete in ("runa", "odd", "nora"):
        (path / "exports" / athlete).mkdir(parents=True)
    (path / "roster.toml").write_text(ROSTER, "utf-8")
    for name, content in exports().items():
        put(path / "exports" / name, content)
    ran = fallow("scan", "--as-of", NOW.isoformat(), home=path)
    assert ran.status == 0, ran.err
    return Home(path)


def opened(home: Home) -> tuple[Roster, Store]:
    return read_roster(home.roster), Store(home.store)
