"""What has changed since yesterday: found, grown worse, answered; stages that began or wait."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.board.gather import Desk, Known
from monitor.board.tables import hold_words
from monitor.views.words import counted, sentence, spoken, stage_words, wait_words
from rules.findings import Finding, Severity

SPAN = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Change:
    """One line: about whom, what, and the finding that it leads to."""

    kind: str  # a key of KINDS
    athlete: str
    name: str
    words: str
    finding: str = ""


KINDS = {"new": "new", "worse": "worse", "answered": "answered", "began": "began a stage", "waits": "began to wait"}
"""In the order in which they are told."""


@dataclass(frozen=True, slots=True)
class News:
    since: datetime
    changes: tuple[Change, ...]

    @property
    def tally(self) -> str:
        """ "4 new, 1 worse, 2 answered"; empty without any change."""
        counts = [(sum(each.kind == kind for each in self.changes), words) for kind, words in KINDS.items()]
        return ", ".join(f"{count} {words}" for count, words in counts if count)


def news(desk: Desk, athletes: Sequence[Known], now: datetime, news_days: float) -> News:
    """Of a first import, what ended long ago is no news."""
    since = now - SPAN
    found = [change for one in athletes for change in _of_one(desk, one, since, now, news_days)]
    order = list(KINDS)
    return News(since, tuple(sorted(found, key=lambda each: (order.index(each.kind), each.name.casefold()))))


def _of_one(desk: Desk, one: Known, since: datetime, now: datetime, news_days: float) -> Iterator[Change]:
    athlete = one.athlete.athlete
    name = athlete.name or athlete.id

    def change(kind: str, words: str, finding: str = "") -> Change:
        return Change(kind, athlete.id, name, words, finding)

    for each in one.standing:
        seen = [mark for mark in desk.marks.get(each.id, ()) if mark["at"] <= now]
        yield from (
            change("answered", f"{spoken(each.rule)} seen by {mark['by']}", each.id)
            for mark in seen
            if mark["at"] > since
        )
        if seen:
            continue
        made = desk.answers.made_at.get(each.id)
        recent = each.subject_end >= now - timedelta(days=news_days)
        if made is not None and since < made <= now and recent and each.severity > Severity.NOTE:
            yield change("new", _finding(each), each.id)
        elif since < desk.worse_at.get(each.id, since) <= now:
            yield change("worse", _finding(each), each.id)
    for hold in one.made.history.holds:
        if since < hold.at <= now:
            yield change("answered", hold_words(hold))
    yield from (change(kind, words) for kind, words in _stages(one, now))


def _finding(finding: Finding) -> str:
    return f"{finding.severity}, {spoken(finding.rule)}: {sentence(finding.summary)}"


def _stages(one: Known, now: datetime) -> Iterator[tuple[str, str]]:
    plan = one.made.judgement.current
    if plan is None:
        return
    today = one.athlete.athlete.local_date(now)
    stage, before = plan.stage_on(today), plan.stage_on(today - SPAN)
    if stage not in (before, "before"):
        yield "began", "the plan is done" if stage == "done" else f"{stage_words(stage)} began"
    for gate in plan.gates:
        if gate.until is None and gate.since >= today - SPAN:
            held = counted((today - gate.since).days + 1, "day")
            yield (
                "waits",
                f"{wait_words(gate.before)}, {held} so far: {gate.reasons[0].reason if gate.reasons else ''}",
            )
