"""The catalogue: every rule with what it is about, where it applies, what it needs, and how strong its limits are."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module, resources
from typing import Any

from rules.limits import Limit, Limits


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: `decided_in` names its function, `limits` those outside its own section, `evidence` how sure it is."""

    id: str
    about: str
    severity: str
    stages: tuple[str, ...]
    needs: tuple[str, ...]
    decided_in: str
    limits: tuple[str, ...]
    evidence: str
    false_alarms: tuple[str, ...] = ()  # how often it alarms on the healthy, sentences

    @property
    def function(self) -> Callable[..., Any]:
        """The function that decides, imported when asked for."""
        module, _, name = self.decided_in.rpartition(".")
        found: Callable[..., Any] = getattr(import_module(module), name)
        return found


@cache
def catalogue() -> tuple[Rule, ...]:
    """All rules in the order in which they are listed."""
    table = tomllib.loads(resources.files("rules").joinpath("catalogue.toml").read_text("utf-8"))
    return tuple(
        Rule(
            id=entry["id"],
            about=entry["about"],
            severity=entry["severity"],
            stages=tuple(entry["stages"]),
            needs=tuple(entry["needs"]),
            decided_in=entry["function"],
            limits=tuple(entry["limits"]),
            evidence=entry["evidence"],
            false_alarms=tuple(entry.get("false_alarms", ())),
        )
        for entry in table["rule"]
    )


def rule(name: str) -> Rule:
    """A rule by its id. KeyError for one that does not exist."""
    return {each.id: each for each in catalogue()}[name]


def limits_of(each: Rule, limits: Limits) -> list[Limit]:
    """The limits a rule uses: those of the section that carries its id, then the limits and whole sections it names."""
    found = {limit.name: limit for limit in limits.section(each.id)}
    for name in each.limits:
        named = [limits.limit(name)] if "." in name else limits.section(name)
        found.update((limit.name, limit) for limit in named)
    return list(found.values())
