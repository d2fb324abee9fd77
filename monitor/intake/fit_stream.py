"""FIT messages by fitparse, one after another: slower, but what came before a damage is kept."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import fitparse
import fitparse.records
from fitparse.utils import FitEOFError

from monitor.intake.fit_messages import FIT_EPOCH, Decoded, Message, Messages

# Messages and fields that fitparse 1.2 has no words for: number -> kind, {number: (word, scale)}
_UNNAMED: dict[int, tuple[str, dict[int, tuple[str, float]]]] = {
    211: ("monitoring_hr_data", {0: ("resting_heart_rate", 1), 1: ("current_day_resting_heart_rate", 1)}),
    275: ("sleep_level", {0: ("sleep_level", 1)}),
    346: ("sleep_assessment", {11: ("awakenings_count", 1)}),
    370: ("hrv_status_summary", {0: ("weekly_average", 128), 1: ("last_night_average", 128)}),
    371: ("hrv_value", {0: ("value", 128)}),
}
_SLEEP_LEVELS = {0: "unmeasurable", 1: "awake", 2: "light", 3: "deep", 4: "rem"}
_SPORTS = {62: "hiit", 64: "racket", 67: "meditation", 83: "dance", 84: "jump_rope", 86: "mobility"}

_WANTED = frozenset(
    {
        "file_id",
        "activity",
        "session",
        "lap",
        "record",
        "event",
        "length",
        "sport",
        "hr",
        "hrv",
        "timestamp_correlation",
    }
    | {"monitoring", "monitoring_info", "workout", "course"}
    | {kind for kind, _ in _UNNAMED.values()}
)
_RECORD_FIELDS = frozenset(
    {"timestamp", "position_lat", "position_long", "altitude", "enhanced_altitude", "heart_rate", "cadence"}
    | {"fractional_cadence", "distance", "speed", "enhanced_speed", "compressed_speed_distance", "power", "temperature"}
)
_MOMENTS = frozenset({"date_time", "local_date_time"})


class _Plain:
    """A processor that leaves values alone: half the time of the usual one."""

    def run_type_processor(self, field: Any) -> None:
        pass

    run_field_processor = run_unit_processor = run_message_processor = run_type_processor


def decode(data: bytes, why: str, *, most_seconds: float, most_records: int) -> Decoded:
    """What can be read of one FIT file; `why` it is read so goes into the remark."""
    fitparse.records.DEV_TYPES.clear()  # it remembers the developer fields of the file before
    messages: Messages = {}
    seen = 0
    try:
        fit = fitparse.FitFile(data, check_crc=False, data_processor=_Plain())  # type: ignore[no-untyped-call]
    except Exception as error:  # noqa: BLE001 - it raises whatever the bytes make it raise
        return Decoded({}, _cut_off({}, error), damaged=True)
    ends = time.process_time() + most_seconds
    try:
        for message in _each(fit):
            seen += 1
            _keep(messages, message)
            enough = len(messages.get("record", ())) >= most_records
            if enough or (seen % 1000 == 0 and time.process_time() > ends):
                return Decoded(messages, f"stopped after {_count(messages)}: too long to be read on", damaged=True)
    except MemoryError:
        raise
    except Exception as error:  # noqa: BLE001 - FitParseError, TypeError, ValueError, KeyError ...
        if fit._bytes_left > 0 or "session" not in messages:  # only its checksum is missing
            return Decoded(messages, _cut_off(messages, error), damaged=True)
    return Decoded(messages, f"read with fitparse: {why}")


def _each(fit: Any) -> Iterator[Any]:
    for message in fit.get_messages():
        fit._messages.clear()  # it keeps every message: a day's recording would take a gigabyte
        yield message


def _keep(messages: Messages, message: Any) -> None:
    unnamed = _UNNAMED.get(message.mesg_num)
    kind = unnamed[0] if unnamed else message.name
    if kind not in _WANTED:
        return
    kept: Message = {}
    words = unnamed[1] if unnamed else {}
    for field in message.fields:
        value = field.value
        if value is None:
            continue
        name, value = _named(field, value, words)
        if kind == "record" and name not in _RECORD_FIELDS:
            continue
        kept.setdefault(name, value)
    if kind == "sleep_level":
        kept["sleep_level"] = _SLEEP_LEVELS.get(kept.get("sleep_level", -1))
    messages.setdefault(kind, []).append(kept)


def _named(field: Any, value: Any, words: dict[int, tuple[str, float]]) -> tuple[str | int, Any]:
    """Word and value of a field as the other decoder gives them."""
    if field.def_num == 253:
        return "timestamp", value + FIT_EPOCH if isinstance(value, int) else None
    if field.def_num in words:
        name, scale = words[field.def_num]
        return name, value / scale if scale != 1 else value
    if field.type.name in _MOMENTS:
        return field.name, value + FIT_EPOCH if isinstance(value, int) else None
    if field.name == "sport":
        return "sport", _SPORTS.get(value, value)
    return field.name, list(value) if isinstance(value, tuple) else value


def _cut_off(messages: Messages, error: Exception) -> str:
    if not messages.keys() - {"file_id"}:
        return f"damaged before anything was recorded: {_plain(error)}"
    return f"cut off after {_count(messages)}: {_plain(error)}"


def _count(messages: Messages) -> str:
    records = len(messages.get("record", ()))
    number = records or sum(len(kept) for kept in messages.values())
    return f"{number:,} {'records' if records else 'messages'}".replace(",", " ")


def _plain(error: Exception) -> str:
    if isinstance(error, FitEOFError):
        return "the file ends in the middle of a message"
    return "a message in it makes no sense"
