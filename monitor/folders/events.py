"""Events of the watched folders, as hints where to look: a lost one costs time, never a file."""

from __future__ import annotations

import errno
import os
import re
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Protocol

from watchdog.events import (
    DirCreatedEvent,
    DirDeletedEvent,
    DirMovedEvent,
    FileClosedEvent,
    FileCreatedEvent,
    FileModifiedEvent,
    FileMovedEvent,
    FileSystemEvent,
    FileSystemEventHandler,
)

from monitor import words
from monitor.roster.types import WatchMode
from monitor.values import as_text

if TYPE_CHECKING:
    from threading import Thread

    from watchdog.observers.api import BaseObserver, ObservedWatch


# Whether changes in a folder can be heard of at all: decided by the kind of file system it is mounted from.

MOUNTINFO = Path("/proc/self/mountinfo")
_MUTE = frozenset(
    {
        *("nfs", "nfs4", "cifs", "smb3", "smbfs", "smb", "afs", "afpfs", "webdav", "davfs", "ncpfs", "coda"),
        *("9p", "virtiofs", "vboxsf", "vmhgfs", "prl_fs", "drvfs", "fakeowner", "osxfs", "grpcfuse"),
        *("ceph", "glusterfs", "lustre", "gpfs", "beegfs", "ocfs2", "gfs2", "macfuse", "osxfuse"),
    }
)
"""Other machines change these file systems (or a host outside of this virtual machine), and this kernel is not told."""
_TELLING_FUSE = frozenset({"fuseblk", "fuse.mergerfs", "fuse.bindfs", "fuse.gocryptfs", "fuse.encfs", "fuse.ntfs-3g"})


@dataclass(frozen=True, slots=True)
class Mount:
    """The file system that a folder lies on; `tells` when its changes come as events."""

    kind: str

    @property
    def tells(self) -> bool:
        if self.kind.startswith("fuse") and self.kind not in _TELLING_FUSE:
            return False
        return self.kind not in _MUTE


def mount_of(folder: Path, table: Mapping[str, str] | None = None) -> Mount:
    """The mount of a folder, by its path alone: asking a dead share would hang. Unknown kinds are taken to tell."""
    if sys.platform == "win32":
        return Mount(_windows_kind(folder))
    mounts = mount_table() if table is None else table
    mount = _innermost(os.path.abspath(folder), mounts)  # noqa: PTH100 - resolving would touch the mount
    return mount if not mount.tells or table is not None else _innermost(os.path.realpath(folder), mounts)


def _innermost(folder: str, mounts: Mapping[str, str]) -> Mount:
    path = PurePosixPath(folder)
    for place in (path, *path.parents):
        if str(place) in mounts:
            return Mount(mounts[str(place)])
    return Mount("unknown")


def mount_table() -> dict[str, str]:
    """Mount point -> kind of file system; empty where the system does not say."""
    if MOUNTINFO.exists():
        return parse_mountinfo(MOUNTINFO.read_text("utf-8", "surrogateescape"))
    try:
        said = subprocess.run(["/sbin/mount"], capture_output=True, timeout=10, check=True).stdout
    except (OSError, subprocess.SubprocessError):
        return {}
    return parse_mount_command(said.decode("utf-8", "surrogateescape"))


POINT = 4  # place of the mount point among the fields


def parse_mountinfo(text: str) -> dict[str, str]:
    """Linux: `36 35 98:0 /root /mount/point options - kind source options`, later lines lying over earlier ones."""
    mounts: dict[str, str] = {}
    for line in text.splitlines():
        before, dash, after = line.partition(" - ")
        fields = before.split(" ")[POINT:]
        if dash and fields:
            point = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), fields[0])
            mounts[point] = after.split(" ")[0]
    return mounts


def parse_mount_command(text: str) -> dict[str, str]:
    """macOS and BSD: `//ida@server/share on /Volumes/share (smbfs, nodev, nosuid)`."""
    return {line[1]: line[2] for line in re.finditer(r"^.* on (/.*) \(([a-z0-9]+)", text, re.MULTILINE)}


DRIVE_REMOTE = 4


def _windows_kind(folder: Path) -> str:
    if sys.platform != "win32":
        return "unknown"
    import ctypes  # noqa: PLC0415 - only there

    drive = folder.absolute().drive
    remote = drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(drive + "\\") == DRIVE_REMOTE
    return "smb" if remote else "local"


HEARD: list[type[FileSystemEvent]] = [
    *(FileCreatedEvent, FileClosedEvent, FileMovedEvent, DirCreatedEvent, DirMovedEvent, DirDeletedEvent),
    *(() if sys.platform == "linux" else (FileModifiedEvent,)),  # Linux says when a writer closes; others do not
]


@dataclass(frozen=True, slots=True)
class Hint:
    """Something changed at `relative` (a file or a folder) in the folder of `athlete`; `closed` when it seems whole."""

    athlete: str
    relative: str
    closed: bool = False
    folder: bool = False


class Wake(Protocol):
    """Where hints go; safe to call from any thread and from a signal handler."""

    def put(self, item: Hint, /) -> None: ...


def make_observer() -> BaseObserver:
    """An observer that also tells a file moved in from outside apart from one that is only begun, where it can."""
    if sys.platform == "linux":
        from watchdog.observers.inotify import InotifyObserver  # noqa: PLC0415 - there only on this platform

        return InotifyObserver(generate_full_events=True)
    from watchdog.observers import Observer  # noqa: PLC0415 - beside its like

    return Observer()


@dataclass(frozen=True, slots=True)
class _Armed:
    """The watch of one folder; `thread` tells its events out of those of all."""

    watch: ObservedWatch
    thread: Thread
    root: Path
    identity: tuple[int, int]


class Watching:
    """One observer for all folders. `tend` is called often and puts right whatever died, vanished or was replaced."""

    def __init__(self, wake: Wake, observer: Callable[[], BaseObserver] = make_observer) -> None:
        self._wake = wake
        self._make_observer = observer
        self._observer: BaseObserver | None = None
        self._armed: dict[str, _Armed] = {}
        self._why_polled: dict[str, str] = {}

    @property
    def polled(self) -> dict[str, str]:
        """The athletes whose folders must be looked through often, with the reason."""
        return dict(self._why_polled)

    def polls(self, athlete: str, root: Path, mode: WatchMode = "auto") -> bool:
        """Whether a folder is to be looked through and not listened to; decided without touching it."""
        if athlete not in self._armed and athlete not in self._why_polled:
            reason = _reason_to_poll(root, mode)
            if reason is not None:
                self._why_polled[athlete] = reason
        return athlete in self._why_polled

    def tend(self, athlete: str, root: Path, identity: tuple[int, int] | None) -> bool:
        """Make the watch of one folder right; True when it was armed anew, so that a whole look is due.

        An identity of None says that the folder cannot be looked into.
        """
        armed = self._armed.get(athlete)
        hears = armed is not None and armed.thread.is_alive() and self._alive
        if armed is not None and (armed.root, armed.identity) == (root, identity) and hears:
            return False
        self._disarm(athlete)
        if identity is None or athlete in self._why_polled:
            return False
        reason = self._arm(athlete, root, identity)
        if reason is not None:
            self._why_polled[athlete] = reason
        return True

    def doubt(self, athlete: str) -> None:
        """The folder was heard to be deleted: arm anew even if another one has its number by now."""
        self._disarm(athlete)

    def drop(self, athlete: str) -> None:
        """The athlete is no longer in the roster, or has another way of being watched."""
        self._disarm(athlete)
        self._why_polled.pop(athlete, None)

    def close(self) -> None:
        self._armed.clear()
        if self._observer is not None:
            with suppress(Exception):  # an observer that died half-way cannot say more than that
                self._observer.stop()
                self._observer.join(5)
            self._observer = None

    @property
    def _alive(self) -> bool:
        """Whether the threads live that all folders have in common; on Linux one more that reads from the kernel."""
        observer = self._observer
        return observer is not None and observer.is_alive() and getattr(observer, "_inotify_fd", observer).is_alive()

    def _disarm(self, athlete: str) -> None:
        armed = self._armed.pop(athlete, None)
        if armed is not None and self._observer is not None:
            with suppress(Exception):  # of another observer, or of a folder that two athletes have
                self._observer.unschedule(armed.watch)

    def _arm(self, athlete: str, root: Path, identity: tuple[int, int]) -> str | None:
        """Watch a folder; the reason to poll when that is not possible."""
        place = Path(os.path.realpath(root))
        try:
            observer = self._running()
            handler = _Handler(self._wake, athlete, place)
            watch = observer.schedule(handler, str(place), recursive=True, event_filter=HEARD)
            thread = next((emitter for emitter in observer.emitters if emitter.watch is watch), observer)
            self._armed[athlete] = _Armed(watch, thread, root, identity)
            self._probe(observer, place)
        except OSError as error:
            self._disarm(athlete)
            if error.errno in (errno.ENOSPC, errno.EMFILE, errno.ENFILE):
                return words.files.WATCHES_USED_UP
            why = (error.strerror or type(error).__name__).lower()
            return words.files.CANNOT_BE_WATCHED.format(why=why)
        return None

    def _running(self) -> BaseObserver:
        if self._observer is None or not self._alive:
            self.close()
            self._observer = self._make_observer()
            self._observer.start()
        return self._observer

    def _probe(self, observer: BaseObserver, place: Path) -> None:
        """Watch one folder more for a moment: the library is silent when the limit is reached below the root."""
        observer.unschedule(observer.schedule(FileSystemEventHandler(), str(place.parent), event_filter=HEARD))


def _reason_to_poll(root: Path, mode: WatchMode) -> str | None:
    if mode == "poll":
        return words.files.POLLED_BY_ROSTER
    if mode == "events":
        return None
    mount = mount_of(root)
    return None if mount.tells else words.files.MOUNT_WITHOUT_EVENTS.format(kind=mount.kind)


class _Handler(FileSystemEventHandler):
    """Turns events into hints and does nothing else: an exception here would end the observer's thread for good."""

    def __init__(self, wake: Wake, athlete: str, place: Path) -> None:
        self._wake = wake
        self._athlete = athlete
        self._prefix = str(place).rstrip("/\\") + os.sep

    def dispatch(self, event: FileSystemEvent) -> None:
        with suppress(Exception):
            hint = self._hint(event)
            if hint is not None:
                self._wake.put(hint)

    def _hint(self, event: FileSystemEvent) -> Hint | None:
        moved = isinstance(event, FileMovedEvent | DirMovedEvent)
        path = os.fsdecode(event.dest_path if moved else event.src_path)
        if isinstance(event, DirDeletedEvent):
            return Hint(self._athlete, "", folder=True) if path + os.sep == self._prefix else None
        if not path.startswith(self._prefix):
            return None
        relative = as_text(path[len(self._prefix) :].replace(os.sep, "/"))
        if relative is None:
            return None
        folder = isinstance(event, DirCreatedEvent | DirMovedEvent)
        return Hint(self._athlete, relative, isinstance(event, FileClosedEvent | FileMovedEvent), folder)
