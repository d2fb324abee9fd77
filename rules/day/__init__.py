"""What one day allows: decided once, by the strictest open reason, and shown everywhere in the same words.

    from rules.day import decide
    from rules.words import day
    decision = decide(judgement, facts, now, limits)   # facts: rules.history.in_order(history, limits)
    day.answer(decision)              # for titles and rows: "walking only until Tue 11:58", "45 min easy, no running"
    day.now_words(decision, COACH)    # whole sentences, what to do now first, then why, then what ends it
    decision.allowed_min            # 0 while rest is advised
    foresee(judgement, facts, on, limits)   # a day to come, by what is known so far
    decision.reasons                # the open reasons, strictest first; the first one rules

Whatever tells an athlete or a coach what may be done today takes it from here, and adds no advice of its own about how
long, how hard or whether at all: `rules.catalogue` says why and what to watch, never how much.
"""

from rules.day.decision import ATHLETE, COACH, Audience, Decision, audience_of, decide, foresee
from rules.day.reasons import Reason

__all__ = [
    "ATHLETE",
    "COACH",
    "Audience",
    "Decision",
    "Reason",
    "audience_of",
    "decide",
    "foresee",
]
