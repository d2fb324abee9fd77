"""FIT files made of a seed: activities of one to three legs and days of a body, odd as devices are odd."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.fitwriter import FitWriter, Raw, file_id, fit_time, monitoring_day, night

START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
ZONES = ("Europe/Oslo", "America/Denver", "Pacific/Auckland")
SPORTS = (
    ("running", "generic"), ("running", "trail"), ("cycling", "road"), ("cycling", "indoor_cycling"),
    ("walking", "generic"),
    ("swimming", "lap_swimming"), ("training", "strength_training"), ("hiking", "generic"), ("transition", "generic"),
    ("rowing", "generic"),
)  # fmt: skip
Draw = random.Random


def pick(draw: Draw, choices: Any) -> Any:
    return choices[int(draw.random() * len(choices))]


def fit(draw: Draw) -> tuple[str, bytes]:
    """An activity of one to three legs, with laps, pauses, sensors, and what some devices leave out."""
    writer = FitWriter(big_endian=draw.random() < 0.1, header_size=pick(draw, (14, 14, 12)))
    file_id(writer, START, serial=pick(draw, (1, 12345)), kind="activity")
    sensors = (
        (),
        ({"device_type": 4, "source_type": "local"},),
        ({"device_type": 10, "source_type": "local"}, {"device_type": 4, "source_type": "local"}),
    )
    for sensor in pick(draw, sensors):
        writer.message("device_info", timestamp=START, **sensor)
    begin, legs, counted = START, [], 0.0
    for number in range(pick(draw, (1, 1, 1, 2, 3))):
        leg = _leg(draw, writer, begin, number, counted)
        counted = leg["metres"] if draw.random() < 0.5 else 0.0
        legs.append(leg)
        begin += timedelta(seconds=leg["seconds"] + pick(draw, (0, 0, 1, 60)))
    if draw.random() < 0.2:
        _intervals(draw, writer)
    if draw.random() < 0.9:
        for leg in legs:
            writer.message("session", **{name: value for name, value in leg["summary"].items() if value is not None})
    elif draw.random() < 0.5:
        writer.message("sport", sport="running", sub_sport="track")
    if draw.random() < 0.6:
        offset = pick(draw, (7200, 7203, -21600, 20700, 0))
        end = fit_time(begin)
        writer.message("activity", timestamp=end, local_timestamp=end + offset, num_sessions=len(legs), type="manual")
    return "a.fit", writer.to_bytes(
        header_crc=pick(draw, ("right", "right", "zero", "wrong")),
        file_crc=pick(draw, ("right", "right", "right", "zero", "wrong")),
    )


def _leg(draw: Draw, writer: FitWriter, begin: datetime, number: int, counted: float) -> dict[str, Any]:
    sport, sub_sport = pick(draw, SPORTS)
    seconds = pick(draw, (61, 90, 150, 240))
    speed = pick(draw, (0.0, 1.4, 3.0, 3.3, 6.5))
    pauses = pick(draw, ((), (), ((20, 50),), ((20, 31), (40, 55)), ((seconds - 10, seconds),)))
    for second, what in [
        (0, "start"),
        *((at, word) for a, b in pauses for at, word in ((a, "stop_all"), (b, "start"))),
        (seconds, "stop_all"),
    ]:
        if draw.random() < 0.95:
            writer.message("event", timestamp=begin + timedelta(seconds=second), event="timer", event_type=what)
    _records(draw, writer, begin, seconds, speed, counted, pauses)
    _laps(draw, writer, begin, seconds, speed, sport)
    if sport == "swimming":
        _lengths(draw, writer, begin)
    if draw.random() < 0.12:
        _strap(draw, writer, begin)
    paused = sum(b - a for a, b in pauses)
    summary = {
        "message_index": number,
        "start_time": begin + timedelta(seconds=pick(draw, (0, 0, 0, 3, -2))),
        "timestamp": begin + timedelta(seconds=seconds),
        "total_elapsed_time": pick(draw, (seconds, seconds, seconds + 0.4, None)),
        "total_timer_time": pick(draw, (seconds - paused, seconds - paused, None)),
        "sport": pick(draw, (sport, sport, sport, None)),
        "sub_sport": pick(draw, (sub_sport, None)),
        "total_distance": pick(draw, (seconds * speed, None)),
        "total_ascent": pick(draw, (None, 12, 0)),
        "total_descent": pick(draw, (None, 9)),
        "avg_heart_rate": pick(draw, (None, 131)),
        "max_heart_rate": pick(draw, (None, 150)),
        "pool_length": 25.0 if sport == "swimming" and draw.random() < 0.7 else None,
    }
    return {"seconds": seconds, "metres": counted + seconds * speed, "summary": summary}


def _records(
    draw: Draw, writer: FitWriter, begin: datetime, seconds: int, speed: float, counted: float, pauses: Any
) -> None:
    every = pick(draw, (1, 1, 2, 7))
    drop, strange, twice = draw.random() < 0.15, draw.random() < 0.12, draw.random() < 0.15
    has = {
        name
        for name in ("heart_rate", "speed", "distance", "altitude", "position", "cadence", "power", "temperature")
        if draw.random() < 0.75
    }
    form, packed, enhanced = draw.random() < 0.12, draw.random() < 0.05, draw.random() < 0.4
    turns = pick(draw, (84, 85, 160, 60, 38))
    for at in range(0, seconds + 1, every):
        if any(a < at < b for a, b in pauses) or (drop and 30 < at < 45):
            continue
        now = at + pick(draw, (0, 4000, -90)) if strange and at % 13 == 5 else at
        more: dict[str, Any] = {"timestamp": begin + timedelta(seconds=now)}
        if "heart_rate" in has:
            more["heart_rate"] = pick(draw, (120, 130, 131, 255, 0)) if at % 11 == 0 else 125 + at % 9
        if "speed" in has:
            more["enhanced_speed" if enhanced else "speed"] = round(max(speed + (at % 5 - 2) / 10, 0.0), 3)
        if "distance" in has:
            more["distance"] = round(counted + at * speed, 2)
        if "altitude" in has:
            more["enhanced_altitude" if enhanced else "altitude"] = 100 + at % 17
        if "position" in has:
            more["position_lat"], more["position_long"] = (
                (0, 0) if at % 29 == 3 else (600_000_000 + 250 * at, 120_000_000)
            )
        if "cadence" in has:
            more["cadence"], more["fractional_cadence"] = turns + at % 3, 0.5 if at % 2 else 0.0
        if "power" in has:
            more["power"] = pick(draw, (0, 210, 2999, 3001))
        if "temperature" in has:
            more["temperature"] = 20
        if form:
            more["stance_time"] = 240.0
        extra = [Raw(8, "byte", [at * 7 % 256, at % 256, at * 3 % 256])] if packed else []
        for _ in range(2 if twice and at % 10 == 4 else 1):
            writer.message("record", *extra, **more)


def _laps(draw: Draw, writer: FitWriter, begin: datetime, seconds: int, speed: float, sport: str) -> None:
    at, trigger = 0, pick(draw, ("manual", "distance", "time", None))
    steps = draw.random() < 0.2
    while at < seconds:
        long = min(pick(draw, (20, 33, 60, 240)), seconds - at)
        more = {"lap_trigger": trigger} if trigger and at + long < seconds else {}
        rates = (
            {"avg_heart_rate": pick(draw, (128, 140)), "max_heart_rate": pick(draw, (140, 150))}
            if draw.random() < 0.7
            else {}
        )
        writer.message(
            "lap",
            start_time=begin + timedelta(seconds=at),
            timestamp=begin + timedelta(seconds=at + long),
            total_elapsed_time=long,
            total_timer_time=pick(draw, (long, long, long - 3)),
            total_distance=round(long * speed * pick(draw, (1, 1, 0.9)), 2),
            sport=sport,
            **({"wkt_step_index": 1} if steps else {}),
            **more,
            **rates,
        )
        at += long


def _lengths(draw: Draw, writer: FitWriter, begin: datetime) -> None:
    for number in range(pick(draw, (1, 3, 5))):
        kind = "idle" if number == 2 else "active"
        speed = None if draw.random() < 0.2 else 0.833
        writer.message(
            "length",
            start_time=begin + timedelta(seconds=15 * number),
            total_elapsed_time=pick(draw, (15, 14.5)),
            length_type=kind,
            avg_speed=speed,
        )


def _strap(draw: Draw, writer: FitWriter, begin: datetime) -> None:
    """Heart rate that a strap kept by itself, on a clock of its own."""
    writer.message(
        "hr", timestamp=begin, event_timestamp=[5.0], filtered_bpm=[118], fractional_timestamp=pick(draw, (0.0, 0.5))
    )
    ticks, beats = 5 * 1024, []
    for _ in range(8 * pick(draw, (2, 6))):
        ticks += pick(draw, (480, 512, 700, 3000))
        beats.append(ticks)
    for first in range(0, len(beats), 8):
        low = [one & 0xFFF for one in beats[first : first + 8]]
        packed = [
            part
            for a, b in zip(low[::2], low[1::2], strict=True)
            for part in (a & 0xFF, a >> 8 | (b & 0x0F) << 4, b >> 4)
        ]
        writer.message("hr", Raw(10, "byte", packed), filtered_bpm=[120 + one % 7 for one in low])


def _intervals(draw: Draw, writer: FitWriter) -> None:
    for number in range(pick(draw, (20, 40))):
        writer.message("hrv", time=[1.0 + (number * 37 % 90) / 1000, 1.02, None, None, None])


def body_fit(draw: Draw) -> tuple[str, bytes]:
    """A night, or a day's monitoring, or both in a chain."""
    begin = START + timedelta(hours=pick(draw, (-10, -9, 3, 13)))
    stages = [
        (pick(draw, (3, 20, 61, 100, 200)), pick(draw, ("awake", "light", "deep", "rem", "light")))
        for _ in range(pick(draw, (2, 5, 8)))
    ]
    rest = night(begin, stages, rmssd_ms=pick(draw, (None, 55.5, 401.0)))
    day = monitoring_day(
        begin,
        [(n * 1.5, 50 + n % 30) for n in range(pick(draw, (0, 30)))],
        resting_hr=pick(draw, (None, 24, 25, 47, 121)),
        utc_offset_s=pick(draw, (0, 7200)),
    )
    writer = file_id(FitWriter(), begin, kind=49)
    for number in range(pick(draw, (0, 2, 3, 8))):
        writer.message("hrv_value", timestamp=begin + timedelta(minutes=5 * number), value=pick(draw, (41.0, 60.5)))
    return "night.fit", pick(draw, (rest, day, writer.to_bytes(), rest + day))
