"""What an athlete reads with breakfast: what today allows, what it does not, what the mornings say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from rules.body.checkins import see_a_doctor
from rules.exercise import has_running, sport_seconds
from rules.facts import Athlete, History, Session
from rules.findings import Severity
from rules.judge import Judgement
from rules.judgement.of_days import heart_side, plan_checkins
from rules.judgement.ordered import Ordered, in_order
from rules.judgement.settle import stops_among
from rules.limits import Limits
from rules.morning_words import morning_words
from rules.onramp import WeekSoFar, usual_week, week_so_far
from rules.plan import Allowance, Plan
from rules.plan.races import current_plan
from rules.session.threshold import choose
from rules.today_words import asked, caution_of, caution_today, forbidden, notes_of, sentences


@dataclass(frozen=True, slots=True)
class Today:
    """One day of one athlete. None where a limit does not exist or is not known; `sentences` say all of it."""

    athlete: str
    stage_ends: date | None
    date: date
    day: int | None
    stage: str | None
    next_stage: str | None
    allowed_min: int | None  # all sport but walking; 0 while only rest is allowed
    used_min: float  # of it, by today's sessions so far
    run_allowed_min: int | None
    running: str  # none, tolerated, test, share, free, or "rest day"
    rest_day_from_running: bool
    ceiling_bpm: int | None
    ceiling_estimated: bool
    effort: str
    pace_s_per_km: float | None  # not faster than this
    rest_until: datetime | None  # walking and mobility only until then
    stop_rest_until: datetime | None  # rest advised, and the next gate shut, after a stop for running or speed work
    not_allowed: tuple[str, ...]
    mornings: tuple[str, ...]
    week: WeekSoFar | None
    gates: tuple[str, ...]
    asks: tuple[str, ...]
    notes: tuple[str, ...]
    caution: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DayFacts:
    """The day in figures, before it is put into words."""

    plan: Plan
    now: datetime
    on: date
    stage: str
    allowed: Allowance
    rest_until: datetime | None
    stop_rest_until: datetime | None
    rest_day: bool
    tolerated_used: bool
    used_min: float
    week: WeekSoFar | None
    pace_s_per_km: float | None
    mornings: tuple[str, ...]
    gates: tuple[str, ...]
    asks: tuple[str, ...]
    run_walker: bool
    for_a_doctor: str  # what the latest check-in tells that a doctor should see; no training then

    @property
    def resting_all_day(self) -> bool:
        """Whether the hours after the finish take up all that is left of the day."""
        return self.rest_until is not None and self.rest_until.date() > self.on


def today(judgement: Judgement, history: History, now: datetime, limits: Limits) -> Today:
    """The day of `now` in the athlete's timezone, by the plan that rules it."""
    return today_by(judgement, in_order(history, limits), now, limits)


def today_by(judgement: Judgement, facts: Ordered, now: datetime, limits: Limits) -> Today:
    """The same, by facts already in order."""
    on = facts.athlete.local_date(now)
    plan = current_plan(judgement.plans, now)
    if plan is None:
        return _without_plan(facts.athlete, on)
    figures = day_facts(judgement, plan, facts, now, limits)
    allowed, active = figures.allowed, figures.stage not in {"before", "done"}
    row = plan.planned_stage(on) if active else None
    return Today(
        athlete=facts.athlete.id,
        date=on,
        day=plan.day_of(on),
        stage=figures.stage,
        stage_ends=row.last_date if row else None,
        next_stage=_next(plan, row.last_date + timedelta(days=1)) if row else None,
        allowed_min=0 if figures.resting_all_day or figures.for_a_doctor else allowed.day_cap_min,
        used_min=round(figures.used_min, 1),
        run_allowed_min=_run_minutes(figures),
        running=_running_word(figures),
        rest_day_from_running=figures.rest_day,
        ceiling_bpm=allowed.ceiling.bpm if allowed.ceiling else None,
        ceiling_estimated=bool(allowed.ceiling and allowed.ceiling.estimated),
        effort=allowed.effort,
        pace_s_per_km=figures.pace_s_per_km,
        rest_until=figures.rest_until,
        stop_rest_until=figures.stop_rest_until,
        not_allowed=forbidden(figures),
        mornings=figures.mornings,
        week=figures.week,
        gates=figures.gates,
        asks=figures.asks,
        notes=notes_of(figures),
        caution=caution_today(figures) if active else caution_of(figures.stage, 0),
        sentences=sentences(figures, judgement),
    )


def _running_word(day: DayFacts) -> str:
    if day.rest_day:
        return "rest day"
    return "none" if day.tolerated_used else day.allowed.running


def _run_minutes(day: DayFacts) -> int | None:
    """The longest run today; 0 where there is to be none, None where no length is set."""
    if day.for_a_doctor or _running_word(day) in {"none", "rest day"}:
        return 0
    return day.allowed.run_cap_min or day.allowed.tolerated_run_min


def day_facts(judgement: Judgement, plan: Plan, facts: Ordered, now: datetime, limits: Limits) -> DayFacts:
    """What the day comes to."""
    on = facts.athlete.local_date(now)
    stage = plan.stage_at(now)
    allowed = plan.allowance_on(on) if stage != "before" else plan.allowance_on(plan.day0 - timedelta(days=1))
    since = [each for each in facts.sessions if each.start >= plan.begins and each.key not in facts.races]
    since = [each for each in since if each.start <= now]
    runs = [each for each in since if has_running(each, limits)]
    todays = [each for each in since if facts.days[each.key] == on]
    active = stage not in {"before", "done"}
    rest_until = plan.begins + timedelta(hours=limits.number("rest_hours.caution_hours"))
    return DayFacts(
        plan=plan,
        now=now,
        on=on,
        stage=stage,
        allowed=allowed,
        rest_until=rest_until.astimezone(facts.athlete.zone) if active and now < rest_until else None,
        stop_rest_until=_stop_rest(judgement, plan, now, limits) if active else None,
        rest_day=allowed.rest_day_between_runs and _ran_the_day_before(runs, facts, on),
        tolerated_used=_tolerated_used(runs, plan, facts, allowed),
        used_min=sum(sport_seconds(each, limits) for each in todays) / 60,
        week=week_so_far(runs, allowed, plan, usual_week(facts.sessions, plan, limits), limits) if active else None,
        pace_s_per_km=_easy_pace(facts, plan, allowed, limits) if active else None,
        mornings=_mornings(facts, plan, on, limits) if active else (),
        gates=asked(judgement.plans, on, reasons=True),
        asks=asked(judgement.plans, on, reasons=False),
        run_walker=active and is_run_walker(facts, plan, limits),
        for_a_doctor=_for_a_doctor(facts, plan, on, limits) if active else "",
    )


def _for_a_doctor(facts: Ordered, plan: Plan, on: date, limits: Limits) -> str:
    """What the latest check-in of these days tells of, where that is on the list of signs for a doctor."""
    oldest = on - timedelta(days=limits.whole("today.morning_days") - 1)
    checkins = plan_checkins(facts, plan)
    latest = max((day for day in checkins if oldest <= day <= on), default=None)
    found = see_a_doctor(checkins[latest], plan.day_of(latest)) if latest is not None else None
    return found.summary if found is not None and found.severity is Severity.STOP else ""


def is_run_walker(facts: Ordered, plan: Plan, limits: Limits) -> bool:
    """Whether most runs before the race had walking in them."""
    before = [each.digest for each in facts.sessions if each.digest.sport == "running" and each.start < plan.begins]
    share = limits.number("today.run_walk_share")
    walked = [each for each in before if each.running_s and each.walking_s >= share * (each.walking_s + each.running_s)]
    return len(walked) * 2 > len(before)


def _stop_rest(judgement: Judgement, plan: Plan, now: datetime, limits: Limits) -> datetime | None:
    """Local end of the rest after the latest stop of the plan, while it lasts."""
    ends = [stop.end for stop in stops_among(judgement.findings) if plan.begins <= stop.end <= now]
    until = max(ends, default=plan.begins) + timedelta(hours=limits.number("gates.stop_hours"))
    return until.astimezone(plan.athlete.zone) if ends and now < until else None


def _mornings(facts: Ordered, plan: Plan, on: date, limits: Limits) -> tuple[str, ...]:
    return morning_words(
        on, plan.day0, heart_side(facts, plan, limits), plan_checkins(facts, plan), facts.asleep, limits
    )


def _ran_the_day_before(runs: list[Session], facts: Ordered, on: date) -> bool:
    return any(facts.days[run.key] in {on, on - timedelta(days=1)} for run in runs)


def _tolerated_used(runs: list[Session], plan: Plan, facts: Ordered, allowed: Allowance) -> bool:
    """Whether the one short run of the end of cross-training has been run."""
    days = (plan.allowance_on(facts.days[run.key]) for run in runs)
    return allowed.running == "tolerated" and any(day.running == "tolerated" for day in days)


def _easy_pace(facts: Ordered, plan: Plan, allowed: Allowance, limits: Limits) -> float | None:
    """Seconds a kilometre that an easy run is not faster than, where running is allowed and a threshold known."""
    if allowed.running == "none" or allowed.ceiling_open:
        return None
    threshold = choose(facts.athlete, facts.sessions, plan.race.finish, limits)
    if threshold is None:
        return None
    return round(1000 / (threshold.speed_mps * limits.number("today.easy_speed_share")))


def _next(plan: Plan, on: date) -> str:
    return plan.stage_on(on)


def _without_plan(athlete: Athlete, on: date) -> Today:
    said = ("No race is in the roster: nothing is limited.",)
    return Today(
        athlete.id, None, on, None, None, None, None, 0.0, None, "free", False, None, False, "", None, None, None, (),
        (), None, (), (), (), "", said,
    )  # fmt: skip
