"""Files of each kind that the program reads, each made of a seed: whole, odd as devices are odd, and damaged."""

from __future__ import annotations

import gzip
import io
import random
import zipfile
from collections.abc import Callable

import numpy as np

from monitor.values import ColumnMap, IntakeOptions
from tests import xmlbytes
from tests.monitor.intake.made_days import checkins, csv, form, mhealth, rr
from tests.monitor.intake.made_fit import ZONES, Draw, body_fit, fit, pick

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
