"""Files of each kind that the program reads, each made of a seed: whole, odd as devices are odd, and damaged."""

from __future__ import annotations

import gzip
import io
import json
import random
import zipfile
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np

from monitor.values import ColumnMap, IntakeOptions
from tests import xmlbytes
from tests.monitor.intake.made_fit import START, ZONES, Draw, body_fit, fit, pick

File = tuple[str, bytes, IntakeOptions]


def made(kind: str, seed: int) -> File:
    """The file of a kind and a seed: its name, its bytes and how it is to be read."""
    draw = random.Random(seed)
    name, data = KINDS[kind](draw)
    options = _options(draw) if kind in ("csv", "form") else IntakeOptions(pick(draw, ZONES))
    if draw.random() < 0.15:
        data = data[: int(len(data) * (0.3 + 0.7 * draw.random()))]
    elif draw.random() < 0.06:
        at = int(len(data) * draw.random())
        data = data[:at] + bytes([draw.randrange(256)]) + data[at + 1 :]
    return name, data, options


def _options(draw: Draw) -> IntakeOptions:
    columns = {
        "resting_hr": ColumnMap("Pulse"),
        "total_sleep_min": ColumnMap("Asleep", pick(draw, ("h", "min", "s"))),
    }
    return IntakeOptions(
        pick(draw, ZONES),
        columns if draw.random() < 0.3 else {},
        pick(draw, (None, None, "dmy", "mdy")),
        pick(draw, (None, None, True, False)),
    )


def _points(draw: Draw) -> list[xmlbytes.Point]:
    """Points with what exporters leave out or repeat."""
    every, speed = pick(draw, (1, 1, 3, 9)), pick(draw, (0.3, 1.4, 3.0, 9.0))
    times = [float(at) for at in range(0, pick(draw, (30, 90, 200)), every)]
    points = xmlbytes.run(times, speed, cadence=pick(draw, (None, 42, 84, 168)))
    for at, point in enumerate(points):
        point["ele"] = 100 + (at * 7 % 13) / 2
        if draw.random() < 0.05:
            for name in pick(draw, (("hr",), ("ele",), ("t",), ("hr", "ele"))):
                point.pop(name, None)
        elif draw.random() < 0.03 and "t" in point:
            point["t"] = float(str(point["t"])) + pick(draw, (-5, 0.25, 3600, 100000))
        elif draw.random() < 0.02:
            point["lat"], point["lon"] = pick(draw, ((0.0, 0.0), (91.0, 10.0), (60.5, 181.0)))
        if draw.random() < 0.05:
            point["hr"] = pick(draw, (0, 1, 255, 256, -4))
    if draw.random() < 0.4:
        for point in points:
            point["dist"] = round(speed * float(str(point.get("t", 0))), pick(draw, (0, 1)))
    if draw.random() < 0.3:
        for point in points:
            point["speed"] = point["Speed"] = round(speed * 1.02, 2)
            point["runcad"], point["power"], point["atemp"] = 83, 250, 18
    return points


def _split(draw: Draw, points: list[xmlbytes.Point]) -> list[list[xmlbytes.Point]]:
    at = int(len(points) * draw.random())
    gap = pick(draw, (0, 0, 60, 14399, 14401, 20000))
    for point in points[at:]:
        if "t" in point:
            point["t"] = float(str(point["t"])) + gap
    return [points] if draw.random() < 0.4 else [points[:at], points[at:]]


def gpx(draw: Draw) -> tuple[str, bytes]:
    """A track of one or two segments."""
    kind = pick(
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
    for _ in range(pick(draw, (1, 2, 3, 4))):
        points = [point for point in _points(draw) if "t" in point]
        for point in points:
            point["t"] = float(str(point["t"])) + at
        long = float(str(points[-1].get("t", at + 30.0))) - at
        summary = pick(
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
                timer_s=pick(draw, (long, long - 4, 0, None)),
                metres=pick(draw, (long * 3, 0)),
                summary=summary,
            )
        )
        at += long + pick(draw, (0, 1, 45))
    text = xmlbytes.tcx(xmlbytes.activity(*laps, sport=pick(draw, ("Running", "Biking", "Other", "Running"))))
    if draw.random() < 0.2:
        text = text.replace(b"</Activities>", xmlbytes.activity(*laps[:1], sport="Biking").encode() + b"</Activities>")
    return "a.tcx", text.replace(b">Manual<", b">" + pick(draw, (b"Manual", b"Distance", b"Time")) + b"<")


def _stamp(day: float, hour: float, offset: str) -> str:
    return f"{START + timedelta(days=day, hours=hour - 7):%Y-%m-%dT%H:%M:%S}{offset}"


def mhealth(draw: Draw) -> tuple[str, bytes]:
    """Sleep, pulse and intervals as the health schemas have them, bare or with headers."""
    found: list[Any] = []
    for day in range(pick(draw, (1, 2, 4))):
        offset = pick(draw, ("+02:00", "Z", "-07:00"))
        begin, long = pick(draw, (-2.0, -1.0, 1.0, 13.0)), pick(draw, (0.7, 2.9, 3.0, 7.5, 8.0, 16.5, 24.0))
        frame = {
            "time_interval": pick(
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
        asleep = pick(draw, (long * 0.9, long, long + 0.01, long + 0.5, 0.0))
        told: dict[str, Any] = pick(
            draw,
            (
                {"total_sleep_time": {"value": asleep * 60, "unit": "min"}},
                {"sleep_duration": {"value": asleep, "unit": "h"}},
                {"sleep_duration": {"value": asleep * 3600, "unit": "sec"}},
                {"time_in_bed": {"value": long, "unit": "h"}},
                {
                    "sleep_efficiency_percentage": {"value": pick(draw, (88, 100, 101, 0)), "unit": "%"},
                    "number_of_awakenings": 3,
                },
                {"sleep_stage_summary": {"total_sleep_time": {"value": asleep * 60, "unit": "min"}}},
            ),
        )
        body = {
            **told,
            "effective_time_frame": frame,
            **pick(draw, ({}, {}, {"is_main_sleep": False}, {"is_main_sleep": True})),
        }
        found.append(_headed(draw, "sleep-episode", body))
        for number in range(pick(draw, (0, 1, 4))):
            rest = pick(
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
                    pulse
                    | pick(draw, ({}, {"descriptive_statistic": "average"}, {"descriptive_statistic": "maximum"})),
                )
            )
    for number in range(pick(draw, (0, 0, 70))):
        body = {
            "rr_interval": {"value": 900 + number * 37 % 80, "unit": "ms"},
            "effective_time_frame": {"date_time": _stamp(0, 4 + number / 3600, "Z")},
        }
        found.append(_headed(draw, "rr-interval", body))
    if draw.random() < 0.3:
        found.append(pick(draw, ({"step_count": 3}, {"body": {"heart_rate": 4}}, {"body": {}})))
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
        | pick(draw, ({}, {"modality": "sensed"}, {"acquisition_provenance": {"modality": "self-reported"}})),
        "body": body,
    }


def csv(draw: Draw) -> tuple[str, bytes]:
    """Nights and mornings in a table."""
    split = pick(draw, (",", ";", "\t"))
    names = pick(
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
    for number in range(pick(draw, (1, 4, 12))):
        day = number // 2 if twice else number
        cells = {
            "date": pick(
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
            "bedtime": pick(draw, ("22:45", "00:30", "11:15 PM", "2026-10-06 23:00", "")),
            "wake": pick(draw, ("06:30", "7:05", "13:00", "")),
            "asleep": pick(draw, ("432", "7:12", "7h12", "7,2 h", "25920 s", "0", "1441", "-", "x")),
            "pulse": pick(draw, ("47", "47,5", "24", "25", "120", "121", "n/a")),
            "rmssd": pick(draw, ("61.5", "61,5", "0.5", "1", "400", "401", "")),
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
    return "nights.csv", pick(draw, ("\n", "\r\n")).join(lines).encode(
        pick(draw, ("utf-8", "utf-8-sig", "utf-16", "cp1252"))
    )


def form(draw: Draw) -> tuple[str, bytes]:
    """Check-ins as a form keeps them in a table."""
    names = ("date", "pain", "stairs_unaided", "squat_unaided", "mood", "soreness", "symptoms", "note")
    rows = [",".join(names)]
    for day in range(pick(draw, (1, 3))):
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
    date = pick(draw, ("2026-10-{:02d}", "2026-10-{:02d}", "2026-10-{:02d}T21:30", "2026-10-{:02d}T06:30:00Z")).format(
        day + 6
    )
    found: dict[str, Any] = {"date": date}
    for key in ("soreness", "pain", "energy", "mood"):
        if draw.random() < 0.8:
            found[key] = pick(draw, SCALED)
    for key in ("stairs_unaided", "squat_unaided"):
        if draw.random() < 0.7:
            found[key] = pick(draw, (True, False, "yes", "no", "Y", "maybe", 1, 0, "n"))
    if draw.random() < 0.4:
        found["symptoms"] = pick(draw, (["fever", "fever", "-"], "dark urine; fever", "none", ["x" * 130]))
    if draw.random() < 0.3:
        found["gone"], found["seen_doctor"] = (
            pick(draw, (True, "yes", ["fever", "no"], "chest pain")),
            pick(draw, ("yes", "no", "Dr Berg", True)),
        )
    if draw.random() < 0.3:
        found["note"], found["pain_where"], found["odd"] = "slept badly " * pick(draw, (1, 200)), "left calf", 1
    return found


def checkins(draw: Draw) -> tuple[str, bytes]:
    """One check-in, or a list of them."""
    found = [_answers(draw, day // 2) for day in range(pick(draw, (1, 1, 2, 5)))]
    return "a.checkin.json", json.dumps(found if len(found) > 1 or draw.random() < 0.3 else found[0]).encode()


def rr(draw: Draw) -> tuple[str, bytes]:
    """Intervals of a morning with early, missed and extra beats."""
    stamp = pick(
        draw, ("# 2026-10-06\n", "2026-10-06 06:30:00\n", "2026-10-06T23:58:00\n", "", "# Start 2026-10-06 05.10\n")
    )
    size, wave = pick(draw, (59, 60, 61, 120, 300)), pick(draw, (5, 20, 60))
    beats = [pick(draw, (900, 1000, 480)) + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    usual = beats[0]
    beats = [usual + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    for _ in range(pick(draw, (0, 0, 1, 3, 12))):
        at = 1 + int(draw.random() * (size - 3))
        kind = draw.random()
        if kind < 0.4:
            early = usual * pick(draw, (0.1, 0.3, 0.45))
            beats[at] -= early
            beats[at + 1] += early * pick(draw, (1.0, 0.6))
        elif kind < 0.7:
            beats[at] *= pick(draw, (1.5, 1.6, 1.7, 2.0, 3.0))
        else:
            beats[at : at + 1] = [beats[at] * 0.45, beats[at] * 0.6]
    unit = pick(draw, (1.0, 1.0, 1.0, 0.001))
    lines = [f"{beat * unit:.4f}" if unit < 1 else f"{beat:.0f}" for beat in beats]
    if draw.random() < 0.2:
        lines.insert(5, pick(draw, ("pause", "0", "9000")))
    return pick(draw, ("2026-10-06 morning.rr", "m.rr", "rr_20261005.txt")), (stamp + "\n".join(lines)).encode()


def packed(draw: Draw) -> tuple[str, bytes]:
    """An archive of several files, or one file packed once or twice."""
    inner = [KINDS[pick(draw, ("gpx", "csv", "checkins", "rr", "body"))](draw) for _ in range(pick(draw, (1, 2, 3)))]
    if draw.random() < 0.4:
        name, data = inner[0]
        once = gzip.compress(data, mtime=0)
        return name + ".gz", pick(draw, (once, once, gzip.compress(once, mtime=0), once + b"\0\0", once + once))
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, (name, data) in enumerate(inner):
            place = pick(draw, ("", "deep/", "__MACOSX/", "../")) + f"{number}{name}"
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
    size = pick(draw, (3, 40, 90, 200))
    walks = draw.random() < 0.5
    return {
        "t_s": np.cumsum([pick(draw, (1, 1, 1, 2, 5, 11, 40)) for _ in range(size)]).astype(np.float64),
        "hr_bpm": np.array([pick(draw, (0, 1, 100, 255, 256)) for _ in range(size)], dtype=np.float64),
        "speed_mps": np.array(
            [pick(draw, (0.0, 0.4, 0.41, 1.4, 1.9, 2.0, 3.0, 5.4, 5.6, 12.5, 60.0, 60.1, np.nan)) for _ in range(size)]
        )
        if draw.random() < 0.8
        else np.full(size, np.nan),
        "cadence_spm": np.array(
            [pick(draw, (54, 56, 77, 78) if walks else (82, 84, 85, 109, 110)) for _ in range(size)], dtype=np.float64
        ),
        "distance_m": np.cumsum([pick(draw, (0.0, 0.1, 1.0, 3.0, 9.0)) for _ in range(size)]),
        "altitude_m": np.array([pick(draw, (-501.0, -500.0, 100.0, 9000.0, 9001.0)) for _ in range(size)]),
    }
