"""How per-second facts lie in the store: whole numbers in the device's own steps."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from monitor.intake.facts import Samples

# column in memory -> (column in the store, steps per unit, integer type)
SCALES: dict[str, tuple[str, float, type[np.signedinteger[Any] | np.unsignedinteger[Any]]]] = {
    "t_s": ("t_step_ms", 1000, np.int32),
    "hr_bpm": ("hr_bpm", 1, np.uint8),
    "speed_mps": ("speed_mmps", 1000, np.uint16),
    "cadence_spm": ("cadence_dspm", 10, np.uint16),
    "distance_m": ("distance_step_cm", 100, np.int32),
    "altitude_m": ("altitude_dm", 10, np.int16),
    "lat_deg": ("lat_e7", 1e7, np.int32),
    "lon_deg": ("lon_e7", 1e7, np.int32),
    "power_w": ("power_w", 1, np.uint16),
    "temperature_c": ("temperature_c", 1, np.int8),
}


def scaled(column: str, values: npt.NDArray[np.float64]) -> npt.NDArray[np.generic]:
    """Masked integers; what does not fit the type is missing rather than wrong."""
    _, scale, kind = SCALES[column]
    steps = np.round(values * scale)
    limits = np.iinfo(kind)
    bad = ~np.isfinite(steps) | (steps < limits.min) | (steps > limits.max)
    return np.ma.masked_array(np.where(bad, 0, steps).astype(kind), mask=bad)


def as_stored(samples: Samples) -> Samples:
    """Samples as they come back from the store, so that what is measured now and what is measured then is the same."""
    return {column: _back(column, np.asarray(values, dtype=np.float64)) for column, values in samples.items()}


def _back(column: str, values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    if column not in SCALES:
        return values
    steps = scaled(column, values)
    back = np.ma.getdata(steps).astype(np.float64) / SCALES[column][1]
    return np.where(np.ma.getmaskarray(steps), np.nan, back)
