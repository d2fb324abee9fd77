"""What the rules judge: athletes, races, sessions, nights, mornings and check-ins as plain frozen values.

Datetimes are aware and in UTC unless a field says otherwise. Dates are local to the athlete.
Missing values are None. Nothing here reads a file or a clock.
"""

from __future__ import annotations

import datetime as dt  # a field named date hides the type of that name
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Literal
from zoneinfo import ZoneInfo

from rules.findings import Said
from rules.limits import Limits

IntensityModel = Literal["hrmax", "hrr", "threshold", "fixed"]
Effort = Literal["all_out", "controlled"]
Sex = Literal["female", "male"]

HEALTH: tuple[str, ...] = (
    "beta_blocker",
    "pacemaker",
    "insulin",
    "nsaid",  # painkillers such as ibuprofen, diclofenac, naproxen
    "under_18",
    "low_energy",  # low energy availability: eating less than training takes
)
"""What an athlete may tell of health in the roster; it changes remarks and never a limit."""

SAMPLE_COLUMNS: tuple[str, ...] = (
    "t_s",  # seconds since the recording began, elapsed (pauses included), never falling
    "hr_bpm",
    "speed_mps",
    "cadence_spm",  # steps a minute on foot, turns or strokes a minute elsewhere
    "distance_m",  # since the beginning
    "altitude_m",
    "lat_deg",
    "lon_deg",
    "power_w",
    "temperature_c",
)
"""Columns of a table of samples, all float64; null (NaN in numpy) where the device said nothing."""


@dataclass(frozen=True, slots=True)
class Race:
    """The event the athlete recovers from."""

    event: str  # a key of the length table, or "custom"
    finish: datetime  # aware, in the athlete's timezone
    distance_km: float | None = None
    result_seconds: int | None = None
    taper_days: int | None = None
    conditions: tuple[str, ...] = ()
    effort: Effort = "all_out"


@dataclass(frozen=True, slots=True)
class Athlete:
    """What the roster says of one athlete, as far as judging needs it."""

    id: str
    timezone: str
    name: str = ""
    born: int | None = None
    sex: Sex | None = None
    hr_max: int | None = None
    hr_rest: int | None = None
    threshold_hr: int | None = None
    threshold_pace_s_per_km: float | None = None
    intensity_model: IntensityModel = "hrmax"
    ceiling_zone1: int | None = None  # bpm, only for the model "fixed"
    ceiling_zone2: int | None = None
    races: tuple[Race, ...] = ()  # by finish
    coached: bool = True  # a coach is among the contacts; without one no text speaks of a coach
    health: tuple[str, ...] = ()  # of HEALTH, only for remarks and questions
    gave_birth: dt.date | None = None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.timezone)

    def local_date(self, moment: datetime) -> date:
        """Calendar day of a moment in the athlete's timezone."""
        return moment.astimezone(self.zone).date()


@dataclass(frozen=True, slots=True)
class Digest:
    """One session measured, made once from its cleaned samples; free of any athlete's limits.

    `sport` is the sport as judged: running, walking, cycling, swimming, rowing, elliptical, skiing, strength,
    mobility, yoga, other, unknown, transport (the watch was left on in a vehicle).
    """

    sport: str
    sport_reason: Said = ""
    running_s: float = 0.0  # seconds of running in it, whatever the label
    running_m: float | None = None  # metres covered running
    walking_s: float = 0.0
    hr_known_s: float = 0.0
    hr_masked_s: float = 0.0  # recorded, but not believed
    speed_known_s: float = 0.0
    speed_masked_s: float = 0.0
    hr_seconds: dict[int, float] = field(default_factory=dict)  # whole bpm -> seconds, cleaned
    best_speed_mps: dict[int, float] = field(default_factory=dict)  # seconds -> best mean grade-adjusted speed so long
    steps: float = 0.0
    impact_load: float = 0.0  # steps x peak force in body weights
    ascent_m: float | None = None
    descent_m: float | None = None
    altitude_median_m: float | None = None
    temperature_median_c: float | None = None
    easy_hr_per_mps: float | None = None  # heart rate per m/s on level easy running
    drift: float | None = None  # second half over first half of heart rate per speed, 1.0 = none
    notes: dict[str, Any] = field(default_factory=dict)  # what was masked and why, for the evidence


@dataclass(frozen=True, slots=True)
class Session:
    """One activity of one sport, after the recordings of it were made one."""

    key: str  # identity in time: UTC start of its earliest recording, never a file name
    start: datetime
    end: datetime
    sport: str  # label: the FIT word, lower case ("running", "walking", "cycling", "training", "generic", ...)
    sub_sport: str
    timer_s: float  # moving (timer) time
    elapsed_s: float
    distance_m: float | None
    source: str | None  # path of the best recording, relative to the athlete's folder
    digest: Digest
    version: str = ""  # changes when other recordings stand for it
    utc_offset_s: int | None = None  # as the device said
    pauses: tuple[tuple[float, float], ...] = ()  # (from_s, to_s) on the samples' clock, timer stopped
    lap_marks_s: tuple[float, ...] = ()  # on the same clock: where a lap was pressed, or a step of a workout ended
    barometer: bool | None = None  # whether the device names one among its sensors; None where it names none at all


@dataclass(frozen=True, slots=True)
class Night:
    date: dt.date  # local day of waking
    bedtime: datetime | None = None
    wake: datetime | None = None
    total_sleep_min: float | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Morning:
    date: dt.date
    resting_hr: float | None = None
    rmssd_ms: float | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class CheckIn:
    """What the athlete says of the body; scales 0-10.

    `gone` names symptoms told before that are no longer there ("all": every one); `seen_doctor` is who looked at them.
    """

    date: dt.date
    order: float  # later check-ins of one day have a higher one (seconds since 1970)
    stairs_unaided: bool | None = None
    squat_unaided: bool | None = None
    soreness: float | None = None
    pain: float | None = None
    pain_where: str | None = None
    energy: float | None = None
    mood: float | None = None
    symptoms: tuple[str, ...] = ()
    note: str | None = None
    source: str | None = None
    gone: tuple[str, ...] = ()
    seen_doctor: str | None = None


@dataclass(frozen=True, slots=True)
class Hold:
    """The coach's override: hold the stage from `on` for `days` (None: until released), or release it."""

    kind: Literal["hold", "release"]
    on: date
    at: datetime
    days: int | None = None
    why: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """All that is known of one athlete, in any order."""

    athlete: Athlete
    sessions: tuple[Session, ...] = ()
    nights: tuple[Night, ...] = ()
    mornings: tuple[Morning, ...] = ()
    checkins: tuple[CheckIn, ...] = ()
    holds: tuple[Hold, ...] = ()
    last_file_at: datetime | None = None
    watched_since: datetime | None = None  # when the folder was first looked at; nobody is silent before


@dataclass(frozen=True, slots=True)
class Threshold:
    """The speed held for about an hour, and how well it is known."""

    speed_mps: float
    basis: Literal["roster", "race result", "history", "session"]
    confidence: Literal["high", "medium", "low"]
    instead_of_mps: float | None = None  # the roster's, which a race or the history shows to be too slow


@dataclass(frozen=True, slots=True)
class Ceiling:
    """Highest heart rate still allowed; above it means more than `bpm`."""

    bpm: int
    zone: int  # 1 or 2
    reason: Said = field(hash=False)  # names the scale and the source
    estimated: bool = False


@dataclass(frozen=True, slots=True)
class SampleContext:
    """What judging one session by its samples depends on; everything else about the athlete is irrelevant to it."""

    ceiling: Ceiling | None
    speed_work: Literal["none", "strides", "free"]
    easy_ground: bool
    threshold: Threshold | None
    highest_bpm: float | None = None  # what this athlete's heart can be believed to do; more is the sensor's


# The speed held for about an hour, from the best that is known of an athlete. Riegel 1981 (Am Sci 69:285):
# T2 = T1 (D2 / D1)^1.06, for efforts of about 3.5 to 230 minutes.

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


def threshold_of(athlete: Athlete, sessions: Iterable[Session], before: datetime, limits: Limits) -> Threshold | None:
    """Roster, else the better of race results and of what the history shows, each only up to that moment.

    A result raced later rewrites no verdict of before; the roster's own pace has no date and holds for all of them,
    unless a race or two sessions before show that it is too slow. None where nothing is known: then only the session
    itself can tell.
    """
    sessions = tuple(sessions)
    raced = (_by_race(result, limits) for result in athlete.races if result.finish <= before)
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
