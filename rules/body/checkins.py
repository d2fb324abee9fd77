"""`stairs_test`, `pain`, `see_a_doctor`, `feels_too_good`: what the athlete says of the body, and leaves out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from itertools import pairwise
from statistics import fmean, median

from rules.body.mornings import Baseline, recent
from rules.body.red_flags import RedFlag, Sign, signs_in, unclear_in, understood
from rules.facts import CheckIn, Hold, Session
from rules.findings import Breach, Said, Severity, say
from rules.limits import Limits

ANSWERS = ("stairs_unaided", "squat_unaided", "soreness", "pain", "pain_where", "energy", "mood", "note", "source")

NOTHING_NAMED = frozenset({"", "n", "no", "none", "nothing", "nope", "n/a", "na", "0", "false"})


def since_race(checkin: CheckIn, finish: datetime, day0: date) -> bool:
    """Whether a check-in tells of the body after the finish; on the day of the race its time decides."""
    return checkin.date > day0 or (checkin.date == day0 and checkin.order >= finish.timestamp())


def in_time(checkins: Iterable[CheckIn]) -> list[CheckIn]:
    """By date and order within it; of two at the same moment the one with the worse news is the later."""
    return sorted(checkins, key=_moment)


def _moment(checkin: CheckIn) -> tuple[date, float, float, bool, bool, str]:
    bad_stairs, bad_squat = checkin.stairs_unaided is False, checkin.squat_unaided is False
    return checkin.date, checkin.order, checkin.pain or 0.0, bad_stairs, bad_squat, checkin.source or ""


def by_day(checkins: Iterable[CheckIn]) -> dict[date, CheckIn]:
    """One check-in a date: each answer the latest given on that day, symptoms all that were named."""
    found: dict[date, CheckIn] = {}
    for checkin in in_time(checkins):
        before = found.get(checkin.date)
        if before is None:
            found[checkin.date] = checkin
            continue
        latest = {name: getattr(checkin, name) for name in ANSWERS if getattr(checkin, name) is not None}
        symptoms = tuple(dict.fromkeys((*before.symptoms, *checkin.symptoms)))
        found[checkin.date] = replace(before, **latest, symptoms=symptoms, order=checkin.order)
    return found


def stairs_test(checkin: CheckIn, training: Sequence[Session], limits: Limits) -> Breach | None:
    """Stairs or squat not managed unaided; a stop with training on that day."""
    del limits
    asked = (("stairs", checkin.stairs_unaided), ("a squat", checkin.squat_unaided))
    failed = [name for name, managed in asked if managed is False]
    if not failed:
        return None
    evidence: dict[str, object] = {"failed": failed}
    if not training:
        return Breach("stairs_test", Severity.CAUTION, say("not_managed", failed=failed), evidence=evidence)
    evidence["training"] = [{"session": session.key, "sport": session.digest.sport} for session in training]
    sports = list(dict.fromkeys(session.digest.sport for session in training))
    text = say("not_managed_and_training", failed=failed, sports=sports)
    return Breach("stairs_test", Severity.STOP, text, evidence=evidence)


def pain(until: Sequence[CheckIn], limits: Limits) -> Breach | None:
    """Pain of 4 and more, or grown over three check-ins; `until` are those of the plan up to the one judged."""
    told = [checkin for checkin in until if checkin.pain is not None]
    if not told or told[-1] is not until[-1]:
        return None
    values = [checkin.pain or 0.0 for checkin in told[-limits.pain.growing_checkins :]]
    least = limits.pain.least
    growing = len(values) == limits.pain.growing_checkins and all(a < b for a, b in pairwise(values))
    latest = values[-1]
    if latest < least and not growing:
        return None
    where = say("pain_where", where=told[-1].pain_where) if told[-1].pain_where else ""
    grown = say("pain_grown", values=values) if growing else ""
    changes = say("pain_changes_day", least=least) if latest >= least else ""
    text = say("pain", pain=latest, where=where, grown=grown, changes=changes)
    evidence = {"pain": {checkin.date.isoformat(): checkin.pain for checkin in told[-3:]}, "where": told[-1].pain_where}
    return Breach("pain", Severity.CAUTION, text, latest, least, "of 10", {**evidence, "growing": growing})


def not_understood(checkin: CheckIn) -> tuple[str, ...]:
    """What was named and no red flag has words for: other complaints, or other languages than the list's English."""
    named = [symptom for symptom in checkin.symptoms if symptom.strip(" .-!").casefold() not in NOTHING_NAMED]
    return (*(complaint for complaint in named if not understood(complaint)), *unclear_in(checkin.note or ""))


def flags_reported(checkin: CheckIn, day: int) -> list[tuple[RedFlag, str]]:
    """Red flags in the symptoms, the note, or where the pain is said to be, each with the clause that tells it."""
    return [(sign.flag, sign.text) for sign in signs_named(checkin, day) if sign.standing == "told"]


def signs_named(checkin: CheckIn, day: int) -> list[Sign]:
    """Red flags that a check-in names, told, in doubt or denied."""
    return signs_in((*checkin.symptoms, *(text for text in (checkin.note, checkin.pain_where) if text)), day)


def see_a_doctor(checkin: CheckIn, day: int) -> Breach | None:
    """A sign of the red-flag list: a stop where it is told, a question where it is in doubt."""
    signs = signs_named(checkin, day)
    told = [sign for sign in signs if sign.standing == "told"]
    doubtful = [sign for sign in signs if sign.standing == "doubtful"]
    evidence = {
        "flags": [_sign_evidence(sign) for sign in told],
        "questions": [_sign_evidence(sign) for sign in doubtful],
        "assumed": [say("compared_with_list")],
    }
    if told:
        text = say("flags_told", flags=[sign.flag.id for sign in told])
        return Breach("see_a_doctor", Severity.STOP, text, evidence=evidence)
    if doubtful:
        text = say("flags_doubtful", written=list(dict.fromkeys(sign.text for sign in doubtful)))
        return Breach("see_a_doctor", Severity.CAUTION, text, evidence=evidence)
    return None


def _sign_evidence(sign: Sign) -> dict[str, Said]:
    flag = sign.flag
    return {
        "flag": flag.id,
        "told": sign.text,
        "say": say("flag_says", flag=flag.id),
        "urgency": flag.urgency,
        "class": flag.klass,
        "source": flag.source,
    }


# Red flags that stand: from the check-in that tells of one until somebody answers it. Time alone answers nothing. A
# flag is answered by a later check-in that says it is gone or that a doctor has looked at it, or by a release of the
# coach. A later check-in that says nothing of it changes nothing.

EVERYTHING = frozenset({"all", "everything", "all of it", "it", "yes", "true"})
"""Answers to "what is gone?" that name no single symptom."""


@dataclass(frozen=True, slots=True)
class FlagSpan:
    """One red flag from its first telling to its answer. Moments are seconds since 1970, `ended` None: it stands."""

    flag: RedFlag
    told: str  # the athlete's words
    day: date  # of the first telling
    since: float
    last_day: date  # of the latest telling
    ended: float | None = None
    ended_day: date | None = None
    answer: str = ""  # gone, doctor or release

    def stands_on(self, day: date) -> bool:
        """By what was known at the end of a day."""
        return self.day <= day and (self.ended_day is None or self.ended_day > day)

    def stands_at(self, moment: float) -> bool:
        """By what was known at a moment."""
        return self.since <= moment and (self.ended is None or self.ended > moment)


def flag_spans(checkins: Iterable[CheckIn], releases: Sequence[Hold], day0: date) -> tuple[FlagSpan, ...]:
    """Every red flag told in check-ins, with when and by what it was answered, in order of the first telling."""
    standing: dict[str, FlagSpan] = {}
    ended: list[FlagSpan] = []
    events: list[tuple[float, int, CheckIn | Hold]] = [
        *((checkin.order, 0, checkin) for checkin in in_time(checkins)),
        *((release.at.timestamp(), 1, release) for release in releases),
    ]
    for moment, _, event in sorted(events, key=lambda item: item[:2]):
        if isinstance(event, Hold):
            answered = {name: "release" for name, span in standing.items() if span.last_day <= event.on}
            when = event.on
        else:
            answered, when = _answered(event, standing), event.date
        for name, answer in answered.items():
            ended.append(replace(standing.pop(name), ended=moment, ended_day=when, answer=answer))
        if isinstance(event, CheckIn):
            for flag, clause in flags_reported(event, (event.date - day0).days):
                before = standing.get(flag.id)
                standing[flag.id] = (
                    replace(before, last_day=event.date)
                    if before
                    else FlagSpan(flag, clause, event.date, event.order, event.date)
                )
    return tuple(sorted([*ended, *standing.values()], key=lambda span: (span.since, span.flag.id)))


def _answered(checkin: CheckIn, standing: dict[str, FlagSpan]) -> dict[str, str]:
    """Names of standing flags that a check-in answers, with how."""
    answers = {name: answered_by(checkin, span) for name, span in standing.items()}
    return {name: answer for name, answer in answers.items() if answer}


def answered_by(checkin: CheckIn, span: FlagSpan) -> str:
    """How a later check-in answers a flag: doctor or gone; empty where it does not."""
    if checkin.seen_doctor:
        return "doctor"
    return "gone" if any(names(text, span) for text in checkin.gone) else ""


def names(text: str, span: FlagSpan) -> bool:
    """Whether a text names this flag: by its own words, by the athlete's, or as one of all."""
    plain, told = text.strip(" .!").casefold(), span.told.strip(" .!").casefold()
    return plain in EVERYTHING | {span.flag.id, span.flag.name.casefold(), told} or span.flag.id in flag_ids(text)


@lru_cache(maxsize=4096)
def flag_ids(text: str) -> frozenset[str]:
    """Ids of the red flags that a text names, be it told or denied."""
    return frozenset(sign.flag.id for sign in signs_in((text,), 0))


# `feels_too_good`: heart and mood are back while the stage still protects tendon and bone.


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
    text = say("feels_too_good", day=number)
    evidence = {"heart": said, "mood": checkin.mood, "energy": checkin.energy, "soreness": checkin.soreness}
    return Breach("feels_too_good", Severity.NOTE, text, float(number), None, say("unit_days_since_race"), evidence)


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
    known = [date_of_run for date_of_run in heart.easy_share if first <= date_of_run < day]
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
