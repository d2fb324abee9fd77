"""The pictures of one session; each slice of time keeps its least and its greatest value."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isnan

import numpy as np
import numpy.typing as npt

from monitor import words
from monitor.board.days import GUTTER
from monitor.board.svg_chart import LETTERS, Chart, Figure, Key, Label, Read, Scale, beside, rounded
from monitor.plain_text import minute_second, spoken
from rules.numbers import duration
from rules.session.timeline import stretches
from rules.session.track import Track

# Fewer points, no peak lost: the least and the greatest of each slice of time, in the order in which they came.

Floats = npt.NDArray[np.float64]
SLICES = 240
"""So many slices give at most twice as many points."""
LONGEST_STEP = 30.0
"""Seconds between two known values that a line still bridges."""


def thinned(time_s: Floats, values: Floats, slices: int = SLICES) -> list[Floats]:
    """Pieces with a row (second, value) a point, broken where values are missing; at most two points a slice."""
    known = np.isfinite(values) & np.isfinite(time_s)
    time, value = time_s[known], values[known]
    if len(time) == 0:
        return []
    kept = _extremes(time, value, slices)
    gaps = np.concatenate(([0], np.cumsum(np.diff(time) > LONGEST_STEP)))
    breaks = np.flatnonzero(np.diff(gaps[kept]) > 0) + 1
    return np.split(np.column_stack((time[kept], value[kept])), breaks)


def _extremes(time: Floats, value: Floats, slices: int) -> npt.NDArray[np.int64]:
    """Indices of the first least and the first greatest value of each slice, and of the very first and last."""
    if len(time) <= 2 * slices:
        return np.arange(len(time))
    width = max((time[-1] - time[0]) / slices, 1e-9)
    slice_of = np.minimum(((time - time[0]) / width).astype(np.int64), slices - 1)
    begins = np.flatnonzero(np.diff(slice_of, prepend=-1))
    which = np.repeat(np.arange(len(begins)), np.diff(begins, append=len(time)))
    ends = [_firsts(value == found.reduceat(value, begins)[which], which) for found in (np.minimum, np.maximum)]
    return np.unique(np.concatenate((*ends, [0, len(time) - 1])))


def _firsts(flags: npt.NDArray[np.bool_], which: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The first index of each slice at which the flag is set."""
    at = np.flatnonzero(flags)
    return at[np.diff(which[at], prepend=-1) > 0]


TOP, BOTTOM, LANE = 12, 130, 20
PACES = (900, 720, 600, 480, 420, 360, 330, 300, 270, 240, 210, 180, 150)
"""Seconds a kilometre that may stand beside a picture."""
STILL_MPS = 0.3
WORTH_FACTOR = 1.05
WORTH_SECONDS = 60
"""How much more climbing must be worth than its speed, and for how long, to be drawn beside it."""
PLAIN_METRES = 40
"""Ground that rises and falls less is not drawn."""
READ_SLICES = 60
SHORTEST_MASK = 3.0
BRIDGE_ROWS = 5


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a session that made a finding, in seconds from its start."""

    rule: str
    begin: float
    end: float


@dataclass(frozen=True, slots=True)
class Times:
    """A cleaned session on the clock of its pictures."""

    track: Track
    seconds: float
    spans: Sequence[Stretch]
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

    def parts(self, edges: Floats, values: Floats) -> tuple[Floats, Floats]:
        """Mean and highest of the known values from each edge to the next; NaN where there is none."""
        part = np.searchsorted(edges, self.track.clock.rows_s, side="right") - 1
        known = self.track.clock.real & np.isfinite(values) & (part >= 0) & (part < len(edges) - 1)
        part, value = part[known], values[known]
        highest = np.full(len(edges) - 1, np.nan)
        np.fmax.at(highest, part, value)
        counts = np.bincount(part, minlength=len(highest))
        sums = np.bincount(part, value, minlength=len(highest))
        return np.divide(sums, counts, out=np.full(len(highest), np.nan), where=counts > 0), highest

    def rows(self, begin: float, end: float) -> npt.NDArray[np.bool_]:
        time = self.track.clock.rows_s
        return self.track.clock.real & (time >= begin) & (time < end)

    def of_rule(self, rule: str) -> list[Stretch]:
        return [span for span in self.spans if span.rule == rule]


def heart_chart(times: Times, ceiling: int | None) -> Figure | None:
    """Heart rate with its ceiling; what is not believed is hatched, and lanes below show what made the findings."""
    heart, time = times.track.heart, times.track.clock.rows_s
    raw = times.track.clock.on_rows(times.track.recorded.get("hr_bpm", np.full(len(times.track.clock.time_s), np.nan)))
    known = raw[np.isfinite(raw)]
    if not len(known):
        return None
    low, high = rounded(float(known.min()) - 3, max(float(known.max()), ceiling or 0) + 5, 10)
    scale = Scale(low, high, TOP, BOTTOM)
    rules = list(dict.fromkeys(span.rule for span in times.spans))
    said = _heart_said(times, ceiling)
    chart = Chart(words.board.HEART_TITLE, words.board.HEART_DRAWN, BOTTOM + LANE * len(rules) + 18)
    labels: list[Label] = [(TOP + 2, f"{high:g}", "tick"), (BOTTOM - 4, f"{low:g}", "tick")]
    _masks(chart, times)
    _minutes(chart, times, BOTTOM, LANE * len(rules))
    masked = np.where(np.isfinite(heart.rows_bpm), np.nan, raw)
    chart.line(_pieces(times, thinned(time, masked), scale), "trace doubted")
    chart.line(_pieces(times, thinned(time, heart.rows_bpm), scale), "trace")
    if ceiling is not None:
        chart.line(_pieces(times, _over(times, ceiling), scale), "over")
        chart.level(scale(ceiling), "limit", GUTTER)
        labels.append((scale(ceiling), f"ceiling {ceiling}", "limit-word"))
    beside(chart, labels)
    _lanes(chart, times, rules)
    keys = [Key("trace", "heart rate")]
    keys += [Key("over", words.board.ABOVE_CEILING_LABEL)] if ceiling is not None else []
    keys += [Key("mask", "not believed")] if heart.masked_times else []
    reads = _reads(times, heart.rows_bpm, lambda bpm: f"{bpm:.0f} bpm")
    return Figure(words.board.HEART_AXIS, said, chart.markup(), tuple(keys), reads)


def _reads(times: Times, values: Floats, text: Callable[[float], str]) -> tuple[Read, ...]:
    """What an even part of the session comes to, told at its middle."""
    edges = np.linspace(0.0, times.seconds, READ_SLICES + 1)
    means, half = times.parts(edges, values)[0].tolist(), times.seconds / READ_SLICES / 2
    return tuple(
        (times.at(begin + half), f"{minute_second(begin)}: {text(mean)}")
        for begin, mean in zip(edges.tolist(), means, strict=False)
        if not isnan(mean)
    )


def _over(times: Times, ceiling: int) -> list[Floats]:
    """Closed shapes between the ceiling and what lies above it."""
    bpm, time = times.track.heart.rows_bpm, times.track.clock.rows_s
    shapes: list[Floats] = []
    for begin, end in stretches(np.nan_to_num(bpm) > ceiling, bridge=BRIDGE_ROWS):
        slices = max(2, round((time[end - 1] - time[begin]) / times.seconds * SLICES))
        pieces = thinned(time[begin:end], np.fmax(bpm[begin:end], float(ceiling)), slices)
        shapes += [_closed(piece, float(ceiling)) for piece in pieces]
    return shapes


def _closed(piece: Floats, level: float) -> Floats:
    """A line with its ends brought to a level, so that it can be filled."""
    return np.vstack(([piece[0, 0], level], piece, [piece[-1, 0], level]))


def _masks(chart: Chart, times: Times) -> None:
    for begin, end in times.track.heart.masked_times:
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


def _pieces(times: Times, pieces: list[Floats], scale: Scale) -> list[Floats]:
    """Seconds and values as places in the picture."""
    return [np.column_stack((times.along(piece[:, 0]), scale.along(piece[:, 1]))) for piece in pieces]


def _heart_said(times: Times, ceiling: int | None) -> str:
    heart = times.track.heart
    believed = heart.rows_bpm[np.isfinite(heart.rows_bpm)]
    if not len(believed):
        return words.board.HEART_NOT_BELIEVED
    told = words.board.HEART_RANGE.format(min=believed.min(), max=believed.max(), mean=believed.mean())
    if ceiling is not None:
        above = heart.believed & (heart.bpm > ceiling)
        spent = float(heart.weight_s[above].sum())
        told += words.board.above_ceiling(spent, ceiling)
    if heart.masked_s:
        told += f"; {duration(heart.masked_s)} not believed"
    return f"{told}."


def speed_chart(times: Times, threshold: float | None) -> Figure | None:
    """Speed over ground, with the threshold speed and the fast stretches."""
    speed, time = times.track.pace.speed_mps, times.track.clock.rows_s
    known = speed[np.isfinite(speed)]
    if not len(known) or float(known.max()) < STILL_MPS:
        return None
    worth = worth_on_the_level(times)
    highest = float(np.nanmax(worth)) if worth is not None else 0.0
    top_speed = max(float(known.max()), highest, threshold or 0.0) * 1.05
    scale = Scale(0, top_speed, TOP, BOTTOM - 30)
    said = _speed_said(times, known, threshold)
    drawn = words.board.SPEED_DRAWN + (words.board.WORTH_DRAWN if worth is not None else "")
    chart = Chart(words.board.SPEED_TITLE, drawn, BOTTOM - 30 + 18)
    for span in times.of_rule("no_speed_work"):
        chart.area(times.at(span.begin), times.at(span.end), TOP, BOTTOM - 30, "made-band")
    _minutes(chart, times, BOTTOM - 30)
    chart.line(_pieces(times, thinned(time, speed), scale), "trace")
    if worth is not None:
        chart.line(_pieces(times, thinned(time, worth), scale), "worth")
    ticks = _speed_ticks(top_speed, times)
    chart.levels([(scale(value), GUTTER, 1.0) for value, _ in ticks], "hair")
    labels: list[Label] = [(scale(value), text, "tick") for value, text in ticks]
    if threshold:
        chart.level(scale(threshold), "limit", GUTTER)
        labels = [label for label in labels if abs(label[0] - scale(threshold)) > LETTERS]
        labels.append((scale(threshold), times.speed_words(threshold), "limit-word"))
    beside(chart, labels)
    keys = [Key("trace", "speed")]
    keys += [Key("worth", words.board.WORTH_LABEL)] if worth is not None else []
    keys += [Key("made-band", words.board.FAST_LABEL)] if times.of_rule("no_speed_work") else []
    reads = _reads(times, speed, times.speed_words)
    each = ("mile", "mph") if times.imperial else ("km", "km/h")
    title = words.board.SPEED_AXIS.format(unit=each[0]) if times.afoot else f"Speed, {each[1]}"
    return Figure(title, said, chart.markup(), tuple(keys), reads)


def worth_on_the_level(times: Times) -> Floats | None:
    """The level speed that costs as much, where climbing makes it another; None where it hardly does."""
    speed, worth = times.track.pace.speed_mps, times.track.effort_mps
    climbing = np.isfinite(speed) & np.isfinite(worth) & (worth > speed * WORTH_FACTOR) & (speed > STILL_MPS)
    if not times.afoot or climbing.sum() < WORTH_SECONDS:
        return None
    return np.where(climbing, worth, np.nan)


def _speed_ticks(top: float, times: Times) -> list[tuple[float, str]]:
    whole = words.shared.METRES_A_MILE if times.imperial else 1000.0
    if not times.afoot:
        an_hour, unit = whole / 3600, "mph" if times.imperial else "km/h"
        step = 5 if top / an_hour <= 25 else 10
        return [(each * an_hour, f"{each} {unit}") for each in range(step, int(top / an_hour) + 1, step)][-4:]
    fitting = [(whole / seconds, f"{seconds // 60}:{seconds % 60:02d}") for seconds in PACES if whole / seconds < top]
    apart: list[tuple[float, str]] = []
    for value, text in fitting:
        if not apart or value - apart[-1][0] > top / 5:
            apart.append((value, text))
    return apart


def _speed_said(times: Times, known: Floats, threshold: float | None) -> str:
    moving = known[known > STILL_MPS]
    mean, best = float(moving.mean()), float(np.nanpercentile(known, 99))
    told = words.board.SPEED_RANGE.format(mean=times.speed_words(mean), best=times.speed_words(best))
    fast = times.of_rule("no_speed_work")
    if fast:
        told += words.board.FAST_STRETCHES.format(
            number=len(fast), duration=duration(sum(s.end - s.begin for s in fast))
        )
    return f"{told}; threshold pace {times.speed_words(threshold)}." if threshold else f"{told}."


def is_plain(times: Times) -> bool:
    """Whether the ground is not worth a chart: no steep stretch, hardly a rise."""
    known = times.track.ground.altitude_m[np.isfinite(times.track.ground.altitude_m)]
    return not times.of_rule("steep_ground") and (not len(known) or float(known.max() - known.min()) < PLAIN_METRES)


def ground_chart(times: Times) -> Figure | None:
    """Height above the lowest point, with the steep stretches."""
    altitude, time = times.track.ground.altitude_m, times.track.clock.rows_s
    known = altitude[np.isfinite(altitude)]
    if not len(known):
        return None
    unit, whole = ("ft", words.shared.FOOT_M) if times.imperial else ("m", 1.0)
    altitude, known = altitude / whole, known / whole
    low, high = rounded(float(known.min()), float(known.max()), 50 if times.imperial else 10)
    bottom = BOTTOM - 66
    scale = Scale(low, max(high, low + PLAIN_METRES / whole), TOP, bottom)
    said = words.board.HEIGHT_RANGE.format(min=known.min(), max=known.max(), unit=unit)
    steep = times.of_rule("steep_ground")
    if steep:
        said += words.board.STEEP_STRETCHES.format(
            number=len(steep), duration=duration(sum(s.end - s.begin for s in steep))
        )
    chart = Chart(words.board.GROUND_TITLE, words.board.GROUND_DRAWN, bottom + 18)
    for span in steep:
        chart.area(times.at(span.begin), times.at(span.end), TOP, bottom, "made-band")
    _minutes(chart, times, bottom)
    chart.line([_closed(piece, bottom) for piece in _pieces(times, thinned(time, altitude), scale)], "ground")
    beside(chart, [(TOP + 2, f"{scale.high:.0f} {unit}", "tick"), (bottom - 4, f"{low:g} m", "tick")])
    keys = (Key("made-band", "steep"),) if steep else ()
    return Figure(
        f"Ground, {unit}", said, chart.markup(), keys, _reads(times, altitude, lambda height: f"{height:.0f} {unit}")
    )
