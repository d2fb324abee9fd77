"""What is read of files of each kind: all of it, or why nothing was."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from monitor.errors import Unreadable
from monitor.intake import kinds, plausible, sport_words, table, track, untrusted
from monitor.intake.checkin import on_scale
from monitor.intake.plausible import Remarks, mask_samples
from monitor.intake.track import steps_m
from tests.monitor.intake import made_days, made_files

SEEDS: dict[str, tuple[int, ...]] = {
    "body": (
        0, 3, 4, 8, 13, 15, 16, 17, 19, 20, 21, 22, 25, 26, 27, 28, 30, 31, 32, 35, 36, 37, 38, 39, 40, 41,
        42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 53, 54, 55, 56, 57, 58, 59,
    ),
    "checkins": (
        1, 4, 7, 8, 12, 19, 21, 25, 26, 32,
    ),
    "csv": (
        0, 4, 5, 6, 7, 8, 9, 10, 11, 12, 14, 15, 16, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32, 34, 35,
        36, 37, 38, 39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 53, 54,
    ),
    "fit": (
        0, 1, 4, 5, 8, 9, 10, 11, 12, 13, 14, 15, 18, 20, 22, 23, 24, 26, 27, 28, 29, 32, 33, 35, 36, 37,
        38, 39, 40, 45, 46, 47, 51, 52, 53, 55, 56, 60, 61, 62, 63, 64, 65, 66, 67, 68, 69, 70, 71, 72, 73,
        74, 75, 76, 77, 78, 79, 80, 81, 82, 83, 84, 85, 86, 87,
    ),
    "form": (
        4, 8, 12, 13, 22, 25, 26, 31, 32, 33,
    ),
    "gpx": (
        0, 2, 3, 5, 6, 8, 9, 12, 14, 15, 16, 22, 26, 27, 34, 35, 36, 37, 38, 39, 40, 41, 42, 43, 44,
    ),
    "mhealth": (
        0, 1, 2, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 16, 19, 20, 21, 23, 28, 29, 31, 32, 33, 34, 35, 36,
        37, 38, 39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 53, 54, 55, 56, 57, 58, 59,
    ),
    "packed": (
        0, 1, 2, 3, 4, 6, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28,
        29, 30, 31, 32, 33, 34,
    ),
    "rr": (
        0, 1, 2, 4, 5, 6, 8, 9, 11, 13, 14, 16, 18, 19, 20, 21, 24, 26, 27, 28, 31, 32, 33, 35, 36, 37, 38,
        39, 40, 41, 42, 43, 44, 45, 46, 47, 48, 49, 50, 51, 52, 53, 54, 55, 56, 57, 58, 59,
    ),
    "tcx": (
        2, 4, 6, 8, 9, 18, 21, 24, 26, 27, 28, 29, 30, 32, 34, 35, 36, 37, 38, 39, 40, 41, 42, 43, 44, 45,
        46, 47, 48, 49,
    ),
}  # fmt: skip


def read(kind: str, seed: int) -> Any:
    """The facts of a file, or the reason why there are none."""
    name, data, options = made_files.made(kind, seed)
    try:
        return kinds.read(name, data, options)
    except Unreadable as reason:
        return str(reason)


def of_columns(seed: int) -> Any:
    """A table of samples: what is masked, steps or strides, how long it moved, the way between positions."""
    found = made_files.columns(seed)
    remarks = Remarks()
    spans = [track.moving_seconds(found, float(found["t_s"][-1]) + more) for more in (0.0, 5.0, 40.0)]
    sports = ("running", "walking", "cycling", "generic")
    counted = [track.counts_one_leg(found, sport) for sport in sports]
    steps = [track.in_steps(dict(found), sport, remarks)["cadence_spm"] for sport in sports[:2]]
    way = steps_m(found["altitude_m"] / 100, found["distance_m"] / 10)
    return [mask_samples(dict(found)), spans, counted, steps, remarks.all(), way]


def of_words() -> Any:
    """Words of sports, cells of tables, words on a scale, texts of strangers."""
    cells = (
        "47",
        "47,5",
        "1.234,5",
        "1,234.5",
        "7:30",
        "7h12",
        "-",
        "n/a",
        "1e400",
        "",
        "5 min",
        "0.5 h",
        "90 s",
        "1:02:03",
        "12 345",
    )
    dates = (
        "2026-10-06",
        "2026-10-06T06:30",
        "6.10.2026",
        "10/6/2026",
        "1790000000",
        "1790000000000",
        "06.10.26",
        "2026-13-01",
        "20261006",
        "9e99",
    )

    def tried(what: Callable[..., Any], *given: Any) -> Any:
        try:
            return what(*given)
        except (ValueError, ArithmeticError, Unreadable) as error:
            return f"{type(error).__name__}: {error}"

    return {
        "sports": {
            word: sport_words.sport_of(word)
            for word in (*sport_words.WORDS, None, "", "Trail Run", "9", "0", "99", "jump")
        },
        "numbers": [[tried(table.number, cell, comma) for comma in (None, True, False)] for cell in cells],
        "minutes": [[tried(table.minutes, cell, unit, None) for unit in ("h", "min", "s")] for cell in cells],
        "dates": [
            [
                tried(plausible.parsed, one),
                tried(plausible.epoch, one),
                *(tried(table.split_date, one, order) for order in (None, "dmy", "mdy")),
            ]
            for one in dates
        ],
        "scale": [[on_scale(key, one) for key in ("pain", "mood")] for one in made_days.SCALED],
        "shown": [
            [untrusted.shown(text, 20), untrusted.quoted(text, 20), untrusted.kept(text, 10)]
            for text in ("plain", "a\nb\x00c", "ü" * 30, "\u202ex", "  ")
        ],
    }


ANSWERS: dict[str, Callable[[], Any]] = {
    "words": of_words,
    **{f"{kind} {seed}": partial(read, kind, seed) for kind, seeds in SEEDS.items() for seed in seeds},
    **{f"columns {seed}": partial(of_columns, seed) for seed in range(8)},
}
