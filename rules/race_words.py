"""What the recording of a race says, in sentences: what was measured, and which conditions it suggests."""

from __future__ import annotations

from rules.facts import Race
from rules.race_file import RaceFile
from rules.wording import counted, duration

FASTER_BY_S = 60


def race_words(file: RaceFile, race: Race) -> tuple[str, ...]:
    """One sentence of what was measured, then one for each condition that the roster might name; it decides."""
    said = [f"The race file has {', '.join(_measured(file))}."]
    if race.result_seconds is not None:
        said.append(_against(file.moving_s, race.result_seconds))
    if file.doubt:
        return (*said, f"{file.doubt}; so it suggests nothing.")
    if not file.suggestions:
        return (*said, "It suggests no condition that the roster does not name.")
    said += [
        f"It suggests the condition {one.condition} ({one.reason}): {_days(one.more_days)}." for one in file.suggestions
    ]
    listed = ", ".join(f'"{name}"' for name in (*race.conditions, *(one.condition for one in file.suggestions)))
    said.append(f"The roster decides: with conditions = [{listed}] it would be {_days(file.more_days)} in all.")
    return tuple(said)


def _days(more: int) -> str:
    return f"{counted(more, 'day')} more" if more else "no day more, the most are added already"


def _measured(file: RaceFile) -> list[str]:
    said = [f"{file.distance_m / 1000:.1f} km"] if file.distance_m else []
    said.append(f"{duration(file.moving_s)} moving")
    if file.ascent_m is not None and file.descent_m is not None:
        said.append(f"{file.ascent_m:.0f} m up and {file.descent_m:.0f} m down")
    elif file.ascent_m is not None:
        said.append(f"{file.ascent_m:.0f} m up")
    if file.altitude_m is not None:
        said.append(f"{file.altitude_m:.0f} m above the sea")
    if file.temperature_c is not None:
        said.append(f"{file.temperature_c:.0f} °C")
    return said


def _against(moving_s: float, result_s: int) -> str:
    apart = result_s - moving_s
    told = f"Moving time {duration(moving_s)} against the result {duration(result_s)}"
    if apart > FASTER_BY_S:
        return f"{told}: {duration(apart)} standing."
    return f"{told}: they agree." if apart >= -FASTER_BY_S else f"{told}: the file is longer, the result may be wrong."
