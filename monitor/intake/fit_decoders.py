"""FIT decoders behind one protocol and one shape: an adapter for the fast one, and one for fitparse."""

from __future__ import annotations

import contextlib
import gc
import math
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import repeat
from types import MappingProxyType, ModuleType
from typing import Any, Protocol

import fitparse
import fitparse.records
import numpy as np
import numpy.typing as npt
from fitparse.utils import FitEOFError

from monitor import words
from monitor.intake.fit_bytes import without_records

# The one shape both FIT decoders are brought into: records as columns, and of any other kind of message its messages in
# file order, each a dict. Keys are the words of the FIT profile (numbers where it has none), values are physical:
# seconds, m, m/s, bpm, positions in semicircles, moments in seconds since 1970. What a device marked as not recorded is
# absent or None, in a column NaN.

Message = dict[str | int, Any]
Messages = dict[str, list[Message]]
Floats = npt.NDArray[np.float64]
RUNNING_FORM = ("stance_time", "vertical_oscillation")
RECORD_FIELDS = frozenset(
    {"timestamp", "position_lat", "position_long", "altitude", "enhanced_altitude", "heart_rate", "cadence"}
    | {"fractional_cadence", "distance", "speed", "enhanced_speed", "power", "temperature", *RUNNING_FORM}
)


@dataclass(frozen=True, slots=True)
class Records:
    """The records of a file in their order, a column for each field that any has."""

    count: int
    columns: Mapping[str, Floats]

    @classmethod
    def of(cls, messages: Sequence[Message]) -> Records:
        """From records as messages, each with the first number of a field."""
        told = {name for message in messages for name in message if name in RECORD_FIELDS}
        columns = {str(name): _column(messages, str(name)) for name in told}
        for names, column in _unpacked(messages):
            if not any(name in columns and np.isfinite(columns[name]).any() for name in names):
                columns[names[0]] = column
        return cls(len(messages), columns)

    def column(self, name: str) -> Floats:
        """NaN where a record has no number of it."""
        return self.columns[name] if name in self.columns else np.full(self.count, np.nan)

    def then(self, more: Records) -> Records:
        """These and those that follow them."""
        names = self.columns.keys() | more.columns.keys()
        both = {name: np.concatenate((self.column(name), more.column(name))) for name in names}
        return Records(self.count + more.count, both)


NO_RECORDS = Records(0, MappingProxyType({}))


def _column(records: Sequence[Message], name: str) -> Floats:
    values = list(map(dict.get, records, repeat(name)))
    try:
        column = np.array(values, dtype=np.float64)
    except (TypeError, ValueError):
        column = np.empty(0)
    if column.shape != (len(records),):  # a value among them is no plain number
        known = [number(record, name) for record in records]
        column = np.array([np.nan if value is None else value for value in known], dtype=np.float64)
    return column


def _unpacked(records: Sequence[Message]) -> Iterator[tuple[tuple[str, ...], Floats]]:
    """Three bytes: 12 bits of speed in cm/s, 12 bits of distance in 1/16 m that start again at 256 m.

    Each with the fields beside which it is not wanted.
    """
    packed: list[Any] = list(map(dict.get, records, repeat("compressed_speed_distance")))
    at = [i for i, value in enumerate(packed) if isinstance(value, bytes | list | tuple) and len(value) == 3]
    if not at:
        return
    triples = np.array([list(packed[i]) for i in at], dtype=np.int64)
    speed = triples[:, 0] | (triples[:, 1] & 0x0F) << 8
    distance = triples[:, 1] >> 4 | triples[:, 2] << 4
    travelled = np.cumsum(np.concatenate((distance[:1], np.diff(distance) % 4096)))
    told = {("speed", "enhanced_speed"): np.where(speed == 0xFFF, np.nan, speed / 100), ("distance",): travelled / 16}
    for names, values in told.items():
        column = np.full(len(records), np.nan)
        column[at] = values
        yield names, column


FIT_EPOCH = 631_065_600  # 1989-12-31T00:00:00Z in seconds since 1970
FIRST_DATE = FIT_EPOCH + 0x10000000  # 1998-07-03; FIT moments below it count from the start of the device


@dataclass(frozen=True, slots=True)
class Decoded:
    """What a decoder made of one FIT file (one part of a chained one)."""

    messages: Messages
    remark: str | None = None
    damaged: bool = False
    records: Records = NO_RECORDS

    @classmethod
    def of(cls, messages: Messages, remark: str | None = None, *, damaged: bool = False) -> Decoded:
        """From all messages, records among them."""
        records = Records.of(messages.get("record", ()))
        return cls({kind: of_kind for kind, of_kind in messages.items() if kind != "record"}, remark, damaged, records)

    @property
    def is_empty(self) -> bool:
        return not (self.messages or self.records.count)

    def then(self, more: Decoded) -> Decoded:
        """This, and what goes on with it."""
        kinds = self.messages.keys() | more.messages.keys()
        both = {kind: self.messages.get(kind, []) + more.messages.get(kind, []) for kind in kinds}
        return replace(self, messages=both, records=self.records.then(more.records))


def number(message: Message, *names: str) -> float | None:
    """The first of the named fields that holds a finite number."""
    for name in names:
        value = message.get(name)
        if isinstance(value, list | tuple):
            value = value[0] if value else None
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            return float(value)
    return None


def positive(message: Message, *names: str) -> float | None:
    """As `number`, but nothing at or below zero: devices write 0 where they measured nothing."""
    for name in names:
        value = number(message, name)
        if value is not None and value > 0:
            return value
    return None


def word(message: Message, name: str) -> str | None:
    """A field that the profile gives a word for; None where the profile knows only the number."""
    value = message.get(name)
    return value.lower() if isinstance(value, str) and value else None


def moment(message: Message, name: str) -> float | None:
    """A moment in seconds since 1970, date or relative."""
    value = number(message, name)
    return None if value is None or value < FIT_EPOCH else value


def date_moment(message: Message, name: str) -> float | None:
    """A moment that is a date, not a count from the start of the device."""
    value = moment(message, name)
    return None if value is None or value < FIRST_DATE else value


class CannotDecodeError(Exception):
    """Why a decoder made nothing of a file; another one may."""


class Decoder(Protocol):
    """What a decoder of FIT is to the rest of the program: bytes of one file in, messages of the one shape out."""

    def decode(self, data: bytes) -> Decoded:
        """CannotDecodeError where it makes nothing of them."""


OUT_OF_MEMORY = "Python API call failed"  # its panic where Python has no memory for a string; nothing slower would do


def _fitfast() -> ModuleType | None:
    """Imported when first needed: there are platforms that it has no build for."""
    try:
        import fitfast  # noqa: PLC0415 - optional
    except ImportError:
        return None
    return fitfast


class FastDecoder(Decoder):
    """The quick one, where it is installed: all messages of a file, or none."""

    def decode(self, data: bytes) -> Decoded:
        package = _fitfast()
        if package is None:
            raise CannotDecodeError(words.files.FAST_DECODER_MISSING)
        with contextlib.suppress(CannotDecodeError), _panics_translated():
            if (decoded := _in_columns(package, data)) is not None:
                return decoded
        with _panics_translated():
            return Decoded.of(package.parse(data))

    def count_records(self, data: bytes) -> int | None:
        """How many records there are, cheaply; None when it cannot say."""
        package = _fitfast()
        if package is None:
            return None
        with contextlib.suppress(CannotDecodeError), _panics_translated():
            return int(package.message_counts(data).get("record", 0))
        return None


@contextlib.contextmanager
def _panics_translated() -> Iterator[None]:
    """Whatever the fast decoder raises as CannotDecodeError; its panics are BaseException."""
    collecting = gc.isenabled()
    gc.disable()  # a day of records is a million dicts, none of them a cycle
    try:
        yield
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as error:
        if str(error) == OUT_OF_MEMORY:
            raise MemoryError from error
        raise CannotDecodeError(_reason(error)) from error
    finally:
        if collecting:
            gc.enable()


def _in_columns(package: ModuleType, data: bytes) -> Decoded | None:
    """Records as columns, at a third of the cost of a dict each, and the rest as messages. None where that would not be
    the same: a record holds more than a number a field, or a developer's field is called as one of the profile."""
    rest = without_records(data)
    if rest is None or len(rest) > len(data) / 2:
        return None
    columns = package.records(data, degrees=False)
    messages = package.parse(rest)
    if any(description.get("field_name") in RECORD_FIELDS for description in messages.get("field_description", ())):
        return None
    count = len(next(iter(columns.values()), ()))
    records = Records(count, {name: column for name, column in columns.items() if name in RECORD_FIELDS})
    return Decoded(messages, records=records) if count else None


def _reason(error: BaseException) -> str:
    if isinstance(error, Exception):
        return str(error).removeprefix("FIT decode error: ").strip()[:160] or type(error).__name__
    return words.files.FAST_DECODER_BROKE


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
_KEPT_OF_RECORDS = RECORD_FIELDS | {"compressed_speed_distance"}
_MOMENTS = frozenset({"date_time", "local_date_time"})


class _Plain:
    """A processor that leaves values alone: half the time of the usual one."""

    def run_type_processor(self, field: Any) -> None:
        pass

    run_field_processor = run_unit_processor = run_message_processor = run_type_processor


@dataclass(frozen=True, slots=True)
class FitparseDecoder(Decoder):
    """One message after another: slower, but what came before a damage is kept."""

    most_seconds: float  # of processor
    most_records: int

    def decode(self, data: bytes) -> Decoded:
        fitparse.records.DEV_TYPES.clear()  # it remembers the developer fields of the file before
        messages: Messages = {}
        seen = 0
        try:
            fit = fitparse.FitFile(data, check_crc=False, data_processor=_Plain())  # type: ignore[no-untyped-call]  # no types
        except Exception as error:  # noqa: BLE001 - it raises whatever the bytes make it raise
            return Decoded({}, _cut_off({}, error), damaged=True)
        ends = time.process_time() + self.most_seconds
        try:
            for message in _each(fit):
                seen += 1
                _keep(messages, message)
                enough = len(messages.get("record", ())) >= self.most_records
                if enough or (seen % 1000 == 0 and time.process_time() > ends):
                    remark = words.files.STOPPED_AFTER.format(messages=_count(messages))
                    return Decoded.of(messages, remark, damaged=True)
        except MemoryError:
            raise
        except Exception as error:  # noqa: BLE001 - FitParseError, TypeError, ValueError, KeyError ...
            if fit._bytes_left > 0 or "session" not in messages:  # only its checksum is missing
                return Decoded.of(messages, _cut_off(messages, error), damaged=True)
        return Decoded.of(messages)


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
    text = unnamed[1] if unnamed else {}
    for field in message.fields:
        value = field.value
        if value is None:
            continue
        name, value = _named(field, value, text)
        if kind == "record" and name not in _KEPT_OF_RECORDS:
            continue
        kept.setdefault(name, value)
    if kind == "sleep_level":
        kept["sleep_level"] = _SLEEP_LEVELS.get(kept.get("sleep_level", -1))
    messages.setdefault(kind, []).append(kept)


def _named(field: Any, value: Any, text: dict[int, tuple[str, float]]) -> tuple[str | int, Any]:
    """Word and value of a field as the other decoder gives them."""
    if field.def_num == 253:
        return "timestamp", value + FIT_EPOCH if isinstance(value, int) else None
    if field.def_num in text:
        name, scale = text[field.def_num]
        return name, value / scale if scale != 1 else value
    if field.type.name in _MOMENTS:
        return field.name, value + FIT_EPOCH if isinstance(value, int) else None
    if field.name == "sport":
        return "sport", _SPORTS.get(value, value)
    return field.name, list(value) if isinstance(value, tuple) else value


def _cut_off(messages: Messages, error: Exception) -> str:
    if not messages.keys() - {"file_id"}:
        return words.files.DAMAGED_FROM_THE_START.format(error=_plain(error))
    return words.files.CUT_OFF_AFTER.format(messages=_count(messages), error=_plain(error))


def _count(messages: Messages) -> str:
    records = len(messages.get("record", ()))
    number = records or sum(len(kept) for kept in messages.values())
    return f"{number:,} {'records' if records else 'messages'}".replace(",", " ")


def _plain(error: Exception) -> str:
    if isinstance(error, FitEOFError):
        return words.files.FILE_ENDS_IN_MIDDLE
    return words.files.MESSAGE_MAKES_NO_SENSE
