"""One pass over all folders, from look to delivery: what `fallow scan` does."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field, replace
from typing import TypeVar

from monitor import logs, words
from monitor.folders.listing import settled
from monitor.roster import RosterAthlete
from monitor.scanning import Scanner
from monitor.store.database import StoreBroken
from monitor.transaction import PassReport
from monitor.values import Listing, Seen

LOOKS_AT_ONCE = 8
Done = TypeVar("Done")
FolderScan = tuple[list[Seen], list[Seen], Listing]


@dataclass(frozen=True, slots=True)
class Pass:
    """What a pass did, and which folders could not be looked into and why."""

    report: PassReport
    missing: Mapping[str, str] = field(default_factory=dict)
    changing: int = 0  # files left for the next pass: still written, or their download under way
    left_out: Sequence[str] = ()  # what could not be told, in words; all else was done

    def counts(self) -> dict[str, int]:
        """The keys of `scan --json`."""
        counts = self.report.counts()
        return {**counts, "waiting": counts["waiting"] + self.changing}


Counted = Callable[[str, int], AbstractContextManager[Callable[[int], object]]]
"""Shows how far something has come: asked with what is done and how many there are; gives what is called with each."""


def single_pass(
    scanner: Scanner,
    counted: Counted = lambda what, total: nullcontext(lambda done: None),
    looked: Callable[[], object] = lambda: None,
) -> Pass:
    """Look, read, judge, send. Files that are still being written are left for the next pass.

    `looked` is called before anything is read.
    """
    athletes = scanner.roster.athletes
    found = _look(scanner, athletes)
    looked()
    ready = [(athlete.id, seen) for athlete in athletes for seen in found[athlete.id][0]]
    listings = {athlete_id: listing for athlete_id, (_, _, listing) in found.items()}
    sent = 0

    def send() -> None:
        """While slow files are still being read; what comes within moments of it goes with the last of them."""
        nonlocal sent
        sent += scanner.deliver().sent

    scanner.on_judged = send
    with counted("reading", len(ready)) as done:
        refused = {athlete_id: listing.refused for athlete_id, listing in listings.items()}
        report = scanner.take(ready, refused, done=done)
    report.files_seen = sum(len(listing.files) for listing in listings.values())
    missing = {athlete_id: listing.missing for athlete_id, listing in listings.items() if listing.missing is not None}
    scanner.roots(missing)
    _redigest(scanner, counted)
    report.findings += scanner.judge_due()
    scanner.timers()
    delivery = scanner.deliver(gather_now=True)
    report.delivery = replace(delivery, sent=delivery.sent + sent)
    changing = sum(len(waiting) for _, waiting, _ in found.values())
    return Pass(report, missing, changing, scanner.left_out())


def mended(scanner: Scanner, act: Callable[[], Done], say: Callable[[str], object] = lambda text: None) -> Done:
    """Do it; where the store turns out to be damaged, set it aside, tell the owner, and do it again with a new one."""
    try:
        return act()
    except StoreBroken as broken:
        scanner.rebuild(broken.identity)
        logs.event("store_rebuilt", level=logging.WARNING)
        scanner.notice(words.doctor.STORE_REBUILT)
        say(words.doctor.STORE_REBUILT)
        return act()


def _redigest(scanner: Scanner, counted: Counted) -> None:
    """After an upgrade: what was measured by other code is measured again before anybody is judged by it."""
    total = scanner.digests_waiting()
    if not total:
        return
    with counted("measuring again", total) as done:
        while made := scanner.redigest():
            done(made)


def _look(scanner: Scanner, athletes: Sequence[RosterAthlete]) -> dict[str, FolderScan]:
    """Look into all folders side by side: young files are waited for once and not once an athlete."""

    def settle(seconds: float) -> None:
        scanner.warm()
        time.sleep(seconds)

    known = scanner.known_of(athlete.id for athlete in athletes)
    with ThreadPoolExecutor(min(LOOKS_AT_ONCE, max(1, len(athletes)))) as pool:
        looks = pool.map(lambda athlete: settled(athlete.folder, known[athlete.id], settle), athletes)
        return {athlete.id: looked for athlete, looked in zip(athletes, looks, strict=True)}
