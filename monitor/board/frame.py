"""What the charts of days share: the weeks below, the race and today across, and scales."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from math import ceil, floor

import numpy as np
import numpy.typing as npt
from markupsafe import Markup

from monitor.board.days import GUTTER, Sheet
from monitor.board.svg import Chart
from monitor.views.words import short_day

WEEK = timedelta(days=7)
LETTERS = 12
"""Height of a line of letters, px."""


@dataclass(frozen=True, slots=True)
class Key:
    """One line of a legend: the mark by its class, and what it stands for."""

    mark: str
    words: str


Read = tuple[float, str]
"""Where along the width a value stands, and the value in words."""


@dataclass(frozen=True, slots=True)
class Figure:
    title: str
    said: str  # what the picture shows, in a sentence or two
    chart: Markup
    keys: tuple[Key, ...] = ()
    reads: tuple[Read, ...] = ()  # told at the mark that is pointed at

    @property
    def read_at(self) -> str:
        return " ".join(f"{at:.3f}".removeprefix("0") for at, _ in self.reads)

    @property
    def read_words(self) -> str:
        return "\n".join(words.replace("\n", " ") for _, words in self.reads)


@dataclass(frozen=True, slots=True)
class Scale:
    """Values to pixels from the top."""

    low: float
    high: float
    top: float
    bottom: float

    def __call__(self, value: float) -> float:
        share = (min(max(value, self.low), self.high) - self.low) / (self.high - self.low)
        return self.bottom - share * (self.bottom - self.top)

    def along(self, values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        share = (np.clip(values, self.low, self.high) - self.low) / (self.high - self.low)
        return np.asarray(self.bottom - share * (self.bottom - self.top))


def rounded(low: float, high: float, step: float) -> tuple[float, float]:
    """The nearest steps around, never the same."""
    first, last = floor(low / step) * step, ceil(high / step) * step
    return first, last if last > first else first + step


def weeks(chart: Chart, sheet: Sheet, top: float, bottom: float) -> None:
    """Hairlines a week apart with their dates, counted from the race."""
    plan = sheet.plan
    on = plan.day0
    marks = []
    while on <= sheet.days[-1].date:
        at = sheet.middle(on)
        marks.append((at, top, bottom))
        if at < 0.97:
            chart.text(at, bottom + LETTERS, short_day(on), "tick mid")
        on += WEEK
    chart.uprights(marks[1:], "hair")
    chart.level(bottom, "base", GUTTER)
    chart.upright(sheet.middle(plan.day0), top, bottom, "race")


def today_line(chart: Chart, sheet: Sheet, top: float, bottom: float) -> None:
    if sheet.shows_today:
        chart.upright(sheet.middle(sheet.today), top, bottom, "today")


Label = tuple[float, str, str]
"""Height, words, kind."""


def axis(chart: Chart, scale: Scale, unit: str, lines: Sequence[Label] = ()) -> None:
    """The ends of a scale in numbers, and the words of lines, beside a chart; a number gives way to a line near it."""
    ends: list[Label] = [(scale.top, f"{scale.high:g}{unit}", "tick"), (scale.bottom - 6, f"{scale.low:g}", "tick")]
    free = [each for each in ends if all(abs(each[0] - line[0]) > LETTERS for line in lines)]
    beside(chart, [*lines, *free])


def beyond(chart: Chart, at: float, scale: Scale, words: str) -> None:
    """Says of a mark that ends at the edge of the picture how far it goes on."""
    chart.text(at, scale.top - 2, f"\u2191 {words}", "limit-word mid")


def beside(chart: Chart, labels: Sequence[Label]) -> None:
    """Words in the gutter, each at its line and none on another."""
    lowest = 0.0
    for top, words, kind in sorted(labels):
        lowest = max(top + 4, lowest + LETTERS)
        chart.text(0, lowest, words, kind)
