"""The colours of the board: paper and ink, and two muted inks for what is one's own and for what is over a limit."""

from __future__ import annotations

from typing import Literal

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
