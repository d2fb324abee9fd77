"""What the recording of a race measures, which conditions it suggests, and runs that look like a race nobody entered.

It asks and never assumes: the roster decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from rules import words
from rules.facts import Athlete, Race, Session
from rules.limits import Limits
from rules.plan import plan_length
from rules.plan.build import own_files, race_recordings
from rules.plan.stages import believed_seconds, estimated_hr_max
from rules.session.labels import RUNNING, running_metres


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A condition that the roster does not name, what was measured, and by how many days it would lengthen the plan."""

    condition: str
    reason: str
    more_days: int


@dataclass(frozen=True, slots=True)
class RaceFile:
    """A race as recorded, all its legs together."""

    sources: tuple[str, ...]
    distance_m: float | None
    moving_s: float
    elapsed_s: float
    ascent_m: float | None
    descent_m: float | None
    altitude_m: float | None
    temperature_c: float | None
    doubt: str  # why it may be something else than the whole race; empty where nothing speaks against it
    suggestions: tuple[Suggestion, ...]
    more_days: int = 0  # by all suggestions together


def race_file(sessions: Sequence[Session], race: Race, limits: Limits) -> RaceFile | None:
    """The race found among the sessions by its finish; None where there is no recording of it."""
    legs = race_recordings(sessions, race, limits)
    if not legs:
        return None
    longest = max(legs, key=lambda leg: (leg.timer_s, leg.key)).digest
    measured = RaceFile(
        sources=tuple(leg.source for leg in legs if leg.source),
        distance_m=_sum([leg.distance_m for leg in legs]),
        moving_s=sum(leg.timer_s for leg in legs),
        elapsed_s=(legs[-1].end - legs[0].start).total_seconds(),
        ascent_m=_sum([leg.digest.ascent_m for leg in legs]),
        descent_m=_sum([leg.digest.descent_m for leg in legs]),
        altitude_m=longest.altitude_median_m,
        temperature_c=longest.temperature_median_c,
        doubt="",
        suggestions=(),
    )
    doubt = _doubt(measured, race, limits)
    suggestions = () if doubt else tuple(_suggestions(measured, race, limits))
    named = replace(race, conditions=(*race.conditions, *(suggestion.condition for suggestion in suggestions)))
    more = plan_length(named, limits).days - plan_length(race, limits).days
    return replace(measured, doubt=doubt, suggestions=suggestions, more_days=more)


def _doubt(file: RaceFile, race: Race, limits: Limits) -> str:
    """Whether its distance is far from that of the race."""
    km = race.distance_km or limits.race_file.event_km.get(race.event)
    if km is None or not file.distance_m:
        return ""
    share = file.distance_m / 1000 / km
    low, high = limits.race_file.distance_shares
    if low <= share <= high:
        return ""
    return words.plan.far_from_race(file.distance_m / 1000, km, less=share < low)


def _sum(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if known else None


def _suggestions(file: RaceFile, race: Race, limits: Limits) -> list[Suggestion]:
    told: list[tuple[str, str]] = []
    heat, cold = limits.race_file.heat_c, limits.race_file.cold_c
    if file.temperature_c is not None and file.temperature_c >= heat:
        told.append(("heat", words.plan.C_IN_MIDDLE_OF_RECORDING.format(temperature_c=file.temperature_c, heat=heat)))
    if file.temperature_c is not None and file.temperature_c <= cold:
        told.append(
            ("cold", words.plan.C_IN_MIDDLE_OF_RECORDING_UP.format(temperature_c=file.temperature_c, cold=cold))
        )
    high = limits.race_file.altitude_m
    if file.altitude_m is not None and file.altitude_m >= high:
        told.append(("altitude", words.plan.M_ABOVE_SEA.format(altitude_m=file.altitude_m, high=high)))
    steep = limits.race_file.climb_m_per_km
    climb = max(file.ascent_m or 0.0, file.descent_m or 0.0)
    if file.distance_m and climb / (file.distance_m / 1000) >= steep:
        per_km = climb / (file.distance_m / 1000)
        told.append(("hills", words.plan.M_UP_OR_DOWN.format(climb=climb, per_km=per_km, steep=steep)))
    now = plan_length(race, limits).days
    missing = [(name, reason) for name, reason in told if name not in race.conditions]
    return [
        Suggestion(name, reason, plan_length(replace(race, conditions=(*race.conditions, name)), limits).days - now)
        for name, reason in missing
    ]


@dataclass(frozen=True, slots=True)
class LooksLikeARace:
    """A run that is long, hard and the longest of months, with no race in the roster to go with it."""

    session: Session
    reason: str


def looks_like_a_race(
    sessions: Sequence[Session], athlete: Athlete, now: datetime, limits: Limits
) -> tuple[LooksLikeARace, ...]:
    """Recent runs to ask about, in order of time; `sessions` reach back as far as the limits ask for."""
    runs = sorted(
        (session for session in sessions if session.digest.sport == RUNNING),
        key=lambda session: (session.start, session.key),
    )
    asked = ((run, _race_like(run, runs, athlete, limits)) for run in hard_long_runs(sessions, athlete, now, limits))
    return tuple(LooksLikeARace(run, reason) for run, reason in asked if reason)


def hard_long_runs(sessions: Sequence[Session], athlete: Athlete, now: datetime, limits: Limits) -> list[Session]:
    """Recent runs, of no race in the roster, long and hard enough to be one, in order of time."""
    since = now.astimezone(UTC) - timedelta(days=limits.race_file.look_back_days)
    least_s = limits.race_file.least_minutes * 60
    recent = [
        session
        for session in sessions
        if since <= session.start <= now and session.digest.sport == RUNNING and session.timer_s >= least_s
    ]
    hard = [
        session for session in recent if (_heart_share(session, athlete, limits) or 0) >= limits.race_file.hard_share
    ]
    entered = own_files(sessions, athlete.races, limits) if hard else ()
    return sorted(
        (session for session in hard if session.key not in entered), key=lambda session: (session.start, session.key)
    )


def _race_like(run: Session, runs: list[Session], athlete: Athlete, limits: Limits) -> str:
    """Why a hard, long run looks like a race; empty where it does not."""
    metres = running_metres(run)
    if metres is None:
        return ""
    first = run.start - timedelta(days=limits.race_file.longest_of_days)
    before = [running_metres(session) or 0 for session in runs if first <= session.start < run.start]
    if len(before) < limits.race_file.least_runs or metres <= max(before):
        return ""
    share = _heart_share(run, athlete, limits) or 0
    return words.plan.KM_LONGEST_OF_RUNS.format(km=metres / 1000, runs=len(before) + 1, share=share * 100)


def _heart_share(run: Session, athlete: Athlete, limits: Limits) -> float | None:
    """Mean heart rate as a share of HRmax."""
    if athlete.hr_max is not None:
        top = float(athlete.hr_max)
    elif athlete.born is not None:
        top = float(estimated_hr_max(athlete.born, run.start.year, limits))
    else:
        return None
    spent = believed_seconds(run, athlete, run.start.year, limits)
    seconds = sum(spent.values())
    return sum(bpm * seconds_at for bpm, seconds_at in spent.items()) / seconds / top if seconds else None
