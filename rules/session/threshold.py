"""The speed held for about an hour, from the best that is known.

Riegel 1981 (Am Sci 69:285): T2 = T1 (D2 / D1)^1.06, for efforts of about 3.5 to 230 minutes.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from rules.facts import Athlete, Race, Session, Threshold
from rules.limits import Limits

EXPONENT = 1.06
_DISTANCE_KM: dict[str, float] = {"5k": 5.0, "10k": 10.0, "half": 21.0975, "marathon": 42.195, "ultra_50k": 50.0}
_SLOWING = frozenset({"heat", "altitude", "hills", "unprepared_ground", "injury", "stage_race"})


def riegel_seconds(distance_km: float, seconds: float, other_km: float) -> float:
    """Time over another distance."""
    return float(seconds * (other_km / distance_km) ** EXPONENT)


def riegel_threshold(distance_km: float, seconds: float) -> float:
    """Speed, m/s, that the same athlete holds for one hour."""
    km_in_an_hour = distance_km * (3600.0 / seconds) ** (1 / EXPONENT)
    return float(km_in_an_hour / 3.6)


def choose(athlete: Athlete, sessions: Iterable[Session], before: datetime, limits: Limits) -> Threshold | None:
    """Roster, else the better of race results and of what the history shows, each only up to that moment.

    A result raced later rewrites no verdict of before; the roster's own pace has no date and holds for all of them.
    None where nothing is known: then only the session itself can tell.
    """
    if athlete.threshold_pace_s_per_km:
        return Threshold(1000.0 / athlete.threshold_pace_s_per_km, "roster", "high")
    raced = (_by_race(each) for each in athlete.races if each.finish <= before)
    race = max((speed for speed in raced if speed), default=None)
    shown = _by_history(sessions, before, limits)
    if race and (shown is None or race >= shown.speed_mps):
        return Threshold(race, "race result", "medium")
    return shown


def _by_race(race: Race) -> float | None:
    """Hour speed by a result that was all out, on honest ground and within the range of the formula."""
    distance = race.distance_km or _DISTANCE_KM.get(race.event)
    if distance is None or not race.result_seconds or race.effort != "all_out" or race.event.startswith("tri"):
        return None
    if _SLOWING & set(race.conditions) or not 210 <= race.result_seconds <= 13800:
        return None
    return riegel_threshold(distance, race.result_seconds)


def _by_history(sessions: Iterable[Session], before: datetime, limits: Limits) -> Threshold | None:
    """The fastest hour-equivalent; trusted only when it stands out from the usual run."""
    best, usual = 0.0, []
    for session in sessions:
        if session.end > before or session.digest.sport != "running":
            continue
        held = {
            s: v * (3600.0 / s) ** (1 / EXPONENT - 1) for s, v in session.digest.best_speed_mps.items() if s >= 1200
        }
        if not held:
            continue
        best = max(best, *held.values())
        if session.digest.running_m and session.digest.running_s:
            usual.append(session.digest.running_m / session.digest.running_s)
    if best == 0.0 or len(usual) < limits.threshold.least_runs:
        return None
    middle = sorted(usual)[len(usual) // 2]
    stands_out = best >= limits.threshold.stands_out * middle
    return Threshold(best, "history", "medium" if stands_out else "low")
