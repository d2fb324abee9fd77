"""`feels_too_good`: heart and mood are back while the stage still protects tendon and bone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from statistics import fmean, median

from rules import words
from rules.body.mornings import Baseline, recent
from rules.facts import CheckIn, Session
from rules.findings import Breach, Severity
from rules.limits import Limits


@dataclass(frozen=True, slots=True)
class HeartRecovery:
    """Mornings since the race and the normals they are held against."""

    resting: Mapping[date, float]
    resting_normal: Baseline | None
    ln_rmssd: Mapping[date, float]
    ln_rmssd_normal: Baseline | None
    easy_share: Mapping[date, float]  # heart rate per speed of easy runs since the race over the usual one


def feels_too_good(
    day: date, day0: date, stage: str, checkin: CheckIn | None, heart: HeartRecovery, limits: Limits
) -> Breach | None:
    """Whether heart and mood are back on a day on which tendon and bone are not."""
    if (
        stage not in {"days_off", "cross_training", "test_runs"}
        or checkin is None
        or not _mood_is_back(checkin, limits)
    ):
        return None
    said = _heart_is_back(day, day0, heart, limits)
    if not said:
        return None
    number = (day - day0).days
    text = words.findings.DAY_HEART_AND_MOOD.format(number=number)
    evidence = {"heart": said, "mood": checkin.mood, "energy": checkin.energy, "soreness": checkin.soreness}
    return Breach("feels_too_good", Severity.NOTE, text, float(number), None, words.findings.DAYS_SINCE_RACE, evidence)


def _mood_is_back(checkin: CheckIn, limits: Limits) -> bool:
    least = limits.feels_too_good.mood
    told = [value for value in (checkin.mood, checkin.energy) if value is not None]
    calm = checkin.soreness is None or checkin.soreness <= limits.feels_too_good.soreness
    unaided = checkin.stairs_unaided is not False and checkin.squat_unaided is not False
    return bool(told) and all(value >= least for value in told) and calm and unaided


def _heart_is_back(day: date, day0: date, heart: HeartRecovery, limits: Limits) -> dict[str, float]:
    """What the heart says, empty where it says nothing or anything but that it is back."""
    said: dict[str, float] = {}
    normal = heart.resting_normal
    if day in heart.resting and normal is not None and normal.enough:
        rise = heart.resting[day] - normal.middle
        if rise > limits.feels_too_good.resting_bpm:
            return {}
        said["resting_hr_over_usual_bpm"] = round(rise, 1)
    normal = heart.ln_rmssd_normal
    week = recent(dict(heart.ln_rmssd), day, day0, limits)
    if normal is not None and normal.enough and len(week) >= limits.hrv_down.values:
        under = normal.mean - fmean(week.values())
        if under > limits.hrv_down.worthwhile_sd * max(normal.spread, limits.hrv_down.least_sd):
            return {}
        said["ln_rmssd_over_usual"] = round(-under, 3)
    share = _latest_easy_share(day, heart, limits)
    if share is not None:
        if share > limits.feels_too_good.easy_hr_share:
            return {}
        said["easy_heart_rate_per_speed_of_usual"] = round(share, 3)
    return said


def _latest_easy_share(day: date, heart: HeartRecovery, limits: Limits) -> float | None:
    """Of the last easy run before the day, within a week."""
    first = day - timedelta(days=limits.feels_too_good.impact_days)
    known = [each for each in heart.easy_share if first <= each < day]
    return heart.easy_share[max(known)] if known else None


def easy_shares(before: Sequence[float], since: Mapping[date, float]) -> dict[date, float]:
    """Heart rate per speed of easy runs since the race as shares of the median of those before it."""
    usual = median(before) if before else 0.0
    return {day: value / usual for day, value in since.items()} if usual > 0 else {}


def impact_share(day: datetime, sessions: Sequence[Session], finish: datetime, limits: Limits) -> float | None:
    """Impact load of the last days as a share of the same span's mean in the six weeks before the race."""
    span = timedelta(days=limits.feels_too_good.impact_days)
    end, raced = day.astimezone(UTC), finish.astimezone(UTC)
    weeks = 6
    since = sum(session.digest.impact_load for session in sessions if max(raced, end - span) < session.start <= end)
    before = sum(
        session.digest.impact_load for session in sessions if raced - weeks * span <= session.start < raced - span
    )
    usual = before / (weeks - 1)
    return since / usual if usual > 0 else None
