"""A chart as SVG text that fits any width: places along it are shares of the width, heights and letters are pixels.

Lines and filled shapes lie in an inner picture that is stretched to the width, with strokes that are not; letters,
hatching and marks lie in the outer one, which is never scaled. So a chart reads the same on a phone and on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from markupsafe import Markup, escape

from monitor.views.words import plain

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

    def text(self, at: float, top: float, words: str, kind: str) -> None:
        """Letters that begin at a place, or stand around it (`kind` with "mid") or end there ("end")."""
        self._over.append(f'<text class="{kind}" x="{_percent(at)}" y="{_px(top)}">{escape(plain(words))}</text>')

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
