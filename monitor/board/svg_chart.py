"""Charts as SVG text: colours of paper and ink, the drawing, and what the charts of days share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from math import ceil, floor
from typing import Literal

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from monitor import words
from monitor.board.days import GUTTER, ChartDays
from monitor.plain_text import plain

# The colours of the board: paper and ink, and two muted inks for what is one's own and for what is over a limit.

Scheme = Literal["light", "dark", "print"]

COLOURS: dict[str, tuple[str, str, str]] = {
    # name: light, dark, print
    "paper": ("#f6f2e9", "#1b1a18", "#ffffff"),
    "leaf": ("#fbf8f1", "#232220", "#ffffff"),  # a leaf laid on the paper
    "ink": ("#26221c", "#e9e3d6", "#000000"),
    "soft": ("#5b5447", "#b9b09f", "#3a362f"),  # small words
    "rule": ("#857b69", "#8f8674", "#6b6456"),  # lines that say something
    "hair": ("#d8cfbd", "#3b3833", "#cfcac0"),  # lines that only guide the eye
    "band": ("#e6decd", "#3d3a34", "#e4e0d8"),  # an area that only sets a line off
    "blue": ("#2c4c6b", "#9dbbd8", "#1d3a57"),  # what can be followed
    "plum": ("#74345f", "#dca6c8", "#5d2149"),  # what is over a limit
}
WORDS_ON = (("ink", 7.0), ("soft", 4.5), ("blue", 4.5), ("plum", 4.5))
"""Colours of letters, with the contrast each needs against paper and leaf (WCAG 2.2, 1.4.3, 1.4.6)."""
LINES_ON = (("rule", 3.0), ("ink", 3.0), ("blue", 3.0), ("plum", 3.0))
"""Colours of lines and marks that carry meaning, with the contrast each needs (WCAG 2.2, 1.4.11)."""


def colour(name: str, scheme: Scheme) -> str:
    return COLOURS[name][("light", "dark", "print").index(scheme)]


def properties(scheme: Scheme) -> str:
    """The palette as CSS custom properties."""
    return "".join(f"--{name}:{colour(name, scheme)};" for name in COLOURS)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours (WCAG 2.2: relative luminance of sRGB)."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(hex_colour: str) -> float:
    channels = [int(hex_colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


# A chart as SVG text that fits any width: places along it are shares of the width, heights and letters are pixels.
# Lines and filled shapes lie in an inner picture that is stretched to the width, with strokes that are not; letters,
# hatching and marks lie in the outer one, which is never scaled. So a chart reads the same on a phone and on paper.

WIDE, FINE = 1000, 10
"""The inner picture counts thousandths of the width and tenths of a pixel, both in whole numbers."""

Points = npt.NDArray[np.float64] | Sequence[tuple[float, float]]
"""Share of the width and pixels from the top, a row a point."""


class Chart:
    """One picture: its parts in the order in which they are drawn."""

    def __init__(self, title: str, description: str, height: int) -> None:
        self._title = title
        self._description = description
        self._height = height
        self._under: list[str] = []
        self._lines: list[str] = []
        self._over: list[str] = []

    def area(self, left: float, right: float, top: float, bottom: float, kind: str) -> None:
        """A rectangle that may be hatched."""
        width, height = max(right - left, 0.0), max(bottom - top, 0.0)
        self._under.append(
            f'<rect class="{kind}" x="{_percent(left)}" y="{_px(top)}"'
            f' width="{_percent(width)}" height="{_px(height)}"/>'
        )

    def level(self, top: float, kind: str, left: float = 0.0, right: float = 1.0) -> None:
        """A horizontal line."""
        self.levels([(top, left, right)], kind)

    def levels(self, lines: Iterable[tuple[float, float, float]], kind: str) -> None:
        """Horizontal lines (top, left, right) as one shape."""
        self._path([f"M{_x(left)} {_y(top)}H{_x(right)}" for top, left, right in lines], kind)

    def upright(self, at: float, top: float, bottom: float, kind: str) -> None:
        self.uprights([(at, top, bottom)], kind)

    def uprights(self, lines: Iterable[tuple[float, float, float]], kind: str) -> None:
        """Vertical lines (at, top, bottom) as one shape."""
        self._path([f"M{_x(at)} {_y(top)}V{_y(bottom)}" for at, top, bottom in lines], kind)

    def dots(self, points: Iterable[tuple[float, float]], kind: str) -> None:
        """Lines of hardly any length, which the ends of their stroke make visible (on paper not without a length)."""
        self._path([f"M{_x(at)} {_y(top)}h1" for at, top in points], kind)

    def line(self, pieces: Iterable[Points], kind: str) -> None:
        """A line through the points of each piece; a piece of a single point is a dot."""
        self._path([_through(piece) for piece in pieces if len(piece)], kind)

    def filled(self, boxes: Iterable[tuple[float, float, float, float]], kind: str) -> None:
        """Plain rectangles (left, right, top, bottom) as one shape."""
        self._path([f"M{_x(a)} {_y(top)}H{_x(b)}V{_y(bottom)}H{_x(a)}z" for a, b, top, bottom in boxes], kind)

    def text(self, at: float, top: float, text: str, kind: str) -> None:
        """Letters that begin at a place, or stand around it (`kind` with "mid") or end there ("end")."""
        self._over.append(f'<text class="{kind}" x="{_percent(at)}" y="{_px(top)}">{escape(plain(text))}</text>')

    def markup(self) -> Markup:
        height = self._height
        inner = (
            f'<svg viewBox="0 0 {WIDE} {height * FINE}" preserveAspectRatio="none" width="100%" height="{height}">'
            f"{''.join(self._lines)}</svg>"
            if self._lines
            else ""
        )
        return Markup(
            f'<svg class="chart" role="img" width="100%" height="{height}">'
            f"<title>{escape(plain(self._title))}</title><desc>{escape(plain(self._description))}</desc>"
            f"{''.join(self._under)}{inner}{''.join(self._over)}</svg>"
        )

    def _path(self, commands: Sequence[str], kind: str) -> None:
        if commands:
            self._lines.append(f'<path class="{kind}" d="{"".join(commands)}"/>')


def _through(piece: Points) -> str:
    """The first point, and the steps from each to the next."""
    places = np.rint(np.asarray(piece, dtype=np.float64) * (WIDE, FINE)).astype(np.int64)
    begin = f"M{places[0, 0]} {places[0, 1]}"
    if len(places) == 1:
        return begin + "h1"
    return f"{begin}l{' '.join(map(str, np.diff(places, axis=0).ravel().tolist()))}"


def _x(share: float) -> int:
    return round(share * WIDE)


def _y(pixels: float) -> int:
    return round(pixels * FINE)


@lru_cache(maxsize=4096)
def _percent(share: float) -> str:
    return f"{share * 100:.1f}%".replace(".0%", "%")


@lru_cache(maxsize=4096)
def _px(pixels: float) -> str:
    return f"{pixels:.1f}".removesuffix(".0")


# What the charts of days share: the weeks below, the race and today across, and scales.

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
        return "\n".join(text.replace("\n", " ") for _, text in self.reads)


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


def weeks(chart: Chart, sheet: ChartDays, top: float, bottom: float) -> None:
    """Hairlines a week apart with their dates, counted from the race."""
    plan = sheet.plan
    on = plan.day0
    marks = []
    while on <= sheet.days[-1].date:
        at = sheet.middle(on)
        marks.append((at, top, bottom))
        if at < 0.97:
            chart.text(at, bottom + LETTERS, words.shared.short_day(on), "tick mid")
        on += WEEK
    chart.uprights(marks[1:], "hair")
    chart.level(bottom, "base", GUTTER)
    chart.upright(sheet.middle(plan.day0), top, bottom, "race")


def today_line(chart: Chart, sheet: ChartDays, top: float, bottom: float) -> None:
    if sheet.shows_today:
        chart.upright(sheet.middle(sheet.today), top, bottom, "today")


Label = tuple[float, str, str]
"""Height, words, kind."""


def axis(chart: Chart, scale: Scale, unit: str, lines: Sequence[Label] = ()) -> None:
    """The ends of a scale in numbers, and the words of lines, beside a chart; a number gives way to a line near it."""
    ends: list[Label] = [(scale.top, f"{scale.high:g}{unit}", "tick"), (scale.bottom - 6, f"{scale.low:g}", "tick")]
    free = [end for end in ends if all(abs(end[0] - line[0]) > LETTERS for line in lines)]
    beside(chart, [*lines, *free])


def beyond(chart: Chart, at: float, scale: Scale, text: str) -> None:
    """Says of a mark that ends at the edge of the picture how far it goes on."""
    chart.text(at, scale.top - 2, f"\u2191 {text}", "limit-word mid")


def beside(chart: Chart, labels: Sequence[Label]) -> None:
    """Words in the gutter, each at its line and none on another."""
    lowest = 0.0
    for top, text, kind in sorted(labels):
        lowest = max(top + 4, lowest + LETTERS)
        chart.text(0, lowest, text, kind)
