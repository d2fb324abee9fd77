"""The coach's board as values: a line an athlete with what is open, what was answered by whom, and what can be undone.

Words, order and decisions are those of the board; here they are put beside the answers.
"""

from __future__ import annotations

import subprocess
import sys
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from monitor import words
from monitor.board.athlete_view import Row, row
from monitor.board.board_data import BoardContext, KnownAthlete, gather
from monitor.board.board_thread import BoardThread
from monitor.board.rendering import stamp
from monitor.board.tables import hold_words
from monitor.home import Home
from monitor.pages.page_facts import store_stamp
from monitor.plain_text import sentence, spoken
from monitor.roster import Roster, RosterAthlete
from monitor.store.database import Store
from monitor.views.triage import open_findings
from rules.findings import Finding
from rules.limits import Limits
from rules.words import amounts

ANSWERED_FOR = timedelta(days=2)
"""How long a line shows what was answered."""
MOST_ANSWERED = 4
MOST_OPEN = 6
"""Findings that a line names; one more line says how many others there are."""
FORMS_KNOWN = 2000
FRESH_FOR = timedelta(minutes=10)
"""What today allows changes with the clock: lines are made anew after that at the latest."""


@dataclass(frozen=True, slots=True)
class Answered:
    """What one person answered at one moment, in words; `undo` names it while it may be taken back, else ""."""

    at: datetime
    by: str
    words: str
    undo: str = ""


@dataclass(frozen=True, slots=True)
class BoardLine:
    """One athlete. `mark` is another one whenever the line says something else."""

    row: Row
    known: KnownAthlete
    open: tuple[Finding, ...]
    answered: tuple[Answered, ...]
    mark: str

    @property
    def id(self) -> str:
        return self.row.id

    @property
    def named(self) -> tuple[Finding, ...]:
        return self.open[:MOST_OPEN]

    @property
    def more(self) -> int:
        return len(self.open) - len(self.named)


@dataclass(frozen=True, slots=True)
class BoardLines:
    """In order of need, and what else the board's desk knows."""

    all: tuple[BoardLine, ...]
    board_context: BoardContext

    @property
    def name(self) -> str:
        """Another one whenever a line says something else."""
        return stamp(sorted(line.mark for line in self.all))


class CoachBoard:
    """Reads lines from the store and keeps them until it changes; knows which forms were sent already."""

    def __init__(self, home: Home, limits: Limits) -> None:
        self._home = home
        self._limits = limits
        self._kept: dict[str, tuple[tuple[object, ...], BoardLines]] = {}
        self._turn = threading.Lock()
        self._forms: OrderedDict[str, None] = OrderedDict()
        self._file = BoardThread(self._write_file, refresh_seconds=threading.TIMEOUT_MAX)
        self._file_kept = False

    def is_first(self, form: str) -> bool:
        """Whether a form was not sent before, by the name that it carries; two taps on one button are one answer."""
        with self._turn:
            first = form not in self._forms
            self._forms[form] = None
            while len(self._forms) > FORMS_KNOWN:
                self._forms.popitem(last=False)
        return first or not form

    def not_done(self, form: str) -> None:
        """A form that failed may be sent again."""
        with self._turn:
            self._forms.pop(form, None)

    def answered(self) -> None:
        """Have board.html follow, where one lies, in a while and in a process of its own."""
        if self._home.board.exists():
            if not self._file_kept:
                self._file_kept = True
                self._file.start()
            self._file.changed()

    def _write_file(self) -> None:
        command = [sys.executable, "-m", "monitor.cli.main", "board", "--home", str(self._home.path)]
        subprocess.run(
            command, check=True, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    @property
    def stamp(self) -> object:
        """What changes whenever the store does."""
        return store_stamp(self._home.store)

    def lines(self, roster: Roster, athletes: Sequence[RosterAthlete], coach: str, now: datetime) -> BoardLines:
        """The lines of athletes for a coach by name, as of now."""
        key = (
            self.stamp,
            roster.fingerprint,
            tuple(athlete.id for athlete in athletes),
            now.timestamp() // FRESH_FOR.seconds,
        )
        with self._turn:  # who asks at the same time waits for the same lines
            kept = self._kept.get(coach)
            if kept is None or kept[0] != key:
                kept = (key, self._read(roster, athletes, now))
                self._kept[coach] = kept
        lines = tuple(self._with_undo(line, coach, now) for line in kept[1].all)
        return replace(kept[1], all=lines)

    def line(self, roster: Roster, athlete: RosterAthlete, coach: str, now: datetime) -> tuple[BoardLine, BoardContext]:
        """One athlete's, read anew."""
        lines = self._read(roster, (athlete,), now)
        return self._with_undo(lines.all[0], coach, now), lines.board_context

    def put(self, line: BoardLine, coach: str, before: object) -> None:
        """Take a line that was just answered in the place of the one before, where `before`, the stamp of then, is that
        of the lines that are kept: so an answer costs the reading of one athlete and not of all."""
        with self._turn:
            kept = self._kept.get(coach)
            if kept is not None and kept[0][0] == before:
                lines = tuple(line if kept_line.id == line.id else kept_line for kept_line in kept[1].all)
                self._kept[coach] = ((self.stamp, *kept[0][1:]), replace(kept[1], all=lines))

    def _read(self, roster: Roster, athletes: Sequence[RosterAthlete], now: datetime) -> BoardLines:
        mine = replace(roster, athletes=tuple(athletes))
        board_context, found = gather(Store(self._home.made().store), mine, now, self._limits)
        lines = [self._line(entry, board_context, mine, now) for entry in found]
        lines.sort(key=lambda line: (line.row.word.rank, line.row.name.casefold(), line.id))
        return BoardLines(tuple(lines), board_context)

    def _line(self, one: KnownAthlete, board_context: BoardContext, roster: Roster, now: datetime) -> BoardLine:
        shown = row(one, board_context, now, roster.alerts.late_after_days, self._limits)
        return BoardLine(
            shown,
            one,
            tuple(open_findings(one.made, one.standing, board_context.answers)),
            answered(one, board_context.marks, now),
            "",
        )

    def _with_undo(self, line: BoardLine, coach: str, now: datetime) -> BoardLine:
        """What the coach may still take back, and the mark of the whole."""
        last = timedelta(minutes=self._limits.gates.undo_minutes)
        given = tuple(
            replace(reply, undo=reply.at.isoformat() if reply.by == coach and now - reply.at <= last else "")
            for reply in line.answered
        )
        it = line.row
        said = (it.name, it.word, it.where, it.allowed, it.race, it.next, it.body, it.quiet, it.weeks)
        return replace(line, answered=given, mark=stamp(said, [finding.id for finding in line.open], given))


def answered(one: KnownAthlete, marks: Mapping[str, Sequence[dict[str, Any]]], now: datetime) -> tuple[Answered, ...]:
    """What was answered of late, the newest first: marks made together are one answer."""
    zone, face = one.athlete.athlete.zone, one.athlete.clock
    together: dict[tuple[datetime, str, str], list[Finding]] = {}
    for finding in one.standing:
        for mark in marks.get(finding.id, ()):
            together.setdefault((mark["at"], mark["by"], mark["note"]), []).append(finding)
    found = [
        Answered(
            at,
            by,
            f"{_seen(some)} by {by}, {words.shared.day_and_time(at, zone, face)}" + (f": {note}" if note else ""),
        )
        for (at, by, note), some in together.items()
    ]
    found += [
        Answered(hold.at, hold.by, f"{hold_words(hold)} {words.shared.day_and_time(hold.at, zone, face)}.")
        for hold in one.made.history.holds
    ]
    fresh = [reply for reply in found if timedelta() <= now - reply.at <= ANSWERED_FOR]
    fresh.sort(key=lambda reply: reply.at, reverse=True)
    return tuple(fresh[:MOST_ANSWERED])


def _seen(some: Sequence[Finding]) -> str:
    rules = ", ".join(dict.fromkeys(spoken(finding.rule) for finding in some))
    return sentence(f"{amounts.counted(len(some), 'finding')} seen ({rules})").rstrip(".")
