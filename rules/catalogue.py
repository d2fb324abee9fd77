"""The catalogue: every rule with what it is about, where it applies, what it needs, how strong its limits are.

And what a careful coach says of it: the sentences of `advice.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import import_module, resources
from typing import Any, Literal

from rules.body.red_flags import CLASSES
from rules.findings import Finding, Severity
from rules.limits import Limit, Limits
from rules.words import texts

# The catalogue: every rule with what it is about, where it applies, what it needs, and how strong its limits are.


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
    return {entry.id: entry for entry in catalogue()}[name]


def limits_of(each: Rule, limits: Limits) -> list[Limit]:
    """The limits a rule uses: those of the section that carries its id, then the limits and whole sections it names."""
    found = {limit.name: limit for limit in limits.section(each.id)}
    for name in each.limits:
        named = [limits.limit(name)] if "." in name else limits.section(name)
        found.update((limit.name, limit) for limit in named)
    return list(found.values())


# What to do now: the sentences of a careful coach for each rule, from `advice.toml`.

Reader = Literal["athlete", "coach"]


@dataclass(frozen=True, slots=True)
class Advice:
    """Sentences for one rule; an empty severity or stages fits all."""

    severity: str
    stages: tuple[str, ...]
    athlete: tuple[str, ...]
    coach: tuple[str, ...]
    alone: tuple[str, ...]  # for an athlete without a coach

    def told_to(self, reader: Reader, *, coached: bool) -> tuple[str, ...]:
        return self.coach if reader == "coach" else self.athlete if coached else self.alone


@cache
def advice_for(rule: str) -> tuple[Advice, ...]:
    """All entries of a rule in the order of the file."""
    return tuple(
        Advice(
            entry.get("severity", ""),
            tuple(entry.get("stages", ())),
            tuple(entry["athlete"]),
            tuple(entry["coach"]),
            tuple(entry.get("alone", entry["athlete"])),
        )
        for entry in texts("advice").get(rule, ())
    )


def what_now(
    rule: str,
    severity: Severity,
    stage: str,
    limits: Limits,
    reader: Reader = "athlete",
    *,
    about: str = "",
    coached: bool = True,
) -> tuple[str, ...]:
    """What to do now, for the athlete, who may have no coach, or the coach; `about` is the class of a red flag."""
    if about:
        return class_advice(about, reader)
    for entry in advice_for(rule):
        if entry.severity in {"", str(severity)} and (not entry.stages or stage in entry.stages):
            return tuple(_filled(sentence, limits) for sentence in entry.told_to(reader, coached=coached))
    return ()


def advice_of(finding: Finding, limits: Limits, reader: Reader = "athlete", *, coached: bool = True) -> tuple[str, ...]:
    """What to do now about a finding; of a rule that is not known here, what was kept with it."""
    about = gravest_class(finding.evidence)
    told = what_now(finding.rule, finding.severity, finding.stage, limits, reader, about=about, coached=coached)
    return told or finding.advice


def what_then(about: str, reader: Reader = "athlete", *, coached: bool = True) -> tuple[str, ...]:
    """What is left to do about a rule's breach on a day that is over; empty where the advice of the day still holds."""
    found = texts("advice")["past"].get(about, {})
    return tuple(found.get("alone" if reader == "athlete" and not coached else reader) or found.get(reader, ()))


def class_advice(about: str, reader: Reader = "athlete") -> tuple[str, ...]:
    """What to do about a red flag of one of `rules.body.red_flags.CLASSES`."""
    return tuple(texts("advice")["red_flag"][about][reader])


def gravest_class(evidence: Mapping[str, Any]) -> str:
    """The gravest class among the red flags in a finding's evidence; empty where it tells of none."""
    classes = [flag["class"] for flag in evidence.get("flags", ()) if flag.get("class") in CLASSES]
    return min(classes, key=CLASSES.index, default="")


def cautions(severity: Severity, *, coached: bool = True) -> tuple[str, ...]:
    """The usual cautions that go with advice of this weight; none with a note."""
    said = texts("advice")["cautions"].get(str(severity), ())
    return (*said, texts("advice")["cautions"]["above" if coached else "above_alone"]) if said else ()


def _filled(sentence: str, limits: Limits) -> str:
    gate, rest = limits.gates.stop_hours, limits.rest_hours.caution_hours
    return sentence.format(gate_hours=f"{gate:g}", rest_hours=f"{rest:g}")
