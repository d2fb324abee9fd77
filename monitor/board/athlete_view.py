"""Everything the board shows of one athlete, ready for the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from monitor.board.body_charts import clocks_chart, resting_chart, rmssd_chart, sleep_chart
from monitor.board.clocks import clocks
from monitor.board.days import Day, Sheet, sheet
from monitor.board.effort_charts import heart_chart, minutes_chart
from monitor.board.evidence import Group, groups, tally
from monitor.board.first_word import Word, first_word
from monitor.board.frame import Figure
from monitor.board.gaps import data_gaps
from monitor.board.gather import Desk, Known
from monitor.board.session_view import SessionView
from monitor.board.strip import strip
from monitor.board.words import STAGES, clock, counted, day, number, race_name, sentence, spoken
from monitor.views.plan import plan_view
from monitor.views.status import open_since, status_entry
from monitor.views.today import today_of
from rules.facts import CheckIn
from rules.findings import Finding
from rules.judgement.ordered import Ordered, in_order
from rules.limits import Limits
from rules.plan import Plan
from rules.today import Today

SessionOf = Callable[[Known, Sequence[Finding], str], SessionView | None]
"""The view of the session of a key, with the findings on it; the last argument names its pictures."""


@dataclass(frozen=True, slots=True)
class AthleteView:
    slug: str
    id: str
    name: str
    word: Word
    where: str  # "day 20 of 32, test runs"
    race: str
    stage: str
    day: int | None
    ends: str
    allowed: str
    last_file: str
    last_file_at: float
    tally: str
    held: tuple[str, ...]
    today: Today
    figures: tuple[Figure, ...]
    rows: tuple[tuple[str, ...], ...]
    checkins: tuple[tuple[str, str], ...]
    groups: tuple[Group, ...]
    views: dict[str, SessionView]
    elsewhere: str  # file with the session views, where they are not on this page
    gaps: tuple[str, ...]
    decided: tuple[str, ...]
    stages: tuple[dict[str, Any], ...]
    past: tuple[tuple[str, str], ...]  # file, words


def athlete_view(slug: str, known: Known, desk: Desk, now: datetime, news_days: float, limits: Limits) -> AthleteView:
    """All but the session views, which need the samples."""
    athlete, plan = known.athlete.athlete, known.made.judgement.current
    entry = status_entry(known.made, known.standing, desk.marks, now)
    today = today_of(known.made, now, limits)
    planned = plan_view(athlete, known.made.judgement, now)
    shown = _of_this_plan(known)
    facts = in_order(known.made.history, limits)
    laid = sheet(plan, facts, athlete.local_date(now), limits) if plan else None
    last = known.made.history.last_file_at
    return AthleteView(
        slug=slug,
        id=athlete.id,
        name=athlete.name or athlete.id,
        word=first_word(known, desk.marks, now, news_days),
        where=_where(plan, entry),
        race=f"{race_name(plan.race)} on {day(plan.day0)}" if plan else "no race",
        stage=entry["stage"] or "",
        day=entry["day"],
        ends=day(plan.last_date) if plan else "",
        allowed=_allowed(today, plan),
        last_file=clock(last, athlete.zone) if last else "no file yet",
        last_file_at=last.timestamp() if last else 0.0,
        tally=tally(shown),
        held=tuple(_gate(gate) for gate in entry["gates"]),
        today=today,
        figures=tuple(_figures(slug, laid, facts, limits)) if laid else (),
        rows=tuple(_row(each) for each in reversed(laid.so_far())) if laid else (),
        checkins=tuple(_checkin(each) for each in reversed(laid.since_race()) if each.checkin) if laid else (),
        groups=tuple(groups(slug, shown, desk.marks, athlete.zone, limits)),
        views={},
        elsewhere="",
        gaps=tuple(sentence(text) for text in data_gaps(laid, known.made.judgement, desk.unreadable.get(athlete.id, ())))
        if laid
        else (),
        decided=tuple(_decided(planned)),
        stages=tuple(planned["stages"]),
        past=(),
    )


def _of_this_plan(known: Known) -> list[Finding]:
    since = open_since(known.made)
    return [each for each in known.standing if since is None or each.date >= since]


def _where(plan: Plan | None, entry: dict[str, Any]) -> str:
    if plan is None:
        return "no plan"
    if entry["stage"] in ("before", "done"):
        return "race to come" if entry["stage"] == "before" else f"done after {counted(plan.last_day, 'day')}"
    return f"day {entry['day']} of {plan.last_day}, {STAGES[entry['stage']]}"


def _allowed(today: Today, plan: Plan | None) -> str:
    """Today in one short line."""
    if plan is None or today.stage in (None, "before", "done"):
        return "no limit"
    if today.rest_until is not None:
        return f"walking and mobility only, until {today.rest_until:%a %H:%M}"
    time = f"{today.allowed_min} min" if today.allowed_min is not None else "no cap on time"
    heart = f"heart rate to {today.ceiling_bpm}" if today.ceiling_bpm else (today.effort or "no ceiling")
    run = {
        "none": "no running",
        "rest day": "a rest day from running",
        "tolerated": f"at most one run of {today.run_allowed_min} min",
        "test": f"a run of up to {today.run_allowed_min} min",
        "share": "running by the week's share",
    }.get(today.running, "running")
    return f"{time}, {heart}, {run}"


def _figures(slug: str, laid: Sheet, facts: Ordered, limits: Limits) -> list[Figure]:
    return [
        strip(f"{slug}-plan", laid),
        minutes_chart(f"{slug}-min", laid),
        heart_chart(f"{slug}-hr", laid),
        resting_chart(f"{slug}-rest", laid, limits),
        rmssd_chart(f"{slug}-hrv", laid, limits),
        sleep_chart(f"{slug}-sleep", laid, limits),
        clocks_chart(f"{slug}-two", laid, clocks(laid, facts, limits)),
    ]


def _row(each: Day) -> tuple[str, ...]:
    """A day of the table: day, date, stage, sessions, minutes and cap, above and ceiling, resting, RMSSD, sleep."""
    sessions = ", ".join(f"{spoken(o.sport)} {number(o.minutes, 0)} min" for o in each.outings)
    cap, ceiling = each.allowed.day_cap_min, each.allowed.ceiling
    above = sum(o.above_min or 0.0 for o in each.outings if o.above_min is not None)
    known = any(o.above_min is not None for o in each.outings)
    inside = each.number > 0
    return (
        str(each.number),
        day(each.date),
        STAGES[each.stage] + (", held" if each.held else ""),
        sessions,
        (f"{number(each.counted_min, 0)} of {cap}" if cap else number(each.counted_min, 0)) if each.outings else "",
        (f"{number(above, 0)} over {ceiling.bpm}" if ceiling and known else "") if inside else "",
        "" if each.resting is None else number(each.resting, 0),
        "" if each.rmssd_ln is None else f"{2.718281828459045**each.rmssd_ln:.0f}",
        "" if each.asleep_min is None else f"{int(each.asleep_min) // 60}:{int(each.asleep_min) % 60:02d}",
    )


def _checkin(each: Day) -> tuple[str, str]:
    said: CheckIn | None = each.checkin
    assert said is not None
    parts = [
        f"{name} {'unaided' if managed else 'not unaided'}"
        for name, managed in (("stairs", said.stairs_unaided), ("squat", said.squat_unaided))
        if managed is not None
    ]
    for name in ("soreness", "pain", "energy", "mood"):
        value = getattr(said, name)
        if value is not None:
            where = f" ({said.pain_where})" if name == "pain" and said.pain_where else ""
            parts.append(f"{name} {number(value)}{where}")
    if said.symptoms:
        parts.append(f"symptoms: {', '.join(said.symptoms)}")
    if said.note:
        parts.append(f"“{said.note}”")
    return day(each.date), ", ".join(parts) or "nothing said"


def _gate(gate: dict[str, Any]) -> str:
    before = STAGES.get(gate["before"], gate["before"]) if gate["before"] != "done" else "the end of the plan"
    return f"Before {before}: {'; '.join(gate['reasons'])}. It asks for {', '.join(gate['asks'])}."


def _decided(planned: dict[str, Any]) -> list[str]:
    """Gates that were or are shut, and the coach's own word."""
    said = []
    for gate in planned["gates"]:
        until = f"to {gate['until']}" if gate["until"] else "still shut"
        before = STAGES.get(gate["before"], gate["before"]) if gate["before"] != "done" else "the end"
        said.append(f"Gate before {before}, shut from {gate['since']}, {until}: {'; '.join(gate['reasons'])}.")
    for hold in planned["holds"]:
        days = f" for {counted(hold['days'], 'day')}" if hold["days"] else ""
        why = f": {hold['why']}" if hold["why"] else ""
        word = "Held" if hold["kind"] == "hold" else "Released"
        said.append(f"{word} on {hold['on']}{days} by {hold['by'] or 'the coach'}{why}.")
    return said
