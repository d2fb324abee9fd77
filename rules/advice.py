"""What to do now: the sentences of a careful coach for each rule, from `advice.toml`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from rules.body.red_flags import CLASSES
from rules.findings import Severity
from rules.limits import Limits
from rules.words import texts

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
