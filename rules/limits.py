"""Every number the rules use, read once from `limits.toml`, each with its unit, its source and how strong that is.

The value of a limit is an attribute of its section, which is an attribute of the limits. What limits there are, and of
what kind each is, stands in `limits_schema.py`, so that a typing error in code is found by the type checker.
"""

import hashlib
import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cache, cached_property
from importlib import resources
from typing import Any, Self, get_args

from rules import words
from rules.limits_schema import Sections

TOLD_LETTERS = 60
OVERRIDE = "override file"
"""The source of a value that is not the project's own."""


@dataclass(frozen=True, slots=True)
class Limit:
    """All that is said of one limit: `evidence` is published, convention or default.

    `least` and `most` bound its numbers, those of a list or a table too; what they are not given, 0 and no end do.
    """

    name: str
    value: Any
    unit: str
    source: str
    evidence: str
    least: float = 0.0
    most: float = math.inf


class LimitsError(ValueError):
    """A limits file that names an unknown limit or gives a value of the wrong kind. One line, for the user."""


@dataclass(frozen=True, eq=False)
class Limits(Sections):
    """The values of all limits as a tree, and by name in `entries` with all that is said of them."""

    entries: Mapping[str, Limit] = field(repr=False)

    def __reduce__(self) -> tuple[Any, ...]:
        """The program's own go to another process by name."""
        if self is default_limits():
            return default_limits, ()
        return Limits, tuple(getattr(self, field_of.name) for field_of in fields(self))

    def limit(self, name: str) -> Limit:
        """A limit by its name. KeyError for a name that does not exist: a programming error."""
        return self.entries[name]

    def source(self, name: str) -> str:
        return self.entries[name].source

    @cached_property
    def fingerprint(self) -> str:
        """Names these limits: other values, another fingerprint."""
        text = repr(sorted((limit.name, limit.value) for limit in self))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def __iter__(self) -> Iterator[Limit]:
        return iter(self.entries.values())

    def section(self, prefix: str) -> list[Limit]:
        """All limits below a section, in the order of the file."""
        return [limit for name, limit in self.entries.items() if name.startswith(prefix + ".")]

    def overridden(self, table: Mapping[str, Any]) -> Self:
        """A copy with values replaced from a parsed override file; LimitsError for unknown names or kinds."""
        changed = dict(self.entries)
        for section, entries in table.items():
            if not isinstance(entries, Mapping):
                raise LimitsError(words.plan.MUST_BE_TABLE_OF_LIMITS.format(section=section))
            for key, entry in entries.items():
                name = f"{section}.{key}"
                if name not in changed:
                    raise LimitsError(words.plan.NO_SUCH_LIMIT.format(name=name))
                value = entry["value"] if isinstance(entry, Mapping) and "value" in entry else entry
                old = changed[name]
                value = _like(value, old.value, old, name, _kinds(section)[key])
                changed[name] = replace(old, value=value, source=OVERRIDE, evidence="default")
        return type(self).of(changed)

    @classmethod
    def of(cls, entries: Mapping[str, Limit]) -> Self:
        """The tree of these limits; TypeError where they are not those of the schema."""
        sections: dict[str, dict[str, Any]] = {}
        for limit in entries.values():
            section, key = limit.name.split(".")
            sections.setdefault(section, {})[key] = _frozen(limit.value, _kinds(section).get(key))
        return cls(entries=entries, **{name: SECTIONS[name](**values) for name, values in sections.items()})


SECTIONS: Mapping[str, Any] = {field_of.name: field_of.type for field_of in fields(Sections)}


def _kinds(section: str) -> Mapping[str, Any]:
    kinds: Mapping[str, Any] = SECTIONS[section].__annotations__
    return kinds


def _frozen(value: Any, kind: Any) -> Any:
    if isinstance(value, list):
        return tuple(_frozen(part, None) for part in value)
    if isinstance(value, dict):
        return {key: _frozen(part, None) for key, part in value.items()}
    return float(value) if kind is float else value


def _like(value: Any, old: Any, limit: Limit, name: str, kind: Any) -> Any:
    """The value, where it has the shape of the one that it replaces; keys of a table that it leaves out stay."""
    if isinstance(old, dict):
        if not isinstance(value, Mapping):
            raise LimitsError(words.plan.MUST_BE_TABLE.format(name=name, told=_told(value), old=_told(old)))
        unknown = [key for key in value if key not in old]
        if unknown:
            raise LimitsError(words.plan.NO_SUCH_KEY.format(name=name, unknown=unknown[0], old=", ".join(old)))
        each = get_args(kind)[1]
        return old | {key: _like(part, old[key], limit, f"{name}.{key}", each) for key, part in value.items()}
    if isinstance(old, list):
        return _list_like(value, old, limit, name, kind)
    if not isinstance(old, int | float):
        if type(value) is not type(old):
            raise LimitsError(words.plan.MUST_BE_OF_SAME_KIND.format(name=name, told=_told(value), old=_told(old)))
    elif isinstance(value, bool) or not isinstance(value, int | float):
        raise LimitsError(words.plan.MUST_BE_NUMBER.format(name=name, told=_told(value), old=_told(old)))
    elif not limit.least <= value <= limit.most or math.isinf(value):
        most = "" if math.isinf(limit.most) else f" to {limit.most:g}"
        raise LimitsError(
            words.plan.NUMBER_OUT_OF_RANGE.format(
                name=name, told=_told(value), least=limit.least, most=most, old=_told(old)
            )
        )
    elif kind is int and value != int(value):
        raise LimitsError(words.plan.MUST_BE_WHOLE_NUMBER.format(name=name, told=_told(value), old=_told(old)))
    return int(value) if kind is int else value


def _list_like(value: Any, old: list[Any], limit: Limit, name: str, kind: Any) -> list[Any]:
    rows = bool(old) and isinstance(old[0], list)
    if not isinstance(value, list) or (not value if rows else len(value) != len(old)):
        what = words.plan.LIST_OF_SUCH_ROWS if rows else words.plan.LIST_OF.format(length=len(old))
        raise LimitsError(words.plan.MUST_BE.format(name=name, told=_told(value), what=what, old=_told(old)))
    likes = [old[0]] * len(value) if rows else old
    kinds = get_args(kind)
    kinds = (kinds[0],) * len(value) if kinds[-1] is ... else kinds
    each = enumerate(zip(value, likes, kinds, strict=True), 1)
    return [_like(one, like, limit, f"{name}[{place}]", its) for place, (one, like, its) in each]


def _told(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= TOLD_LETTERS else f"{text[:TOLD_LETTERS]}…"


def parse(table: Mapping[str, Any]) -> Limits:
    """Limits from the parsed TOML: [section.name] tables with value, unit, source, evidence and perhaps a range."""
    limits: dict[str, Limit] = {}
    for section, entries in table.items():
        for key, entry in entries.items():
            name = f"{section}.{key}"
            least, most = entry.get("range", (0.0, math.inf))
            limits[name] = Limit(name, entry["value"], entry["unit"], entry["source"], entry["evidence"], least, most)
    return Limits.of(limits)


@cache
def default_limits() -> Limits:
    """The limits shipped with the package."""
    return parse(tomllib.loads(resources.files("rules").joinpath("limits.toml").read_text("utf-8")))
