"""What only running has: stance time and vertical oscillation, strides counted. A ride that holds them is a run.

The label of a ride stands against speed and cadence, which pedalling has too, but not against these.
"""

from __future__ import annotations

import numpy as np

from monitor.intake.fit_columns import Rows
from monitor.intake.fit_messages import Message, moment, positive
from rules.limits import default_limits

RIDES = frozenset({"cycling", "e_biking"})
FORM = ("stance_time", "vertical_oscillation")
REMARK = "labelled as a ride, but it holds what only running has: taken as a run"


def has_running_form(records: list[Message], own: Rows, shift: float) -> bool:
    """Whether at least half of a leg's records tell of feet that leave the ground, at a speed that feet reach."""
    if not len(own.at) or not any(
        name in record for record in records[:: max(1, len(records) // 500)] for name in FORM
    ):
        return False
    first, last = own.at[0] - shift, own.at[-1] - shift
    told = sum(
        any(positive(record, name) for name in FORM)
        for record in records
        if first <= (moment(record, "timestamp") or 0.0) <= last
    )
    return 2 * told >= len(own.at) and not too_fast(own.columns.get("speed_mps"))


def too_fast(speed: np.ndarray[tuple[int], np.dtype[np.float64]] | None) -> bool:
    """Whether the usual speed is one that only wheels reach."""
    moving = speed[speed > 0] if speed is not None else np.empty(0)
    return len(moving) > 0 and float(np.median(moving)) > default_limits().intake.wheels_above_mps
