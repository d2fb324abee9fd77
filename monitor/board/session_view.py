"""One session over time: heart rate under its ceiling, speed, ground, and the stretches that made the findings."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from monitor import words
from monitor.board.board_data import KnownAthlete
from monitor.board.findings import Group
from monitor.board.session_charts import (
    Stretch,
    Times,
    ground_chart,
    heart_chart,
    is_plain,
    speed_chart,
    worth_on_the_level,
)
from monitor.board.svg_chart import Figure
from monitor.plain_text import minute_second, spoken
from monitor.store import recordings
from monitor.store.database import Store
from rules.facts import Ceiling, Session
from rules.findings import Finding
from rules.limits import Limits
from rules.numbers import counted, duration
from rules.plan import Plan
from rules.plan.stages import believable_bpm
from rules.session.labels import running_seconds
from rules.session.timeline import Samples
from rules.session.track import Track, clean

MOST_ROWS = 14
MOST_STRETCHES = 24


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
    samples: Samples,
    found: Sequence[Finding],
    ceiling: Ceiling | None,
    limits: Limits,
    units: str = "metric",
    highest_bpm: float | None = None,
) -> SessionView:
    """The view of a session with the findings on it, cleaned as they were: `highest_bpm` is what the heart can do."""
    track = clean(
        session.sport, session.sub_sport, session.elapsed_s, session.pauses, samples, limits, highest_bpm,
        barometer=session.barometer,
    )  # fmt: skip
    spans = _spans(found)
    afoot = running_seconds(session) > 0 or session.digest.sport == "walking"
    times = Times(track, max(session.elapsed_s, 1.0), spans, session.pauses, afoot, units)
    bpm = ceiling.bpm if ceiling else None
    threshold = next((each.evidence.get("threshold_mps") for each in found if "threshold_mps" in each.evidence), None)
    ground = ground_chart(times)
    plain = ground is not None and is_plain(times)
    made = (heart_chart(times, bpm), speed_chart(times, threshold), None if plain else ground)
    return SessionView(
        facts=tuple(_facts(session, ceiling, units)),
        figures=tuple(figure for figure in made if figure is not None),
        folded=(ground,) if ground is not None and plain else (),
        stretches=tuple(_stretch_row(span, times) for span in spans[:MOST_STRETCHES]),
        minutes=tuple(_minute_rows(times)),
        notes=tuple(_notes(track, session, spans)),
    )


def _spans(found: Sequence[Finding]) -> list[Stretch]:
    spans = [
        Stretch(each.rule, float(begin), float(end))
        for each in found
        for begin, end in each.evidence.get("times") or ()
    ]
    return sorted(spans, key=lambda span: (span.rule, span.begin))


def _facts(session: Session, ceiling: Ceiling | None, units: str) -> list[tuple[str, str]]:
    digest = session.digest
    rows = [("judged as", f"{spoken(digest.sport)} ({digest.sport_reason})" if digest.sport_reason else digest.sport)]
    rows.append(("moving", duration(session.timer_s)))
    if session.distance_m:
        rows.append(("distance", words.shared.distance_words(session.distance_m, units, 2)))
    if digest.ascent_m is not None and digest.descent_m is not None:
        up, down = (words.shared.height_words(abs(metres), units) for metres in (digest.ascent_m, digest.descent_m))
        rows.append(("ground", f"{up} up, {down} down"))
    if ceiling is not None:
        rows.append(("ceiling", f"{ceiling.bpm} bpm, {ceiling.reason}"))
    return rows


def _stretch_row(span: Stretch, times: Times) -> tuple[str, ...]:
    rows = times.rows(span.begin, span.end)
    heart, speed = times.track.heart.rows_bpm[rows], times.track.pace.speed_mps[rows]
    return (
        spoken(span.rule),
        minute_second(span.begin),
        minute_second(span.end),
        duration(span.end - span.begin),
        _mean(heart, "{:.0f}".format),
        _mean(speed, times.speed_words),
    )


def _minute_rows(times: Times) -> list[tuple[str, ...]]:
    """The recording in even parts: the table that stands for the pictures."""
    step = next((m * 60.0 for m in (1, 2, 5, 10, 15, 30, 60) if times.seconds / (m * 60) <= MOST_ROWS), 7200.0)
    worth = worth_on_the_level(times)
    begins = np.arange(0.0, times.seconds, step)
    edges = np.append(begins, begins[-1] + step)
    heart, highest = times.parts(edges, times.track.heart.rows_bpm)
    speed, _ = times.parts(edges, times.track.pace.speed_mps)
    level = times.parts(edges, worth)[0] if worth is not None else np.full(len(begins), np.nan)
    height, _ = times.parts(edges, times.track.ground.altitude_m / (words.shared.FOOT_M if times.imperial else 1.0))
    return [
        (
            minute_second(begin),
            minute_second(min(begin + step, times.seconds)),
            *(_shown(value, "{:.0f}".format) for value in (heart[row], highest[row])),
            *(_shown(value, times.speed_words) for value in (speed[row], level[row])),
            _shown(height[row], "{:.0f}".format),
        )
        for row, begin in enumerate(begins.tolist())
    ]


def _mean(values: np.ndarray[tuple[int], np.dtype[np.float64]], text: Callable[[float], str]) -> str:
    return _shown(np.nanmean(values) if np.isfinite(values).any() else np.nan, text)


def _shown(value: float | np.floating[Any], text: Callable[[float], str]) -> str:
    return text(float(value)) if np.isfinite(value) else "–"


def _notes(track: Track, session: Session, spans: Sequence[Stretch]) -> list[str]:
    said = []
    if track.heart.reasons:
        parts = ", ".join(f"{why} {duration(spent)}" for why, spent in track.heart.reasons.items())
        said.append(words.board.HEART_HATCHED.format(parts=parts))
    if not np.isfinite(track.heart.bpm).any():
        said.append(words.board.NO_HEART_RECORDED)
    if track.pace.source in ("distance", "position"):
        said.append(words.board.SPEED_RECKONED.format(source=track.pace.source))
    if track.pace.source == "none":
        said.append(words.board.NO_SPEED_RECORDED)
    masked = float(track.pace.masked.sum())
    if masked:
        said.append(words.board.SPEED_NOT_BELIEVED.format(masked=duration(masked)))
    if session.pauses:
        stopped = sum(end - begin for begin, end in session.pauses)
        said.append(words.board.STOPPED.format(stopped=duration(stopped), pauses=counted(len(session.pauses), "pause")))
    if len(spans) > MOST_STRETCHES:
        said.append(words.board.MORE_STRETCHES.format(more=len(spans) - MOST_STRETCHES))
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
        return {one.session.key: self._kept[one.label] for one in asked}

    def fetch(self, asked: Sequence[Asked]) -> None:
        """Make the views that are not there yet, all samples read on one connection."""
        missing = [one for one in asked if one.label not in self._kept]
        for one, samples in zip(missing, self.samples(missing), strict=True):
            self._kept[one.label] = one.view(samples, self._limits)
        needed = {one.label for one in asked}
        for label in [label for label in self._kept if label not in needed][: max(0, len(self._kept) - MOST_KEPT)]:
            del self._kept[label]

    def samples(self, asked: Sequence[Asked]) -> list[Samples]:
        """What the views are made from."""
        if not asked:
            return []
        with self._store.reading() as con:
            return recordings.samples_of_many(con, [(one.athlete, one.session.key) for one in asked])


class Asked:
    """A session whose view is wanted, and the label by which it is kept: all that the view is made from."""

    def __init__(self, known: KnownAthlete, plan: Plan | None, session: Session, limits: Limits) -> None:
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

    def view(self, samples: Samples, limits: Limits) -> SessionView:
        """The view by the session's samples."""
        return session_view(self.session, samples, self.found, self.ceiling, limits, self.units, self.highest_bpm)


def ceiling_at(plan: Plan | None, session: Session, known: KnownAthlete) -> Ceiling | None:
    """The ceiling of a session's day by a plan."""
    if plan is None or session.start < plan.begins:
        return None
    return plan.allowance_on(known.athlete.athlete.local_date(session.start)).ceiling
