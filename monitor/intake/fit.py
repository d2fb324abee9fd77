"""A FIT file -> its facts: parts of a chain one by one, the fast decoder first, fitparse for whatever that refuses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import fit_body, fit_sessions
from monitor.intake.fit_bytes import Part, mend, split
from monitor.intake.fit_decoders import CannotDecodeError, Decoded, FastDecoder, FitparseDecoder, Messages, word
from monitor.intake.plausible import MOST
from monitor.values import FileFacts, IntakeOptions, Recording
from rules.facts import Morning
from rules.limits import default_limits

MOST_PARTS = 64
LARGE_BYTES = 1 << 20
NO_ACTIVITY = frozenset(
    {"device", "settings", "sport", "workout", "course", "schedules", "weight", "totals", "goals", "blood_pressure"}
    | {"segment", "segment_list", "exd_configuration"}
)


def read_fit(data: bytes, options: IntakeOptions) -> FileFacts:
    """Everything one FIT file says. Unreadable, with the reason, where nothing could be read of it."""
    parts, left_over = split(data, MOST_PARTS)
    read: list[FileFacts] = []
    refused: list[str] = []
    for part, decoded in _decoded(parts, refused):
        try:
            facts = _read_part(decoded, options)
            remarks = tuple(_in_part(part, len(parts), remark) for remark in facts.remarks)
            read.append(replace(facts, remarks=remarks))
        except Unreadable as reason:
            refused.append(_in_part(part, len(parts), reason))
    if not read:
        raise Unreadable(refused[0])
    return FileFacts(
        kind="fit",
        recordings=tuple(recording for facts in read for recording in facts.recordings),
        nights=tuple(night for facts in read for night in facts.nights),
        mornings=_by_day(morning for facts in read for morning in facts.mornings),
        remarks=(
            *(remark for facts in read for remark in facts.remarks),
            *refused,
            *([left_over] if left_over else []),
        ),
        damaged=bool(refused) or any(facts.damaged for facts in read),
    )


def _decoded(parts: list[Part], refused: list[str]) -> list[tuple[int, Decoded]]:
    """The files in a chain, by number. A part that does not begin as a file does goes on with the one before."""
    files: list[tuple[int, Decoded]] = []
    for index, part in enumerate(parts, start=1):
        try:
            decoded = _decode(part)
        except Unreadable as reason:
            refused.append(_in_part(index, len(parts), reason))
            continue
        if files and not decoded.is_empty and "file_id" not in decoded.messages:
            files[-1] = (files[-1][0], files[-1][1].then(decoded))
        else:
            files.append((index, decoded))
    return files


def _in_part(part: int, parts: int, reason: str | Unreadable) -> str:
    """A reason with the part of the chain that it is about, where there are several."""
    if parts > 1:
        return words.files.IN_PART.format(part=part, parts=parts, reason=reason)
    return reason.reason if isinstance(reason, Unreadable) else reason


def _read_part(decoded: Decoded, options: IntakeOptions) -> FileFacts:
    facts = facts_of(decoded, options)
    nothing = not (facts.recordings or facts.nights or facts.mornings)
    if nothing and decoded.damaged:
        came_before = decoded.records.count or decoded.messages.keys() - {"file_id"}
        remark = decoded.remark or words.files.NOTHING_RECORDED
        raise Unreadable(words.files.NOTHING_CAME_BEFORE.format(reason=remark) if came_before else remark)
    return facts


def _decode(part: Part) -> Decoded:
    """Messages by the fast decoder, as they are or with header and checksums mended; else what fitparse can read."""
    if len(part.data) <= part.header_size:
        raise Unreadable(words.files.CUT_OFF_AFTER_HEADER)
    fast = FastDecoder()
    _refuse_too_many(fast, part.data)
    try:
        return fast.decode(part.data)
    except CannotDecodeError as error:
        why = error.args[0]
    mended = mend(part)
    if mended is not None:
        data, wrong = mended
        cut = part.missing > 2
        try:
            remark = (words.files.READ_AS_FAR_AS_IT_GOES if cut else words.files.READ_ALL_THE_SAME).format(reason=wrong)
            return replace(fast.decode(data), remark=remark, damaged=cut)
        except CannotDecodeError as error:
            why = why if part.missing else error.args[0]
    slow = FitparseDecoder(default_limits().decoding.stream_seconds, MOST.points)
    decoded = slow.decode(mended[0][:-2] if mended is not None and part.unclosed else part.data)
    return decoded if decoded.remark else replace(decoded, remark=words.files.READ_WITH_FITPARSE.format(why=why))


def _refuse_too_many(fast: FastDecoder, data: bytes) -> None:
    if len(data) < LARGE_BYTES:
        return
    records = fast.count_records(data)
    if records is not None and records > MOST.points:
        raise Unreadable(words.files.TOO_MANY_RECORDS.format(records=records, points=MOST.points))


def facts_of(decoded: Decoded, options: IntakeOptions) -> FileFacts:
    """The facts in the messages of one FIT file, whichever decoder they come from."""
    messages = decoded.messages
    remarks = [decoded.remark] if decoded.remark else []
    kind = next((word(file_id, "type") for file_id in messages.get("file_id", ())), None)
    if kind in NO_ACTIVITY:
        remarks.append(words.files.FIT_KIND_NOT_JUDGED.format(kind=kind))
        return FileFacts("fit", remarks=tuple(remarks), damaged=decoded.damaged)
    found = _sessions(decoded, options, remarks)
    sessions, at_rest = _rest_apart(found, messages, options, remarks)
    nights = fit_body.nights(messages, options)
    mornings = _by_day((*fit_body.mornings(messages, options), *at_rest))
    if not (sessions or nights or mornings):
        remarks.append(fit_body.monitoring_remark(messages, options) or words.files.NOTHING_RECORDED)
    return FileFacts("fit", sessions, nights, mornings, (), tuple(remarks), decoded.damaged)


def _sessions(decoded: Decoded, options: IntakeOptions, remarks: list[str]) -> tuple[Recording, ...]:
    if not (decoded.records.count or any(decoded.messages.get(kind) for kind in ("session", "lap"))):
        return ()
    offset = fit_sessions.shift(decoded, options.timezone)
    if offset is None:
        raise Unreadable(words.files.NO_DATE)
    if offset:
        remarks.append(words.files.DEVICE_HAD_NO_DATE)
    return fit_sessions.recordings(decoded, offset, remarks)


def _rest_apart(
    found: tuple[Recording, ...], messages: Messages, options: IntakeOptions, remarks: list[str]
) -> tuple[tuple[Recording, ...], tuple[Morning, ...]]:
    """Sessions and morning values apart: a measurement of the heartbeat at rest is no session."""
    rr_ms = fit_body.rr_intervals_ms(messages)
    if len(found) != 1 or not fit_body.is_rest(found[0], rr_ms):
        return found, ()
    morning = fit_body.morning_of(found[0], rr_ms, options)
    remarks.append(words.files.MEASURED_AT_REST)
    return (), () if morning is None else (morning,)


def _by_day(mornings: Iterable[Morning]) -> tuple[Morning, ...]:
    """One morning for each day; values of a later one replace those of an earlier one."""
    days: dict[object, Morning] = {}
    for morning in mornings:
        old = days.get(morning.date)
        days[morning.date] = morning if old is None else _merged(old, morning)
    return tuple(days.values())


def _merged(old: Morning, new: Morning) -> Morning:
    resting_hr = old.resting_hr if new.resting_hr is None else new.resting_hr
    rmssd_ms = old.rmssd_ms if new.rmssd_ms is None else new.rmssd_ms
    return Morning(new.date, resting_hr, rmssd_ms)
