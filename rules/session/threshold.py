"""The speed held for about an hour, from the best that is known of an athlete."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from rules.facts import Athlete, Race, Session, Threshold
from rules.limits import Limits

# Riegel 1981 (Am Sci 69:285): T2 = T1 (D2 / D1)^1.06,
# for efforts of about 3.5 to 230 minutes.

EXPONENT = 1.06
_SLOWING = frozenset({"heat", "altitude", "hills", "unprepared_ground", "injury", "stage_race"})


def riegel_seconds(distance_km: float, seconds: float, other_km: float) -> float:
    """Time over another distance."""
    return float(seconds * (other_km / distance_km) ** EXPONENT)


def riegel_threshold(distance_km: float, seconds: float) -> float:
    """Speed, m/s, that the same athlete holds for one hour."""
    km_in_an_hour = distance_km * (3600.0 / seconds) ** (1 / EXPONENT)
    return float(km_in_an_hour / 3.6)


def held_for(threshold_mps: float, seconds: float) -> float:
    """Speed, m/s, that whoever holds the threshold for an hour holds for so long at best."""
    return float(threshold_mps * (3600.0 / seconds) ** (1.0 - 1.0 / EXPONENT))


def choose(athlete: Athlete, sessions: Iterable[Session], before: datetime, limits: Limits) -> Threshold | None:
    """Roster, else the better of race results and of what the history shows, each only up to that moment.

    A result raced later rewrites no verdict of before; the roster's own pace has no date and holds for all of them,
    unless a race or two sessions before show that it is too slow. None where nothing is known: then only the session
    itself can tell.
    """
    sessions = tuple(sessions)
    raced = (_by_race(each, limits) for each in athlete.races if each.finish <= before)
    race = max((speed for speed in raced if speed), default=None)
    if athlete.threshold_pace_s_per_km:
        known = 1000.0 / athlete.threshold_pace_s_per_km
        twice = sorted(_held(sessions, before, limits))[-2:-1]
        shown_mps = max((race or 0.0, *twice))
        if shown_mps <= limits.speed_work.refuted * known:
            return Threshold(known, "roster", "high")
        return Threshold(shown_mps, "race result" if shown_mps == race else "history", "medium", instead_of_mps=known)
    shown = _by_history(sessions, before, limits)
    if race and (shown is None or race >= shown.speed_mps):
        return Threshold(race, "race result", "medium")
    return shown


def _by_race(race: Race, limits: Limits) -> float | None:
    """Hour speed by a result that was all out, on honest ground and within the range of the formula."""
    distance = race.distance_km or limits.race_file.event_km.get(race.event)
    if distance is None or not race.result_seconds or race.effort != "all_out" or race.event.startswith("tri"):
        return None
    shortest, longest = limits.threshold.race_s
    if _SLOWING & set(race.conditions) or not shortest <= race.result_seconds <= longest:
        return None
    return riegel_threshold(distance, race.result_seconds)


def _held(sessions: Iterable[Session], before: datetime, limits: Limits) -> list[float]:
    """What each run up to that moment shows of the speed held for an hour; runs of twenty minutes and more."""
    best = (
        {s: mps for s, mps in session.digest.best_speed_mps.items() if s >= limits.threshold.least_s}
        for session in sessions
        if session.end <= before and session.digest.sport == "running"
    )
    return [max(mps / held_for(1.0, s) for s, mps in held.items()) for held in best if held]


def _by_history(sessions: Sequence[Session], before: datetime, limits: Limits) -> Threshold | None:
    """The fastest hour-equivalent; trusted only when it stands out from the usual run."""
    best = max(_held(sessions, before, limits), default=0.0)
    usual = sorted(
        session.digest.running_m / session.digest.running_s
        for session in sessions
        if session.end <= before
        and session.digest.sport == "running"
        and session.digest.running_m
        and session.digest.running_s
    )
    if best == 0.0 or len(usual) < limits.threshold.least_runs:
        return None
    stands_out = best >= limits.threshold.stands_out * usual[len(usual) // 2]
    return Threshold(best, "history", "medium" if stands_out else "low")
