"""Mornings against their own band, sleep, and the two clocks of heart and of tendon and bone."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, timedelta
from math import exp, log
from statistics import fmean

from monitor import words
from monitor.board.days import GUTTER, ChartDays
from monitor.board.svg_chart import (
    LETTERS,
    Chart,
    Figure,
    Key,
    Label,
    Scale,
    axis,
    beside,
    beyond,
    rounded,
    today_line,
    weeks,
)
from monitor.board.two_clocks import Clocks
from monitor.plain_text import number
from rules.body.mornings import Baseline, Level, levels, mornings_up, recent, resting_limit
from rules.limits import Limits
from rules.words import amounts

TOP, BOTTOM, HEIGHT = 12, 78, 94
MOST_SHARE = 3.0
"""Times the usual week that the two clocks still show; what goes on beyond is marked and told."""


def resting_chart(sheet: ChartDays, limits: Limits) -> Figure:
    """Resting heart rate of each morning against the athlete's own band."""
    told = [(day.date, day.resting) for day in sheet.so_far() if day.resting is not None]
    normal = sheet.resting_normal
    limit = resting_limit(normal, limits)
    said = _resting_said(sheet, told, limit, _up(sheet, dict(told), limit, limits))
    low, high = _band(normal, limit)
    values = [value for _, value in told] + [bound for bound in (low, high) if bound is not None]
    scale = Scale(*rounded(min(values, default=40) - 1, max(values, default=60) + 1, 5), TOP, BOTTOM)
    over = words.board.BAND_AND_UPPER_LINE if limit is not None else ""
    drawn = words.board.MORNINGS_DRAWN.format(over=over)
    chart = Chart(words.board.RESTING_TITLE, drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    lines: list[Label] = []
    if low is not None and high is not None and normal is not None:
        chart.area(GUTTER, 1, scale(high), scale(low), "band")
        chart.level(scale(normal.middle), "usual", GUTTER)
        chart.level(scale(high), "limit", GUTTER)
        usual, up_from = f"usual {normal.middle:g}", f"up {number(high)}"
        lines = [(scale(normal.middle), usual, "tick"), (scale(high), up_from, "limit-word")]
    axis(chart, scale, " bpm", lines)
    up = _up(sheet, dict(told), limit, limits)
    _dots(chart, sheet, told, scale, up, {on for on, value in told if limit is not None and value >= limit})
    today_line(chart, sheet, TOP, BOTTOM)
    keys = _dot_keys("a morning", limit, words.board.OVER_ONCE, words.board.OVER_TWICE)
    reads = tuple(
        (sheet.middle(on), f"{amounts.weekday(on)}: {value:g} bpm{', up' if on in up else ''}") for on, value in told
    )
    return Figure(words.board.RESTING_AXIS, said, chart.markup(), (*keys, *_band_keys(limit is not None)), reads)


def _up(sheet: ChartDays, values: dict[date, float], limit: float | None, limits: Limits) -> set[date]:
    """The mornings that count as up: each of those that run together over the limit."""
    ends = mornings_up(values, sheet.plan.day0, limit, limits)
    return {end - timedelta(days=back) for end in ends for back in range(limits.resting_hr_up.mornings)}


def _dots(
    chart: Chart,
    sheet: ChartDays,
    told: Sequence[tuple[date, float]],
    scale: Scale,
    out: Collection[date],
    once: Collection[date],
) -> None:
    """A dot a value: filled and square where several together count, hollow where one alone is beyond the line."""
    for kind, wanted in (
        ("dot", [on for on, _ in told if on not in out and on not in once]),
        ("dot once", [on for on, _ in told if on in once and on not in out]),
        ("dot out", [on for on, _ in told if on in out]),
    ):
        places = [(sheet.middle(on), scale(value)) for on, value in told if on in set(wanted)]
        chart.dots(places, kind)
        if kind == "dot once":
            chart.dots(places, "hole")


def _dot_keys(one: str, limit: float | None, once: str, out: str) -> tuple[Key, ...]:
    return (Key("dot", one), *(() if limit is None else (Key("dot-once", once), Key("dot-out", out))))


def _band_keys(band: bool) -> tuple[Key, ...]:
    return (Key("band", words.board.OWN_BAND),) if band else ()


def _band(normal: Baseline | None, limit: float | None) -> tuple[float | None, float | None]:
    if normal is None or limit is None:
        return None, None
    return normal.middle - (limit - normal.middle), limit


def _resting_said(
    sheet: ChartDays, told: Sequence[tuple[date, float]], limit: float | None, counts: Collection[date]
) -> str:
    since = [(on, value) for on, value in told if on > sheet.plan.day0]
    if not since:
        return words.board.NO_RESTING
    on, value = since[-1]
    latest = words.board.LATEST_NIGHT.format(
        nights=amounts.counted(len(since), "morning"), value=value, on=amounts.weekday(on)
    )
    if limit is None:
        return words.board.NO_USUAL_RESTING.format(latest=latest)
    up = [amounts.weekday(date_up) for date_up, _ in since if date_up in counts]
    return f"{latest} " + (f"Up on {', '.join(up)}." if up else words.board.NEVER_TWICE_UP)


def rmssd_chart(sheet: ChartDays, limits: Limits) -> Figure:
    """RMSSD of each morning and its mean of a week, against the band of the baseline."""
    told = {day.date: day.rmssd_ln for day in sheet.so_far() if day.rmssd_ln is not None}
    normal = sheet.rmssd_normal if sheet.rmssd_normal and sheet.rmssd_normal.enough else None
    at = levels(told, sheet.plan.day0, normal, limits)
    means = {on: level.mean for on, level in at.items()} or _means(told, sheet, limits)
    said = _rmssd_said(told, means, at, sheet)
    edges = _edges(normal, at, limits)
    values = [*told.values(), *edges]
    low, high = (exp(min(values)), exp(max(values))) if values else (40.0, 80.0)
    low, high = rounded(low * 0.97, high * 1.03, 5)
    scale = Scale(log(max(low, 1)), log(high), TOP, BOTTOM)
    over = words.board.BAND_AND_LOWER_LINE if normal else ""
    drawn = words.board.MEAN_OF_MORNINGS_DRAWN.format(over=over)
    chart = Chart(words.board.RMSSD_TITLE, drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    lines: list[Label] = []
    if normal is not None:
        chart.area(GUTTER, 1, scale(edges[1]), scale(edges[0]), "band")
        chart.level(scale(normal.mean), "usual", GUTTER)
        chart.level(scale(edges[0]), "limit", GUTTER)
        usual, under = f"usual {exp(normal.mean):.0f}", f"low {exp(edges[0]):.0f}"
        lines = [(scale(normal.mean), usual, "tick"), (scale(edges[0]), under, "limit-word")]
    _rmssd_axis(chart, scale, low, high, lines)
    chart.dots([(sheet.middle(on), scale(value)) for on, value in told.items()], "dot faint")
    chart.line([[(sheet.middle(on), scale(value)) for on, value in means.items()]], "mean")
    under_band = [(on, level.mean) for on, level in at.items() if level.mean < level.note]
    chart.dots([(sheet.middle(on), scale(value)) for on, value in under_band], "dot out")
    today_line(chart, sheet, TOP, BOTTOM)
    keys = [Key("dot-faint", "a morning"), Key("mean", words.board.RMSSD_MEAN_LABEL)]
    keys += [Key("dot-out", words.board.LOWER_THAN_CHANCE_EXPLAINS), *_band_keys(True)] if normal is not None else []
    reads = tuple(
        (sheet.middle(on), f"{amounts.weekday(on)}: {exp(value):.0f} ms{_mean_read(means.get(on))}")
        for on, value in told.items()
    )
    return Figure(words.board.RMSSD_AXIS, said, chart.markup(), tuple(keys), reads)


def _rmssd_axis(chart: Chart, scale: Scale, low: float, high: float, lines: Sequence[Label]) -> None:
    """The ends of the scale in ms: it is laid out by their logarithms."""
    ends: list[Label] = [(scale.top, f"{high:g} ms", "tick"), (scale.bottom - 6, f"{max(low, 1):g}", "tick")]
    beside(chart, [*lines, *(end for end in ends if all(abs(end[0] - line[0]) > LETTERS for line in lines))])


def _mean_read(mean: float | None) -> str:
    return "" if mean is None else f", weighted mean {exp(mean):.0f}"


def _edges(normal: Baseline | None, at: dict[date, Level], limits: Limits) -> list[float]:
    """Where the band ends: what chance explains on the latest morning, or one spread while nothing can be judged."""
    if normal is None:
        return []
    reach = max(normal.spread, limits.hrv_down.least_sd)
    if at:
        reach = normal.mean - list(at.values())[-1].note
    return [normal.mean - reach, normal.mean + reach]


def _means(told: dict[date, float], sheet: ChartDays, limits: Limits) -> dict[date, float]:
    """Mean of the week that ends on each day after the race, where no baseline says how to weigh mornings."""
    least = limits.hrv_down.values
    told = {on: value for on, value in told.items() if on > sheet.plan.day0}
    found = {}
    for day in sheet.since_race():
        week = recent(told, day.date, sheet.plan.day0, limits)
        if len(week) >= least:
            found[day.date] = fmean(week.values())
    return found


def _rmssd_said(told: dict[date, float], means: dict[date, float], at: dict[date, Level], sheet: ChartDays) -> str:
    since = [on for on in told if on > sheet.plan.day0]
    if not since:
        return words.board.NO_RMSSD
    counted_words = words.board.COUNTED_SINCE_RACE.format(counted=amounts.counted(len(since), "morning"))
    if not means:
        return words.board.NO_RMSSD_MEAN.format(counted_words=counted_words)
    mean = list(means.values())[-1]
    latest = words.board.RMSSD_MEAN_NOW.format(counted_words=counted_words, mean=exp(mean))
    if not at:
        return words.board.NO_USUAL_RMSSD.format(latest=latest)
    level = list(at.values())[-1]
    under = level.mean < level.note
    return words.board.against_chance(latest, under=under)


def sleep_chart(sheet: ChartDays, limits: Limits) -> Figure:
    """Hours of sleep to each morning, against the two lengths that count as short."""
    told = [(day.date, day.asleep_min / 60) for day in sheet.so_far() if day.asleep_min is not None]
    note, caution = limits.short_sleep.note_hours, limits.short_sleep.caution_hours
    said = _sleep_said(sheet, told)
    hours = [value for _, value in told]
    low, high = rounded(min([*hours, caution]) - 0.4, max([*hours, note + 1]) + 0.4, 1)
    scale = Scale(low, high, TOP, BOTTOM)
    drawn = words.board.NIGHTS_DRAWN
    chart = Chart(words.board.SLEEP_TITLE, drawn, HEIGHT)
    weeks(chart, sheet, TOP, BOTTOM)
    for limit in (note, caution):
        chart.level(scale(limit), "limit", GUTTER)
    axis(chart, scale, " h", [(scale(limit), f"{limit:g} h", "limit-word") for limit in (note, caution)])
    short = _short(sheet, dict(told), limits)
    _dots(chart, sheet, told, scale, short, {on for on, value in told if value < note})
    today_line(chart, sheet, TOP, BOTTOM)
    nights = limits.short_sleep.nights
    keys = _dot_keys(
        "a night",
        note,
        words.board.SHORT_NIGHT_LINE.format(note=note),
        words.board.SHORT_NIGHTS_LINE.format(nights=nights, note=note),
    )
    reads = tuple(
        (sheet.middle(on), f"Night to {amounts.weekday(on)}: {amounts.sleep(value * 60)}") for on, value in told
    )
    return Figure("Sleep, hours", said, chart.markup(), keys, reads)


def _short(sheet: ChartDays, hours: dict[date, float], limits: Limits) -> set[date]:
    """The nights after the race that together have a short mean."""
    number, note = limits.short_sleep.nights, limits.short_sleep.note_hours
    found: set[date] = set()
    for on in hours:
        nights = [on - timedelta(days=back) for back in range(number)]
        whole = nights[-1] > sheet.plan.day0 and all(night in hours for night in nights)
        if whole and fmean(hours[night] for night in nights) < note:
            found.update(nights)
    return found


def _sleep_said(sheet: ChartDays, told: Sequence[tuple[date, float]]) -> str:
    since = [(on, hours) for on, hours in told if on > sheet.plan.day0]
    if not since:
        return words.board.NO_NIGHT_SINCE_RACE
    mean = fmean(hours for _, hours in since)
    on, last = since[-1]
    return words.board.NIGHTS_SINCE_RACE.format(
        nights=amounts.counted(len(since), "night"),
        mean=amounts.sleep(mean * 60),
        on=amounts.weekday(on),
        last=amounts.sleep(last * 60),
    )


def clocks_chart(sheet: ChartDays, clocks: Clocks) -> Figure:
    """Load of the heart and impact on tendon and bone, seven days to each evening, as shares of the usual."""
    said = clocks.said
    highest = max([1.0, *clocks.heart.values(), *clocks.impact.values()])
    scale = Scale(0, min(rounded(0, highest, 0.25)[1], MOST_SHARE), TOP, BOTTOM + 16)
    drawn = words.board.TWO_CLOCKS_DRAWN
    chart = Chart(words.board.TWO_CLOCKS_TITLE, drawn, HEIGHT + 16)
    weeks(chart, sheet, TOP, BOTTOM + 16)
    chart.level(scale(1), "usual", GUTTER)
    lines: list[Label] = [(scale(1), "usual", "tick"), (BOTTOM + 10, "0", "tick")]
    top: list[Label] = [(TOP, f"{scale.high * 100:g} %", "tick")]
    beside(chart, [*lines, *(end for end in top if scale.high > 1.25)])
    chart.line([_points(sheet, clocks.heart, scale)], "clock heart")
    chart.line([_points(sheet, clocks.impact, scale)], "clock impact")
    for values in (clocks.heart, clocks.impact):
        on, most = max(values.items(), key=lambda pair: pair[1], default=(sheet.first, 0.0))
        if most > scale.high:
            beyond(chart, sheet.middle(on), scale, f"{number(most * 100, 0)} %")
    _names(chart, sheet, clocks, scale)
    today_line(chart, sheet, TOP, BOTTOM + 16)
    keys = (Key("clock-heart", words.board.WORK_OF_HEART), Key("clock-impact", words.board.STEPS_BY_THEIR_FORCE))
    reads = tuple((sheet.middle(on), _clock_read(on, clocks)) for on in sorted({*clocks.heart, *clocks.impact}))
    return Figure(words.board.TWO_CLOCKS_LABEL, said, chart.markup(), keys, reads)


def _clock_read(on: date, clocks: Clocks) -> str:
    parts = [
        f"{name} {number(values[on] * 100, 0)} %"
        for name, values in (("heart", clocks.heart), ("impact", clocks.impact))
        if on in values
    ]
    return words.board.SEVEN_DAYS.format(on=amounts.weekday(on), parts=", ".join(parts))


def _names(chart: Chart, sheet: ChartDays, clocks: Clocks, scale: Scale) -> None:
    """A word at the end of each line, the lower one further down where they would lie on each other."""
    ends = sorted(
        (scale(values[max(values)]) + 4, text, max(values))
        for values, text in ((clocks.heart, "heart"), (clocks.impact, "impact"))
        if values
    )
    lowest = 0.0
    for top, text, on in ends:
        lowest = max(top, lowest + LETTERS)
        chart.text(min(sheet.middle(on) + 0.008, 0.9), lowest, text, "word")


def _points(sheet: ChartDays, values: dict[date, float], scale: Scale) -> list[tuple[float, float]]:
    return [(sheet.middle(on), scale(value)) for on, value in sorted(values.items())]
