"""The way of a file to an alert, stage by stage: what does it, what goes in and what comes out.

Who looks for a place in the program starts here. `scanning.Scanner` takes a pass through these stages for `fallow scan`
and for the daemon; a test follows a real file and holds this list to what is called, in which order, with what. The
transaction of the store spans the stages from `store` to `queue`; `decode` runs in a process of its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from monitor.alerts.delivery import deliver
from monitor.alerts.routing import queue
from monitor.folders.listing import look, settled
from monitor.intake.reading import read_path
from monitor.intake.sessions import merge_recordings
from monitor.intake.storing import keep
from monitor.judging import facts_of
from monitor.values import difference
from rules.judge import judge


@dataclass(frozen=True, slots=True)
class Stage:
    """`done_by` is the function to read first; `takes` and `gives` are types by name, as its annotations spell them."""

    name: str
    done_by: Callable[..., Any]
    takes: str
    gives: str
    says: str


STAGES = (
    Stage(
        "watch", look, "Path", "Listing", "names and times of what lies in a folder; events only make it look sooner"
    ),
    Stage(
        "stabilise", settled, "Path", "Seen", "files that have stopped changing; the daemon's own is folders.stability"
    ),
    Stage(
        "decode", read_path, "ReadJob", "ReadResult", "bytes to recordings, nights, mornings, check-ins, with digests"
    ),
    Stage("store", keep, "ReadFile", "Tally", "what is new of it, and a line of the ledger for every file"),
    Stage(
        "deduplicate",
        merge_recordings,
        "datetime",
        "Change",
        "recordings that overlap become one session, the better one stands",
    ),
    Stage(
        "load",
        facts_of,
        "RosterAthlete",
        "Season",
        "the facts of athletes",
    ),
    Stage("judge", judge, "History", "Judgement", "plans and findings; pure"),
    Stage("diff", difference, "Finding", "Difference", "what that changes against the findings that stand"),
    Stage("queue", queue, "Difference", "None", "what to tell whom, laid into the outbox"),
    Stage("send", deliver, "Journal", "Delivery", "rows on lease, sent, written to the journal, marked"),
)
