"""The program itself: messages that do not get through, folders that cannot be looked into, a roster that is wrong."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from monitor.home import Home
from monitor.roster import Roster
from monitor.store.outbox import DAY_IS_OVER


@dataclass(frozen=True, slots=True)
class Program:
    """Sentences on what is wrong, and when the daemon last looked, as it wrote of itself."""

    channels: tuple[str, ...]
    folders: tuple[str, ...]
    daemon: tuple[str, ...]
    looked_at: datetime | None

    @property
    def troubles(self) -> tuple[str, ...]:
        return (*self.channels, *self.folders, *self.daemon)


def program(home: Home, roster: Roster, unsent: Sequence[dict[str, Any]], *, runs: bool = True) -> Program:
    """From the outbox's rows that are `unsent`, and what the daemon last wrote of itself, if it `runs`."""
    said = _daemon(home) if runs else {}
    return Program(
        tuple(_channels(roster, unsent)),
        tuple(_folders(roster, dict(said.get("missing") or {}))),
        tuple(_of_itself(said)),
        _moment(said.get("last_pass_at")),
    )


def _folders(roster: Roster, missing: dict[str, str]) -> Iterator[str]:
    for athlete_id, why in sorted(missing.items()):
        athlete = roster.athlete(str(athlete_id))
        if athlete is not None:
            yield f"The folder of {athlete.athlete.name or athlete_id} cannot be looked into: {why}."


def _of_itself(said: dict[str, Any]) -> Iterator[str]:
    if said.get("roster_error"):
        yield f"The roster was edited and is not valid; the last good one is in use. {said['roster_error']}"
    if said.get("trouble"):
        yield f"The daemon: {said['trouble']}."


def _channels(roster: Roster, unsent: Sequence[dict[str, Any]]) -> list[str]:
    """A sentence a contact whose messages fail; those held for the night are no trouble."""
    stuck = [row for row in unsent if _stuck(row)]
    found = []
    for contact_id, group in groupby(sorted(stuck, key=lambda row: row["contact"]), key=lambda row: row["contact"]):
        rows = list(group)
        contact = roster.contact(contact_id)
        name = contact.name if contact and contact.name else contact_id
        failed = sum(row["state"] == "failed" for row in rows)
        waiting = len(rows) - failed
        what = ["1 message waits" if waiting == 1 else f"{waiting} messages wait"] if waiting else []
        what += [f"{failed} given up"] if failed else []
        error = next((row["last_error"] for row in rows if row["last_error"]), None)
        found.append(f"To {name}: {', '.join(what)}" + (f"; the last error: {error}." if error else "."))
    return found


def _stuck(row: dict[str, Any]) -> bool:
    if row["state"] == "failed":
        return bool(row["reason"] != DAY_IS_OVER)
    return bool(row["state"] == "waiting" and row["tries"] > 0)


def _daemon(home: Home) -> dict[str, Any]:
    try:
        said = json.loads(home.state.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def _moment(text: object) -> datetime | None:
    try:
        return datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
