"""The decision of the day, as plan, status and board show it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from monitor.judging.judge import View
from monitor.views.moments import local
from rules.day import Decision, answer, audience_of, decide, ends_words, now_words, reason_words
from rules.judgement.ordered import in_order
from rules.limits import Limits


def decision_of(made: View, now: datetime, limits: Limits) -> Decision:
    """What today allows one athlete by a judgement of now."""
    return decide(made.judgement, in_order(made.history, limits), now, limits)


def decision_view(decision: Decision) -> dict[str, Any]:
    """The decision as numbers, reasons and sentences; JSON-ready."""
    zone, audience = decision.athlete.zone, audience_of(decision)
    return {
        "answer": answer(decision),
        "movement": decision.movement,
        "rest": decision.rest,
        "walking_only_until": local(decision.walking_only_until, zone),
        "allowed_min": decision.allowed_min,
        "left_min": decision.left_min,
        "running": decision.running,
        "run_allowed_min": decision.run_allowed_min,
        "week_left_min": decision.week_left_min,
        "reasons": [
            {
                "kind": each.kind,
                "forbids": each.forbids,
                "since": local(each.since, zone),
                "until": local(each.until, zone),
                "ends": each.ends,
                "finding": each.finding,
                "text": reason_words(each, audience),
                "ends_text": ends_words(each, audience),
            }
            for each in decision.reasons
        ],
        "sentences": list(now_words(decision, audience)),
    }
