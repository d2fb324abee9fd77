"""`fallow intake FILE --preview`: how a table would be read, before it is put into a folder."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.cli import opening, screen
from monitor.cli.screen import Column
from monitor.errors import Unreadable, WrongUse

if TYPE_CHECKING:
    from monitor.home import Home
    from monitor.intake.facts import IntakeOptions
    from monitor.intake.preview import Preview


def show(home: Home, file: Path, athlete_id: str | None, *, json: bool) -> None:
    """Print what a table's columns were understood as, what was passed over, and its first rows as they are read."""
    from monitor.intake.preview import preview

    try:
        data = file.read_bytes()
    except OSError as error:
        raise WrongUse(f"{file}: {error.strerror or error}; name a table to preview") from None
    try:
        made = preview(data, options_for(home, file, athlete_id).of(file.name))
    except Unreadable as reason:
        raise WrongUse(f"{file}: {reason}{'' if ';' in str(reason) else '; save it as CSV, then try again'}") from None
    if json:
        screen.as_json(as_dict(made))
    else:
        say(file, made)


def options_for(home: Home, file: Path, athlete_id: str | None) -> IntakeOptions:
    """Those of the named athlete, of the one in whose folder it lies, of the only one; else none but this machine's."""
    from monitor.intake.facts import IntakeOptions

    if athlete_id is None and not home.roster.exists():
        return IntakeOptions(timezone="UTC")
    roster = opening.roster_of(home)
    if athlete_id is not None:
        return opening.athlete_of(roster, athlete_id).options
    within = [one for one in roster.athletes if file.resolve().is_relative_to(one.folder.resolve())]
    if not within and len(roster.athletes) > 1:
        raise WrongUse(f"{file} lies in no athlete's folder; say whose table it is with --athlete ID")
    chosen = within or list(roster.athletes)
    return chosen[0].options if chosen else IntakeOptions(timezone="UTC")


def as_dict(made: Preview) -> dict[str, Any]:
    """The preview as JSON."""
    return {
        "header_line": made.header_line,
        "understood": [{"header": header, "as": field, "unit": unit} for header, field, unit in made.understood],
        "passed_over": list(made.passed_over),
        "rows": list(made.rows),
        "nights": [asdict(night) for night in made.facts.nights],
        "mornings": [asdict(morning) for morning in made.facts.mornings],
        "checkins": [asdict(checkin) for checkin in made.facts.checkins],
        "remarks": list(made.facts.remarks),
    }


def say(file: Path, made: Preview) -> None:
    screen.say(f"{file.name}, columns named in line {made.header_line}:")
    screen.table(
        [Column("column", one_line=False), Column("is read as", one_line=False), Column("in")],
        [(header, field, unit or "-") for header, field, unit in made.understood],
    )
    if made.passed_over:
        screen.say(
            f"Passed over: {', '.join(made.passed_over)}. To take one of them, name it under [athlete.columns] in the"
            f' roster, as in: total_sleep_min = "{made.passed_over[0]}"',
            hang="  ",
        )
    screen.say(f"The first {screen.counted(len(made.rows), 'row')} as read:")
    for night in made.facts.nights:
        slept = f"{night.total_sleep_min / 60:.1f} h asleep" if night.total_sleep_min is not None else "sleep not told"
        screen.say(f"{night.date}: night, {slept}", indent="  ")
    for morning in made.facts.mornings:
        parts = [
            f"resting heart rate {morning.resting_hr:g} bpm" if morning.resting_hr is not None else "",
            f"RMSSD {morning.rmssd_ms:g} ms" if morning.rmssd_ms is not None else "",
        ]
        screen.say(f"{morning.date}: morning, {', '.join(part for part in parts if part)}", indent="  ")
    for checkin in made.facts.checkins:
        screen.say(f"{checkin.date}: check-in", indent="  ")
    for remark in made.facts.remarks:
        screen.say(f"not taken: {remark}", indent="  ", hang="    ")
