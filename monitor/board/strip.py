"""The reverse taper as one ribbon: stages by texture and word, as planned and as it goes, with today across it."""

from __future__ import annotations

from monitor.board.days import Day, Sheet, runs
from monitor.board.frame import Figure, weeks
from monitor.board.svg import Chart
from monitor.board.words import STAGES, counted, day

WORDS_Y, RIBBON, PLANNED, BOTTOM, HEIGHT = 28, (34, 58), (80, 86), 92, 108
NARROW = {"days_off": "off", "cross_training": "cross", "test_runs": "tests", "on_ramp": "ramp"}
ONE_DAY = 1


def strip(name: str, sheet: Sheet) -> Figure:
    """The plan's ribbon."""
    stages = [run for run in runs(sheet.days) if run[0] in NARROW and run[2].number > 0]
    chart = Chart(name, "The reverse taper, day by day", _described(sheet), HEIGHT)
    weeks(chart, sheet, RIBBON[0], BOTTOM)
    for stage, first, last in stages:
        left, right = _edges(sheet, first, last)
        chart.area(left, right, *RIBBON, f"stage {stage}")
        middle = (left + right) / 2
        chart.text(middle, WORDS_Y, STAGES[stage], "word wide", "middle")
        chart.text(middle, WORDS_Y, NARROW[stage], "word narrow", "middle")
    for stage, first, last in runs(sheet.days, "planned"):
        if stage in NARROW:
            chart.area(*_edges(sheet, first, last), *PLANNED, f"stage thin {stage}")
    _held(chart, sheet)
    chart.text(0, RIBBON[1] - 8, "as it goes", "tick")
    chart.text(0, PLANNED[1], "planned", "tick")
    _marks(chart, sheet)
    return Figure("The reverse taper", _described(sheet), chart.markup())


def _edges(sheet: Sheet, first: Day, last: Day) -> tuple[float, float]:
    begin = first if first.number > 0 else sheet.days[first_day(sheet)]
    return sheet.edge(begin.date), sheet.edge(last.date) + 1 / len(sheet.days)


def first_day(sheet: Sheet) -> int:
    """Where day 1 stands among the days."""
    return next(index for index, each in enumerate(sheet.days) if each.number == ONE_DAY)


def _held(chart: Chart, sheet: Sheet) -> None:
    for held, first, last in runs(sheet.days, "held"):
        if held:
            left, right = _edges(sheet, first, last)
            chart.level(RIBBON[1] + 4, "held", left, right)
            chart.text((left + right) / 2, RIBBON[1] + 16, "held", "tick", "middle")


def _marks(chart: Chart, sheet: Sheet) -> None:
    race, today = sheet.middle(sheet.plan.day0), sheet.today
    shown = sheet.first <= today <= sheet.days[-1].date
    at = sheet.middle(today) if shown else 2.0
    if abs(at - race) > 0.12:
        chart.text(race, 12, "race", "tick", "middle")
    if shown:
        chart.upright(at, 16, BOTTOM, "today")
        number = sheet.plan.day_of(today)
        words = "today, race day" if number == 0 else f"today, day {number}"
        anchor = "end" if at > 0.85 else "start" if at < 0.12 else "middle"
        chart.text(at, 12, words, "now", anchor)


def _described(sheet: Sheet) -> str:
    plan = sheet.plan
    parts = [
        f"{STAGES[row.stage]} from day {row.first_day} ({day(row.first_date)}) to day {row.last_day}"
        f" ({day(row.last_date)})" + (f", {counted(row.held_days, 'day')} longer than planned" if row.held_days else "")
        for row in plan.stages
    ]
    moved = plan.last_day - plan.length_days
    as_planned = f"as planned, {plan.length_days} days" if not moved else f"planned for {plan.length_days} days"
    return f"{'; '.join(parts).capitalize()}. {plan.last_day} days in all, {as_planned}."
