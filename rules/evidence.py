"""What the signals of a session say of one question, and how grave a finding they can carry.

A signal (speed, positions, altitude, cadence, heart rate, laps, timer, label, running dynamics) has a quality that was
measured on the recording itself, never assumed from the device: `good` decides alone, `weak` needs another beside it,
`none` is not heard. A finding is as grave as its evidence is strong:

- a `stop` where one good signal is clear, or two weaker ones agree,
- a `caution`, put as a question, where one weak signal speaks alone or good signals contradict each other,
- nothing where a good signal contradicts weak ones, or nobody speaks.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from rules.findings import Severity

RUNNING_SIGNALS = "running_signals"
"""Note of a digest: what each signal says to the question whether this was running, in the form of `shown`."""

Quality = Literal["good", "weak", "none"]
Says = Literal["for", "against", "nothing"]


@dataclass(frozen=True, slots=True)
class Signal:
    """One signal on one question. `why` is a clause with its numbers: "164 steps a minute for 20 min"."""

    name: str
    quality: Quality
    says: Says
    why: str = ""

    def shown(self) -> dict[str, str]:
        """JSON-ready, for the evidence of a finding."""
        return {"signal": self.name, "quality": self.quality, "says": self.says, "why": self.why}


def severity_of(heard: Iterable[Signal]) -> Severity | None:
    """The severity_of finding that these signals carry; None where they carry none."""
    kept = [one for one in heard if one.quality != "none" and one.says != "nothing"]
    good_for = any(one.says == "for" and one.quality == "good" for one in kept)
    good_against = any(one.says == "against" and one.quality == "good" for one in kept)
    weak_for = len({one.name for one in kept if one.says == "for" and one.quality == "weak"})
    weak_against = any(one.says == "against" and one.quality == "weak" for one in kept)
    if good_for:
        return Severity.CAUTION if good_against else Severity.STOP
    if good_against or not weak_for:
        return None
    return Severity.STOP if weak_for >= 2 and not weak_against else Severity.CAUTION


def shown(heard: Iterable[Signal]) -> list[dict[str, str]]:
    """All of them for `evidence["signals"]`, those that speak first."""
    order = {"for": 0, "against": 1, "nothing": 2}
    return [one.shown() for one in sorted(heard, key=lambda one: order[one.says])]


def heard_again(told: Sequence[Any]) -> tuple[Signal, ...]:
    """From the stored form of `shown`; what is not of that shape is left out."""
    found = []
    for one in told:
        if isinstance(one, dict) and one.get("quality") in ("good", "weak", "none"):
            says: Says = one["says"] if one.get("says") in ("for", "against") else "nothing"
            found.append(Signal(str(one.get("signal", "")), one["quality"], says, str(one.get("why", ""))))
    return tuple(found)
