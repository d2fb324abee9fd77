"""One session over time: heart rate under its ceiling, speed, ground, and the stretches that made the findings."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from typing import Any

from monitor import words
from monitor.board.board_data import KnownAthlete
from monitor.board.findings import Group
from monitor.board.session_charts import Times, ground_chart, heart_chart, is_plain, speed_chart
from monitor.board.svg_chart import Figure
from monitor.drawing import drawing
from monitor.plain_text import minute_second, spoken
from monitor.store import findings, recordings
from monitor.store.database import Store
from rules.facts import Ceiling, Session
from rules.findings import Finding
from rules.limits import Limits
from rules.plan import Plan
from rules.session.timeline import Samples
from rules.session.traces import (
    MOST_SPANS,
    Span,
    TraceNumbers,
    Traces,
    is_afoot,
    part_edges,
    session_seconds,
    spans_of,
    unpacked,
)
from rules.words import amounts, said


@dataclass(frozen=True, slots=True)
class SessionView:
    """What is shown of one session; tables say the same as the pictures."""

    facts: tuple[tuple[str, str], ...]
    figures: tuple[Figure, ...]
    folded: tuple[Figure, ...]  # that say little
    stretches: tuple[tuple[str, ...], ...]  # what, from, to, long, heart, speed
    minutes: tuple[tuple[str, ...], ...]  # from, to, heart, highest, speed, on the level, ground
    notes: tuple[str, ...]


def session_view(
    session: Session,
    made: Traces,
    found: Sequence[Finding],
    ceiling: Ceiling | None,
    units: str = "metric",
) -> SessionView:
    """The view of a session with the findings on it, by its lines."""
    spans = spans_of(found)
    times = Times(made, session_seconds(session), spans, session.pauses, is_afoot(session), units)
    bpm = ceiling.bpm if ceiling else None
    threshold = next(
        (finding.evidence.get("threshold_mps") for finding in found if "threshold_mps" in finding.evidence), None
    )
    ground = ground_chart(times)
    plain = ground is not None and is_plain(times)
    figures = (heart_chart(times, bpm), speed_chart(times, threshold), None if plain else ground)
    return SessionView(
        facts=tuple(_facts(session, ceiling, units)),
        figures=tuple(figure for figure in figures if figure is not None),
        folded=(ground,) if ground is not None and plain else (),
        stretches=tuple(_stretch_rows(times)),
        minutes=tuple(_minute_rows(times)),
        notes=tuple(_notes(made.numbers, session, spans)),
    )


def _facts(session: Session, ceiling: Ceiling | None, units: str) -> list[tuple[str, str]]:
    digest = session.digest
    why = said(digest.sport_reason)
    rows = [("judged as", f"{spoken(digest.sport)} ({why})" if why else digest.sport)]
    rows.append(("moving", amounts.duration(session.timer_s)))
    if session.distance_m:
        rows.append(("distance", words.shared.distance_words(session.distance_m, units, 2)))
    if digest.ascent_m is not None and digest.descent_m is not None:
        up, down = (words.shared.height_words(abs(metres), units) for metres in (digest.ascent_m, digest.descent_m))
        rows.append(("ground", f"{up} up, {down} down"))
    if ceiling is not None:
        rows.append(("ceiling", f"{ceiling.bpm} bpm, {said(ceiling.reason)}"))
    return rows


def _stretch_rows(times: Times) -> Iterator[tuple[str, ...]]:
    for span, bpm, mps in zip(times.spans, times.traces.span_heart, times.traces.span_speed, strict=False):
        begin, end = minute_second(span.begin), minute_second(span.end)
        heart, speed = _shown(bpm, "{:.0f}".format), _shown(mps, times.speed_words)
        yield spoken(span.rule), begin, end, amounts.duration(span.end - span.begin), heart, speed


def _minute_rows(times: Times) -> Iterator[tuple[str, ...]]:
    """The recording in even parts: the table that stands for the pictures."""
    made, edges = times.traces, part_edges(times.seconds).tolist()
    ground = made.rows_ground / (words.shared.FOOT_M if times.imperial else 1.0)
    for row, (begin, end) in enumerate(pairwise(edges)):
        yield (
            minute_second(begin),
            minute_second(min(end, times.seconds)),
            *(_shown(values[row], "{:.0f}".format) for values in (made.rows_heart, made.rows_highest)),
            *(_shown(values[row], times.speed_words) for values in (made.rows_speed, made.rows_worth)),
            _shown(ground[row], "{:.0f}".format),
        )


def _shown(value: float, text: Callable[[float], str]) -> str:
    return text(float(value)) if isfinite(value) else "–"


def _notes(numbers: TraceNumbers, session: Session, spans: Sequence[Span]) -> list[str]:
    said = []
    if numbers.masked_why:
        parts = ", ".join(f"{why} {amounts.duration(spent)}" for why, spent in numbers.masked_why.items())
        said.append(words.board.HEART_HATCHED.format(parts=parts))
    if numbers.lowest_bpm is None:
        said.append(words.board.NO_HEART_RECORDED)
    if numbers.speed_source in ("distance", "position"):
        said.append(words.board.SPEED_RECKONED.format(source=numbers.speed_source))
    if numbers.speed_source == "none":
        said.append(words.board.NO_SPEED_RECORDED)
    if numbers.speed_masked_s:
        said.append(words.board.SPEED_NOT_BELIEVED.format(masked=amounts.duration(numbers.speed_masked_s)))
    if session.pauses:
        stopped = sum(end - begin for begin, end in session.pauses)
        said.append(
            words.board.STOPPED.format(
                stopped=amounts.duration(stopped), pauses=amounts.counted(len(session.pauses), "pause")
            )
        )
    if len(spans) > MOST_SPANS:
        said.append(words.board.MORE_STRETCHES.format(more=len(spans) - MOST_SPANS))
    return said


# Session views that were made once are kept while the program runs: a session seldom changes.

MOST_KEPT = 400


class ViewCache:
    def __init__(self, store: Store, limits: Limits) -> None:
        self._store = store
        self._limits = limits
        self._kept: dict[Hashable, SessionView] = {}
        self.lines: dict[str, Any] = {}
        """Athlete -> the line on the board as it was drawn last (`board_page.Line`)."""

    def views(self, known: KnownAthlete, plan: Plan | None, shown: Sequence[Group]) -> dict[str, SessionView]:
        """By session key, the views of the sessions that the groups of findings are on."""
        wanted = {group.session for group in shown}
        asked = [
            Asked(known, plan, session, self._limits)
            for session in known.made.history.sessions
            if session.key in wanted
        ]
        self.fetch(asked)
        return {picture.session.key: self._kept[picture.label] for picture in asked}

    def fetch(self, asked: Sequence[Asked]) -> None:
        """Make the views that are not there yet, all that they are made from read on one connection."""
        missing = [picture for picture in asked if picture.label not in self._kept]
        for picture, recorded in zip(missing, self.recorded(missing), strict=True):
            self._kept[picture.label] = picture.view(recorded, self._limits)
        needed = {picture.label for picture in asked}
        for label in [label for label in self._kept if label not in needed][: max(0, len(self._kept) - MOST_KEPT)]:
            del self._kept[label]

    def recorded(self, asked: Sequence[Asked]) -> list[Samples | bytes]:
        """What the views are made from: the lines that were kept, packed, or the samples where there are none."""
        if not asked:
            return []
        with self._store.reading() as con:
            kept = findings.traces_kept(
                con, [(picture.athlete, picture.session.key, picture.made_from) for picture in asked]
            )
            rest = [picture for picture, lines in zip(asked, kept, strict=True) if lines is None]
            wanted = [(picture.athlete, picture.session.key) for picture in rest]
            samples = iter(recordings.samples_of_many(con, wanted) if wanted else ())
        return [next(samples) if lines is None else lines for lines in kept]


class Asked:
    """A session whose view is wanted, and the label by which it is kept: all that the view is made from."""

    def __init__(self, known: KnownAthlete, plan: Plan | None, session: Session, limits: Limits) -> None:
        self.athlete = known.athlete.id
        self.session = session
        self.units = known.athlete.units
        self.found = [finding for finding in known.standing if finding.subject == session.key]
        self.drawn = drawing(known.athlete.athlete, plan, session, self.found, limits)
        self.made_from = self.drawn.made_from(limits)
        told = tuple((finding.id, said(finding.summary)) for finding in self.found)
        self.label: Hashable = (self.athlete, session.key, told, self.drawn.ceiling, self.units, self.made_from)

    def view(self, recorded: Samples | bytes, limits: Limits) -> SessionView:
        """The view by what the store has of the session."""
        made = unpacked(recorded) if isinstance(recorded, bytes) else self.drawn.of_samples(recorded, limits)
        return session_view(self.session, made, self.found, self.drawn.ceiling, self.units)
