"""What a look at a watched folder shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Seen:
    """One regular file as it lay there at one moment."""

    relative: str  # path relative to the athlete's folder, "/" between parts, as text (monitor.folders.names)
    size: int
    mtime_ns: int
    device: int
    inode: int
    part_mtime_ns: int | None = None  # of a partial sibling (`run.fit.part`), which says that a download is under way

    @property
    def stamp(self) -> tuple[int, int]:
        """Size and time: what tells a file from itself after a change, without reading it."""
        return self.size, self.mtime_ns


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that is never opened, with the reason, said once.

    `unreadable` could have held facts and cannot be opened (a link, a pipe, a closed folder); `ignored` is of a kind
    that holds none (`notes.docx`).
    """

    relative: str
    reason: str
    state: Literal["unreadable", "ignored"] = "unreadable"


@dataclass(frozen=True, slots=True)
class Listing:
    """All that a folder holds: files to take up, things refused, and whether the root itself was there."""

    files: tuple[Seen, ...] = ()
    refused: tuple[Refused, ...] = ()
    missing: str | None = None  # why the root cannot be looked into; None when it can
    root: tuple[int, int] | None = None  # device and inode of the root, to notice another folder in its place
