"""What is known of a new athlete: from the flags of `fallow init`, then from the answers."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Answers:
    """What the flags of `init` say."""

    name: str | None
    athlete: str | None
    folder: str | None
    timezone: str | None
    born: int | None
    sex: str | None
    hr_max: int | None
    hr_rest: int | None
    event: str | None
    distance_km: float | None
    finish: str | None
    result: str | None
    taper_days: int | None
    conditions: tuple[str, ...]
    alerts: tuple[str, ...]
    contact: str | None
    contact_name: str | None
    receives: str | None
    also: tuple[str, ...] = ()  # who is there already and is told too
