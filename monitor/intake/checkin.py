"""Check-ins: what the athlete says of the body. Lenient on how it is written, strict on the range.

Of several on one day the latest stands: `order` is the moment told, else noon of the day on the athlete's clock; the
second of the same day and file counts a second later, and so on. When and in what order files arrive plays no part.
"""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import plausible
from monitor.intake.plausible import BOUNDS, Remarks, is_plausible
from monitor.intake.untrusted import kept, parsed_json, quoted, shown
from monitor.values import FileFacts, IntakeOptions
from rules.facts import CheckIn
from rules.limits import default_limits

# Answers of a check-in as people write them: "with help", "a lot", "7-8", "nein"; None where nobody could tell.

AGREES = {"yes", "y", "true", "1", "1.0", "ja", "oui", "si", "sí", "sim", "yeah", "yep"}
YES = AGREES | {"sure", "ok", "fine", "easily"}
NO = {"no", "n", "false", "0", "0.0", "nein", "nei", "nej", "non", "nee", "não", "nope", "never", "impossible"}
WITH_HELP = re.compile(r"\b(help|aid|support|hold\w*|rail\w*|banister|hand|arms?|stick|hardly|barely|almost|only)\b")
WITHOUT_HELP = re.compile(r"\b(?:without|no) (?:any )?(?:help|aid|support|holding|rail\w*|hands?)\b|\bunaided\b")
CANNOT = re.compile(r"\b(can'?t|cannot|could ?n'?t|did ?n'?t|not|unable)\b")
SPAN = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:-|–|to|or|bis|à)\s*(\d+(?:[.,]\d+)?)")
OUT_OF_TEN = re.compile(r"\s*(?:/|of|out of|von)\s*10$")
LESS_IS_WORSE = ("energy", "mood")


def yes_or_no(value: object) -> bool | None:
    """Whether something is done without help; "yes, with help" counts as no."""
    text = _plain(value)
    if CANNOT.search(text):
        return False
    if WITHOUT_HELP.search(text):
        return True
    first = re.split(r"[\s,;]+", text)[0]
    if first in NO or WITH_HELP.search(text):
        return False
    return True if first in YES else None


def on_scale(key: str, value: object) -> float | None:
    """A number from 0 to 10; of a span such as "7-8" the worse end, and words by their usual place on the scale."""
    if isinstance(value, bool):
        return None
    text = OUT_OF_TEN.sub("", _plain(value))
    number = _number(text)
    if math.isnan(number) and (span := SPAN.fullmatch(text)):
        both = (_number(span[1]), _number(span[2]))
        if all(is_plausible(BOUNDS.scale, end) for end in both):
            number = min(both) if key in LESS_IS_WORSE else max(both)
    if math.isnan(number):
        label = default_limits().checkin_words
        number = (label.strength if key in LESS_IS_WORSE else label.trouble).get(text, math.nan)
    return number if is_plausible(BOUNDS.scale, number) else None


def _plain(value: object) -> str:
    return " ".join(str(value).replace("’", "'").casefold().split()).strip(" .!")


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return math.nan


YES_NO = ("stairs_unaided", "squat_unaided")
SCALES = ("soreness", "pain", "energy", "mood")
FIELDS = ("date", *YES_NO, *SCALES, "pain_where", "symptoms", "note", "gone", "seen_doctor")
NOTHING = ("", "-", "n/a", "na", "null", "none")
MOST_SYMPTOMS = 50


def is_checkin(document: object) -> bool:
    """A JSON document of this kind: an object, or a list of them, with a date and at least one more of the fields."""
    first = document[0] if isinstance(document, list) and document else document
    return isinstance(first, dict) and "date" in first and len(first.keys() & set(FIELDS)) > 1


def read_checkins(data: bytes, options: IntakeOptions) -> FileFacts:
    return checkins_of(parsed_json(data), options)


def checkins_of(document: object, options: IntakeOptions) -> FileFacts:
    """One check-in or a list of them. A bad answer is remarked and the good ones are kept.

    Unreadable, by key, value and what is allowed, when nothing good is left.
    """
    entries = document if isinstance(document, list) else [document]
    remarks = Remarks()
    checkins: list[CheckIn] = []
    for entry in entries:
        if not isinstance(entry, dict):
            remarks.add(words.files.CHECK_IN_NO_OBJECT.format(entry=shown(json.dumps(entry))))
            continue
        unknown = sorted(key for key in entry if key not in FIELDS)
        if unknown:
            keys = ", ".join(shown(key, 40) for key in unknown[:10])
            remarks.add(words.files.KEYS_LEFT_OUT.format(keys=keys))
        try:
            checkins.append(checkin_of(entry, options, remarks.add))
        except Unreadable as error:
            if len(entries) == 1:
                raise
            remarks.add(words.files.CHECK_IN_LEFT_OUT.format(error=error))
    if not checkins:
        raise Unreadable(remarks.first() if remarks else words.files.NO_CHECK_INS_IN_LIST)
    return FileFacts(kind="checkin", checkins=in_order(checkins), remarks=remarks.all())


def checkin_of(
    fields: Mapping[str, Any], options: IntakeOptions, remark: Callable[[str], None] | None = None
) -> CheckIn:
    """A check-in from its fields, as JSON or a CSV row gives them.

    An answer that nobody could understand is told to `remark` and left out; without one, and where no other answer is
    left, it is Unreadable.
    """
    day, moment = _when(fields.get("date"), options.timezone)
    where, note = fields.get("pain_where"), fields.get("note")
    wrong: list[str] = []
    checkin = CheckIn(
        date=day,
        order=moment.timestamp(),
        stairs_unaided=_yes_no("stairs_unaided", fields.get("stairs_unaided"), wrong),
        squat_unaided=_yes_no("squat_unaided", fields.get("squat_unaided"), wrong),
        soreness=_scale("soreness", fields.get("soreness"), wrong),
        pain=_scale("pain", fields.get("pain"), wrong),
        pain_where=kept(where, 100) if where is not None else None,
        energy=_scale("energy", fields.get("energy"), wrong),
        mood=_scale("mood", fields.get("mood"), wrong),
        symptoms=_symptoms(fields.get("symptoms")),
        note=kept(note, 2000) if note is not None else None,
        gone=_gone(fields.get("gone")),
        seen_doctor=_seen_doctor(fields.get("seen_doctor")),
    )
    if wrong and (remark is None or checkin == CheckIn(date=day, order=checkin.order)):
        raise Unreadable(wrong[0])
    if remark is not None:
        for sentence in wrong:
            remark(words.files.OTHER_ANSWERS_ARE_KEPT.format(sentence=sentence))
    return checkin


def in_order(checkins: Iterable[CheckIn]) -> tuple[CheckIn, ...]:
    """The same, those of one moment told apart by a second each, in the order of the file."""
    seen: Counter[float] = Counter()
    told_apart = []
    for checkin in checkins:
        told_apart.append(replace(checkin, order=checkin.order + seen[checkin.order]))
        seen[checkin.order] += 1
    return tuple(told_apart)


def _when(value: object, timezone: str) -> tuple[date, datetime]:
    text = str(value).strip() if value is not None else ""
    moment = plausible.parsed(text)
    if moment is None:
        raise Unreadable(words.files.NOT_A_DATE.format(text=quoted(text, 40)))
    if len(text) <= len("2026-10-06"):
        noon = datetime.combine(moment.date(), time(12), ZoneInfo(timezone))
        return moment.date(), noon.astimezone(UTC)
    utc = plausible.in_utc(moment, timezone)
    return plausible.local_date(utc, timezone), utc


def _yes_no(key: str, value: object, wrong: list[str]) -> bool | None:
    if _says_nothing(value):
        return None
    answer = yes_or_no(value)
    if answer is None:
        wrong.append(words.files.NOT_YES_OR_NO.format(key=key, given=quoted(value, 40)))
    return answer


def _scale(key: str, value: object, wrong: list[str]) -> float | None:
    if _says_nothing(value):
        return None
    number = on_scale(key, value)
    if number is None:
        least, most = BOUNDS.scale
        wrong.append(words.files.SCALE_OUT_OF_RANGE.format(key=key, given=quoted(value, 40), least=least, most=most))
    return number


def _says_nothing(value: object) -> bool:
    return value is None or str(value).strip().casefold() in NOTHING


def _symptoms(value: object) -> tuple[str, ...]:
    if value is None:
        return ()
    parts = value if isinstance(value, list) else str(value).replace(";", ",").split(",")
    text = (kept(part, 100) for part in parts[:MOST_SYMPTOMS] if part is not None)
    return tuple(dict.fromkeys(word for word in text if word is not None and word.casefold() not in NOTHING))


def _gone(value: object) -> tuple[str, ...]:
    """What is no longer there: names of symptoms; a plain yes means all of them."""
    if isinstance(value, bool):
        return ("all",) if value else ()
    text = _symptoms(value)
    return tuple("all" if _plain(word) in AGREES else word for word in text if not _is_no(word))


def _seen_doctor(value: object) -> str | None:
    """Who looked at it; a plain yes is a doctor without a name."""
    text = kept(value, 100) if value is not None else None
    if text is None or text.casefold() in NOTHING or _is_no(text):
        return None
    return "a doctor" if _plain(text) in AGREES else text


def _is_no(text: str) -> bool:
    """Whether it begins with a denial: "nein", "not yet", "no, on Monday"; "Dr Berg, not urgent" tells of a doctor."""
    first = re.split("[,;:(]", _plain(text))[0].strip()
    return first in NO or "n't" in first or CANNOT.search(first) is not None
