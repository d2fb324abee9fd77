"""Distances, climbs and paces in the units that a reader wants."""

from __future__ import annotations

from monitor.roster.types import Units

METRES_A_MILE = 1609.344
FEET_A_METRE = 1 / 0.3048


def pace(speed_mps: float, units: Units) -> str:
    """Time for a kilometre or a mile: "3:32/km", "5:41/mi"."""
    metres, name = (1000.0, "km") if units == "metric" else (METRES_A_MILE, "mi")
    seconds = int(metres / speed_mps + 0.5)
    return f"{seconds // 60}:{seconds % 60:02d}/{name}"


def distance(metres: float, units: Units) -> str:
    """ "6.0 km" or "3.7 miles"."""
    value, name = (metres / 1000, "km") if units == "metric" else (metres / METRES_A_MILE, "miles")
    return f"{value:.1f} {name}"


def height(metres: float, units: Units) -> str:
    """ "157 m" or "515 feet"."""
    return f"{metres:.0f} m" if units == "metric" else f"{metres * FEET_A_METRE:.0f} feet"
