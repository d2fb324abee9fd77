"""Check-ins as the command and the page make them: what is asked, the file, and what has to be said at once."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor import words
from monitor.errors import Unreadable, WorkFailed, WrongUse
from monitor.roster import RosterAthlete
from rules import words as rule_words

if TYPE_CHECKING:
    from rules.body.checkins import FlagSpan

SUBFOLDER = "checkins"
SUFFIX = ".checkin.json"
LONG_AFTER_ANY_RACE = 10**6  # days: signs that count only soon after one do not


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
        raise WrongUse(words.interview.EMPTY_CHECK_IN)
    try:
        checkin_of(document, athlete.options)  # no remarks: whoever types it can put it right
    except Unreadable as error:
        raise WrongUse(str(error)) from None
    return document


def _whole(value: Any) -> Any:
    """3.0 as 3, as anybody would write it."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


def write_checkin(folder: Path, document: Mapping[str, Any], once: str = "") -> Path:
    """Write it complete or not at all, beside those of the same day; WorkFailed when the folder does not take it.

    `once` ends its name, so that who sends the same again can be told that it is there.
    """
    if not folder.is_dir():
        raise WorkFailed(words.interview.NO_CHECK_IN_FOLDER.format(folder=folder))
    inside = folder / SUBFOLDER
    place = inside if inside.is_dir() and not inside.is_symlink() else folder
    stem = str(document["date"])[: len("2026-10-06T07:12:33")].replace(":", "") + (f"-{once}" if once else "")
    text = json.dumps(document, indent=2, ensure_ascii=False) + "\n"
    temporary = place / f".{stem}.{os.getpid()}.writing"
    try:
        _write_private(temporary, text)
        return _move_to_free_name(temporary, place, stem)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise WorkFailed(words.interview.CHECK_IN_NOT_WRITTEN.format(place=place, why=error.strerror)) from None


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


def warnings_of(document: Mapping[str, Any], athlete: RosterAthlete) -> list[str]:
    """What cannot wait for the next scan: signs that belong to a doctor, told at once."""
    from monitor.intake.checkin import checkin_of  # noqa: PLC0415 - brought only where it is needed
    from rules.body.checkins import see_a_doctor  # noqa: PLC0415 - brought only where it is needed
    from rules.catalogue import cautions, class_advice, gravest_class, what_now  # noqa: PLC0415 - as above
    from rules.findings import Severity  # noqa: PLC0415 - brought only where it is needed
    from rules.limits import default_limits  # noqa: PLC0415 - brought only where it is needed

    checkin = checkin_of(document, athlete.options)
    finishes = [race.finish.date() for race in athlete.athlete.races if race.finish.date() <= checkin.date]
    day = (checkin.date - max(finishes)).days if finishes else LONG_AFTER_ANY_RACE
    found, unclear = see_a_doctor(checkin, day), rule_words.report.not_understood_words(checkin)
    if found is None:
        return [unclear] if unclear else []
    told = rule_words.said(found.summary)
    if found.severity is not Severity.STOP:
        return [told, *what_now(found.rule, found.severity, "", default_limits()), *([unclear] if unclear else [])]
    said = [rule_words.said(flag["say"]) for flag in found.evidence["flags"]]
    stop = f"STOP: {told[:1].lower()}{told[1:]}."
    now = class_advice(gravest_class(found.evidence))
    usual = cautions(Severity.STOP, coached=athlete.athlete.coached)
    return [stop, *dict.fromkeys((*now, *said, *usual, *([unclear] if unclear else [])))]


def unanswered(document: Mapping[str, Any], told: Sequence[FlagSpan], athlete: RosterAthlete) -> list[str]:
    """What still stands of the signs told before, and what was called gone and never told."""
    from monitor.intake.checkin import checkin_of  # noqa: PLC0415 - brought only where it is needed
    from rules.body.checkins import answered_by, names  # noqa: PLC0415 - brought only where it is needed

    checkin = checkin_of(document, athlete.options)
    left = [span for span in told if not answered_by(checkin, span)]
    unknown = [text for text in checkin.gone if text != "all" and not any(names(text, span) for span in told)]
    said = [words.interview.NO_SUCH_SIGN.format(text=text) for text in unknown] if told else []
    if left:
        said.append(
            "Still open: "
            + "; ".join(f"{span.told!r}, told on {span.day}" for span in left)
            + words.interview.HOW_TO_ANSWER_SIGN
        )
    return said
