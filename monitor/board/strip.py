"""The reverse taper as one ribbon: stages by texture and word, as planned and as it goes, with today across it."""

from __future__ import annotations

from monitor.board.days import Sheet, runs
from monitor.board.frame import Figure, weeks
from monitor.board.svg import Chart
from monitor.views.words import STAGES, counted, day, sentence

WORDS_Y, RIBBON, PLANNED, BOTTOM, HEIGHT = 28, (34, 58), (80, 86), 92, 108
NARROW = {"days_off": "off", "cross_training": "cross", "test_runs": "tests", "on_ramp": "ramp"}


def strip(sheet: Sheet) -> Figure:
    """The plan's ribbon."""
    stages = [run for run in runs(sheet.days[1:]) if run[0] in NARROW]
    chart = Chart("The reverse taper, day by day", _drawn(sheet), HEIGHT)
    weeks(chart, sheet, RIBBON[0], BOTTOM)
    for stage, first, last in stages:
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        chart.area(left, right, *RIBBON, f"stage {stage}")
        middle = (left + right) / 2
        chart.text(middle, WORDS_Y, STAGES[stage], "word wide mid")
        chart.text(middle, WORDS_Y, NARROW[stage], "word narrow mid")
    for stage, first, last in runs(sheet.days[1:], "planned"):
        if stage in NARROW:
            chart.area(sheet.edge(first.date), sheet.edge(last.date) + sheet.width, *PLANNED, f"stage thin {stage}")
    _held(chart, sheet)
    chart.text(0, RIBBON[1] - 8, "as it goes", "tick wide")
    chart.text(0, RIBBON[1] - 8, "now", "tick narrow")
    chart.text(0, PLANNED[1], "planned", "tick")
    _marks(chart, sheet)
    return Figure("The reverse taper", _described(sheet), chart.markup())


def _held(chart: Chart, sheet: Sheet) -> None:
    for held, first, last in runs(sheet.days, "held"):
        if held:
            left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
            chart.level(RIBBON[1] + 4, "held", left, right)
            chart.text((left + right) / 2, RIBBON[1] + 16, "held", "tick mid")


def _marks(chart: Chart, sheet: Sheet) -> None:
    race, today = sheet.middle(sheet.plan.day0), sheet.today
    shown = sheet.shows_today
    at = sheet.middle(today) if shown else 2.0
    if abs(at - race) > 0.12:
        chart.text(race, 12, "race", "tick mid")
    if shown:
        chart.upright(at, 16, BOTTOM, "today")
        number = sheet.plan.day_of(today)
        words = "today, race day" if number == 0 else f"today, day {number}"
        anchor = "end" if at > 0.85 else "mid"
        chart.text(at, 12, words, f"now {anchor}")


def _drawn(sheet: Sheet) -> str:
    first, last = sheet.days[0].date, sheet.days[-1].date
    return f"A ribbon from {day(first)} to {day(last)}, a texture for each stage; below it the ribbon as planned."


def _described(sheet: Sheet) -> str:
    plan = sheet.plan
    parts = [
        f"{STAGES[row.stage]} to {day(row.last_date)}"
        + (f" ({counted(row.held_days, 'day')} longer than planned)" if row.held_days else "")
        for row in plan.stages
    ]
    moved = plan.last_day != plan.length_days
    length = f"planned for {plan.length_days}" if moved else "as planned"
    return f"{sentence(', '.join(parts))} {counted(plan.last_day, 'day')}, {length}."
