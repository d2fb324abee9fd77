"""How real recordings err: what the simulator draws its noise from.

By hand: python -m tests.bench.recording_noise FOLDER

For each way in which speed is told (by the device, as distance, by positions alone) over the runs of FOLDER/labels.csv:
seconds between records; scatter and memory of speed about its own half minute; jumps an hour; the first minute against
the rest; altitude at places that are passed again; scatter and memory of cadence and heart rate.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from geographiclib.geodesic import Geodesic

from monitor.intake.reading import ReadJob, read_path
from monitor.values import IntakeOptions, Recording
from tests.bench.real_recordings import ZONE, labels_of

Floats = npt.NDArray[np.float64]
JUMP_MPS = 9.0  # no runner of these recordings does
NEAR_M = 12.0
APART_S = 300.0


def source_of(one: Recording) -> str:
    for name, word in (("speed_mps", "device speed"), ("distance_m", "distance"), ("lat_deg", "position")):
        if name in one.samples and np.isfinite(one.samples[name]).sum() > 60:
            return word
    return "none"


def speeds(one: Recording) -> tuple[Floats, Floats]:
    """Seconds and speed at the records, as told or from steps between them."""
    t = one.samples["t_s"]
    kind = source_of(one)
    if kind == "device speed":
        known = np.isfinite(one.samples["speed_mps"])
        return t[known], one.samples["speed_mps"][known]
    if kind == "distance":
        known = np.isfinite(one.samples["distance_m"])
        step = np.diff(one.samples["distance_m"][known])
    else:
        known = np.isfinite(one.samples["lat_deg"])
        step = _steps(one.samples["lat_deg"][known], one.samples["lon_deg"][known])
    at = t[known]
    took = np.diff(at)
    some = took > 0
    return at[1:][some], step[some] / took[some]


def _steps(lat: Floats, lon: Floats) -> Floats:
    line = Geodesic.WGS84.Inverse
    places = zip(lat[:-1].tolist(), lon[:-1].tolist(), lat[1:].tolist(), lon[1:].tolist(), strict=True)
    return np.array([line(*four, Geodesic.DISTANCE)["s12"] for four in places])


def residual(t: Floats, values: Floats, within_s: float) -> Floats:
    """Value less the median of what lies within so many seconds."""
    first = np.searchsorted(t, t - within_s)
    last = np.searchsorted(t, t + within_s, side="right")
    return values - np.array([np.median(values[a:b]) for a, b in zip(first, last, strict=True)])


def scatter(values: Floats) -> float:
    return float(1.4826 * np.median(np.abs(values - np.median(values)))) if len(values) else float("nan")


def memory(values: Floats, lag: int) -> float:
    """Autocorrelation at a lag, in records."""
    kept = np.clip(values, -4 * scatter(values), 4 * scatter(values))
    if len(kept) <= lag + 30 or kept.std() == 0:
        return float("nan")
    return float(np.corrcoef(kept[:-lag], kept[lag:])[0, 1])


def passed_again(one: Recording) -> Floats:
    """Differences of altitude, m, between two passes of the same place."""
    names = ("lat_deg", "lon_deg", "altitude_m")
    if not all(name in one.samples for name in names):
        return np.zeros(0)
    known = np.all([np.isfinite(one.samples[name]) for name in names], axis=0)
    t, lat, lon, alt = (one.samples[name][known][::5] for name in ("t_s", *names))
    if len(t) < 30:
        return np.zeros(0)
    x, y = np.radians(lon - lon[0]) * 6371009 * np.cos(np.radians(lat[0])), np.radians(lat - lat[0]) * 6371009
    found = []
    for i in range(0, len(t), 6):
        other = np.flatnonzero((t > t[i] + APART_S) & (np.hypot(x - x[i], y - y[i]) < NEAR_M))
        if len(other):
            found.append(alt[other[0]] - alt[i])
    return np.array(found)


def of_one(one: Recording) -> dict[str, float]:
    t, v = speeds(one)
    moving = v > 1.2
    rest = residual(t, v, 15.0)[moving]
    hours = max(float(t[-1] - t[0]) / 3600, 1e-3)
    begin = v[(t <= t[0] + 60) & moving]
    found = {
        "seconds between records": float(np.median(np.diff(t))),
        "and at the 90th percentile": float(np.percentile(np.diff(t), 90)),
        "speed, m/s": scatter(rest),
        "speed, memory at 1 record": memory(rest, 1),
        "speed, memory at 5 records": memory(rest, 5),
        "jumps an hour": float((v > JUMP_MPS).sum()) / hours,
        "first minute over the rest": float(np.mean(begin) / np.median(v[moving])) if len(begin) else float("nan"),
    }
    again = passed_again(one)
    if len(again) >= 5:
        found["altitude at the same place, m"] = scatter(again)
        found["altitude at the same place, 95th percentile, m"] = float(np.percentile(np.abs(again), 95))
    for name, word, within in (("altitude_m", "altitude, m", 15.0), ("hr_bpm", "heart rate, bpm", 15.0),
                               ("cadence_spm", "cadence, steps/min", 15.0)):  # fmt: skip
        if name in one.samples:
            known = np.isfinite(one.samples[name]) & (one.samples[name] > 0 if name != "altitude_m" else True)
            if known.sum() > 120:
                left = residual(one.samples["t_s"][known], one.samples[name][known], within)
                found[word] = float(np.std(np.clip(left, -20, 20)))
                found[f"{word.split(',')[0]}, memory at 1 record"] = memory(left, 1)
    return found


def main() -> None:
    folder = Path(sys.argv[1])
    figures: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for label in labels_of(folder):
        if label.running != "yes":
            continue
        facts = read_path(ReadJob(folder, label.file, IntakeOptions(timezone=ZONE))).facts
        for one in facts.recordings if facts else ():
            if source_of(one) != "none" and one.elapsed_s > 600:
                for name, value in of_one(one).items():
                    figures[f"{one.format}, {source_of(one)}"][name].append(value)
    for kind, by_name in figures.items():
        print(f"{kind} ({max(len(values) for values in by_name.values())} runs): least, quarters, most")
        for name, values in by_name.items():
            known = [value for value in values if np.isfinite(value)]
            if known:
                print(f"  {name:48s}", *(f"{value:8.2f}" for value in _five(known)), f"  n={len(known)}")


def _five(values: Sequence[float]) -> list[float]:
    return [float(cut) for cut in np.percentile(values, (0, 25, 50, 75, 100))]


if __name__ == "__main__":
    main()
