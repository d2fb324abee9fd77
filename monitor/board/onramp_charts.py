"""Running on the on-ramp: each week against its share of the usual one, each run against the longest allowed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from monitor.board.days import Sheet
from monitor.board.frame import Figure, Key, Label, Scale, axis, rounded, today_line, weeks
from monitor.board.svg import Chart
from monitor.views.words import METRES_A_MILE, day, number
from rules.exercise import has_running, running_metres
from rules.facts import Session
from rules.judgement.ordered import Ordered
from rules.limits import Limits
from rules.onramp import WeekSoFar, usual_week, week_so_far
from rules.plan import PlannedStage

TOP, BOTTOM, HEIGHT = 14, 84, 100
WEEK = timedelta(days=7)
ONE = timedelta(days=1)


def onramp_charts(sheet: Sheet, facts: Ordered, limits: Limits, units: str = "metric") -> list[Figure]:
    """Both pictures, from the week before the on-ramp begins; none for a plan without one."""
    row = next((each for each in sheet.plan.stages if each.stage == "on_ramp"), None)
    if row is None or sheet.today < row.first_date - WEEK:
        return []
    runs = [
        each
        for each in facts.sessions
        if each.start >= sheet.plan.begins
        and each.key not in facts.races
        and facts.days[each.key] <= sheet.today
        and has_running(each, limits)
    ]
    made = [_weekly(sheet, facts, row, runs, limits), _longest(sheet, facts, row, runs, limits, units)]
    return [each for each in made if each is not None]


def _weekly(sheet: Sheet, facts: Ordered, row: PlannedStage, runs: Sequence[Session], limits: Limits) -> Figure | None:
    """Minutes of running in each week of the on-ramp, under what it allows."""
    usual = usual_week(facts.sessions, sheet.plan, limits)
    told = _weeks(sheet, row, runs, facts, limits)
    if usual.minutes is None or not told:
        return None
    highest = max([usual.minutes, *(week.done for _, week in told)])
    scale = Scale(0, rounded(0, highest * 1.05, 30)[1], TOP, BOTTOM)
    drawn = "A bar for each week of the on-ramp, a dashed line at what the week allows, a dotted one at the usual week."
    chart = Chart("Running of each week against its share of the usual one", drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    chart.level(scale(usual.minutes), "usual", sheet.edge(sheet.first))
    usual_line: Label = (scale(usual.minutes), f"usual {number(usual.minutes, 0)}", "tick")
    for last, week in told:
        left, right = sheet.edge(week.first), sheet.edge(last) + sheet.width
        if week.done:
            chart.filled([(left + sheet.width * 0.3, right - sheet.width * 0.3, scale(week.done), BOTTOM)], "run")
        if week.allowed is not None:
            chart.level(scale(week.allowed), "limit", left, right)
            chart.text(left, scale(week.allowed) - 3, f"{number(week.allowed, 0)}", "limit-word")
    axis(chart, scale, " min", [usual_line])
    today_line(chart, sheet, TOP, BOTTOM)
    now = next((week for last, week in told if week.first <= sheet.today <= last), None)
    said = f"The usual week is {number(usual.minutes, 0)} min."
    if now is not None and now.allowed is not None:
        said = (
            f"This week {number(now.done, 0)} of {number(now.allowed, 0)} min,"
            f" {number(now.share * 100, 0)} % of the usual {number(usual.minutes, 0)}."
        )
    reads = tuple((sheet.middle(week.first + (last - week.first) / 2), _week_read(week)) for last, week in told)
    return Figure("Running a week against its share", said, chart.markup(), (Key("run", "running"),), reads)


def _weeks(
    sheet: Sheet, row: PlannedStage, runs: Sequence[Session], facts: Ordered, limits: Limits
) -> list[tuple[date, WeekSoFar]]:
    """Each week of the on-ramp by its last day, with the running in it so far."""
    usual = usual_week(facts.sessions, sheet.plan, limits)
    found = []
    first = row.first_date
    while first <= row.last_date:
        last = min(first + WEEK - ONE, row.last_date)
        week = week_so_far(runs, sheet.plan.allowance_on(last), sheet.plan, usual, limits)
        if week is not None:
            found.append((last, week))
        first += WEEK
    return found


def _week_read(week: WeekSoFar) -> str:
    allowed = "" if week.allowed is None else f" of {number(week.allowed, 0)}"
    return f"Week from {day(week.first)}: {number(week.done, 0)}{allowed} min of running"


def _longest(
    sheet: Sheet, facts: Ordered, row: PlannedStage, runs: Sequence[Session], limits: Limits, units: str
) -> Figure | None:
    """Each run's distance, and on the on-ramp the longest that the runs before it allow."""
    whole, unit = (METRES_A_MILE, "miles") if units == "imperial" else (1000.0, "km")
    told = [(facts.days[run.key], metres / whole) for run in runs if (metres := running_metres(run))]
    if not told:
        return None
    most = _most(told, sheet, row, limits)
    highest = max([km for _, km in told] + list(most.values()))
    scale = Scale(0, rounded(0, highest * 1.05, 5)[1], TOP, BOTTOM)
    drawn = "A dot for each run since the race; on the on-ramp a dashed line at the longest run that is allowed."
    chart = Chart("Each run against the longest allowed", drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    chart.levels([(scale(km), sheet.edge(on), sheet.edge(on) + sheet.width) for on, km in most.items()], "limit")
    over = [(on, km) for on, km in told if on in most and km > most[on]]
    chart.dots([(sheet.middle(on), scale(km)) for on, km in told if (on, km) not in over], "dot")
    chart.dots([(sheet.middle(on), scale(km)) for on, km in over], "dot out")
    axis(chart, scale, f" {unit}")
    today_line(chart, sheet, TOP, BOTTOM)
    longest = max(km for _, km in told)
    said = f"The longest since the race: {longest:.1f} {unit}."
    if sheet.today in most:
        said += f" Today up to {most[sheet.today]:.1f} {unit}."
    keys = (Key("dot", "a run"), Key("dot-out", "longer than the runs before it allow"))
    reads = tuple((sheet.middle(on), f"{day(on)}: a run of {km:.1f} {unit}" + _of(most.get(on))) for on, km in told)
    return Figure("Each run against the longest allowed", said, chart.markup(), keys, reads)


def _of(most: float | None) -> str:
    return "" if most is None else f", {most:.1f} allowed"


def _most(told: Sequence[tuple[date, float]], sheet: Sheet, row: PlannedStage, limits: Limits) -> dict[date, float]:
    """Kilometres that each day of the on-ramp allows by the runs before it, as far as they are known."""
    days, factor = limits.long_run_jump.days, limits.long_run_jump.factor_tenths / 10
    found = {}
    on = row.first_date
    while on <= min(sheet.today, row.last_date):
        before = [km for each, km in told if on - timedelta(days=days) <= each < on]
        if before:
            found[on] = factor * max(before)
        on += ONE
    return found
