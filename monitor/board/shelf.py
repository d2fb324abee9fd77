"""Session views that were made once are kept while the program runs: a session seldom changes."""

from __future__ import annotations

from datetime import datetime

from monitor.board.athlete_view import AthleteView
from monitor.board.gather import Known
from monitor.board.session_view import SessionView, session_view
from monitor.store import recordings
from monitor.store.database import Store
from rules.facts import Ceiling, Session
from rules.findings import Finding
from rules.limits import Limits

MOST_KEPT = 400


class Shelf:
    def __init__(self) -> None:
        self._kept: dict[tuple[object, ...], SessionView] = {}

    def views(self, store: Store, known: Known, view: AthleteView, limits: Limits) -> dict[str, SessionView]:
        """By session key, the views of the sessions that findings of the plan are on."""
        sessions = {each.key: each for each in known.made.history.sessions}
        wanted = [group for group in view.groups if group.session in sessions]
        found: dict[str, SessionView] = {}
        for group in wanted:
            key = str(group.session)
            findings = [each for each in known.standing if each.subject == key]
            found[key] = self._view(store, known, sessions[key], findings, group.anchor, limits)
        return found

    def _view(
        self, store: Store, known: Known, session: Session, findings: list[Finding], name: str, limits: Limits
    ) -> SessionView:
        ceiling = _ceiling(known, session.start)
        ids = tuple((each.id, each.summary) for each in findings)
        label = (known.athlete.id, session.key, session.version, ids, ceiling, name, limits.fingerprint)
        if label not in self._kept:
            with store.reading() as con:
                samples = recordings.samples_of(con, known.athlete.id, session.key)
            on = known.athlete.athlete.local_date(session.start)
            if len(self._kept) >= MOST_KEPT:
                self._kept.pop(next(iter(self._kept)))
            self._kept[label] = session_view(name, session, on, samples, findings, ceiling, limits)
        return self._kept[label]


def _ceiling(known: Known, start: datetime) -> Ceiling | None:
    plan = known.made.judgement.current
    if plan is None or start < plan.begins:
        return None
    return plan.allowance_on(known.athlete.athlete.local_date(start)).ceiling
