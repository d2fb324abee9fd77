"""Uploads: export files from a phone, put whole into `received/` of the athlete's folder, and what became of each."""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import shutil
import unicodedata
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor import logs, words
from monitor.intake.kinds import ending_of, size_limit
from monitor.pages import rendering
from monitor.pages.context import PageContext, not_ours, pages_of, reading_page, stranger, visit_to, writing
from monitor.pages.guard import Visit, is_own, shared_by_the_device
from monitor.pages.page_facts import RECEIVED, PageFacts
from rules.words import amounts

BLOCK = 1 << 16
LONGEST_STEM = 60
LONGEST_SHOWN = 80
SHOWN = 30
RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\.|$)")


@dataclass(frozen=True, slots=True)
class RefusedUpload:
    """One file that was not taken, and why, in words."""

    name: str
    why: str


@reading_page("athlete")
async def received_page(request: Request, visit: Visit) -> Response:
    """The form, and what became of what was sent."""
    pages = pages_of(request)
    look = await run_in_threadpool(pages.look, visit.reader.id)
    rows = await run_in_threadpool(rows_of, look)
    return rendering.page(
        "received.jinja", visit=visit, rows=rows, waiting=any(row["waits"] for row in rows), refused=(), taken=None
    )


@writing("athlete", files=True)
async def received(request: Request, visit: Visit, form: FormData) -> Response:
    return await _take(request, visit, form)


async def shared(request: Request) -> Response:
    """Files that the phone's own share sheet sends: it knows of no form, so the token stands in its address."""
    visit = visit_to(request)
    if visit is None:
        return stranger(request)
    own = is_own(visit, request.path_params["token"]) and shared_by_the_device(request.headers)
    if visit.reader.kind != "athlete" or not own:
        return not_ours()
    async with request.form(max_files=pages_of(request).limits.pages.upload_files, max_fields=8) as form:
        return await _take(request, visit, form)


async def _take(request: Request, visit: Visit, form: FormData) -> Response:
    pages = pages_of(request)
    sent = [file for file in form.getlist("files") if isinstance(file, UploadFile) and file.filename]
    async with pages.turn(visit.reader):
        refused = await run_in_threadpool(_keep_all, pages, visit.reader.id, sent)
    taken = len(sent) - len(refused)
    logs.event("page_upload", taken=taken, refused=len(refused))
    if sent and not refused:
        return RedirectResponse("/received", 303)
    look = await run_in_threadpool(pages.look, visit.reader.id)
    rows = await run_in_threadpool(rows_of, look)
    said = amounts.counted(taken, "file") if taken else "No file"
    return rendering.page(
        "received.jinja", status=400, visit=visit, rows=rows, waiting=False, refused=refused, taken=said
    )


def _keep_all(pages: PageContext, athlete_id: str, sent: list[UploadFile]) -> list[RefusedUpload]:
    folder = pages.athlete(athlete_id).folder
    refused = []
    for file in sent:
        why = keep(folder, file.filename or "", file.file, pages.limits.pages.upload_free_bytes)
        refused += [RefusedUpload(shown_name(file.filename or ""), why)] if why else []
    return refused


def keep(folder: Path, told_name: str, content: BinaryIO, free_bytes: int) -> str:
    """Put one file into `received/`, whole or not at all; "", or why not.

    The name that was told is taken apart: its letters and its ending are kept, and no part of it is a path.
    """
    name = safe_name(told_name)
    if name is None:
        return words.pages.KIND_NOT_READ
    size = content.seek(0, os.SEEK_END)
    content.seek(0)
    if size == 0:
        return words.pages.EMPTY_FILE
    if size > size_limit(name):
        return words.pages.FILE_TOO_LARGE.format(size=size / 1e6, most=size_limit(name) / 1e6)
    try:
        return _put(folder, name, content, size + free_bytes)
    except OSError:
        return words.pages.UPLOAD_NOT_WRITTEN


def _put(folder: Path, name: str, content: BinaryIO, needed_bytes: int) -> str:
    place = folder / RECEIVED
    if not folder.is_dir() or place.is_symlink():
        return words.pages.FOLDER_IS_NOT_THERE
    place.mkdir(mode=0o700, exist_ok=True)
    if shutil.disk_usage(place).free < needed_bytes:
        return words.pages.DISK_IS_NEARLY_FULL
    beside = place / f".{secrets.token_hex(8)}.arriving"
    try:
        _move_to_free_name(beside, place, name, _write(beside, content))
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
    return ""


def _write(path: Path, content: BinaryIO) -> str:
    """On disk before it gets its name, so that no crash leaves half a file to be read; the digest of it."""
    digest = hashlib.sha256()
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        while block := content.read(BLOCK):
            digest.update(block)
            file.write(block)
        file.flush()
        os.fsync(file.fileno())
    return digest.hexdigest()


def _move_to_free_name(beside: Path, place: Path, name: str, digest: str) -> None:
    """Under its name, or the name with a number; a file that lies there with the same bytes is the same file."""
    ending = ending_of(name) or ""
    stem = name[: len(name) - len(ending)]
    number = 1
    while True:
        final = place / f"{stem}{'' if number == 1 else f'-{number}'}{ending}"
        try:
            os.link(beside, final)  # fails where one lies there, unlike a renaming
            return
        except FileExistsError:
            if final.is_file() and not final.is_symlink() and _digest(final) == digest:
                return
        except OSError:  # no links on this file system
            if not final.exists() and not final.is_symlink():
                beside.rename(final)
                return
        number += 1


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def safe_name(told: str) -> str | None:
    """Letters, digits, - and _ of the last part of a name, and an ending that is taken up; None for another ending."""
    last = told.replace("\\", "/").rpartition("/")[2].strip().rstrip(".")
    ending = ending_of(last)
    if ending is None:
        return None
    plain = unicodedata.normalize("NFKD", last[: len(last) - len(ending)]).encode("ascii", "ignore").decode()
    stem = re.sub(r"[^A-Za-z0-9_-]+", "_", plain).strip("_-")[:LONGEST_STEM] or "file"
    return f"{'file_' if RESERVED.match(stem) else ''}{stem}{ending}"


def shown_name(told: str) -> str:
    return told if len(told) <= LONGEST_SHOWN else told[: LONGEST_SHOWN - 1] + "…"


def rows_of(look: PageFacts) -> list[dict[str, Any]]:
    """What became of each upload, newest first; those on their way before all."""
    zone, face = look.athlete.athlete.zone, look.athlete.clock
    known = {row["path"]: row for row in look.files}
    folder = look.athlete.folder / RECEIVED
    try:
        names = [path.name for path in folder.iterdir() if ending_of(path.name) and not path.name.startswith(".")]
    except OSError:
        names = []
    waiting = [f"{RECEIVED}/{name}" for name in sorted(names) if f"{RECEIVED}/{name}" not in known]
    rows = [
        {"name": path.partition("/")[2], "words": words.pages.ON_ITS_WAY, "at": "", "waits": True} for path in waiting
    ]
    rows += [
        {
            "name": path.partition("/")[2],
            "words": became(row),
            "at": words.shared.day_and_time(row["read_at"], zone, face) if row["read_at"] else "",
            "waits": row["state"] == "waiting",
        }
        for path, row in known.items()
        if path.startswith(f"{RECEIVED}/")
    ]
    return rows[:SHOWN]


def became(row: dict[str, Any]) -> str:
    """What the ledger says of a file, in words."""
    if row["state"] == "read":
        return f"read: {words.shared.held(row)}" + (f"; {words.of_stored(row['reason'])}" if row["reason"] else "")
    states = {"duplicate": "known already", "unreadable": words.pages.UNREADABLE, "ignored": "left alone"}
    why = f": {words.of_stored(row['reason'])}" if row["reason"] else ""
    return states.get(row["state"], words.pages.ON_ITS_WAY) + why
