"""Writes a check-in file into the athlete's folder: the one thing the program ever puts there."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

from monitor.errors import Unreadable, WorkFailed, WrongUse
from monitor.roster import RosterAthlete

SUBFOLDER = "checkins"
SUFFIX = ".checkin.json"


def checkin_document(
    answers: Mapping[str, Any], on: date | None, now: datetime, athlete: RosterAthlete
) -> dict[str, Any]:
    """The document of a check-in: for a day told, else for this moment. WrongUse names an answer that is wrong."""
    from monitor.intake.checkin import checkin_of  # noqa: PLC0415 - the reader's own checks

    when = on.isoformat() if on else now.astimezone(athlete.athlete.zone).isoformat(timespec="seconds")
    document = {
        "date": when,
        **{key: _whole(value) for key, value in answers.items() if value not in (None, "", [], ())},
    }
    if len(document) == 1:
        raise WrongUse("a check-in without an answer; nothing was written")
    try:
        checkin_of(document, athlete.options)  # no remarks: whoever types it can put it right
    except Unreadable as error:
        raise WrongUse(str(error)) from None
    return document


def _whole(value: Any) -> Any:
    """3.0 as 3, as anybody would write it."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def write_checkin(folder: Path, document: Mapping[str, Any]) -> Path:
    """Write it complete or not at all, beside those of the same day; WorkFailed when the folder does not take it."""
    if not folder.is_dir():
        raise WorkFailed(f"{folder}: the athlete's folder is not there; connect it or create it, then check in again")
    inside = folder / SUBFOLDER
    place = inside if inside.is_dir() and not inside.is_symlink() else folder
    stem = str(document["date"])[: len("2026-10-06T07:12:33")].replace(":", "")
    text = json.dumps(document, indent=2, ensure_ascii=False) + "\n"
    temporary = place / f".{stem}.{os.getpid()}.writing"
    try:
        _write_private(temporary, text)
        return _move_to_free_name(temporary, place, stem)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise WorkFailed(
            f"{place}: the check-in could not be written ({error.strerror}); nothing was changed"
        ) from None


def _write_private(path: Path, text: str) -> None:
    """On disk before it gets its name, so that no crash leaves half a file to be read."""
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _move_to_free_name(temporary: Path, place: Path, stem: str) -> Path:
    number = 1
    while True:
        final = place / f"{stem}{'' if number == 1 else f'-{number}'}{SUFFIX}"
        if not final.exists():
            temporary.rename(final)
            return final
        number += 1
