"""Session views that were made once are kept while the program runs: a session seldom changes."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

from monitor.board.evidence import Group
from monitor.board.gather import Known
from monitor.board.session_view import SessionView, session_view
from monitor.store import recordings
from monitor.store.database import Store
from rules.facts import Ceiling, Session
from rules.limits import Limits
from rules.plan import Plan
from rules.plan.ceilings import believable_bpm

MOST_KEPT = 400


class Shelf:
    def __init__(self, store: Store, limits: Limits) -> None:
        self._store = store
        self._limits = limits
        self._kept: dict[Hashable, SessionView] = {}

    def views(self, known: Known, plan: Plan | None, shown: Sequence[Group]) -> dict[str, SessionView]:
        """By session key, the views of the sessions that the groups of findings are on."""
        wanted = {group.session for group in shown}
        asked = [Asked(known, plan, each, self._limits) for each in known.made.history.sessions if each.key in wanted]
        self.fetch(asked)
        return {one.session.key: self._kept[one.label] for one in asked}

    def fetch(self, asked: Sequence[Asked]) -> None:
        """Make the views that are not there yet, all samples read on one connection."""
        missing = [one for one in asked if one.label not in self._kept]
        if not missing:
            return
        with self._store.reading() as con:
            samples = recordings.samples_of_many(con, [(one.athlete, one.session.key) for one in missing])
        for one, of_one in zip(missing, samples, strict=True):
            self._kept[one.label] = session_view(
                one.session, of_one, one.found, one.ceiling, self._limits, one.units, one.highest_bpm
            )
        needed = {one.label for one in asked}
        for label in [label for label in self._kept if label not in needed][: max(0, len(self._kept) - MOST_KEPT)]:
            del self._kept[label]


class Asked:
    """A session whose view is wanted, and the label by which it is kept: all that the view is made from."""

    def __init__(self, known: Known, plan: Plan | None, session: Session, limits: Limits) -> None:
        self.athlete = known.athlete.id
        self.session = session
        self.units = known.athlete.units
        self.found = [each for each in known.standing if each.subject == session.key]
        self.ceiling = ceiling_at(plan, session, known)
        year = plan.race.finish.year if plan is not None else session.start.year
        self.highest_bpm = believable_bpm(known.athlete.athlete, year, limits)
        told = tuple((each.id, each.summary) for each in self.found)
        shown_by = (self.ceiling, self.highest_bpm, self.units)
        self.label: Hashable = (self.athlete, session.key, session.version, told, *shown_by)


def ceiling_at(plan: Plan | None, session: Session, known: Known) -> Ceiling | None:
    """The ceiling of a session's day by a plan."""
    if plan is None or session.start < plan.begins:
        return None
    return plan.allowance_on(known.athlete.athlete.local_date(session.start)).ceiling
