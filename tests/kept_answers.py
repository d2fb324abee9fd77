"""Answers kept as data: a guard against change, not an outside check. Nothing here says that an answer is right.

Fixed inputs are judged, and all that comes of them is compared with what came of them when the answers were kept: each
number to six digits, each masked second, each finding. Whoever changes how something is judged, read, stored or sent
sees in the difference of the kept file what that changes, and keeps the new answers where it is meant:

    python -m tests.kept_answers renew            all sets, or those named behind it; prints what changed
    python -m tests.kept_answers                  the same without writing

The inputs are made of a seed or written down; none comes from a recording of anybody, and none reads the clock.
"""

from __future__ import annotations

import dataclasses
import importlib
import itertools
import json
import sys
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from enum import Enum
from fractions import Fraction
from pathlib import Path, PurePath
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from rules.findings import STATEMENT
from rules.words import said

Answers = Mapping[str, Callable[[], Any]]
"""What each input is called, and what gives its answer."""
SETS = {
    "sessions": "tests.rules.session.kept_sessions",
    "lives": "tests.rules.kept_lives",
    "parts": "tests.rules.kept_parts",
    "readings": "tests.monitor.intake.kept_readings",
    "alerts": "tests.monitor.alerts.kept_alerts",
    "store": "tests.monitor.store.kept_store",
}
MOST = 8
"""Of a row of numbers, before figures stand for it."""
LONG = 32
"""Of a text, before its beginning and a check sum stand for it."""
TOLERATED = 2e-6
"""Of a number, so that another machine's last digit is no change."""
NOTHING = 1e-10
"""What is no more than this is a rounding of nought."""


class Line(str):
    """A text that is kept whole, however long."""

    __slots__ = ()


def plain(value: Any) -> Any:
    """Anything as JSON: dataclasses by field without what is empty, floats to seven digits, arrays as figures."""
    if value is None or isinstance(value, bool):
        return value
    for kinds, told in _KINDS:
        if isinstance(value, kinds):
            return told(value)
    if dataclasses.is_dataclass(value):
        return _fields({field.name: getattr(value, field.name) for field in dataclasses.fields(value)})
    raise TypeError(f"{type(value)} cannot be kept")


def _text(value: str) -> str:
    return value if len(value) <= LONG or isinstance(value, Line) else f"{value[:10]}… {zlib.crc32(value.encode()):08x}"


def _mapping(value: Mapping[Any, Any]) -> Any:
    if STATEMENT in value:
        return _text(said(dict(value)))
    told = {str(key): plain(each) for key, each in value.items()}
    if len(told) <= MOST or not all(isinstance(each, int | float) for each in told.values()):
        return told
    pairs = [float(one) for key, each in told.items() for one in (zlib.crc32(key.encode()) % 1000, each)]
    return _figures(np.array(pairs))


def _row(value: Sequence[Any]) -> Any:
    told = [plain(each) for each in value]
    few = len(told) <= MOST or not _numbers(told)
    return told if few else _figures(np.array(told, dtype=np.float64).ravel())


def mark(value: Any) -> str:
    """A check sum that stands for the bulk of an answer, beside the part of it that is to be read."""
    return f"{zlib.crc32(_json(plain(value)).encode()):08x}"


def _numbers(values: list[Any]) -> bool:
    """Whether they are numbers alone, or rows of numbers of one length."""
    if all(isinstance(one, list) for one in values):
        return len({len(one) for one in values}) == 1 and all(map(_numbers, values))
    return all(isinstance(one, int | float) and not isinstance(one, bool) for one in values)


def _fields(values: Mapping[str, Any]) -> dict[str, Any]:
    told = {name: plain(value) for name, value in values.items()}
    return {name: each for name, each in told.items() if each is not None and each not in ("", [], {}, False)}


def _number(value: float) -> float | int | str:
    if not np.isfinite(value):
        return str(value)
    return int(value) if value == int(value) and abs(value) < 1e15 else float(f"{value:.7g}")


def _flags(flags: np.ndarray[Any, Any]) -> str:
    """Where flags are set, as rows from and to; of many stretches their number and a check sum."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    spans = " ".join(f"{a}-{b}" for a, b in zip(edges[::2], edges[1::2], strict=True))
    return (
        spans
        if len(edges) <= 16
        else f"{len(edges) // 2} stretches of {int(flags.sum())}, {zlib.crc32(spans.encode()):08x}"
    )


def _figures(values: np.ndarray[Any, Any]) -> list[Any]:
    """How many are known, and of those the mean, a mean weighted by row, the least and the greatest."""
    known = np.isfinite(values)
    if not known.any():
        return [0]
    weights = ((np.arange(len(values)) * 37 % 97) / 48.0 - 1.0)[known]
    told = values[known].astype(np.float64)
    return [int(known.sum()), *(_number(float(one)) for one in (
        told.mean(), (told * weights).mean(), told.min(), told.max()
    ))]  # fmt: skip


_KINDS: tuple[tuple[Any, Callable[[Any], Any]], ...] = (
    (Enum, lambda value: value.name),
    (str, _text),
    (int, int),
    ((float, Fraction, np.floating), lambda value: _number(float(value))),
    ((datetime, date, time), lambda value: value.isoformat()),
    (bytes, lambda value: f"{len(value)} bytes {zlib.crc32(value):08x}"),
    (np.ndarray, lambda value: _flags(value) if value.dtype == np.bool_ else _figures(value)),
    (Mapping, _mapping),
    ((set, frozenset), lambda value: sorted((plain(each) for each in value), key=str)),
    ((list, tuple), _row),
    (timedelta, timedelta.total_seconds),
    ((PurePath, ZoneInfo, np.integer), str),
)


def differences(kept: Any, now: Any, where: str = "") -> Iterator[str]:
    """Each place at which two plain answers differ, in a line."""
    if isinstance(kept, dict) and isinstance(now, dict):
        for key in sorted({*kept, *now}):
            if key not in now:
                yield f"{where}/{key}: was {_short(kept[key])}, is gone"
            elif key not in kept:
                yield f"{where}/{key}: is new, {_short(now[key])}"
            else:
                yield from differences(kept[key], now[key], f"{where}/{key}")
    elif isinstance(kept, list) and isinstance(now, list) and len(kept) == len(now):
        for at, (one, other) in enumerate(zip(kept, now, strict=True)):
            yield from differences(one, other, f"{where}/{at}")
    elif not _alike(kept, now):
        yield f"{where}: was {_short(kept)}, is {_short(now)}"


def _alike(kept: Any, now: Any) -> bool:
    numbers = all(isinstance(one, int | float) and not isinstance(one, bool) for one in (kept, now))
    if numbers and (isinstance(kept, float) or isinstance(now, float)):
        return bool(abs(kept - now) <= TOLERATED * max(abs(kept), abs(now)) + NOTHING)
    return type(kept) is type(now) and bool(kept == now)


def _short(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 120 else text[:117] + "..."


def kept_file(module: str) -> Path:
    """The kept answers lie beside the module that makes them."""
    found = Path(__file__).parent.parent / Path(*module.split("."))
    return found.with_suffix(".json")


def load(module: str) -> dict[str, Any]:
    path = kept_file(module)
    return json.loads(path.read_text("utf-8")) if path.exists() else {}


def changed(name: str, answer: Callable[[], Any], kept: Mapping[str, Any]) -> list[str]:
    """What differs from the kept answer to one input; the first twenty places."""
    if name not in kept:
        return [f"{name}: no answer is kept; python -m tests.kept_answers renew"]
    return list(itertools.islice(differences(kept[name], now(answer), name), 20))


def now(answer: Callable[[], Any]) -> Any:
    """The answer as it would be read from a file."""
    return json.loads(json.dumps(plain(answer())))


def _written(answers: Mapping[str, Any]) -> str:
    """A line for each part of each answer, so that a difference shows no more than what changed."""
    return "{" + ",\n".join(f"{_json(name)}:{_parts(answer)}" for name, answer in answers.items()) + "}\n"


def _parts(answer: Any) -> str:
    if not isinstance(answer, dict):
        return _json(answer)
    return "{\n" + ",\n".join(f" {_json(name)}:{_json(each)}" for name, each in answer.items()) + "}"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def main() -> int:
    words = sys.argv[1:]
    renew = words[:1] == ["renew"]
    chosen = words[1:] or list(SETS)
    wrong = sorted(set(chosen) - set(SETS)) or (words if words and not renew else [])
    if wrong:
        print(f"python -m tests.kept_answers [renew [{'|'.join(SETS)}]]: what is {' '.join(wrong)}?")
        return 2
    for name in chosen:
        module = SETS[name]
        answers: Answers = importlib.import_module(module).ANSWERS
        kept, fresh = load(module), {one: now(answer) for one, answer in answers.items()}
        lines = list(differences(kept, fresh))
        print(*lines, f"{name}: {len(lines)} places of {len(fresh)} answers changed", sep="\n")
        if renew:
            kept_file(module).write_text(_written(fresh), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(importlib.import_module("tests.kept_answers").main())  # by which name the sets know it
