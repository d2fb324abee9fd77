"""Facts dated more than a day ahead are left out: one mistyped year must not pass for the newest word of all."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import Protocol, TypeVar

from monitor.intake.facts import FileFacts

AHEAD = timedelta(days=1)
"""Clocks of devices run ahead, and somewhere it is tomorrow."""


class Dated(Protocol):
    @property
    def date(self) -> date: ...


Fact = TypeVar("Fact", bound=Dated)


def without_days_ahead(facts: FileFacts, today: date) -> tuple[FileFacts, date | None]:
    """The facts up to a day past `today`, with a remark on those left out, and the earliest day of these."""
    last = today + AHEAD
    coming = sorted(one.start.date() for one in facts.recordings if one.start.date() > last)
    if coming:  # kept with its samples, for it may be this machine's clock; nothing reads it before its day
        facts = replace(facts, remarks=(*facts.remarks, f"a session dated {coming[0]}, in the future: not judged yet"))
    later = sorted(
        one.date for kind in (facts.nights, facts.mornings, facts.checkins) for one in kind if one.date > last
    )
    if not later:
        return facts, None
    what = f"{later[0]}" if later[0] == later[-1] else f"{later[0]} to {later[-1]}"
    entries = "1 entry dated" if len(later) == 1 else f"{len(later)} entries dated"
    kept = replace(
        facts,
        nights=_up_to(facts.nights, last),
        mornings=_up_to(facts.mornings, last),
        checkins=_up_to(facts.checkins, last),
        remarks=(*facts.remarks, f"{entries} {what}, in the future: left out; correct the date"),
    )
    return kept, later[0]


def _up_to(facts: Iterable[Fact], last: date) -> tuple[Fact, ...]:
    return tuple(one for one in facts if one.date <= last)
