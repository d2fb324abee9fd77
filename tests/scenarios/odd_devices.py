"""The same outings as other devices tell them: GPX from a phone, a record now and then, no position, a slow heart."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime, timedelta

import numpy as np

from tests.fitwriter import activity
from tests.scenarios.outings import Stretch

Columns = dict[str, np.ndarray]
NO_GROUND = ("lat_deg", "lon_deg", "altitude_m")


def recorded(stretches: list[Stretch], *, position_noise_m: float = 0.0, seed: int = 1) -> Columns:
    """A record a second; the heart follows with 40 s, positions wander as satellites make them."""
    rng = np.random.default_rng(seed)
    length = sum(stretch.seconds for stretch in stretches)

    def spread(name: str) -> np.ndarray:
        values = [getattr(stretch, name) for stretch in stretches]
        parts = [np.full(s.seconds, np.nan if v is None else float(v)) for s, v in zip(stretches, values, strict=True)]
        return np.concatenate(parts)

    heart, speed, cadence, grade = (spread(name) for name in ("hr", "speed", "cadence", "grade"))
    wander = np.zeros((2, length))
    for second in range(1, length):
        heart[second] = heart[second - 1] + (heart[second] - heart[second - 1]) / 40
        step = rng.normal(0, position_noise_m * np.sqrt(1 - 0.97**2), 2)
        wander[:, second] = 0.97 * wander[:, second - 1] + step
    distance = np.cumsum(np.nan_to_num(speed))
    columns = {
        "t_s": np.arange(length, dtype=float),
        "hr_bpm": np.round(heart + rng.normal(0, 0.8, length)),
        "speed_mps": np.maximum(0, speed + rng.normal(0, 0.08, length)),
        "cadence_spm": np.round(cadence + rng.normal(0, 1.2, length)),
        "distance_m": distance,
        "altitude_m": 100 + np.cumsum(np.nan_to_num(speed) * grade) + rng.normal(0, 0.3, length),
        "lat_deg": 59.9 + (distance + wander[0]) / 111_320,
        "lon_deg": 10.7 + wander[1] / (111_320 * np.cos(np.radians(59.9))),
    }
    return {name: column for name, column in columns.items() if not np.isnan(column).all()}


def now_and_then(columns: Columns, seed: int = 5) -> Columns:
    """A record every 1 to 8 s, as devices do that save space."""
    rng = np.random.default_rng(seed)
    kept = np.cumsum(rng.integers(1, 8, len(columns["t_s"])))
    kept = np.concatenate([[0], kept[kept < len(columns["t_s"])]])
    return {name: column[kept] for name, column in columns.items()}


def fit(start: datetime, columns: Columns, sport: str = "running", sub_sport: str = "generic",
        without: Collection[str] = ()) -> bytes:  # fmt: skip
    kept = {name: column for name, column in columns.items() if name not in without}
    return activity(start, sport, sub_sport, kept, utc_offset_s=7200)


def gpx(start: datetime, columns: Columns, kind: str = "running", *, heart: bool = True) -> bytes:
    """Positions and times as a phone exports them; heart rate and steps only with `heart`."""
    points = []
    for index, second in enumerate(columns["t_s"]):
        moment = (start.astimezone(UTC) + timedelta(seconds=float(second))).strftime("%Y-%m-%dT%H:%M:%SZ")
        told = f"<h:hr>{columns['hr_bpm'][index]:.0f}</h:hr><h:cad>{columns['cadence_spm'][index] / 2:.0f}</h:cad>"
        extra = f"<extensions><h:TrackPointExtension>{told}</h:TrackPointExtension></extensions>" if heart else ""
        points.append(
            f'<trkpt lat="{columns["lat_deg"][index]:.7f}" lon="{columns["lon_deg"][index]:.7f}">'
            f"<ele>{columns['altitude_m'][index]:.1f}</ele><time>{moment}</time>{extra}</trkpt>"
        )
    head = (
        '<?xml version="1.0"?><gpx version="1.1" creator="phone" xmlns="http://www.topografix.com/GPX/1/1"'
        ' xmlns:h="http://www.garmin.com/xmlschemas/TrackPointExtension/v1">'
    )
    return f"{head}<trk><type>{kind}</type><trkseg>{''.join(points)}</trkseg></trk></gpx>".encode()
