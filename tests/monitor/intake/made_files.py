"""Files of each kind that the program reads, each made of a seed: whole, odd as devices are odd, and damaged."""

from __future__ import annotations

import gzip
import io
import json
import random
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from monitor.values import ColumnMap, IntakeOptions
from tests import xmlbytes
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
File = tuple[str, bytes, IntakeOptions]


def made(kind: str, seed: int) -> File:
    """The file of a kind and a seed: its name, its bytes and how it is to be read."""
    draw = random.Random(seed)
    name, data = KINDS[kind](draw)
    options = _options(draw) if kind in ("csv", "form") else IntakeOptions(_of(draw, ZONES))
    if draw.random() < 0.15:
        data = data[: int(len(data) * (0.3 + 0.7 * draw.random()))]
    elif draw.random() < 0.06:
        at = int(len(data) * draw.random())
        data = data[:at] + bytes([draw.randrange(256)]) + data[at + 1 :]
    return name, data, options


def _of(draw: Draw, choices: Any) -> Any:
    return choices[int(draw.random() * len(choices))]


def _options(draw: Draw) -> IntakeOptions:
    columns = {"resting_hr": ColumnMap("Pulse"), "total_sleep_min": ColumnMap("Asleep", _of(draw, ("h", "min", "s")))}
    return IntakeOptions(
        _of(draw, ZONES),
        columns if draw.random() < 0.3 else {},
        _of(draw, (None, None, "dmy", "mdy")),
        _of(draw, (None, None, True, False)),
    )


def fit(draw: Draw) -> tuple[str, bytes]:
    """An activity of one to three legs, with laps, pauses, sensors, and what some devices leave out."""
    writer = FitWriter(big_endian=draw.random() < 0.1, header_size=_of(draw, (14, 14, 12)))
    file_id(writer, START, serial=_of(draw, (1, 12345)), kind="activity")
    sensors = (
        (),
        ({"device_type": 4, "source_type": "local"},),
        ({"device_type": 10, "source_type": "local"}, {"device_type": 4, "source_type": "local"}),
    )
    for sensor in _of(draw, sensors):
        writer.message("device_info", timestamp=START, **sensor)
    begin, legs, counted = START, [], 0.0
    for number in range(_of(draw, (1, 1, 1, 2, 3))):
        leg = _leg(draw, writer, begin, number, counted)
        counted = leg["metres"] if draw.random() < 0.5 else 0.0
        legs.append(leg)
        begin += timedelta(seconds=leg["seconds"] + _of(draw, (0, 0, 1, 60)))
    if draw.random() < 0.2:
        _intervals(draw, writer)
    if draw.random() < 0.9:
        for leg in legs:
            writer.message("session", **{name: value for name, value in leg["summary"].items() if value is not None})
    elif draw.random() < 0.5:
        writer.message("sport", sport="running", sub_sport="track")
    if draw.random() < 0.6:
        offset = _of(draw, (7200, 7203, -21600, 20700, 0))
        end = fit_time(begin)
        writer.message("activity", timestamp=end, local_timestamp=end + offset, num_sessions=len(legs), type="manual")
    return "a.fit", writer.to_bytes(
        header_crc=_of(draw, ("right", "right", "zero", "wrong")),
        file_crc=_of(draw, ("right", "right", "right", "zero", "wrong")),
    )


def _leg(draw: Draw, writer: FitWriter, begin: datetime, number: int, counted: float) -> dict[str, Any]:
    sport, sub_sport = _of(draw, SPORTS)
    seconds = _of(draw, (61, 90, 150, 240))
    speed = _of(draw, (0.0, 1.4, 3.0, 3.3, 6.5))
    pauses = _of(draw, ((), (), ((20, 50),), ((20, 31), (40, 55)), ((seconds - 10, seconds),)))
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
        "start_time": begin + timedelta(seconds=_of(draw, (0, 0, 0, 3, -2))),
        "timestamp": begin + timedelta(seconds=seconds),
        "total_elapsed_time": _of(draw, (seconds, seconds, seconds + 0.4, None)),
        "total_timer_time": _of(draw, (seconds - paused, seconds - paused, None)),
        "sport": _of(draw, (sport, sport, sport, None)),
        "sub_sport": _of(draw, (sub_sport, None)),
        "total_distance": _of(draw, (seconds * speed, None)),
        "total_ascent": _of(draw, (None, 12, 0)),
        "total_descent": _of(draw, (None, 9)),
        "avg_heart_rate": _of(draw, (None, 131)),
        "max_heart_rate": _of(draw, (None, 150)),
        "pool_length": 25.0 if sport == "swimming" and draw.random() < 0.7 else None,
    }
    return {"seconds": seconds, "metres": counted + seconds * speed, "summary": summary}


def _records(
    draw: Draw, writer: FitWriter, begin: datetime, seconds: int, speed: float, counted: float, pauses: Any
) -> None:
    every = _of(draw, (1, 1, 2, 7))
    drop, strange, twice = draw.random() < 0.15, draw.random() < 0.12, draw.random() < 0.15
    has = {
        name
        for name in ("heart_rate", "speed", "distance", "altitude", "position", "cadence", "power", "temperature")
        if draw.random() < 0.75
    }
    form, packed, enhanced = draw.random() < 0.12, draw.random() < 0.05, draw.random() < 0.4
    turns = _of(draw, (84, 85, 160, 60, 38))
    for at in range(0, seconds + 1, every):
        if any(a < at < b for a, b in pauses) or (drop and 30 < at < 45):
            continue
        now = at + _of(draw, (0, 4000, -90)) if strange and at % 13 == 5 else at
        more: dict[str, Any] = {"timestamp": begin + timedelta(seconds=now)}
        if "heart_rate" in has:
            more["heart_rate"] = _of(draw, (120, 130, 131, 255, 0)) if at % 11 == 0 else 125 + at % 9
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
            more["power"] = _of(draw, (0, 210, 2999, 3001))
        if "temperature" in has:
            more["temperature"] = 20
        if form:
            more["stance_time"] = 240.0
        extra = [Raw(8, "byte", [at * 7 % 256, at % 256, at * 3 % 256])] if packed else []
        for _ in range(2 if twice and at % 10 == 4 else 1):
            writer.message("record", *extra, **more)


def _laps(draw: Draw, writer: FitWriter, begin: datetime, seconds: int, speed: float, sport: str) -> None:
    at, trigger = 0, _of(draw, ("manual", "distance", "time", None))
    steps = draw.random() < 0.2
    while at < seconds:
        long = min(_of(draw, (20, 33, 60, 240)), seconds - at)
        more = {"lap_trigger": trigger} if trigger and at + long < seconds else {}
        rates = (
            {"avg_heart_rate": _of(draw, (128, 140)), "max_heart_rate": _of(draw, (140, 150))}
            if draw.random() < 0.7
            else {}
        )
        writer.message(
            "lap",
            start_time=begin + timedelta(seconds=at),
            timestamp=begin + timedelta(seconds=at + long),
            total_elapsed_time=long,
            total_timer_time=_of(draw, (long, long, long - 3)),
            total_distance=round(long * speed * _of(draw, (1, 1, 0.9)), 2),
            sport=sport,
            **({"wkt_step_index": 1} if steps else {}),
            **more,
            **rates,
        )
        at += long


def _lengths(draw: Draw, writer: FitWriter, begin: datetime) -> None:
    for number in range(_of(draw, (1, 3, 5))):
        kind = "idle" if number == 2 else "active"
        speed = None if draw.random() < 0.2 else 0.833
        writer.message(
            "length",
            start_time=begin + timedelta(seconds=15 * number),
            total_elapsed_time=_of(draw, (15, 14.5)),
            length_type=kind,
            avg_speed=speed,
        )


def _strap(draw: Draw, writer: FitWriter, begin: datetime) -> None:
    """Heart rate that a strap kept by itself, on a clock of its own."""
    writer.message(
        "hr", timestamp=begin, event_timestamp=[5.0], filtered_bpm=[118], fractional_timestamp=_of(draw, (0.0, 0.5))
    )
    ticks, beats = 5 * 1024, []
    for _ in range(8 * _of(draw, (2, 6))):
        ticks += _of(draw, (480, 512, 700, 3000))
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
    for number in range(_of(draw, (20, 40))):
        writer.message("hrv", time=[1.0 + (number * 37 % 90) / 1000, 1.02, None, None, None])


def body_fit(draw: Draw) -> tuple[str, bytes]:
    """A night, or a day's monitoring, or both in a chain."""
    begin = START + timedelta(hours=_of(draw, (-10, -9, 3, 13)))
    stages = [
        (_of(draw, (3, 20, 61, 100, 200)), _of(draw, ("awake", "light", "deep", "rem", "light")))
        for _ in range(_of(draw, (2, 5, 8)))
    ]
    rest = night(begin, stages, rmssd_ms=_of(draw, (None, 55.5, 401.0)))
    day = monitoring_day(
        begin,
        [(n * 1.5, 50 + n % 30) for n in range(_of(draw, (0, 30)))],
        resting_hr=_of(draw, (None, 24, 25, 47, 121)),
        utc_offset_s=_of(draw, (0, 7200)),
    )
    writer = file_id(FitWriter(), begin, kind=49)
    for number in range(_of(draw, (0, 2, 3, 8))):
        writer.message("hrv_value", timestamp=begin + timedelta(minutes=5 * number), value=_of(draw, (41.0, 60.5)))
    return "night.fit", _of(draw, (rest, day, writer.to_bytes(), rest + day))


def _points(draw: Draw) -> list[xmlbytes.Point]:
    """Points with what exporters leave out or repeat."""
    every, speed = _of(draw, (1, 1, 3, 9)), _of(draw, (0.3, 1.4, 3.0, 9.0))
    times = [float(at) for at in range(0, _of(draw, (30, 90, 200)), every)]
    points = xmlbytes.run(times, speed, cadence=_of(draw, (None, 42, 84, 168)))
    for at, point in enumerate(points):
        point["ele"] = 100 + (at * 7 % 13) / 2
        if draw.random() < 0.05:
            for name in _of(draw, (("hr",), ("ele",), ("t",), ("hr", "ele"))):
                point.pop(name, None)
        elif draw.random() < 0.03 and "t" in point:
            point["t"] = float(str(point["t"])) + _of(draw, (-5, 0.25, 3600, 100000))
        elif draw.random() < 0.02:
            point["lat"], point["lon"] = _of(draw, ((0.0, 0.0), (91.0, 10.0), (60.5, 181.0)))
        if draw.random() < 0.05:
            point["hr"] = _of(draw, (0, 1, 255, 256, -4))
    if draw.random() < 0.4:
        for point in points:
            point["dist"] = round(speed * float(str(point.get("t", 0))), _of(draw, (0, 1)))
    if draw.random() < 0.3:
        for point in points:
            point["speed"] = point["Speed"] = round(speed * 1.02, 2)
            point["runcad"], point["power"], point["atemp"] = 83, 250, 18
    return points


def _split(draw: Draw, points: list[xmlbytes.Point]) -> list[list[xmlbytes.Point]]:
    at = int(len(points) * draw.random())
    gap = _of(draw, (0, 0, 60, 14399, 14401, 20000))
    for point in points[at:]:
        if "t" in point:
            point["t"] = float(str(point["t"])) + gap
    return [points] if draw.random() < 0.4 else [points[:at], points[at:]]


def gpx(draw: Draw) -> tuple[str, bytes]:
    """A track of one or two segments."""
    kind = _of(
        draw,
        ("running", "Run", "9", "cycling", "trail running", "walking", "Swimming", "virtual ride", None, "xyz", "16"),
    )
    data = xmlbytes.gpx(*_split(draw, _points(draw)), kind=kind)
    return "a.gpx", data.replace(
        b'creator="a watch"', b'creator="a watch with barometer"'
    ) if draw.random() < 0.2 else data


def tcx(draw: Draw) -> tuple[str, bytes]:
    """Laps of one or two activities."""
    laps, at = [], 0.0
    for _ in range(_of(draw, (1, 2, 3, 4))):
        points = [point for point in _points(draw) if "t" in point]
        for point in points:
            point["t"] = float(str(point["t"])) + at
        long = float(str(points[-1].get("t", at + 30.0))) - at
        summary = _of(
            draw,
            (
                "",
                "<AverageHeartRateBpm><Value>133</Value></AverageHeartRateBpm><MaximumHeartRateBpm><Value>151</Value></MaximumHeartRateBpm>",
            ),
        )
        pieces = _split(draw, points) if draw.random() < 0.3 else [points]
        laps.append(
            xmlbytes.lap(
                *pieces,
                start_s=at,
                timer_s=_of(draw, (long, long - 4, 0, None)),
                metres=_of(draw, (long * 3, 0)),
                summary=summary,
            )
        )
        at += long + _of(draw, (0, 1, 45))
    text = xmlbytes.tcx(xmlbytes.activity(*laps, sport=_of(draw, ("Running", "Biking", "Other", "Running"))))
    if draw.random() < 0.2:
        text = text.replace(b"</Activities>", xmlbytes.activity(*laps[:1], sport="Biking").encode() + b"</Activities>")
    return "a.tcx", text.replace(b">Manual<", b">" + _of(draw, (b"Manual", b"Distance", b"Time")) + b"<")


def _stamp(day: float, hour: float, offset: str) -> str:
    return f"{START + timedelta(days=day, hours=hour - 7):%Y-%m-%dT%H:%M:%S}{offset}"


def mhealth(draw: Draw) -> tuple[str, bytes]:
    """Sleep, pulse and intervals as the health schemas have them, bare or with headers."""
    found: list[Any] = []
    for day in range(_of(draw, (1, 2, 4))):
        offset = _of(draw, ("+02:00", "Z", "-07:00"))
        begin, long = _of(draw, (-2.0, -1.0, 1.0, 13.0)), _of(draw, (0.7, 2.9, 3.0, 7.5, 8.0, 16.5, 24.0))
        frame = {
            "time_interval": _of(
                draw,
                (
                    {"start_date_time": _stamp(day, begin, offset), "end_date_time": _stamp(day, begin + long, offset)},
                    {"start_date_time": _stamp(day, begin, offset), "duration": {"value": long, "unit": "h"}},
                    {
                        "end_date_time": _stamp(day, begin + long, offset),
                        "duration": {"value": long * 60, "unit": "min"},
                    },
                ),
            )
        }
        asleep = _of(draw, (long * 0.9, long, long + 0.01, long + 0.5, 0.0))
        told: dict[str, Any] = _of(
            draw,
            (
                {"total_sleep_time": {"value": asleep * 60, "unit": "min"}},
                {"sleep_duration": {"value": asleep, "unit": "h"}},
                {"sleep_duration": {"value": asleep * 3600, "unit": "sec"}},
                {"time_in_bed": {"value": long, "unit": "h"}},
                {
                    "sleep_efficiency_percentage": {"value": _of(draw, (88, 100, 101, 0)), "unit": "%"},
                    "number_of_awakenings": 3,
                },
                {"sleep_stage_summary": {"total_sleep_time": {"value": asleep * 60, "unit": "min"}}},
            ),
        )
        body = {
            **told,
            "effective_time_frame": frame,
            **_of(draw, ({}, {}, {"is_main_sleep": False}, {"is_main_sleep": True})),
        }
        found.append(_headed(draw, "sleep-episode", body))
        for number in range(_of(draw, (0, 1, 4))):
            rest = _of(
                draw,
                (
                    {"temporal_relationship_to_sleep": "during sleep"},
                    {"temporal_relationship_to_physical_activity": "at rest"},
                    {},
                    {"temporal_relationship_to_sleep": "on waking"},
                ),
            )
            pulse = {
                "heart_rate": {"value": 44 + number * 3, "unit": "beats/min"},
                "effective_time_frame": {"date_time": _stamp(day, 3 + number, offset)},
                **rest,
            }
            found.append(
                _headed(
                    draw,
                    "heart-rate",
                    pulse | _of(draw, ({}, {"descriptive_statistic": "average"}, {"descriptive_statistic": "maximum"})),
                )
            )
    for number in range(_of(draw, (0, 0, 70))):
        body = {
            "rr_interval": {"value": 900 + number * 37 % 80, "unit": "ms"},
            "effective_time_frame": {"date_time": _stamp(0, 4 + number / 3600, "Z")},
        }
        found.append(_headed(draw, "rr-interval", body))
    if draw.random() < 0.3:
        found.append(_of(draw, ({"step_count": 3}, {"body": {"heart_rate": 4}}, {"body": {}})))
    return "a.json", json.dumps(found if len(found) > 1 else found[0]).encode()


def _headed(draw: Draw, name: str, body: Any) -> Any:
    if draw.random() < 0.5:
        return body
    header = {
        "schema_id": {"namespace": "ieee", "name": name, "version": "1.0"},
        "source_creation_date_time": _stamp(0, 12, "Z"),
    }
    return {
        "header": header
        | _of(draw, ({}, {"modality": "sensed"}, {"acquisition_provenance": {"modality": "self-reported"}})),
        "body": body,
    }


def csv(draw: Draw) -> tuple[str, bytes]:
    """Nights and mornings in a table."""
    split = _of(draw, (",", ";", "\t"))
    names = _of(
        draw,
        (
            ("date", "bedtime", "wake_time", "total_sleep_min", "resting_hr", "rmssd_ms"),
            ("date", "Asleep", "Pulse"),
            ("date", "resting_hr"),
            ("Date", "Total_Sleep_Min", "RMSSD_ms"),
        ),
    )
    lines = [split.join(names)]
    if draw.random() < 0.2:
        lines.insert(0, "Export of nights")
    twice = draw.random() < 0.3  # two rows of a day: a night and a nap, or a table of two devices
    for number in range(_of(draw, (1, 4, 12))):
        day = number // 2 if twice else number
        cells = {
            "date": _of(
                draw,
                (
                    f"2026-10-{day + 6:02d}",
                    f"{day + 6}.10.2026",
                    f"10/{day + 6}/2026",
                    f"2026-10-{day + 6:02d}T06:30",
                    "soon",
                ),
            )
            if draw.random() < 0.3
            else f"2026-10-{day + 6:02d}",
            "bedtime": _of(draw, ("22:45", "00:30", "11:15 PM", "2026-10-06 23:00", "")),
            "wake": _of(draw, ("06:30", "7:05", "13:00", "")),
            "asleep": _of(draw, ("432", "7:12", "7h12", "7,2 h", "25920 s", "0", "1441", "-", "x")),
            "pulse": _of(draw, ("47", "47,5", "24", "25", "120", "121", "n/a")),
            "rmssd": _of(draw, ("61.5", "61,5", "0.5", "1", "400", "401", "")),
        }
        by = {
            "date": "date",
            "bedtime": "bedtime",
            "wake_time": "wake",
            "total_sleep_min": "asleep",
            "asleep": "asleep",
            "resting_hr": "pulse",
            "pulse": "pulse",
            "rmssd_ms": "rmssd",
        }
        row = [cells[by[name.lower()]] for name in names]
        lines.append(split.join(f'"{cell}"' if split in cell else cell for cell in row))
    return "nights.csv", _of(draw, ("\n", "\r\n")).join(lines).encode(
        _of(draw, ("utf-8", "utf-8-sig", "utf-16", "cp1252"))
    )


def form(draw: Draw) -> tuple[str, bytes]:
    """Check-ins as a form keeps them in a table."""
    names = ("date", "pain", "stairs_unaided", "squat_unaided", "mood", "soreness", "symptoms", "note")
    rows = [",".join(names)]
    for day in range(_of(draw, (1, 3))):
        answers = _answers(draw, day)
        rows.append(",".join(str(answers.get(name, "")).replace(",", ";").strip("[]'") for name in names))
    return "form.csv", "\n".join(rows).encode()


SCALED = (
    0,
    3,
    10,
    11,
    "4/10",
    "3,5",
    "2-4",
    "3 - 5",
    "no pain",
    "hardly",
    "a bit",
    "slight",
    "some",
    "moderate",
    "much",
    "bad",
    "severe",
    "very bad",
    "terrible",
    "extreme",
    "none",
    "very low",
    "low",
    "tired",
    "so-so",
    "ok",
    "fine",
    "good",
    "high",
    "very good",
    "great",
    "excellent",
    "blue",
    None,
    "",
    "a little",
    "a lot",
    "not at all",
    "mild",
    "light",
    "medium",
    "strong",
    "very much",
    "unbearable",
    "poor",
    "normal",
    "average",
    "lots",
)


def _answers(draw: Draw, day: int) -> dict[str, Any]:
    date = _of(draw, ("2026-10-{:02d}", "2026-10-{:02d}", "2026-10-{:02d}T21:30", "2026-10-{:02d}T06:30:00Z")).format(
        day + 6
    )
    found: dict[str, Any] = {"date": date}
    for key in ("soreness", "pain", "energy", "mood"):
        if draw.random() < 0.8:
            found[key] = _of(draw, SCALED)
    for key in ("stairs_unaided", "squat_unaided"):
        if draw.random() < 0.7:
            found[key] = _of(draw, (True, False, "yes", "no", "Y", "maybe", 1, 0, "n"))
    if draw.random() < 0.4:
        found["symptoms"] = _of(draw, (["fever", "fever", "-"], "dark urine; fever", "none", ["x" * 130]))
    if draw.random() < 0.3:
        found["gone"], found["seen_doctor"] = (
            _of(draw, (True, "yes", ["fever", "no"], "chest pain")),
            _of(draw, ("yes", "no", "Dr Berg", True)),
        )
    if draw.random() < 0.3:
        found["note"], found["pain_where"], found["odd"] = "slept badly " * _of(draw, (1, 200)), "left calf", 1
    return found


def checkins(draw: Draw) -> tuple[str, bytes]:
    """One check-in, or a list of them."""
    found = [_answers(draw, day // 2) for day in range(_of(draw, (1, 1, 2, 5)))]
    return "a.checkin.json", json.dumps(found if len(found) > 1 or draw.random() < 0.3 else found[0]).encode()


def rr(draw: Draw) -> tuple[str, bytes]:
    """Intervals of a morning with early, missed and extra beats."""
    stamp = _of(
        draw, ("# 2026-10-06\n", "2026-10-06 06:30:00\n", "2026-10-06T23:58:00\n", "", "# Start 2026-10-06 05.10\n")
    )
    size, wave = _of(draw, (59, 60, 61, 120, 300)), _of(draw, (5, 20, 60))
    beats = [_of(draw, (900, 1000, 480)) + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    usual = beats[0]
    beats = [usual + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    for _ in range(_of(draw, (0, 0, 1, 3, 12))):
        at = 1 + int(draw.random() * (size - 3))
        kind = draw.random()
        if kind < 0.4:
            early = usual * _of(draw, (0.1, 0.3, 0.45))
            beats[at] -= early
            beats[at + 1] += early * _of(draw, (1.0, 0.6))
        elif kind < 0.7:
            beats[at] *= _of(draw, (1.5, 1.6, 1.7, 2.0, 3.0))
        else:
            beats[at : at + 1] = [beats[at] * 0.45, beats[at] * 0.6]
    unit = _of(draw, (1.0, 1.0, 1.0, 0.001))
    lines = [f"{beat * unit:.4f}" if unit < 1 else f"{beat:.0f}" for beat in beats]
    if draw.random() < 0.2:
        lines.insert(5, _of(draw, ("pause", "0", "9000")))
    return _of(draw, ("2026-10-06 morning.rr", "m.rr", "rr_20261005.txt")), (stamp + "\n".join(lines)).encode()


def packed(draw: Draw) -> tuple[str, bytes]:
    """An archive of several files, or one file packed once or twice."""
    inner = [KINDS[_of(draw, ("gpx", "csv", "checkins", "rr", "body"))](draw) for _ in range(_of(draw, (1, 2, 3)))]
    if draw.random() < 0.4:
        name, data = inner[0]
        once = gzip.compress(data, mtime=0)
        return name + ".gz", _of(draw, (once, once, gzip.compress(once, mtime=0), once + b"\0\0", once + once))
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, (name, data) in enumerate(inner):
            place = _of(draw, ("", "deep/", "__MACOSX/", "../")) + f"{number}{name}"
            archive.writestr(zipfile.ZipInfo(place), gzip.compress(data, mtime=0) if draw.random() < 0.15 else data)
        archive.writestr(zipfile.ZipInfo("read me.docx"), "no facts")
    return "all.zip", whole.getvalue()


KINDS: dict[str, Callable[[Draw], tuple[str, bytes]]] = {
    "fit": fit,
    "body": body_fit,
    "gpx": gpx,
    "tcx": tcx,
    "mhealth": mhealth,
    "csv": csv,
    "form": form,
    "checkins": checkins,
    "rr": rr,
    "packed": packed,
}


def columns(seed: int) -> dict[str, np.ndarray]:
    """A table of samples with values at and beyond what is plausible."""
    draw = random.Random(seed)
    size = _of(draw, (3, 40, 90, 200))
    walks = draw.random() < 0.5
    return {
        "t_s": np.cumsum([_of(draw, (1, 1, 1, 2, 5, 11, 40)) for _ in range(size)]).astype(np.float64),
        "hr_bpm": np.array([_of(draw, (0, 1, 100, 255, 256)) for _ in range(size)], dtype=np.float64),
        "speed_mps": np.array(
            [_of(draw, (0.0, 0.4, 0.41, 1.4, 1.9, 2.0, 3.0, 5.4, 5.6, 12.5, 60.0, 60.1, np.nan)) for _ in range(size)]
        )
        if draw.random() < 0.8
        else np.full(size, np.nan),
        "cadence_spm": np.array(
            [_of(draw, (54, 56, 77, 78) if walks else (82, 84, 85, 109, 110)) for _ in range(size)], dtype=np.float64
        ),
        "distance_m": np.cumsum([_of(draw, (0.0, 0.1, 1.0, 3.0, 9.0)) for _ in range(size)]),
        "altitude_m": np.array([_of(draw, (-501.0, -500.0, 100.0, 9000.0, 9001.0)) for _ in range(size)]),
    }
