"""One look at a watched folder, by names and times alone: no file is opened, no link is followed."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from monitor import words
from monitor.values import ENDINGS, Listing, Refused, Seen, as_name, as_text

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
    return "".join(one if one.isprintable() else f"\\u{ord(one):04x}" for one in name)


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
