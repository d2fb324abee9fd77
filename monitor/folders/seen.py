"""What a look at a watched folder shows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Seen:
    """One regular file as it lay there at one moment."""

    relative: str  # path relative to the athlete's folder, "/" between parts, surrogateescape for odd bytes
    size: int
    mtime_ns: int
    device: int
    inode: int


@dataclass(frozen=True, slots=True)
class Refused:
    """Something that is never opened, with the reason, said once."""

    relative: str
    reason: str


@dataclass(frozen=True, slots=True)
class Listing:
    """All that a folder holds: files to take up, things refused, and whether the root itself was there."""

    files: tuple[Seen, ...] = ()
    refused: tuple[Refused, ...] = ()
    missing: str | None = None  # why the root cannot be looked into; None when it can
    root: tuple[int, int] | None = None  # device and inode of the root, to notice another folder in its place
