"""What is missing, said honestly: an empty place on the board is not a good sign, it is no sign."""

from __future__ import annotations

from collections.abc import Sequence

from monitor.board.days import Day, Sheet
from monitor.views.words import counted, day, spoken
from rules.wording import duration

MOST_NAMED = 5


def data_gaps(sheet: Sheet, thin: Sequence[str], unreadable: Sequence[tuple[str, str]]) -> list[str]:
    """Sentences on what could not be seen since the race."""
    days = sheet.since_race()
    said = [*thin, *(f"assumed: {text}" for text in sheet.plan.estimated)]
    if days:
        said += _missing(days)
        said += _sessions(days)
    said += [f"the file {path} could not be read: {reason}" for path, reason in unreadable[:MOST_NAMED]]
    if len(unreadable) > MOST_NAMED:
        said.append(f"{len(unreadable) - MOST_NAMED} more files could not be read; `fallow intake` lists them")
    return said


def _missing(days: Sequence[Day]) -> list[str]:
    total = len(days)
    said = []
    empty = [each for each in days if _empty(each)]
    if empty:
        said.append(f"nothing at all on {_named(empty)}")
    for what, missing in (
        ("resting heart rate", [each for each in days if each.resting is None]),
        ("heart-rate variability", [each for each in days if each.rmssd_ln is None]),
        ("sleep", [each for each in days if each.asleep_min is None]),
    ):
        if len(missing) == total:
            said.append(f"no {what} since the race")
        elif missing:
            said.append(f"no {what} on {len(missing)} of {counted(total, 'day')} since the race: {_named(missing)}")
    told = [each for each in days if each.checkin is not None]
    if not told:
        said.append("no check-in since the race: stairs, squat and pain are not known")
    else:
        said.append(f"check-ins on {len(told)} of {counted(total, 'day')}, the latest on {day(told[-1].date)}")
    return said


def _empty(each: Day) -> bool:
    said = (each.resting, each.rmssd_ln, each.asleep_min, each.checkin)
    return not each.outings and all(one is None for one in said)


def _named(days: Sequence[Day]) -> str:
    names = [day(each.date) for each in days[:MOST_NAMED]]
    more = f" and {counted(len(days) - MOST_NAMED, 'more day')}" if len(days) > MOST_NAMED else ""
    return ", ".join(names) + more


def _sessions(days: Sequence[Day]) -> list[str]:
    said = []
    for outing in (outing for each in days for outing in each.outings):
        digest, name = outing.session.digest, f"{spoken(outing.sport)} on {day(outing.on)}"
        if outing.heart is None:
            said.append(f"{name}: no heart rate")
        elif digest.hr_masked_s >= 60:
            said.append(f"{name}: heart rate not believed for {duration(digest.hr_masked_s)}")
        if outing.sport == "unknown":
            said.append(f"{name}: what sport it was is not known")
    return said
