"""One look for `scan`, and one more after a second for what is too young to be trusted."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from pathlib import Path

from monitor.folders.listing import look, look_at
from monitor.folders.seen import Listing, Seen
from monitor.folders.settle import CLOSED_SETTLE_SECONDS, Stamp, under_way


def settled(
    root: Path,
    known: Mapping[str, Stamp],
    sleep: Callable[[float], None] = time.sleep,
    wall: Callable[[], float] = time.time,
    *,
    endings: Collection[str] | None = None,
) -> tuple[list[Seen], list[Seen], Listing]:
    """Files to take up, files that still change or whose download is under way, and all that was seen."""
    listing = look(root, endings)
    new = [seen for seen in listing.files if known.get(seen.relative) != seen.stamp]
    moment = wall()
    waiting = [seen for seen in new if under_way(seen, moment)]
    quiet = [seen for seen in new if not under_way(seen, moment)]
    young = [seen for seen in quiet if _young(seen, moment)]
    if not young:
        return quiet, waiting, listing
    sleep(CLOSED_SETTLE_SECONDS)
    taken_up = [seen for seen in quiet if not _young(seen, moment)]
    again = {seen.relative: seen for seen in look_at(root, [seen.relative for seen in young], endings).files}
    for before in young:
        seen_now = again.get(before.relative)
        if seen_now is not None:
            still = seen_now.stamp == before.stamp and not under_way(seen_now, moment)
            (taken_up if still else waiting).append(seen_now)
    return sorted(taken_up, key=lambda seen: seen.relative), waiting, listing


def _young(seen: Seen, moment: float) -> bool:
    """Changed within the settle time, or in the future, which says nothing of its age."""
    return moment - seen.mtime_ns / 1e9 < CLOSED_SETTLE_SECONDS
