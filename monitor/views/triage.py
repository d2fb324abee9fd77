"""Who needs a word first, why, and what to do: one sentence each, the same on the board and in `status`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from typing import Any, Literal

from monitor import words
from monitor.judging import View
from monitor.plain_text import number, rule_place, sentence, spoken
from rules import catalogue
from rules.day import Decision
from rules.facts import CheckIn, Hold
from rules.findings import Finding, Severity
from rules.limits import Limits
from rules.plan import Plan
from rules.words import amounts, said

# Where an athlete stands, in a few words each: the day, what comes next and when at the earliest, body, files.

ONE = timedelta(days=1)


def where_words(plan: Plan | None, now: datetime) -> str:
    """ "day 20 of 32, test runs"."""
    if plan is None:
        return "no plan"
    stage = plan.stage_at(now)
    number_of_day = plan.day_of(plan.athlete.local_date(now))
    if stage == "before":
        return (
            f"{words.shared.race_name(plan.race)} in {amounts.counted(-number_of_day, 'day')}"
            if number_of_day < 0
            else "race today"
        )
    if stage == "done":
        return f"done after {amounts.counted(plan.last_day, 'day')}"
    return f"day {number_of_day} of {plan.last_day}, {words.shared.stage_words(stage)}"


def next_words(plan: Plan | None, now: datetime) -> str:
    """ "test runs from Sun 18 Oct"; while the gate is shut, that it waits and the earliest day by what is known."""
    following = next_stage(plan, now)
    if following is None:
        return ""
    stage, first, waits = following
    if waits:
        return words.status.STAGE_AT_THE_EARLIEST.format(
            stage=words.shared.wait_words(stage), first=amounts.weekday(first)
        )
    return f"{words.shared.gate_words(stage)} from {amounts.weekday(first)}"


def next_stage(plan: Plan | None, now: datetime) -> tuple[str, date, bool] | None:
    """The stage after the one of now, the earliest day of it, and whether its gate is shut; None outside a plan."""
    if plan is None or plan.stage_at(now) in ("before", "done"):
        return None
    current = plan.planned_stage(plan.athlete.local_date(now))
    if current is None:
        return None
    first = current.last_date + ONE
    stage = plan.stage_on(first)
    return stage, first, any(gate.until is None and gate.before == stage for gate in plan.gates)


def body_words(checkins: Mapping[date, CheckIn], on: date) -> str:
    """Pain and stairs by the latest answers: "pain 2 left calf, stairs fine, Fri 9 Oct"."""
    told = [checkins[checkin] for checkin in sorted(checkins, reverse=True) if checkin <= on]
    if not told:
        return words.status.NO_CHECK_IN
    said = []
    hurts = next((checkin for checkin in told if checkin.pain is not None), None)
    if hurts is not None and hurts.pain is not None:
        where = f" {hurts.pain_where}" if hurts.pain_where and hurts.pain else ""
        said.append(f"pain {number(hurts.pain)}{where}")
    stairs = next((checkin.stairs_unaided for checkin in told if checkin.stairs_unaided is not None), None)
    if stairs is not None:
        said.append("stairs fine" if stairs else words.status.STAIRS_NOT_UNAIDED)
    return ", ".join([*(said or [words.status.NOTHING_ON_PAIN]), amounts.weekday(told[0].date)])


def quiet_words(last_file_at: datetime | None, now: datetime, zone: tzinfo) -> str:
    """How many days no file has come: "a file today", "3 days without a file"."""
    if last_file_at is None:
        return words.status.NO_FILE_YET
    days = quiet_days(last_file_at, now, zone)
    return words.status.FILE_TODAY if days == 0 else words.status.WITHOUT_FILE.format(days=amounts.counted(days, "day"))


def quiet_days(last_file_at: datetime, now: datetime, zone: tzinfo) -> int:
    return max((now.astimezone(zone).date() - last_file_at.astimezone(zone).date()).days, 0)


def open_since(made: View) -> date | None:
    """From which day findings are open: the finish of the race whose plan is shown, or of one that it lies within."""
    if made.judgement.current is None:
        return None
    return min((plan.day0 for plan in made.judgement.plans if _touch(plan, made)), default=made.judgement.current.day0)


def _touch(plan: Plan, made: View) -> bool:
    current = made.judgement.current
    return current is not None and plan.day0 <= current.day0 <= plan.last_date


Need = Literal["now", "today", "not"]
LASTING = frozenset({"gone_quiet"})
"""Rules whose findings are withdrawn when the state that they report ends."""
COACH, HOLD = frozenset({"coach"}), frozenset({"hold"})


@dataclass(frozen=True, slots=True)
class FindingAnswers:
    """What people have done about findings: marks by finding, and when each finding was made."""

    marks: Mapping[str, Sequence[dict[str, Any]]] = field(default_factory=dict)
    made_at: Mapping[str, datetime] = field(default_factory=dict)

    def seen(self, finding: Finding) -> bool:
        return finding.id in self.marks

    def answer(self, finding: Finding, holds: Sequence[Hold]) -> Hold | None:
        """The latest hold or release after the finding was made."""
        made = self.made_at.get(finding.id, finding.subject_end)
        return max((hold for hold in holds if hold.at > made), key=lambda given: given.at, default=None)


@dataclass(frozen=True, slots=True)
class Word:
    """`rank` orders the roster, the least first; `severity` is that of what `why` tells of, `finding` its id."""

    rank: tuple[int, float]
    need: Need
    why: str
    do: str  # one line for the coach, or for an athlete without one; empty where there is nothing to do
    severity: str
    finding: str
    unseen: int

    @property
    def need_words(self) -> str:
        return words.status.NEEDS[self.need]


@dataclass(frozen=True, slots=True)
class _Step:
    need: Need
    told: Finding | tuple[str, str] | None  # what to talk about, or why and what to do


def first_word(
    made: View,
    standing: Sequence[Finding],
    decision: Decision,
    answers: FindingAnswers,
    now: datetime,
    news_days: float,
    limits: Limits,
) -> Word:
    """The one thing to talk about, worst and newest first; what is answered or older than news steps back.

    What rules the day (`decision`) is news for as long as it does.
    """
    unseen = open_findings(made, standing, answers)
    news = now - timedelta(days=news_days)
    ruling = {reason.finding for reason in decision.reasons}
    fresh = [
        finding for finding in unseen if finding.subject_end >= news or finding.rule in LASTING or finding.id in ruling
    ]
    if not fresh and _done(made, now):
        return Word((98, 0.0), "not", _looked_back(made, len(unseen)), "", "", "", len(unseen))
    for place, step in enumerate(_steps(made, fresh, unseen, answers, now)):
        if isinstance(step.told, Finding):
            return _of_finding(place, step.need, step.told, made, answers, len(unseen), limits)
        if step.told is not None:
            why, do = step.told
            return Word((place, 0.0), step.need, why, do, "", "", len(unseen))
    return Word((99, 0.0), "not", _calm(made, now), "", "", "", len(unseen))


def open_findings(made: View, standing: Sequence[Finding], answers: FindingAnswers) -> list[Finding]:
    """Findings of the plan that is shown which nobody has marked as seen, newest first."""
    since = open_since(made)
    return [finding for finding in standing if not answers.seen(finding) and (since is None or finding.date >= since)]


def _steps(
    made: View, fresh: list[Finding], unseen: list[Finding], answers: FindingAnswers, now: datetime
) -> list[_Step]:
    """What may need a word, in the order in which it is looked for."""
    holds, on = made.history.holds, made.athlete.athlete.local_date(now)
    waiting = [finding for finding in fresh if answers.answer(finding, holds) is None]
    answered = [finding for finding in fresh if answers.answer(finding, holds) is not None]
    held = _gate(made, on, HOLD)
    return [
        _Step(
            "now",
            _worst(
                [finding for finding in waiting if finding.rule == "see_a_doctor" and finding.severity == Severity.STOP]
            ),
        ),
        _Step("now", _worst([finding for finding in waiting if finding.severity == Severity.STOP])),
        _Step("now", _gate(made, on, COACH) if held is None else None),
        _Step("today", _worst([finding for finding in waiting if finding.severity == Severity.CAUTION])),
        _Step("today", _gate(made, on, None) if held is None else None),
        _Step("not", held),
        _Step("not", _worst([finding for finding in answered if finding.severity > Severity.NOTE])),
        _Step("not", _worst([finding for finding in unseen if finding.severity > Severity.NOTE])),
        _Step("not", _worst(fresh)),
    ]


def _worst(found: list[Finding]) -> Finding | None:
    """The gravest, of those the newest, of those the first in the catalogue."""
    return max(
        found, key=lambda finding: (finding.severity, finding.subject_end, -rule_place(finding.rule)), default=None
    )


def _gate(made: View, on: date, by: frozenset[str] | None) -> tuple[str, str] | None:
    """A gate that is shut today by the coach's own hand, or (None) by anything: why, and what opens it."""
    plan = made.judgement.current
    if plan is None or not plan.day0 <= on <= plan.last_date:
        return None
    for gate in plan.gates:
        reasons = [shut for shut in gate.reasons if by is None or shut.by in by]
        if gate.until is None and reasons:
            reason = reasons[0]
            first = words.status.TALK_IT_OVER if made.athlete.athlete.coached else words.status.SLEEP_ON
            do = (
                words.status.THEN_RELEASE.format(first=first, id=made.athlete.id) if by == COACH else _asks(reason.asks)
            )
            return sentence(f"{words.shared.wait_words(gate.before)}: {reason.reason}"), do
    return None


def _asks(what: str) -> str:
    return words.status.ASKS_FOR.format(what=what) if what else ""


def _of_finding(
    place: int, need: Need, finding: Finding, made: View, answers: FindingAnswers, unseen: int, limits: Limits
) -> Word:
    rank = (place, -finding.subject_end.timestamp())
    answer = answers.answer(finding, made.history.holds)
    coached = made.athlete.athlete.coached
    what = catalogue.advice_of(finding, limits, "coach" if coached else "athlete", coached=coached)
    do = _answered(answer) if answer is not None else what[0] if what else ""
    return Word(rank, need, _sentence(finding, unseen), do, str(finding.severity), finding.id, unseen)


def _answered(answer: Hold) -> str:
    return words.status.answered(answer.kind, amounts.weekday(answer.on), answer.by)


def _sentence(finding: Finding, unseen: int) -> str:
    more = words.status.MORE_UNSEEN.format(unseen=unseen - 1) if unseen > 1 else ""
    return f"{amounts.weekday(finding.date)}, {spoken(finding.rule)}: {said(finding.summary).rstrip('.')}{more}."


def _done(made: View, now: datetime) -> bool:
    plan = made.judgement.current
    return plan is not None and plan.stage_at(now) == "done"


def _looked_back(made: View, unseen: int) -> str:
    plan = made.judgement.current
    ended = f" since {amounts.weekday(plan.last_date)}" if plan else ""
    marks = words.status.UNSEEN_IN_IT.format(unseen=amounts.counted(unseen, "finding")) if unseen else ""
    return words.status.TAPER_IS_DONE.format(ended=ended, marks=marks)


def _calm(made: View, now: datetime) -> str:
    """What there is to say of someone of whom nothing is open."""
    plan, athlete = made.judgement.current, made.athlete.athlete
    if plan is None:
        return words.status.NO_RACE
    past = [session for session in made.history.sessions if session.start <= now]
    last = max(past, key=lambda session: session.start, default=None)
    if last is None:
        return words.status.NOTHING_YET
    told = f"{spoken(last.digest.sport)}, {number(last.timer_s / 60, 0)} min"
    return words.status.NOTHING_OPEN.format(moment=words.shared.day_and_time(last.start, athlete.zone), what=told)
