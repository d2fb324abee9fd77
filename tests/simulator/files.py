"""The same sessions through real files: written as FIT, TCX or GPX and read back by the program's own readers."""

from __future__ import annotations

from datetime import datetime

import numpy as np

from monitor.intake.fit import read_fit
from monitor.intake.gpx import read_gpx
from monitor.intake.tcx import read_tcx
from monitor.values import IntakeOptions, Recording
from tests import fitwriter, xmlbytes
from tests.simulator.scenarios import Scene

OPTIONS = IntakeOptions(timezone="UTC")
WORDS = {"speed_walking": "speed walking", "trail": "trail running", "treadmill": "treadmill", "yoga": "yoga"}
NAMES = {
    "hr_bpm": "hr",
    "cadence_spm": "cad",
    "altitude_m": "ele",
    "lat_deg": "lat",
    "lon_deg": "lon",
    "distance_m": "dist",
}


def recording_of(
    scene: Scene, device: str, table: dict[str, np.ndarray], pauses: tuple[tuple[float, float], ...], start: datetime
) -> Recording:
    """One session written as its device would write it, and read."""
    if device.startswith("gpx"):
        kind = WORDS.get(scene.sub_sport, scene.sport.replace("_", " "))
        facts = read_gpx(
            xmlbytes.gpx(*_pieces(table, pauses, 2 if "cadence" in device else 0), kind=kind, start=start), OPTIONS
        )
    elif device.startswith("tcx") and scene.sub_sport != "speed_walking":
        sport = {"running": "Running", "cycling": "Biking"}.get(scene.sport, "Other")
        timer = table["t_s"][-1] - sum(end - begin for begin, end in pauses)
        laps = xmlbytes.lap(*_pieces(table, pauses, 2), start_s=0.0, timer_s=float(timer))
        facts = read_tcx(xmlbytes.tcx(xmlbytes.activity(laps, sport=sport)), OPTIONS)
    else:
        label = ("training" if scene.sport == "other" else scene.sport, scene.sub_sport)
        elapsed = float(scene.truth.size)
        facts = read_fit(fitwriter.activity(start, *label, table, pauses=pauses, elapsed_s=elapsed), OPTIONS)
    return facts.recordings[0]


def _pieces(
    table: dict[str, np.ndarray], pauses: tuple[tuple[float, float], ...], legs: int
) -> list[list[xmlbytes.Point]]:
    """Points of each unbroken piece; a point without a position is left out where others have one."""
    pieces: list[list[xmlbytes.Point]] = [[]]
    ends = [end for _, end in pauses]
    keys = [name for name in NAMES if name in table]
    for i, t in enumerate(table["t_s"].tolist()):
        while ends and t >= ends[0]:
            ends.pop(0)
            pieces.append([])
        point: xmlbytes.Point = {"t": t}
        for name in keys:
            value = float(table[name][i])
            if np.isfinite(value) and not (name == "hr_bpm" and value <= 0):
                point[NAMES[name]] = _shown(name, value, legs)
        if "lat_deg" not in table or "lat" in point:
            pieces[-1].append(point)
    return [piece for piece in pieces if piece]


def _shown(name: str, value: float, legs: int) -> float | int:
    if name == "hr_bpm":
        return int(value)
    return int(value / max(legs, 1)) if name == "cadence_spm" else value
