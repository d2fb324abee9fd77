"""Sessions against what their days allow: minutes against the cap, heart rate against the ceiling."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.board.days import Day, Outing, Sheet
from monitor.board.frame import Figure, Key, Scale, beside, rounded, today_line, weeks
from monitor.board.svg import Chart
from monitor.board.words import counted, day, number, spoken

TOP, BOTTOM, HEIGHT = 14, 112, 128
BAR = 0.64
"""Width of a bar, in days."""


def minutes_chart(sheet: Sheet) -> Figure:
    """Every session as a bar on its day, under the day's cap."""
    days = [each for each in sheet.days if each.outings]
    caps = [cap for each in sheet.days if each.number > 0 and (cap := each.allowed.day_cap_min)]
    tallest = max([*(sum(o.minutes for o in each.outings) for each in days), *caps, 30.0])
    scale = Scale(0, rounded(0, tallest * 1.08, 30)[1], TOP, BOTTOM)
    said = _minutes_said(sheet)
    drawn = "A bar for each session on its day, a dashed line at each stage's cap. The days in numbers say the same."
    chart = Chart("Minutes of each session against the day's cap", drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    _bars(chart, sheet, days, scale)
    for cap, first, last in _levels(sheet, "cap"):
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        if cap is None:
            chart.text((left + right) / 2, TOP + 8, "no cap", "tick mid")
        else:
            chart.level(scale(cap), "limit", left, right)
            chart.text(left, scale(cap) - 3, f"{cap} min", "limit-word")
    beside(chart, [(BOTTOM - 2, "0", "tick"), (TOP + 4, f"{scale.high:g} min", "tick")])
    today_line(chart, sheet, TOP, BOTTOM)
    keys = (Key("run", "running"), Key("sport", "other sport"), Key("walk", "walking, care: not counted"))
    return Figure("Minutes against the day's cap", said, chart.markup(), keys)


def _bars(chart: Chart, sheet: Sheet, days: list[Day], scale: Scale) -> None:
    runs, walks = [], []
    for each in days:
        left = sheet.middle(each.date) - BAR / 2 * sheet.width
        right = sheet.middle(each.date) + BAR / 2 * sheet.width
        base = 0.0
        for outing in sorted(each.outings, key=lambda o: (-o.counted_min, o.session.start)):
            box = (left, right, scale(base + outing.minutes), scale(base))
            base += outing.minutes
            if outing.running_min >= max(outing.minutes / 2, 1):
                runs.append(box)
            elif outing.counted_min > 0:
                chart.area(*box, "sport")
            else:
                walks.append(box)
    chart.filled(runs, "run")
    chart.filled(walks, "walk")


def _levels(sheet: Sheet, what: str) -> Iterator[tuple[int | None, Day, Day]]:
    """Unbroken spans of one cap or ceiling, from day 1 on."""
    span: list[Day] = []
    for each in [one for one in sheet.days if 0 < one.number <= sheet.plan.last_day]:
        if span and _level(each, what) != _level(span[-1], what):
            yield _level(span[-1], what), span[0], span[-1]
            span = []
        span.append(each)
    if span:
        yield _level(span[-1], what), span[0], span[-1]


def _level(each: Day, what: str) -> int | None:
    if what == "cap":
        return each.allowed.day_cap_min
    return each.allowed.ceiling.bpm if each.allowed.ceiling else None


def _minutes_said(sheet: Sheet) -> str:
    since = [outing for each in sheet.since_race() for outing in each.outings]
    over = [
        f"{number(each.counted_min, 0)} min on {day(each.date)} ({each.allowed.day_cap_min} allowed)"
        for each in sheet.since_race()
        if each.allowed.day_cap_min and each.counted_min > each.allowed.day_cap_min
    ]
    if not since:
        return "No session since the race."
    told = f"{counted(len(since), 'session')} since the race."
    return f"{told} Over the cap: {', '.join(over)}." if over else f"{told} No day over its cap."


def heart_chart(sheet: Sheet) -> Figure:
    """The heart rates of each session, under the day's ceiling."""
    outings = [outing for each in sheet.days for outing in each.outings if outing.heart]
    ceilings = [level for level, _, _ in _levels(sheet, "ceiling") if level]
    said = _heart_said(sheet)
    values = [bpm for outing in outings if outing.heart for bpm in (*outing.heart, outing.highest or 0)] + ceilings
    low, high = rounded(min(values, default=90) - 5, max(values, default=150) + 5, 10)
    scale = Scale(low, high, TOP, BOTTOM)
    drawn = "An upright line for each session from low to high heart rate, a dashed line at each stage's ceiling."
    chart = Chart("Heart rate of each session against the day's ceiling", drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    beside(chart, [(BOTTOM - 2, f"{low:g}", "tick"), (TOP + 4, f"{high:g} bpm", "tick")])
    _spreads(chart, sheet, outings, scale)
    for ceiling, first, last in _levels(sheet, "ceiling"):
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        if ceiling is not None:
            chart.level(scale(ceiling), "limit", left, right)
            chart.text(left, scale(ceiling) - 3, f"{ceiling} bpm", "limit-word")
        else:
            words = "open" if first.allowed.ceiling_open else "by feel"
            chart.text((left + right) / 2, TOP + 8, words, "tick mid")
    today_line(chart, sheet, TOP, BOTTOM)
    keys = (
        Key("spread", "nine tenths of the time, and the middle"),
        Key("above", "ceiling to highest"),
    )
    return Figure("Heart rate against the day's ceiling", said, chart.markup(), keys)


def _spreads(chart: Chart, sheet: Sheet, outings: list[Outing], scale: Scale) -> None:
    lines, middles, above = [], [], []
    per_day: dict[object, int] = {}
    for outing in outings:
        earlier = per_day.get(outing.on, 0)
        per_day[outing.on] = earlier + 1
        at = sheet.middle(outing.on) + earlier * 0.3 * sheet.width
        low, middle, high = outing.heart or (0, 0, 0)
        lines.append((at, scale(high), scale(low)))
        middles.append((at, scale(middle)))
        if outing.ceiling and outing.highest and outing.highest > outing.ceiling and (outing.above_min or 0) >= 0.5:
            above.append((at, scale(outing.highest), scale(outing.ceiling)))
    chart.uprights(lines, "spread")
    chart.uprights(above, "above")
    chart.dots(middles, "middle")


def _heart_said(sheet: Sheet) -> str:
    since = [outing for each in sheet.since_race() for outing in each.outings]
    over = [
        f"{spoken(outing.sport)} on {day(outing.on)}, {number(outing.above_min, 0)} min above {outing.ceiling} bpm"
        for outing in since
        if outing.above_min is not None and outing.above_min >= 1
    ]
    if not since:
        return "No session since the race."
    if not any(outing.ceiling for outing in since):
        return "No ceiling in bpm on the days of these sessions: effort by feel, or open."
    without = sum(outing.heart is None for outing in since)
    blind = f" {counted(without, 'session')} without heart rate." if without else ""
    return (f"Above the ceiling: {'; '.join(over)}." if over else "No session a minute above its ceiling.") + blind
