"""One look at a watched folder, by names and times alone: no file is opened, no link is followed."""

from __future__ import annotations

import os
import re
import stat
import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from monitor import words
from monitor.folders.stability import CLOSED_SETTLE_SECONDS, Stamp
from monitor.reasons import is_about
from monitor.values import ENDINGS, Listing, Refused, Seen, as_name, as_text

# Watched folders that vanish, come back, or turn out to be another folder under the same path.


# One look for `scan`, and one more after a second for what is too young to be trusted.
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
    waiting = [seen for seen in new if seen.is_under_way(moment)]
    quiet = [seen for seen in new if not seen.is_under_way(moment)]
    young = [seen for seen in quiet if _young(seen, moment)]
    if not young:
        return quiet, waiting, listing
    sleep(CLOSED_SETTLE_SECONDS)
    taken_up = [seen for seen in quiet if not _young(seen, moment)]
    again = {seen.relative: seen for seen in look_at(root, [seen.relative for seen in young], endings).files}
    for before in young:
        seen_now = again.get(before.relative)
        if seen_now is not None:
            still = seen_now.stamp == before.stamp and not seen_now.is_under_way(moment)
            (taken_up if still else waiting).append(seen_now)
    return sorted(taken_up, key=lambda seen: seen.relative), waiting, listing


def _young(seen: Seen, moment: float) -> bool:
    """Changed within the settle time, or in the future, which says nothing of its age."""
    return moment - seen.mtime_ns / 1e9 < CLOSED_SETTLE_SECONDS


class RootState(Enum):
    SAME = "same"
    GONE = "gone"
    BACK = "back"
    ANOTHER = "another"  # the same path leads to another folder: events of the old one say nothing any more


Identity = tuple[int, int]


@dataclass(slots=True)
class Roots:
    """What was last known of every athlete's folder; `missing` holds why some cannot be looked into.

    A share that is unmounted leaves an empty folder of another identity in its place, which is as good as none. A
    folder that is emptied stays the same one. `held` is the identity under which each was last seen with files in it.
    """

    missing: dict[str, str] = field(default_factory=dict)
    held: dict[str, Identity] = field(default_factory=dict)
    _identity: dict[str, Identity] = field(default_factory=dict)

    def note(self, athlete: str, listing: Listing, *, whole: bool = False) -> RootState:
        """Take in a look; `whole` when it was one at everything in the folder."""
        if listing.missing is not None:
            return self.gone(athlete, listing.missing)
        identity = listing.root or (0, 0)
        if listing.files:
            self.held[athlete] = identity
        elif whole and not listing.refused and self.held.get(athlete) == identity:
            del self.held[athlete]  # emptied on purpose
        if not listing.files and not listing.refused and self.held.get(athlete, identity) != identity:
            known = (
                is_about(self.missing.get(athlete), words.files.ANOTHER_EMPTY_FOLDER)
                and self._identity.get(athlete) == identity
            )
            if whole or known:
                self._identity[athlete] = identity
                return self.gone(athlete, words.files.ANOTHER_EMPTY_FOLDER)
        return self.there(athlete, identity)

    def gone(self, athlete: str, reason: str) -> RootState:
        before = self.missing.get(athlete)
        self.missing[athlete] = reason
        return RootState.SAME if before is not None else RootState.GONE

    def there(self, athlete: str, identity: Identity) -> RootState:
        was_missing = self.missing.pop(athlete, None) is not None
        before = self._identity.get(athlete)
        self._identity[athlete] = identity
        if was_missing:
            return RootState.BACK
        return RootState.SAME if before in (None, identity) else RootState.ANOTHER

    def drop(self, athlete: str) -> None:
        self.missing.pop(athlete, None)
        self.held.pop(athlete, None)
        self._identity.pop(athlete, None)


# Names that are left alone without a word: hidden, partial and temporary ones, and the litter of sync tools.
PARTIAL_ENDINGS = (".part", ".partial", ".crdownload", ".download", ".opdownload", ".filepart", ".tmp")
"""Endings that a download or copy adds to the final name until it is whole."""

_ENDINGS = (
    *PARTIAL_ENDINGS,
    *(".temp", ".gdownload", ".gstmp", ".aria2", ".icloud", ".!ut", ".!qb", ".!sync", ".bts", ".bt!", ".dtapart"),
    *(".swp", ".swo", ".swx", ".lck", ".rsls", ".rslf", "~"),
    *("@synoeastream", "@synoresource"),
)
_NAMES = frozenset({"desktop.ini", "thumbs.db", "ehthumbs.db", "icon\r"})
_FOLDERS = frozenset(
    {
        *("__macosx", "$recycle.bin", "recycler", "system volume information", "lost+found"),
        *("@eadir", "#recycle", "#snapshot", "@recycle", "@recently-snapshot", "@sharebin", "@tmp"),
        *("_gsdata_", "network trash folder", "temporary items", "trashbox"),
    }
)
_REPLACED_IN_PLACE = re.compile(r"\.sb-[0-9a-f]{8}-[0-9a-z]{4,8}$|^#.*#$")


def left_alone(name: str) -> bool:
    """Whether a file or folder of this name is passed over; conflict copies are not, they are whole files."""
    folded = name.casefold()
    return (
        folded.startswith((".", "~"))
        or folded.endswith(_ENDINGS)
        or folded in _NAMES
        or folded in _FOLDERS
        or _REPLACED_IN_PLACE.search(folded) is not None
    )


def look(root: Path, endings: Collection[str] | None = None) -> Listing:
    """All that lies in a folder and its subfolders. `endings` are those taken up; without, those that intake reads."""
    return _Look(root, endings).at([""])


def look_at(root: Path, relatives: Iterable[str], endings: Collection[str] | None = None) -> Listing:
    """The same, of some files and subfolders only, so that a new file costs no look at ten thousand old ones."""
    return _Look(root, endings).at(sorted(set(relatives)))


def root_identity(root: Path) -> tuple[int, int]:
    """Device and inode of a folder that can be looked into; OSError says why it cannot."""
    found = os.stat(root)  # noqa: PTH116 - a root that is a link is meant by whoever wrote the roster
    if not stat.S_ISDIR(found.st_mode):
        raise NotADirectoryError(20, words.files.IS_NO_FOLDER)
    with os.scandir(root):
        pass
    return found.st_dev, found.st_ino


def why_missing(error: OSError) -> str:
    """Why a root cannot be looked into, for the user; never with a path in it."""
    if isinstance(error, FileNotFoundError):
        return words.files.FOLDER_IS_NOT_THERE
    if isinstance(error, NotADirectoryError):
        return words.files.IS_NO_FOLDER
    if isinstance(error, PermissionError):
        return words.files.FOLDER_MAY_NOT_BE_READ
    return words.files.FOLDER_CANNOT_BE_READ.format(error=_words(error))


def _words(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()


def _joined(folder: str, name: str) -> str:
    return f"{folder}/{name}" if folder else name


@dataclass(slots=True)
class _Look:
    root: Path
    wanted: Collection[str] | None
    files: list[Seen] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)
    been_in: set[tuple[int, int]] = field(default_factory=set)
    endings: tuple[str, ...] = ()

    def at(self, relatives: list[str]) -> Listing:
        try:
            identity = root_identity(self.root)
        except OSError as error:
            return Listing(missing=why_missing(error))
        wanted = self.wanted if self.wanted is not None else ENDINGS
        self.endings = tuple(ending.casefold() for ending in wanted)
        for relative in relatives:
            if relative:
                self._look_at_one(relative)
            else:
                self._walk("", identity)
        found = {seen.relative: seen for seen in self.files}
        return Listing(tuple(found[one] for one in sorted(found)), tuple(dict.fromkeys(self.refused)), None, identity)

    def _walk(self, top: str, identity: tuple[int, int]) -> None:
        waiting = [(top, identity)]
        while waiting:
            folder, place = waiting.pop()
            if place in self.been_in:  # a folder mounted below itself
                continue
            self.been_in.add(place)
            waiting += self._folder(folder)

    def _folder(self, folder: str) -> Iterator[tuple[str, tuple[int, int]]]:
        try:
            with os.scandir(self.root / as_name(folder)) as entries:
                found = {entry.name: entry for entry in entries}
        except FileNotFoundError:  # gone since its parent was read
            return
        except OSError as error:
            self.refused.append(Refused(folder, words.files.CLOSED_FOLDER.format(error=_words(error))))
            return
        under_way = any(name.endswith(PARTIAL_ENDINGS) for name in found)
        for name in sorted(found):
            if left_alone(name):
                continue
            text = as_text(name)
            if text is None:
                self.refused.append(Refused(_joined(folder, _spelt_out(name)), words.files.ODD_NAME))
                continue
            relative = _joined(folder, text)
            beside = [found[part] for part in _parts_of(name) if part in found] if under_way else ()
            try:
                status = found[name].stat(follow_symlinks=False)
                times = [part.stat(follow_symlinks=False).st_mtime_ns for part in beside]
            except FileNotFoundError:
                continue
            except OSError as error:
                self.refused.append(Refused(relative, words.files.CANNOT_BE_LOOKED_AT.format(error=_words(error))))
                continue
            if self._place(relative, name, status, max(times, default=None)):
                yield relative, (status.st_dev, status.st_ino)

    def _place(self, relative: str, name: str, status: os.stat_result, part_mtime_ns: int | None) -> bool:
        """Put one entry where it belongs; True for a folder to go into."""
        mode = status.st_mode
        ours = name.casefold().endswith(self.endings)
        if stat.S_ISDIR(mode):
            if ours:
                self.refused.append(Refused(relative, words.files.FOLDER_NAMED_LIKE_A_FILE))
            return not ours
        if stat.S_ISLNK(mode):
            self.refused.append(Refused(relative, words.files.SYMBOLIC_LINK))
        elif not stat.S_ISREG(mode):
            self.refused.append(Refused(relative, words.files.SPECIAL_FILE.format(mode=_what(mode))))
        elif not ours:
            self.refused.append(Refused(relative, words.files.OTHER_KIND, "ignored"))
        else:
            self.files.append(
                Seen(relative, status.st_size, status.st_mtime_ns, status.st_dev, status.st_ino, part_mtime_ns)
            )
        return False

    def _look_at_one(self, relative: str) -> None:
        """A named file or folder, by the same judgement that a walk from the root would have come to."""
        name = as_name(relative)
        parts = name.split("/")
        if any(part in ("", ".", "..") or left_alone(part) for part in parts):
            return
        try:
            for depth in range(1, len(parts)):
                above = os.lstat(self.root.joinpath(*parts[:depth]))
                if not stat.S_ISDIR(above.st_mode) or parts[depth - 1].casefold().endswith(self.endings):
                    return
            status = os.lstat(self.root / name)
            part_mtime_ns = self._part_beside(name)
        except FileNotFoundError:
            return
        except OSError as error:
            self.refused.append(Refused(relative, words.files.CANNOT_BE_LOOKED_AT.format(error=_words(error))))
            return
        if self._place(relative, parts[-1], status, part_mtime_ns):
            self._walk(relative, (status.st_dev, status.st_ino))

    def _part_beside(self, name: str) -> int | None:
        times = []
        for part in _parts_of(name):
            try:
                times.append(os.lstat(self.root / part).st_mtime_ns)
            except OSError:  # none there; or none can be, because the name is as long as names may be
                continue
        return max(times, default=None)


def _spelt_out(name: str) -> str:
    """A name that cannot stand as text, for the ledger."""
    return "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in name)


def _parts_of(name: str) -> Iterator[str]:
    return (name + ending for ending in PARTIAL_ENDINGS)


def _what(mode: int) -> str:
    if stat.S_ISFIFO(mode):
        return "a pipe"
    if stat.S_ISSOCK(mode):
        return "a socket"
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode):
        return "a device"
    return words.files.NEITHER_FILE_NOR_FOLDER
