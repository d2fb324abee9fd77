"""The pictures of one session, by its lines."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import isnan

import numpy as np

from monitor import words
from monitor.board.days import GUTTER
from monitor.board.svg_chart import LETTERS, Chart, Figure, Key, Label, Read, Scale, beside, rounded
from monitor.plain_text import minute_second, spoken
from rules.session.timeline import Floats
from rules.session.traces import STILL_MPS, Pieces, Span, Traces
from rules.words import amounts

TOP, BOTTOM, LANE = 12, 130, 20
PACES = (900, 720, 600, 480, 420, 360, 330, 300, 270, 240, 210, 180, 150)
"""Seconds a kilometre that may stand beside a picture."""
PLAIN_METRES = 40
"""Ground that rises and falls less is not drawn."""
SHORTEST_MASK = 3.0


@dataclass(frozen=True, slots=True)
class Times:
    """A session's lines on the clock of its pictures."""

    traces: Traces
    seconds: float
    spans: Sequence[Span]
    pauses: Sequence[tuple[float, float]]
    afoot: bool
    units: str = "metric"

    @property
    def imperial(self) -> bool:
        return self.units == "imperial"

    def speed_words(self, mps: float) -> str:
        """ "5:40/km" on foot, else "24.1 km/h"; or by the mile."""
        if not self.afoot:
            return words.shared.speed_words(mps, self.units)
        return words.shared.pace_words(1000 / mps, self.units) if mps > 0.4 else "standing"

    def at(self, second: float) -> float:
        return GUTTER + (1 - GUTTER) * min(max(second / self.seconds, 0.0), 1.0)

    def along(self, seconds: Floats) -> Floats:
        return GUTTER + (1 - GUTTER) * np.clip(seconds / self.seconds, 0.0, 1.0)

    def of_rule(self, rule: str) -> list[Span]:
        return [span for span in self.spans if span.rule == rule]


def heart_chart(times: Times, ceiling: int | None) -> Figure | None:
    """Heart rate with its ceiling; what is not believed is hatched, and lanes below show what made the findings."""
    traces, numbers = times.traces, times.traces.numbers
    if numbers.lowest_bpm is None or numbers.highest_bpm is None:
        return None
    low, high = rounded(numbers.lowest_bpm - 3, max(numbers.highest_bpm, ceiling or 0) + 5, 10)
    scale = Scale(low, high, TOP, BOTTOM)
    rules = list(dict.fromkeys(span.rule for span in times.spans))
    said = _heart_said(times, ceiling)
    chart = Chart(words.board.HEART_TITLE, words.board.HEART_DRAWN, BOTTOM + LANE * len(rules) + 18)
    labels: list[Label] = [(TOP + 2, f"{high:g}", "tick"), (BOTTOM - 4, f"{low:g}", "tick")]
    _masks(chart, times)
    _minutes(chart, times, BOTTOM, LANE * len(rules))
    chart.line(_pieces(times, traces.doubted, scale), "trace doubted")
    chart.line(_pieces(times, traces.heart, scale), "trace")
    if ceiling is not None:
        over = [_closed(piece, float(ceiling)) for piece in traces.over]
        chart.line(_pieces(times, over, scale), "over")
        chart.level(scale(ceiling), "limit", GUTTER)
        labels.append((scale(ceiling), f"ceiling {ceiling}", "limit-word"))
    beside(chart, labels)
    _lanes(chart, times, rules)
    keys = [Key("trace", "heart rate")]
    keys += [Key("over", words.board.ABOVE_CEILING_LABEL)] if ceiling is not None else []
    keys += [Key("mask", "not believed")] if numbers.masked_times else []
    reads = _reads(times, traces.heart_read, lambda bpm: f"{bpm:.0f} bpm")
    return Figure(words.board.HEART_AXIS, said, chart.markup(), tuple(keys), reads)


def _reads(times: Times, means: Floats, text: Callable[[float], str]) -> tuple[Read, ...]:
    """What an even part of the session comes to, told at its middle."""
    begins, half = np.linspace(0.0, times.seconds, len(means) + 1).tolist(), times.seconds / len(means) / 2
    return tuple(
        (times.at(begin + half), f"{minute_second(begin)}: {text(mean)}")
        for begin, mean in zip(begins, means.tolist(), strict=False)
        if not isnan(mean)
    )


def _closed(piece: Floats, level: float) -> Floats:
    """A line with its ends brought to a level, so that it can be filled."""
    return np.vstack(([piece[0, 0], level], piece, [piece[-1, 0], level]))


def _masks(chart: Chart, times: Times) -> None:
    for begin, end in times.traces.numbers.masked_times:
        chart.area(times.at(begin), times.at(max(end, begin + SHORTEST_MASK)), TOP, BOTTOM, "mask")
    for begin, end in times.pauses:
        chart.area(times.at(begin), times.at(end), TOP, BOTTOM, "pause")


def _lanes(chart: Chart, times: Times, rules: Sequence[str]) -> None:
    """A line of words for each rule and under it the stretches that broke it."""
    for lane, rule in enumerate(rules):
        top = BOTTOM + 4 + LANE * lane
        spans = times.of_rule(rule)
        chart.text(GUTTER, top + 9, spoken(rule), "tick")
        chart.filled([(times.at(span.begin), times.at(span.end), top + 12, top + 17) for span in spans], "made")


def _minutes(chart: Chart, times: Times, bottom: float, lanes: float = 0.0) -> None:
    step = next((m * 60 for m in (1, 2, 5, 10, 15, 20, 30, 60, 120, 240) if times.seconds / (m * 60) <= 6), 28800)
    marks = []
    for second in range(0, int(times.seconds) + 1, step):
        at = times.at(second)
        marks.append((at, TOP, bottom + lanes))
        if at < 0.95:
            chart.text(at, bottom + lanes + 14, minute_second(second), "tick mid")
    chart.uprights(marks[1:], "hair")
    chart.level(bottom, "base", GUTTER)


def _pieces(times: Times, pieces: Iterable[Floats], scale: Scale) -> list[Floats]:
    """Seconds and values as places in the picture."""
    return [np.column_stack((times.along(piece[:, 0]), scale.along(piece[:, 1]))) for piece in pieces]


def _heart_said(times: Times, ceiling: int | None) -> str:
    numbers, bpm = times.traces.numbers, _values(times.traces.heart)
    if numbers.mean_bpm is None:
        return words.board.HEART_NOT_BELIEVED
    told = words.board.HEART_RANGE.format(min=bpm.min(), max=bpm.max(), mean=numbers.mean_bpm)
    if ceiling is not None:
        told += words.board.above_ceiling(numbers.above_s, ceiling)
    if numbers.masked_s:
        told += f"; {amounts.duration(numbers.masked_s)} not believed"
    return f"{told}."


def _values(pieces: Pieces) -> Floats:
    """Among them the least and the greatest of all."""
    return np.concatenate([piece[:, 1] for piece in pieces]) if pieces else np.zeros(0)


def speed_chart(times: Times, threshold: float | None) -> Figure | None:
    """Speed over ground, with the threshold speed and the fast stretches."""
    traces, known = times.traces, _values(times.traces.speed)
    if not len(known) or float(known.max()) < STILL_MPS:
        return None
    worth = _values(traces.worth)
    highest = float(worth.max()) if len(worth) else 0.0
    top_speed = max(float(known.max()), highest, threshold or 0.0) * 1.05
    scale = Scale(0, top_speed, TOP, BOTTOM - 30)
    said = _speed_said(times, threshold)
    drawn = words.board.SPEED_DRAWN + (words.board.WORTH_DRAWN if len(worth) else "")
    chart = Chart(words.board.SPEED_TITLE, drawn, BOTTOM - 30 + 18)
    for span in times.of_rule("no_speed_work"):
        chart.area(times.at(span.begin), times.at(span.end), TOP, BOTTOM - 30, "made-band")
    _minutes(chart, times, BOTTOM - 30)
    chart.line(_pieces(times, traces.speed, scale), "trace")
    chart.line(_pieces(times, traces.worth, scale), "worth")
    ticks = _speed_ticks(top_speed, times)
    chart.levels([(scale(value), GUTTER, 1.0) for value, _ in ticks], "hair")
    labels: list[Label] = [(scale(value), text, "tick") for value, text in ticks]
    if threshold:
        chart.level(scale(threshold), "limit", GUTTER)
        labels = [label for label in labels if abs(label[0] - scale(threshold)) > LETTERS]
        labels.append((scale(threshold), times.speed_words(threshold), "limit-word"))
    beside(chart, labels)
    keys = [Key("trace", "speed")]
    keys += [Key("worth", words.board.WORTH_LABEL)] if len(worth) else []
    keys += [Key("made-band", words.board.FAST_LABEL)] if times.of_rule("no_speed_work") else []
    reads = _reads(times, traces.speed_read, times.speed_words)
    each = ("mile", "mph") if times.imperial else ("km", "km/h")
    title = words.board.SPEED_AXIS.format(unit=each[0]) if times.afoot else f"Speed, {each[1]}"
    return Figure(title, said, chart.markup(), tuple(keys), reads)


def _speed_ticks(top: float, times: Times) -> list[tuple[float, str]]:
    whole = words.shared.METRES_A_MILE if times.imperial else 1000.0
    if not times.afoot:
        an_hour, unit = whole / 3600, "mph" if times.imperial else "km/h"
        step = 5 if top / an_hour <= 25 else 10
        return [(count * an_hour, f"{count} {unit}") for count in range(step, int(top / an_hour) + 1, step)][-4:]
    fitting = [(whole / seconds, f"{seconds // 60}:{seconds % 60:02d}") for seconds in PACES if whole / seconds < top]
    apart: list[tuple[float, str]] = []
    for value, text in fitting:
        if not apart or value - apart[-1][0] > top / 5:
            apart.append((value, text))
    return apart


def _speed_said(times: Times, threshold: float | None) -> str:
    numbers = times.traces.numbers
    mean, best = (times.speed_words(speed or 0.0) for speed in (numbers.moving_mps, numbers.fastest_mps))
    told = words.board.SPEED_RANGE.format(mean=mean, best=best)
    fast = times.of_rule("no_speed_work")
    if fast:
        told += words.board.FAST_STRETCHES.format(
            number=len(fast), duration=amounts.duration(sum(s.end - s.begin for s in fast))
        )
    return f"{told}; threshold pace {times.speed_words(threshold)}." if threshold else f"{told}."


def is_plain(times: Times) -> bool:
    """Whether the ground is not worth a chart: no steep stretch, hardly a rise."""
    known = _values(times.traces.ground)
    return not times.of_rule("steep_ground") and (not len(known) or float(known.max() - known.min()) < PLAIN_METRES)


def ground_chart(times: Times) -> Figure | None:
    """Height above the lowest point, with the steep stretches."""
    unit, whole = ("ft", words.shared.FOOT_M) if times.imperial else ("m", 1.0)
    known = _values(times.traces.ground) / whole
    if not len(known):
        return None
    low, high = rounded(float(known.min()), float(known.max()), 50 if times.imperial else 10)
    bottom = BOTTOM - 66
    scale = Scale(low, max(high, low + PLAIN_METRES / whole), TOP, bottom)
    said = words.board.HEIGHT_RANGE.format(min=known.min(), max=known.max(), unit=unit)
    steep = times.of_rule("steep_ground")
    if steep:
        said += words.board.STEEP_STRETCHES.format(
            number=len(steep), duration=amounts.duration(sum(s.end - s.begin for s in steep))
        )
    chart = Chart(words.board.GROUND_TITLE, words.board.GROUND_DRAWN, bottom + 18)
    for span in steep:
        chart.area(times.at(span.begin), times.at(span.end), TOP, bottom, "made-band")
    _minutes(chart, times, bottom)
    line = [piece / (1.0, whole) for piece in times.traces.ground]
    chart.line([_closed(piece, bottom) for piece in _pieces(times, line, scale)], "ground")
    beside(chart, [(TOP + 2, f"{scale.high:.0f} {unit}", "tick"), (bottom - 4, f"{low:g} {unit}", "tick")])
    keys = (Key("made-band", "steep"),) if steep else ()
    reads = _reads(times, times.traces.ground_read / whole, lambda height: f"{height:.0f} {unit}")
    return Figure(f"Ground, {unit}", said, chart.markup(), keys, reads)
