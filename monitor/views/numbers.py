"""The numbers of a finding's evidence as people read them: the unit beside the name, a pace beside a speed."""

from __future__ import annotations

from typing import Any

from monitor.views.words import pace_words, spoken

UNITS = ("bpm", "mps", "min", "spm", "ms", "s", "m")
STANDING_MPS = 0.3
"""Slower is no pace."""
NOT_NUMBERS = ("times", "masked_s", "masked_why", "assumed", "reason", "signals")
"""Keys of the evidence that are told in words of their own."""


def number_name(key: str) -> str:
    """A key with its unit set apart: "above_s" -> "above, s"."""
    unit = unit_of(key)
    return f"{spoken(key[: -len(unit) - 1])}, {unit.replace('mps', 'm/s')}" if unit else spoken(key)


def unit_of(key: str) -> str:
    """The unit that a key ends with; empty where it has none."""
    if key.endswith("_per_min"):
        return ""
    return next((unit for unit in UNITS if key.endswith(f"_{unit}")), "")


def number_words(key: str, value: Any, units: str = "metric") -> str:
    """A value in words; a speed with the pace that it is. Empty for what only another program reads."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return _speed(value, units) if unit_of(key) == "mps" else f"{value:.6g}" if abs(value) < 1e5 else f"{value:.0f}"
    if isinstance(value, str):
        return value
    if isinstance(value, dict):
        flat = [(str(name), part) for name, part in value.items() if not isinstance(part, dict | list | tuple)]
        return ", ".join(f"{spoken(name)} {number_words(name, part, units)}" for name, part in flat)
    if isinstance(value, list | tuple) and value and all(isinstance(each, int | float | str) for each in value):
        return ", ".join(number_words(key, each, units) for each in value)
    return ""


def _speed(mps: float, units: str) -> str:
    return f"{mps:.3g} ({pace_words(1000 / mps, units)})" if mps > STANDING_MPS else f"{mps:.3g}"


def measured_words(observed: float, unit: str, units: str = "metric") -> str:
    """What was observed or allowed, with its unit: "4.2 m/s (3:58/km)"."""
    if unit == "m/s":
        return f"{observed:.3g} m/s" + (f" ({pace_words(1000 / observed, units)})" if observed > STANDING_MPS else "")
    return f"{observed:.6g}" + (f" {unit}" if unit else "")
