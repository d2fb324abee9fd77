"""The program itself: messages that do not get through, folders that cannot be looked into, a roster that is wrong."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from monitor.board.words import counted
from monitor.home import Home
from monitor.roster import Roster


@dataclass(frozen=True, slots=True)
class Program:
    """Sentences on what is wrong, and when the daemon last looked, as it wrote of itself."""

    troubles: tuple[str, ...]
    looked_at: datetime | None


def program(home: Home, roster: Roster, unsent: Sequence[dict[str, Any]]) -> Program:
    said = _daemon(home)
    troubles = [*_channels(roster, unsent)]
    for athlete_id, why in sorted(dict(said.get("missing") or {}).items()):
        athlete = roster.athlete(str(athlete_id))
        if athlete is not None:
            troubles.append(f"The folder of {athlete.athlete.name or athlete_id} cannot be looked into: {why}.")
    if said.get("roster_error"):
        troubles.append(f"The roster was edited and is not valid; the last good one is in use. {said['roster_error']}")
    if said.get("trouble"):
        troubles.append(f"The daemon: {said['trouble']}.")
    return Program(tuple(troubles), _moment(said.get("last_pass_at")))


def _channels(roster: Roster, unsent: Sequence[dict[str, Any]]) -> list[str]:
    """A sentence a contact whose messages fail; those held for the night are no trouble."""
    stuck = [row for row in unsent if row["state"] == "failed" or (row["state"] == "waiting" and row["tries"] > 0)]
    found = []
    for contact_id, group in groupby(sorted(stuck, key=lambda row: row["contact"]), key=lambda row: row["contact"]):
        rows = list(group)
        contact = roster.contact(contact_id)
        name = contact.name if contact and contact.name else contact_id
        failed = sum(row["state"] == "failed" for row in rows)
        what = [counted(len(rows) - failed, "message waits", "messages wait")] if len(rows) > failed else []
        what += [f"{failed} given up"] if failed else []
        error = next((row["last_error"] for row in rows if row["last_error"]), None)
        found.append(f"To {name}: {', '.join(what)}" + (f"; the last error: {error}." if error else "."))
    return found


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
