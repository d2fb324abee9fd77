"""Every number the rules use, read once from `limits.toml`, each with its unit, its source and how strong that is.

A limit is named `section.name`, for example `intensity_ceiling.caution_seconds`.
"""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from importlib import resources
from typing import Any

TOLD_LETTERS = 60
OVERRIDE = "override file"
"""The source of a value that is not the project's own."""
Value = float | int | str | list[Any] | dict[str, Any]


@dataclass(frozen=True, slots=True)
class Limit:
    """One number or table: `evidence` is published, convention or default."""

    name: str
    value: Any
    unit: str
    source: str
    evidence: str


class LimitsError(ValueError):
    """A limits file that names an unknown limit or gives a value of the wrong kind. One line, for the user."""


class Limits:
    """Read-only look-up of limits by name."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self._limits = dict(limits)

    def number(self, name: str) -> float:
        """A number by name. KeyError for a name that does not exist: a programming error."""
        return float(self._limits[name].value)

    def whole(self, name: str) -> int:
        return int(self._limits[name].value)

    def value(self, name: str) -> Any:
        return self._limits[name].value

    def limit(self, name: str) -> Limit:
        return self._limits[name]

    def source(self, name: str) -> str:
        return self._limits[name].source

    @cached_property
    def fingerprint(self) -> str:
        """Names these limits: other values, another fingerprint."""
        text = repr(sorted((limit.name, limit.value) for limit in self._limits.values()))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def __iter__(self) -> Iterator[Limit]:
        return iter(self._limits.values())

    def section(self, prefix: str) -> list[Limit]:
        """All limits below a section, in the order of the file."""
        return [limit for name, limit in self._limits.items() if name.startswith(prefix + ".")]

    def overridden(self, table: Mapping[str, Any]) -> Limits:
        """A copy with values replaced from a parsed override file; LimitsError for unknown names or kinds."""
        changed = dict(self._limits)
        for section, entries in table.items():
            if not isinstance(entries, Mapping):
                raise LimitsError(f"[{section}]: must be a table of limits")
            for key, entry in entries.items():
                name = f"{section}.{key}"
                if name not in changed:
                    raise LimitsError(f"{name}: no such limit; `fallow rules` lists them")
                value = entry["value"] if isinstance(entry, Mapping) and "value" in entry else entry
                old = changed[name]
                value = _like(value, old.value, name)
                changed[name] = Limit(name, value, old.unit, OVERRIDE, "default")
        return Limits(changed)


def _like(value: Any, old: Any, name: str) -> Any:
    """The value, where it has the shape of the one that it replaces; keys of a table that it leaves out stay."""
    if isinstance(old, bool) or not isinstance(old, int | float | list | dict):
        if type(value) is not type(old):
            raise LimitsError(f"{name} = {_told(value)}: must be of the same kind as {_told(old)}")
    elif isinstance(old, int | float):
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise LimitsError(f"{name} = {_told(value)}: must be a number, as {_told(old)} is")
        if not math.isfinite(value) or (value < 0 <= old):
            raise LimitsError(f"{name} = {_told(value)}: must be a number from 0, as {_told(old)} is")
    elif isinstance(old, dict):
        if not isinstance(value, Mapping):
            raise LimitsError(f"{name} = {_told(value)}: must be a table, as {_told(old)} is")
        unknown = [key for key in value if key not in old]
        if unknown:
            raise LimitsError(f"{name}.{unknown[0]}: no such key; there are: {', '.join(old)}")
        return old | {key: _like(one, old[key], f"{name}.{key}") for key, one in value.items()}
    else:
        return _list_like(value, old, name)
    return value


def _list_like(value: Any, old: list[Any], name: str) -> list[Any]:
    rows = bool(old) and isinstance(old[0], list)
    if not isinstance(value, list) or (not value if rows else len(value) != len(old)):
        what = "a list of such rows" if rows else f"a list of {len(old)}"
        raise LimitsError(f"{name} = {_told(value)}: must be {what}, as {_told(old)} is")
    likes = [old[0]] * len(value) if rows else old
    return [_like(one, like, f"{name}[{place}]") for place, (one, like) in enumerate(zip(value, likes, strict=True), 1)]


def _told(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= TOLD_LETTERS else f"{text[:TOLD_LETTERS]}…"


def parse(table: Mapping[str, Any]) -> Limits:
    """Limits from the parsed TOML: [section.name] tables with value, unit, source, evidence."""
    limits: dict[str, Limit] = {}
    for section, entries in table.items():
        for key, entry in entries.items():
            name = f"{section}.{key}"
            limits[name] = Limit(name, entry["value"], entry.get("unit", ""), entry["source"], entry["evidence"])
    return Limits(limits)


@cache
def default_limits() -> Limits:
    """The limits shipped with the package."""
    return parse(tomllib.loads(resources.files("rules").joinpath("limits.toml").read_text("utf-8")))
