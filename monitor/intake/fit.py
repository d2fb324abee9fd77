"""A FIT file -> its facts: parts of a chain one by one, the fast decoder first, fitparse for whatever that refuses."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from monitor.errors import Unreadable
from monitor.intake import fit_body, fit_bytes, fit_decoders, fit_sessions
from monitor.intake.cells import NO_DATE
from monitor.intake.fit_decoders import Decoded, Messages, word
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
    parts, left_over = fit_bytes.split(data, MOST_PARTS)
    read: list[FileFacts] = []
    refused: list[str] = []
    for prefix, decoded in _decoded(parts, refused):
        try:
            read.append(_read_part(prefix, decoded, options))
        except Unreadable as reason:
            refused.append(f"{prefix}{reason}")
    if not read:
        raise Unreadable(refused[0])
    remarks = [remark for facts in read for remark in facts.remarks] + refused + ([left_over] if left_over else [])
    return FileFacts(
        kind="fit",
        recordings=tuple(recording for facts in read for recording in facts.recordings),
        nights=tuple(night for facts in read for night in facts.nights),
        mornings=_by_day(morning for facts in read for morning in facts.mornings),
        remarks=tuple(remarks),
        damaged=bool(refused) or any(facts.damaged for facts in read),
    )


def _decoded(parts: list[fit_bytes.Part], refused: list[str]) -> list[tuple[str, Decoded]]:
    """The files in a chain. A part that does not begin as a file does goes on with the one before."""
    files: list[tuple[str, Decoded]] = []
    for index, part in enumerate(parts, start=1):
        prefix = f"part {index} of {len(parts)}: " if len(parts) > 1 else ""
        try:
            decoded = _decode(part)
        except Unreadable as reason:
            refused.append(f"{prefix}{reason}")
            continue
        if files and decoded.messages and "file_id" not in decoded.messages:
            for kind, messages in decoded.messages.items():
                files[-1][1].messages.setdefault(kind, []).extend(messages)
        else:
            files.append((prefix, decoded))
    return files


def _read_part(prefix: str, decoded: Decoded, options: IntakeOptions) -> FileFacts:
    facts = facts_of(decoded, options)
    nothing = not (facts.recordings or facts.nights or facts.mornings)
    if nothing and decoded.damaged:
        came_before = decoded.messages.keys() - {"file_id"}
        raise Unreadable(f"{decoded.remark}{'; nothing that is judged came before' if came_before else ''}")
    return replace(facts, remarks=tuple(prefix + remark for remark in facts.remarks))


def _decode(part: fit_bytes.Part) -> Decoded:
    """Messages by the fast decoder, as they are or with header and checksums mended; else what fitparse can read."""
    if len(part.data) <= part.header_size:
        raise Unreadable("cut off after its header, before anything was recorded")
    _refuse_too_many(part.data)
    messages = fit_decoders.decode_fast(part.data)
    if isinstance(messages, dict):
        return Decoded(messages)
    mended = fit_bytes.mend(part)
    if mended is not None:
        data, wrong = mended
        again = fit_decoders.decode_fast(data)
        if isinstance(again, dict):
            cut = part.missing > 2
            return Decoded(again, f"{wrong}; {'what is there was read' if cut else 'read all the same'}", damaged=cut)
        messages = messages if part.missing else again
    return fit_decoders.decode_slowly(
        mended[0][:-2] if mended is not None and part.unclosed else part.data,
        messages,
        most_seconds=default_limits().decoding.stream_seconds,
        most_records=MOST.points,
    )


def _refuse_too_many(data: bytes) -> None:
    if len(data) < LARGE_BYTES:
        return
    records = fit_decoders.count_records(data)
    if records is not None and records > MOST.points:
        raise Unreadable(f"{records} records, more than the {MOST.points} that are read")


def facts_of(decoded: Decoded, options: IntakeOptions) -> FileFacts:
    """The facts in the messages of one FIT file, whichever decoder they come from."""
    messages = decoded.messages
    remarks = [decoded.remark] if decoded.remark else []
    kind = next((word(file_id, "type") for file_id in messages.get("file_id", ())), None)
    if kind in NO_ACTIVITY:
        remarks.append(f"a FIT file of the kind {kind!r}, nothing to judge in it")
        return FileFacts("fit", remarks=tuple(remarks), damaged=decoded.damaged)
    found = _sessions(messages, options, remarks)
    sessions, at_rest = _rest_apart(found, messages, options, remarks)
    nights = fit_body.nights(messages, options)
    mornings = _by_day((*fit_body.mornings(messages, options), *at_rest))
    if not (sessions or nights or mornings):
        remarks.append(fit_body.monitoring_remark(messages, options) or "nothing recorded in it that is judged")
    return FileFacts("fit", sessions, nights, mornings, (), tuple(remarks), decoded.damaged)


def _sessions(messages: Messages, options: IntakeOptions, remarks: list[str]) -> tuple[Recording, ...]:
    if not any(messages.get(kind) for kind in ("session", "lap", "record")):
        return ()
    offset = fit_sessions.shift(messages, options.timezone)
    if offset is None:
        raise Unreadable(NO_DATE)
    if offset:
        remarks.append("the device had no date; its times are taken from the local time at its end")
    return fit_sessions.recordings(messages, offset, remarks)


def _rest_apart(
    found: tuple[Recording, ...], messages: Messages, options: IntakeOptions, remarks: list[str]
) -> tuple[tuple[Recording, ...], tuple[Morning, ...]]:
    """Sessions, and a measurement at rest as the morning value that it is."""
    rr_ms = fit_body.rr_intervals_ms(messages)
    if len(found) != 1 or not fit_body.is_rest(found[0], rr_ms):
        return found, ()
    morning = fit_body.morning_of(found[0], rr_ms, options)
    remarks.append("a measurement of the heartbeat at rest, not a session")
    return (), () if morning is None else (morning,)


def _by_day(mornings: Iterable[Morning]) -> tuple[Morning, ...]:
    """One morning a day; a later one fills in what the earlier left open and stands where both say something."""
    days: dict[object, Morning] = {}
    for morning in mornings:
        old = days.get(morning.date)
        days[morning.date] = morning if old is None else _merged(old, morning)
    return tuple(days.values())


def _merged(old: Morning, new: Morning) -> Morning:
    resting_hr = old.resting_hr if new.resting_hr is None else new.resting_hr
    rmssd_ms = old.rmssd_ms if new.rmssd_ms is None else new.rmssd_ms
    return Morning(new.date, resting_hr, rmssd_ms)
