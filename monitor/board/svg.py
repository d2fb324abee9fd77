"""A chart as SVG text that fits any width: places along it are shares of the width, heights and letters are pixels.

Lines and filled shapes lie in an inner picture that is stretched to the width, with strokes that are not; letters,
hatching and marks lie in the outer one, which is never scaled. So a chart reads the same on a phone and on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from markupsafe import Markup, escape

from monitor.board.words import plain

UNITS = 1000
"""Width of the inner picture; a share of 1 is so many units."""

Point = tuple[float, float]
"""Share of the width, pixels from the top."""


class Chart:
    """One picture: its parts in the order in which they are drawn."""

    def __init__(self, name: str, title: str, description: str, height: int) -> None:
        self._name = name
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
        self.path([f"M{_unit(left)} {_px(top)}H{_unit(right)}"], kind)

    def upright(self, at: float, top: float, bottom: float, kind: str) -> None:
        self.path([f"M{_unit(at)} {_px(top)}V{_px(bottom)}"], kind)

    def uprights(self, spans: Iterable[tuple[float, float, float]], kind: str) -> None:
        """Many vertical lines (at, top, bottom) as one shape."""
        self.path([f"M{_unit(at)} {_px(top)}V{_px(bottom)}" for at, top, bottom in spans], kind)

    def dots(self, points: Iterable[Point], kind: str) -> None:
        """Lines without length, which the round ends of their stroke make visible."""
        self.path([f"M{_unit(at)} {_px(top)}h.01" for at, top in points], kind)

    def line(self, pieces: Iterable[Sequence[Point]], kind: str) -> None:
        """A line through the points of each piece; a piece of a single point is a dot."""
        self.path([_through(piece) for piece in pieces if piece], kind)

    def filled(self, boxes: Iterable[tuple[float, float, float, float]], kind: str) -> None:
        """Plain rectangles (left, right, top, bottom) as one shape."""
        self.path(
            [f"M{_unit(a)} {_px(top)}H{_unit(b)}V{_px(bottom)}H{_unit(a)}z" for a, b, top, bottom in boxes], kind
        )

    def path(self, commands: Sequence[str], kind: str) -> None:
        if commands:
            self._lines.append(f'<path class="{kind}" d="{"".join(commands)}"/>')

    def text(self, at: float, top: float, words: str, kind: str = "", anchor: str = "") -> None:
        """Letters at a place; `anchor` is middle or end where not start."""
        placed = f' text-anchor="{anchor}"' if anchor else ""
        named = f' class="{kind}"' if kind else ""
        self._over.append(f'<text{named} x="{_percent(at)}" y="{_px(top)}"{placed}>{escape(plain(words))}</text>')

    def markup(self) -> Markup:
        name, height = self._name, self._height
        inner = (
            f'<svg viewBox="0 0 {UNITS} {height}" preserveAspectRatio="none" width="100%" height="{height}">'
            f"{''.join(self._lines)}</svg>"
            if self._lines
            else ""
        )
        return Markup(  # noqa: S704 - every text in it is escaped above
            f'<svg class="chart" role="img" width="100%" height="{height}" aria-labelledby="{name}-t {name}-d">'
            f'<title id="{name}-t">{escape(plain(self._title))}</title>'
            f'<desc id="{name}-d">{escape(plain(self._description))}</desc>'
            f"{''.join(self._under)}{inner}{''.join(self._over)}</svg>"
        )


def _through(piece: Sequence[Point]) -> str:
    if len(piece) == 1:
        return f"M{_unit(piece[0][0])} {_px(piece[0][1])}h.01"
    steps = [f"M{_unit(piece[0][0])} {_px(piece[0][1])}"]
    x, y = round(piece[0][0] * UNITS), piece[0][1]
    for at, top in piece[1:]:
        next_x = round(at * UNITS)
        steps.append(f"l{next_x - x} {_px(top - y)}")
        x, y = next_x, y + float(_px(top - y))
    return "".join(steps)


def _percent(share: float) -> str:
    return _short(share * 100, 2) + "%"


def _unit(share: float) -> str:
    return _short(share * UNITS, 1)


def _px(pixels: float) -> str:
    return _short(pixels, 1)


def _short(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
