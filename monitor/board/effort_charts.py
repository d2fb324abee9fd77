"""Sessions against what their days allow: minutes against the cap, heart rate against the ceiling, minutes above it."""

from __future__ import annotations

from collections.abc import Iterator

from monitor import words
from monitor.board.days import ChartDays, Day, Outing
from monitor.board.svg_chart import Chart, Figure, Key, Scale, axis, beyond, rounded, today_line, weeks
from monitor.plain_text import number, spoken
from rules.limits import Limits
from rules.words import amounts

TOP, BOTTOM, HEIGHT = 14, 112, 128
ABOVE_TOP, ABOVE_BOTTOM, ABOVE_HEIGHT = 128, 164, 180
BAR = 0.64
"""Width of a bar, in days."""
BESIDE = 0.4
"""Of a bar, the share that is left to what does not count, where there is any."""
MOST_ABOVE_MIN = 40.0
"""Minutes above the ceiling that a bar still shows; what goes on beyond is marked and told."""


def minutes_chart(sheet: ChartDays) -> Figure:
    """Every session as a bar on its day, under the day's cap; what does not count to it stands beside."""
    days = [day for day in sheet.days if day.outings]
    caps = [cap for day in sheet.days if day.number > 0 and (cap := day.allowed.day_cap_min)]
    tallest = max([*(max(_counted(day), _uncounted(day)) for day in days), *caps, 30.0])
    scale = Scale(0, rounded(0, tallest * 1.08, 30)[1], TOP, BOTTOM)
    said = _minutes_said(sheet)
    drawn = words.board.DAY_MINUTES_DRAWN
    chart = Chart(words.board.DAY_MINUTES_TITLE, drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    _bars(chart, sheet, days, scale)
    for cap, first, last in _levels(sheet, "cap"):
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        if cap is None:
            chart.text((left + right) / 2, TOP + 8, "no cap", "tick mid")
        else:
            chart.level(scale(cap), "limit", left, right)
            chart.text(left, scale(cap) - 3, f"{cap} min", "limit-word")
    axis(chart, scale, " min")
    today_line(chart, sheet, TOP, BOTTOM)
    keys = (
        Key("run", words.board.RUNNING_ALSO_WITHIN_WALK),
        Key("sport", "other sport"),
        Key("walk", words.board.NOT_COUNTED),
    )
    reads = tuple((sheet.middle(day.date), _minutes_read(day)) for day in days)
    return Figure(words.board.DAY_MINUTES_LABEL, said, chart.markup(), keys, reads)


def _counted(each: Day) -> float:
    return sum(outing.counted_min for outing in each.outings)


def _uncounted(each: Day) -> float:
    return sum(max(outing.minutes - outing.counted_min, 0.0) for outing in each.outings)


def _bars(chart: Chart, sheet: ChartDays, days: list[Day], scale: Scale) -> None:
    """Counted minutes on each other, running at the bottom; the others on the base line beside them."""
    runs, walks = [], []
    for day in days:
        left = sheet.middle(day.date) - BAR / 2 * sheet.width
        right = left + BAR * sheet.width
        uncounted = _uncounted(day)
        if uncounted >= 1:
            between = right - BESIDE * BAR * sheet.width
            walks.append((between, right, scale(uncounted), scale(0)))
            right = between
        base = 0.0
        for running in (True, False):
            for outing in sorted(day.outings, key=lambda trained: trained.session.start):
                run = min(outing.running_min, outing.counted_min)
                top = base + (run if running else outing.counted_min - run)
                if top - base >= 0.5:
                    box = (left, right, scale(top), scale(base))
                    if running:
                        runs.append(box)
                    else:
                        chart.area(*box, "sport")
                    base = top
    chart.filled(runs, "run")
    chart.filled(walks, "walk")


def _minutes_read(each: Day) -> str:
    cap = each.allowed.day_cap_min
    parts = [
        f"{spoken(outing.sport)} {number(outing.minutes, 0)} min"
        + (words.board.RUNNING_OF_IT.format(running_min=number(outing.running_min, 0)) if _hides_a_run(outing) else "")
        for outing in each.outings
    ]
    counts = words.board.COUNTED_OF_CAP.format(each=number(_counted(each), 0), cap=cap) if cap else ""
    return f"{amounts.weekday(each.date)}: {', '.join(parts)}{counts}"


def _hides_a_run(outing: Outing) -> bool:
    return outing.sport != "running" and outing.counted_min > 0 and outing.running_min >= 1


def _levels(sheet: ChartDays, what: str) -> Iterator[tuple[int | None, Day, Day]]:
    """Unbroken spans of one cap or ceiling, from day 1 on."""
    span: list[Day] = []
    for day in [sheet_day for sheet_day in sheet.days if 0 < sheet_day.number <= sheet.plan.last_day]:
        if span and _level(day, what) != _level(span[-1], what):
            yield _level(span[-1], what), span[0], span[-1]
            span = []
        span.append(day)
    if span:
        yield _level(span[-1], what), span[0], span[-1]


def _level(each: Day, what: str) -> int | None:
    if what == "cap":
        return each.allowed.day_cap_min
    return each.allowed.ceiling.bpm if each.allowed.ceiling else None


def _minutes_said(sheet: ChartDays) -> str:
    since = [outing for sheet_day in sheet.since_race() for outing in sheet_day.outings]
    over = [
        words.board.OVER_CAP_ON.format(
            counted_min=number(sheet_day.counted_min, 0),
            date=amounts.weekday(sheet_day.date),
            day_cap_min=sheet_day.allowed.day_cap_min,
        )
        for sheet_day in sheet.since_race()
        if sheet_day.allowed.day_cap_min and sheet_day.counted_min > sheet_day.allowed.day_cap_min
    ]
    if not since:
        return words.board.NO_SESSION_SINCE_RACE
    told = words.board.COUNTED_SINCE_RACE.format(counted=amounts.counted(len(since), "session"))
    return (
        words.board.OVER_CAP.format(told=told, over=", ".join(over))
        if over
        else words.board.NO_DAY_OVER_CAP.format(told=told)
    )


def heart_chart(sheet: ChartDays, limits: Limits) -> Figure:
    """The heart rates of each session under the day's ceiling, and below them the minutes spent above it."""
    outings = [outing for day in sheet.days for outing in day.outings if outing.heart]
    ceilings = [level for level, _, _ in _levels(sheet, "ceiling") if level]
    said = _heart_said(sheet)
    values = [bpm for outing in outings if outing.heart for bpm in outing.heart] + ceilings
    low, high = rounded(min(values, default=90) - 5, max(values, default=150) + 5, 10)
    scale = Scale(low, high, TOP, BOTTOM)
    drawn = words.board.SESSION_HEART_DRAWN
    chart = Chart(words.board.SESSION_HEART_TITLE, drawn, ABOVE_HEIGHT)
    weeks(chart, sheet, TOP, ABOVE_BOTTOM)
    axis(chart, scale, " bpm")
    _spreads(chart, sheet, outings, scale)
    for ceiling, first, last in _levels(sheet, "ceiling"):
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        if ceiling is not None:
            chart.level(scale(ceiling), "limit", left, right)
            chart.text(left, scale(ceiling) - 3, f"{ceiling} bpm", "limit-word")
        else:
            text = "open" if first.allowed.ceiling_open else "by feel"
            chart.text((left + right) / 2, TOP + 8, text, "tick mid")
    _above(chart, sheet, limits)
    today_line(chart, sheet, TOP, ABOVE_BOTTOM)
    keys = (
        Key("spread", words.board.HEART_SPAN),
        Key("above", words.board.MINUTES_ABOVE_CEILING),
    )
    reads = tuple((sheet.middle(outing.on), _heart_read(outing)) for outing in outings)
    return Figure(words.board.SESSION_HEART_LABEL, said, chart.markup(), keys, reads)


def _spreads(chart: Chart, sheet: ChartDays, outings: list[Outing], scale: Scale) -> None:
    lines, middles = [], []
    per_day: dict[object, int] = {}
    for outing in outings:
        earlier = per_day.get(outing.on, 0)
        per_day[outing.on] = earlier + 1
        at = sheet.middle(outing.on) + earlier * 0.3 * sheet.width
        low, middle, high = outing.heart or (0, 0, 0)
        lines.append((at, scale(high), scale(low)))
        middles.append((at, scale(middle)))
    chart.uprights(lines, "spread")
    chart.dots(middles, "middle")


def _above(chart: Chart, sheet: ChartDays, limits: Limits) -> None:
    """A bar a day for the minutes above its ceiling, with the minutes that make a caution and a stop."""
    spent = {day.date: sum(outing.above_min or 0.0 for outing in day.outings) for day in sheet.days}
    stop = limits.intensity_ceiling.stop_seconds / 60
    tallest = max([*spent.values(), stop * 1.2])
    scale = Scale(0, min(tallest, MOST_ABOVE_MIN), ABOVE_TOP, ABOVE_BOTTOM)
    chart.level(BOTTOM, "base", sheet.edge(sheet.first))
    half = BAR / 2 * sheet.width
    bars = [(on, minutes) for on, minutes in spent.items() if minutes >= 0.5]
    chart.filled(
        [(sheet.middle(on) - half, sheet.middle(on) + half, scale(minutes), ABOVE_BOTTOM) for on, minutes in bars],
        "above",
    )
    for on, minutes in bars:
        if minutes > scale.high:
            beyond(chart, sheet.middle(on), scale, f"{number(minutes, 0)} min")
    caution = limits.intensity_ceiling.caution_seconds / 60
    lines = [(scale(minutes), f"{minutes:g} min", "limit-word") for minutes in (caution, stop)]
    for top, _, _ in lines:
        chart.level(top, "limit", sheet.edge(sheet.first))
    for top, text, kind in lines:
        chart.text(0, top + 4, text, kind)


def _heart_read(outing: Outing) -> str:
    low, middle, high = outing.heart or (0, 0, 0)
    above = ""
    if outing.ceiling is not None and outing.above_min is not None:
        above = f"; {number(outing.above_min)} min above {outing.ceiling}"
    return words.board.SESSION_HEART.format(
        on=amounts.weekday(outing.on), sport=spoken(outing.sport), low=low, high=high, middle=middle, above=above
    )


def _heart_said(sheet: ChartDays) -> str:
    since = [outing for sheet_day in sheet.since_race() for outing in sheet_day.outings]
    over = [
        words.board.ABOVE_CEILING_ON.format(
            sport=spoken(outing.sport),
            on=amounts.weekday(outing.on),
            above_min=number(outing.above_min, 0),
            ceiling=outing.ceiling,
        )
        for outing in since
        if outing.above_min is not None and outing.above_min >= 1
    ]
    if not since:
        return words.board.NO_SESSION_SINCE_RACE
    if not any(outing.ceiling for outing in since):
        return words.board.NO_CEILINGS
    without = sum(outing.heart is None for outing in since)
    blind = words.board.WITHOUT_HEART_RATE.format(without=amounts.counted(without, "session")) if without else ""
    return (words.board.ABOVE_CEILING.format(over="; ".join(over)) if over else words.board.NEVER_ABOVE_CEILING) + blind
