"""The last four weeks of one athlete as a picture that fits a line, on the same scale for everybody."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup, escape

from monitor.views.words import counted
from rules.exercise import NO_EXERCISE, running_seconds, sport_seconds
from rules.judgement.ordered import Ordered
from rules.limits import Limits
from rules.wording import duration

DAYS = 28
TALLEST_MIN = 120
"""Minutes a day that fill the height; a longer day is cut, and carries a tick above to say so."""
HEIGHT, TICK, STEP = 30, 3, 5
LEAST_MIN = 1


@dataclass(slots=True)
class _Sum:
    counted_min: float = 0.0
    running_min: float = 0.0


def small_weeks(facts: Ordered, today: date, race_day: date | None, limits: Limits) -> Markup:
    """A bar a day, running filled; a line on the day of the race. What it shows is its label."""
    first = today - timedelta(days=DAYS - 1)
    sums: dict[int, _Sum] = {}
    sessions = 0
    for session in reversed(facts.sessions):
        place = (facts.days[session.key] - first).days
        if place < 0:
            break
        if place >= DAYS or session.key in facts.races or session.digest.sport in NO_EXERCISE:
            continue
        minutes = sport_seconds(session, limits) / 60
        if minutes >= LEAST_MIN:
            sessions += 1
            one = sums.setdefault(place, _Sum())
            one.counted_min += minutes
            one.running_min += min(running_seconds(session) / 60, minutes)
    return _drawn(sums, sessions, (race_day - first).days if race_day else -1)


def _drawn(sums: dict[int, _Sum], sessions: int, race: int) -> Markup:
    runs, others, ticks = [], [], []
    for place, one in sorted(sums.items()):
        left = place * STEP + 1
        run, whole = _pixels(one.running_min), _pixels(one.counted_min)
        if run:
            runs.append(f"M{left} {HEIGHT}v-{run}h3v{run}z")
        if whole > run:
            others.append(f"M{left} {HEIGHT - run}v-{whole - run}h3v{whole - run}z")
        if one.counted_min > TALLEST_MIN:
            ticks.append(f"M{left} 1h3")
    parts = [
        f'<path class="{kind}" d="{"".join(shapes)}"/>'
        for kind, shapes in (("run", runs), ("other", others), ("tick-line", ticks))
        if shapes
    ]
    if 0 <= race < DAYS:
        parts.append(f'<path class="race-line" d="M{race * STEP + 2} 2V{HEIGHT}"/>')
    width = DAYS * STEP
    return Markup(
        f'<svg class="small" role="img" aria-label="{escape(_said(sums, sessions))}" viewBox="0 0 {width} {HEIGHT}"'
        f' width="{width}" height="{HEIGHT}"><path class="base" d="M0 {HEIGHT}H{width}"/>{"".join(parts)}</svg>'
    )


def _pixels(minutes: float) -> int:
    """Height of so many minutes, below the room for the tick."""
    return round(min(minutes, TALLEST_MIN) / TALLEST_MIN * (HEIGHT - TICK))


def _said(sums: dict[int, _Sum], sessions: int) -> str:
    if not sessions:
        return "Nothing in the last four weeks."
    whole = sum(one.counted_min for one in sums.values())
    running = sum(one.running_min for one in sums.values())
    run = f", {duration(running * 60)} of it running" if running >= LEAST_MIN else ", none of it running"
    return f"The last four weeks: {counted(sessions, 'session')}, {duration(whole * 60)}{run}."
