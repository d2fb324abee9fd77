"""Harder versions of a recording: they may never be judged more mildly."""

from __future__ import annotations

import numpy as np

Table = dict[str, np.ndarray]


def faster(table: Table, times: float) -> Table:
    """The same minutes, each so many times as fast."""
    made = dict(table)
    for name in ("speed_mps", "distance_m"):
        if name in made:
            made[name] = made[name] * times
    for name in ("lat_deg", "lon_deg"):
        if name in made:
            known = made[name][np.isfinite(made[name])]
            made[name] = known[0] + (made[name] - known[0]) * times
    return made


def heart_higher(table: Table, bpm: int) -> Table:
    """Every beat that was counted, so much higher."""
    hr = table["hr_bpm"]
    return table | {"hr_bpm": np.where(hr > 0, hr + bpm, hr)}


def longer(table: Table, seconds: float) -> Table:
    """The last minutes once more."""
    t = table["t_s"]
    again = t >= t[-1] - seconds
    step = float(np.median(np.diff(t)))
    made: Table = {"t_s": np.concatenate((t, t[again] - t[again][0] + t[-1] + step))}
    for name, values in table.items():
        if name == "t_s":
            continue
        shift = values[-1] - values[again][0] if name in ("distance_m", "lat_deg", "lon_deg", "altitude_m") else 0.0
        made[name] = np.concatenate((values, values[again] + np.nan_to_num(shift)))
    return made


def later(table: Table, seconds: float) -> Table:
    """The same recording begun later on its own clock."""
    return table | {"t_s": table["t_s"] + seconds}
