"""One file of a watched folder read in this process: opened safely, measured, decoded, its sessions digested."""

from __future__ import annotations

import errno
import hashlib
import io
import os
import stat
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

from monitor import fingerprints, words
from monitor.errors import Unreadable
from monitor.intake import kinds
from monitor.store.samples import as_stored
from monitor.values import FileFacts, IntakeOptions, Recording, as_name
from rules.limits import default_limits

CHUNK_BYTES = 1 << 20
# A pipe, a link or a device that was put in the file's place is refused instead of waited for or followed.
_FLAGS = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
_FOLDER = _FLAGS | getattr(os, "O_DIRECTORY", 0)
_LINK = (errno.ELOOP, errno.EMLINK, errno.ENOTDIR)


@dataclass(frozen=True, slots=True)
class ReadJob:
    """A file to read: `relative` to the athlete's folder, with "/" between its parts."""

    root: Path
    relative: str
    options: IntakeOptions
    keep_track: bool = False  # hand the cleaned samples on as well: they are about to be judged
    size: int = 0  # bytes, as somebody saw it


@dataclass(frozen=True, slots=True)
class ReadResult:
    """What reading gave: facts, or the reason why there are none. No `sha256` where the bytes were not read."""

    sha256: str
    size: int
    facts: FileFacts | None
    reason: str | None


def read_path(job: ReadJob, most_rows: int | None = None) -> ReadResult:
    """Read one file. Whatever is wrong with it becomes a reason; only MemoryError is raised, for who set the limit."""
    try:
        data = _bytes(job)
    except Unreadable as reason:
        return ReadResult("", _size(job), None, reason.reason)
    sha256, size = hashlib.sha256(data).hexdigest(), len(data)
    try:
        facts = kinds.read(job.relative, data, job.options)
        _refuse_too_many_rows(facts, most_rows)
        made = (_digested(recording, keep_track=job.keep_track) for recording in facts.recordings)
        facts = replace(facts, recordings=tuple(made))
    except Unreadable as reason:
        return ReadResult(sha256, size, None, reason.reason)
    except MemoryError:
        raise
    except Exception as error:  # noqa: BLE001 - one file must never stop the others
        return ReadResult(sha256, size, None, words.files.READER_BROKE_DOWN.format(kind=type(error).__name__))
    return ReadResult(sha256, size, facts, None)


def fingerprint(job: ReadJob) -> tuple[str, int]:
    """Content hash and size of a file that could not be decoded; an empty hash where it cannot be read at all."""
    try:
        with _opened(job) as file:
            hashed, size = hashlib.sha256(), 0
            while chunk := file.read(CHUNK_BYTES):
                hashed.update(chunk)
                size += len(chunk)
    except (Unreadable, OSError):
        return "", _size(job)
    return hashed.hexdigest(), size


def _bytes(job: ReadJob) -> bytes:
    with io.BufferedReader(_opened(job)) as file:
        try:
            data = file.read(os.fstat(file.fileno()).st_size)
            grew = bool(file.read(CHUNK_BYTES))
        except OSError as error:
            raise Unreadable(_why_not(error)) from error
    if grew:
        raise Unreadable(words.files.GREW_WHILE_IT_WAS_READ)
    return data


def _opened(job: ReadJob) -> io.FileIO:
    """A regular file within its size limit, opened without waiting and without following a link."""
    try:
        file = io.FileIO(_open(job.root, job.relative), "rb")
    except (OSError, ValueError) as error:
        raise Unreadable(_why_not(error)) from error
    status, limit = os.fstat(file.fileno()), kinds.size_limit(job.relative)
    refused = None
    if not stat.S_ISREG(status.st_mode):
        refused = words.files.NO_REGULAR_FILE
    elif status.st_size > limit:
        refused = words.files.FILE_TOO_LARGE.format(size=status.st_size / 1e6, most=limit / 1e6)
    if refused is not None:
        file.close()
        raise Unreadable(refused)
    return file


def _open(root: Path, relative: str) -> int:
    """Open a file below a folder without following a link at any step."""
    parts = PurePosixPath(as_name(relative)).parts
    if not parts or ".." in parts or relative.startswith("/"):
        raise OSError(errno.ELOOP, words.files.OUTSIDE_OF_FOLDER)
    if os.open not in os.supports_dir_fd:  # Windows
        return os.open(root.joinpath(*parts), _FLAGS)
    folder = os.open(root, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
    try:
        for part in parts[:-1]:
            inner = os.open(part, _FOLDER, dir_fd=folder)
            os.close(folder)
            folder = inner
        return os.open(parts[-1], _FLAGS, dir_fd=folder)
    finally:
        os.close(folder)


def _why_not(error: OSError | ValueError) -> str:
    if isinstance(error, ValueError):  # a null character in the name
        return words.files.NAME_CANNOT_BE_OPENED
    if isinstance(error, FileNotFoundError):
        return words.files.NO_LONGER_THERE
    if isinstance(error, PermissionError):
        return words.files.MAY_NOT_BE_OPENED
    if error.errno in _LINK:
        return words.files.LINK_OR_OUTSIDE_OF_FOLDER
    if error.errno in (errno.ENXIO, errno.EISDIR):
        return words.files.NO_REGULAR_FILE
    return words.files.CANNOT_BE_OPENED.format(why=(error.strerror or "unknown error").lower())


def _size(job: ReadJob) -> int:
    try:
        return os.lstat(job.root / as_name(job.relative)).st_size
    except (OSError, ValueError):
        return 0


def _refuse_too_many_rows(facts: FileFacts, most_rows: int | None) -> None:
    rows = sum(len(recording.samples.get("t_s", ())) for recording in facts.recordings)
    if most_rows is not None and rows > most_rows:
        raise Unreadable(words.files.TOO_MANY_ROWS.format(rows=rows, most_rows=most_rows))


def _digested(recording: Recording, *, keep_track: bool) -> Recording:
    from rules.session.digest import digest_of  # noqa: PLC0415 - brought only where it is needed
    from rules.session.track import clean  # noqa: PLC0415 - brought only where it is needed

    limits, samples = default_limits(), as_stored(recording.samples)
    track = clean(
        recording.sport, recording.sub_sport, recording.elapsed_s, recording.pauses, samples, limits,
        barometer=recording.barometer,
    )  # fmt: skip
    made = digest_of(track, recording.sport, recording.sub_sport, recording.timer_s, limits)
    by = fingerprints.of_digests(limits)
    return replace(recording, digest=made, digest_by=by, track=track if keep_track else None)
