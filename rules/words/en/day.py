"""The decision of a day in words: the same on every surface, what to do now first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from rules.catalogue import class_advice
from rules.day.decision import ATHLETE, Audience, Clock, Decision, day_and_clock, is_young
from rules.day.reasons import Reason
from rules.limits import Limits
from rules.words import texts
from rules.words.en.amounts import listed, weekday

# What a sports physician would remark on a day of this athlete: questions and whom to ask, never a diagnosis. They
# come from the roster's `health`, `gave_birth` and `born`, and change no limit. They are shown on this machine and go
# into no message.


def remarks(decision: Decision, limits: Limits) -> tuple[str, ...]:
    """Remarks on the athlete's health that touch this day, in full sentences."""
    if not decision.active or decision.allowance is None:
        return ()
    words, athlete = texts("today")["remark"], decision.athlete
    effort = decision.allowance.effort or limits.zones.effort_by_feel[1]
    found = [
        words[key].format(effort=effort)
        for key in ("beta_blocker", "pacemaker", "insulin", "nsaid", "low_energy")
        if key in athlete.health
    ]
    if any(flag.numbers["flag"] == "bone" for flag in decision.flags) and "low_energy" not in athlete.health:
        found.append(words["low_energy"])
    if is_young(athlete, decision.date.year, limits):
        found.append(words["under_18"])
    if athlete.gave_birth is not None:
        weeks = (decision.date - athlete.gave_birth).days // 7
        if 0 <= weeks < limits.remarks.weeks_after_a_birth:
            found.append(words["gave_birth"].format(weeks=weeks))
    return tuple(found)


ENDS_WITH = "It ends with "
CHECK_IN = "a check-in with "
CLASS_ANSWERS = {
    "emergency": "call for help now",
    "heat": "cool first, call for help now",
    "head": "no sport, to a doctor today",
    "same_day": "no training, to a doctor today",
    "before_sport": "no training",
}


REASON_WORDS = {
    "red_flag": 'Told on {on}: {name} ("{told}")',
    "rest_hours": "{hours:g} h of rest after the finish",
    "pain": "Pain {value:g} of 10 on {on}",
    "stairs": "Stairs not managed unaided on {on}",
    "squat": "Squat not managed unaided on {on}",
    "resting_hr": "Resting heart rate {value:g} on {on}, up two mornings running",
    "hrv": "Heart-rate variability has lately been far lower than chance explains",
    "time_used": "The day's {cap} min are used up",
    "rest_day": "A rest day from running: {who} ran on {ran_on}",
    "week_share": "This week's share of running is used up: {done} of {allowed} min",
    "tolerated_used": "The one short run that the stage tolerates has been run",
}


STOP_WORDS = {
    "no_running": "a run",
    "no_speed_work": "fast running",
    "duration_cap": "a day far over its time",
    "intensity_ceiling": "a session far over the ceiling",
    "no_strength": "strength work",
    "rest_hours": "sport so soon after the race",
    "stairs_test": "training on legs that do not manage stairs",
}


ELSEWHERE = "Why, and what ends it, is in the messages"


def answer(decision: Decision, clock: Clock = day_and_clock, *, body: bool = True) -> str:
    """The day in one short phrase, for titles and tables: "walking only until Tue 11:58", "45 min easy, no running".

    Without `body` nothing in it tells of the athlete's body.
    """
    if not decision.active:
        return "nothing is limited"
    if decision.flags:
        first = decision.flags[0].numbers
        if not body:
            return "no training"
        return f"{CLASS_ANSWERS[first['class']]}: {first['name']}"
    if not decision.sport:
        return f"walking only {_how_long(decision, clock, body=body)}"
    return f"{_time(decision)}, {_running(decision)}"


def _how_long(decision: Decision, clock: Clock, *, body: bool) -> str:
    """Until when there is walking only."""
    against = [reason for reason in decision.reasons if reason.forbids == "sport"]
    clocked = [reason.until for reason in against if reason.until is not None]
    open_ended = [reason for reason in against if reason.until is None]
    if not open_ended:
        until = max(clocked)
        return "for the rest of today" if _is_midnight(until, decision.date) else f"until {clock(until)}"
    if body and any(reason.ends == "check-in" for reason in open_ended):
        return "until a check-in says it is better"
    later = [moment for moment in clocked if moment.date() > decision.date]
    return f"at least until {clock(max(later))}" if later else "today"


def _is_midnight(until: datetime, on: date) -> bool:
    return until.date() == on + timedelta(days=1) and (until.hour, until.minute) == (0, 0)


def _time(decision: Decision) -> str:
    allowed, left = decision.allowance, decision.left_min
    easy = "" if allowed is None or allowed.ceiling_open else " easy"
    if left is None or decision.allowed_min is None:
        return f"no cap on time,{easy}" if easy else "no cap on time"
    return f"{left} of {decision.allowed_min} min left,{easy}" if decision.used_min >= 1 else f"{left} min{easy}"


def _running(decision: Decision) -> str:
    most = decision.run_allowed_min
    if decision.week is not None and decision.week_left_min == 0:
        return f"no running: 0 of {decision.week.allowed or 0:.0f} min of the week's running left"
    if not decision.runs:
        return "a rest day from running" if decision.running == "rest day" else "no running"
    if decision.running == "tolerated":
        return f"at most one run of {most} min"
    if decision.running == "test":
        return f"a run of up to {most} min"
    if decision.week is not None and decision.week.allowed is not None:
        return f"{decision.week_left_min} of {decision.week.allowed:.0f} min of the week's running left"
    return "running by the week's share"


def now_words(decision: Decision, audience: Audience = ATHLETE) -> tuple[str, ...]:
    """What to do now, then why, then what ends it; whole sentences. Nothing for a day that nothing limits."""
    if not decision.active:
        return ()
    if decision.flags and audience.body:
        return _flag_words(decision, audience)
    head = _capital(answer(decision, audience.clock, body=audience.body))
    if decision.sport:
        return (f"{head}.", *(f"{reason_words(reason, audience)}." for reason in decision.reasons))
    reasons = [reason for reason in decision.reasons if audience.body or not reason.of_the_body]
    why = [f"{reason_words(reason, audience)}." for reason in reasons if reason.forbids != "running"]
    said = [f"{head}: {why[0][:1].lower()}{why[0][1:]}", *why[1:]] if why else [f"{head}."]
    if decision.ends_today:
        said.append(f"After that: {after_words(decision)}.")
    said += ending_words(reasons, audience)
    if len(reasons) < len(decision.reasons):
        said.append(f"{ELSEWHERE}.")
    return tuple(dict.fromkeys(said))


def _flag_words(decision: Decision, audience: Audience) -> tuple[str, ...]:
    """The gravest class's advice, what was told, what answers it."""
    gravest = decision.flags[0]
    told = [f"{reason_words(flag, audience)}." for flag in decision.flags]
    advice = class_advice(gravest.numbers["class"], audience.role)
    return (*advice, *told, f"{ends_words(gravest, audience)}.")


def after_words(decision: Decision) -> str:
    """What the stage has for what is left of the day after the rest; the stage's own, without the rest."""
    allowed = decision.allowance
    if allowed is None or allowed.day_cap_min is None:
        return "no cap on time, no running today"
    left = max(0, int(allowed.day_cap_min - decision.used_min + 0.5))
    return f"up to {left} min easy, no running today" if left else "walks"


def reason_words(reason: Reason, audience: Audience = ATHLETE) -> str:
    """One reason as a sentence without its full stop."""
    numbers = reason.numbers
    if reason.kind == "stop":
        hours = f"{numbers['hours']:g} h of rest" if "hours" in numbers else "Rest"
        what = STOP_WORDS.get(str(numbers["rule"]), "a stop")
        return f"{hours} after {what} on {_of_iso(numbers['on'])}"
    said = {key: _of_iso(value) if key in {"on", "ran_on"} else value for key, value in numbers.items()}
    who = "the athlete" if audience.role == "coach" else "you"
    return REASON_WORDS[reason.kind].format(**{**said, "who": who})


def _of_iso(day: str) -> str:
    return weekday(date.fromisoformat(day))


def ends_words(reason: Reason, audience: Audience = ATHLETE) -> str:
    """What ends a reason, as a sentence without its full stop."""
    coach, alone = audience.role == "coach", not audience.coached
    match reason.ends:
        case "clock":
            return f"It ends {audience.clock(reason.until)}" if reason.until else "It ends by itself"
        case "answer":
            release = "your release" if coach else "a release" if alone else "your coach's release"
            return f"This stands until a check-in says it is gone or that a doctor has looked at it, or until {release}"
        case "check-in":
            better = {
                "pain": f"{CHECK_IN}pain under {reason.numbers.get('least', 4):g} of 10",
                "stairs": f"{CHECK_IN}the stairs managed unaided",
                "squat": f"{CHECK_IN}a squat managed unaided",
            }
            return f"{ENDS_WITH}{better.get(reason.kind, 'a new check-in')}"
        case "morning":
            what = "resting heart rate" if reason.kind == "resting_hr" else "heart-rate variability"
            return f"{ENDS_WITH}a new {what} in the morning that is not so"


def ending_words(reasons: Iterable[Reason], audience: Audience = ATHLETE) -> list[str]:
    """What ends those reasons that no clock ends, in as few sentences as will do: a check-in can answer several."""
    told = list(dict.fromkeys(ends_words(reason, audience) for reason in reasons if reason.until is None))
    others = [f"{text}." for text in told if not text.startswith(ENDS_WITH)]
    what = [text.removeprefix(ENDS_WITH) for text in told if text.startswith(ENDS_WITH)]
    answers = [text.removeprefix(CHECK_IN) for text in what if text.startswith(CHECK_IN)]
    needed = [f"{CHECK_IN}{listed(answers)}"] if answers else []
    needed += [text for text in what if not text.startswith(CHECK_IN)]
    return [*([f"{ENDS_WITH}{', and with '.join(needed)}."] if needed else []), *others]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
