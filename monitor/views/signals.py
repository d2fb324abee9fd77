"""Which signals a finding was judged by, how good each was, and what it said."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

SAYS = {"for": "says yes", "against": "says no", "nothing": "says nothing"}
QUALITY = {"good": "good", "weak": "weak", "none": "not heard"}


def signal_words(evidence: Mapping[str, Any]) -> list[str]:
    """ "speed: good, says yes: 3:32/km for 20 s", a signal each; empty where the evidence names none."""
    told = evidence.get("signals")
    named = [one for one in told if isinstance(one, dict)] if isinstance(told, list) else []
    return [f"{one.get('signal', '')}: {said_by(one)}" for one in named]


def said_by(one: Mapping[str, Any]) -> str:
    """The quality of one signal, what it says, and why."""
    quality, says = QUALITY.get(str(one.get("quality")), ""), SAYS.get(str(one.get("says")), "")
    why = f": {one['why']}" if one.get("why") else ""
    return ", ".join(part for part in (quality, says) if part) + why
