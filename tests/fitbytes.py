"""FIT bytes for tests: any message, any field, broken on purpose where asked.

Messages go by name or number, fields by name (physical values, scaled by the profile) or as
`Raw(number, base_type, value)`. Field and type numbers come from the profile in the official package; the bytes are
laid here.
"""

from __future__ import annotations

import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, Literal

import numpy as np
from garmin_fit_sdk import Profile

FIT_EPOCH = 631_065_600  # 1989-12-31T00:00:00Z in seconds since 1970

# base type -> number, struct code, what says "nothing recorded"
BASE: dict[str, tuple[int, str, Any]] = {
    "enum": (0x00, "B", 0xFF),
    "sint8": (0x01, "b", 0x7F),
    "uint8": (0x02, "B", 0xFF),
    "sint16": (0x83, "h", 0x7FFF),
    "uint16": (0x84, "H", 0xFFFF),
    "sint32": (0x85, "i", 0x7FFFFFFF),
    "uint32": (0x86, "I", 0xFFFFFFFF),
    "string": (0x07, "s", b"\0"),
    "float32": (0x88, "f", float("nan")),
    "float64": (0x89, "d", float("nan")),
    "uint8z": (0x0A, "B", 0),
    "uint16z": (0x8B, "H", 0),
    "uint32z": (0x8C, "I", 0),
    "byte": (0x0D, "B", 0xFF),
    "sint64": (0x8E, "q", 0x7FFFFFFFFFFFFFFF),
    "uint64": (0x8F, "Q", 0xFFFFFFFFFFFFFFFF),
    "uint64z": (0x90, "Q", 0),
}
BASE["bool"] = BASE["enum"]
_CODES = {number: (code, invalid) for number, code, invalid in BASE.values()}

_CRC_TABLE = [0] * 256
for _i in range(256):
    _c = _i
    for _ in range(8):
        _c = (_c >> 1) ^ 0xA001 if _c & 1 else _c >> 1
    _CRC_TABLE[_i] = _c


def crc16(data: bytes, crc: int = 0) -> int:
    """CRC-16/ARC, the checksum of FIT: `123456789` gives 0xBB3D."""
    table = _CRC_TABLE
    for byte in data:
        crc = (crc >> 8) ^ table[(crc ^ byte) & 0xFF]
    return crc


def fit_time(moment: datetime) -> int:
    """Seconds since the FIT epoch of an aware moment."""
    if moment.tzinfo is None:
        raise ValueError("FIT times are UTC: give an aware datetime")
    return round(moment.timestamp()) - FIT_EPOCH


@dataclass(frozen=True)
class Raw:
    """A field that the profile does not name, or one written with another type than it says; value as stored."""

    number: int
    base: str
    value: Any
    size: int | None = None  # bytes in the definition, when that is to be wrong


@dataclass(frozen=True)
class Developer:
    """A developer field; `describe_developer_field` must have been written before."""

    number: int
    base: str
    value: Any
    index: int = 0


@cache
def _messages() -> dict[str, dict[str, Any]]:
    return {m["name"]: m for m in Profile["messages"].values()}


@cache
def _fields(message: int) -> dict[str, dict[str, Any]]:
    profile = Profile["messages"].get(message)
    return {} if profile is None else {f["name"]: f for f in profile["fields"].values()}


@cache
def _enum(kind: str) -> dict[str, int]:
    return {name: int(number) for number, name in Profile["types"].get(kind, {}).items() if isinstance(name, str)}


def message_number(message: str | int) -> int:
    """Global number of a message, `record` -> 20."""
    return message if isinstance(message, int) else int(_messages()[message]["num"])


@dataclass(frozen=True)
class _Field:
    number: int
    base: int
    data: bytes
    size: int


def _stored(value: Any, kind: str, scale: float, offset: float) -> Any:
    if isinstance(value, datetime):
        return fit_time(value)
    if isinstance(value, str):
        return _enum(kind)[value]
    if isinstance(value, bool):
        return int(value)
    return round((value + offset) * scale) if scale != 1 or offset else value


def _pack(base: str, value: Any, order: str) -> bytes:
    _, code, invalid = BASE[base]
    if code == "s":
        return b"\0" if value is None else (value.encode() if isinstance(value, str) else value) + b"\0"
    values = value if isinstance(value, list | tuple) else [value]
    stored = [invalid if v is None else v if code in "fd" else int(v) for v in values]
    return struct.pack(f"{order}{len(stored)}{code}", *stored)


class FitWriter:
    """Collects messages in the order written; `to_bytes` closes the file."""

    def __init__(self, *, header_size: int = 14, protocol: int = 0x20, big_endian: bool = False) -> None:
        self.header_size = header_size
        self.protocol = protocol
        self.big_endian = big_endian
        self._order = ">" if big_endian else "<"
        self._body = bytearray()
        self._locals: dict[int, bytes] = {}
        self._next_local = 0

    def message(
        self,
        message: str | int,
        *raw: Raw | Developer,
        local: int | None = None,
        time_offset: int | None = None,
        **fields: Any,
    ) -> FitWriter:
        """One message. A value of None is written as invalid; `time_offset` 0-31 makes a compressed timestamp."""
        number = message_number(message)
        standard = [self._named(number, name, value) for name, value in fields.items()]
        standard += [self._raw(r) for r in raw if isinstance(r, Raw)]
        developer = [r for r in raw if isinstance(r, Developer)]
        slot = self._define(number, standard, developer, local, compressed=time_offset is not None)
        header = slot if time_offset is None else 0x80 | (slot & 3) << 5 | (time_offset & 31)
        self._body.append(header)
        for f in standard:
            self._body += f.data
        for d in developer:
            self._body += _pack(d.base, d.value, self._order)
        return self

    def raw(self, data: bytes) -> FitWriter:
        """Bytes as they are, valid or not."""
        self._body += data
        return self

    def describe_developer_field(self, number: int, base: str, name: str, units: str = "", index: int = 0) -> FitWriter:
        """The messages that make a developer field readable."""
        self.message("developer_data_id", developer_data_index=index, application_id=[7] * 16)
        return self.message(
            "field_description",
            developer_data_index=index,
            field_definition_number=number,
            fit_base_type_id=BASE[base][0],
            field_name=name,
            units=units,
        )

    def rows(self, message: str | int, columns: Mapping[str, Sequence[float] | np.ndarray]) -> FitWriter:
        """Many messages of one kind at once, quickly: physical values, NaN is written as invalid."""
        number = message_number(message)
        profile = _fields(number)
        length = len(next(iter(columns.values())))
        kinds = [("header", "u1")]
        parts: dict[str, np.ndarray] = {}
        definition: list[_Field] = []
        for name, column in columns.items():
            f = profile[name]
            base, code, invalid = BASE[f["base_type"]]
            kind = np.dtype(f"{self._order}{code}")
            values = np.asarray(column, dtype=np.float64)
            scaled = np.rint((values + f["offset"][0]) * f["scale"][0])
            whole = np.where(np.isnan(scaled), float(invalid), scaled).astype(np.int64)
            kinds.append((name, kind.str))
            parts[name] = whole.astype(kind)
            definition.append(_Field(f["num"], base, b"", kind.itemsize))
        slot = self._define(number, definition, [], None, compressed=False)
        table = np.zeros(length, dtype=kinds)
        table["header"] = slot
        for name, part in parts.items():
            table[name] = part
        self._body += table.tobytes()
        return self

    def to_bytes(
        self,
        *,
        header_crc: Literal["right", "zero", "wrong"] = "right",
        file_crc: Literal["right", "zero", "wrong", "none"] = "right",
        data_size: int | None = None,
    ) -> bytes:
        """The file; `data_size` overrides what the header says of its length."""
        body = bytes(self._body)
        size = len(body) if data_size is None else data_size
        head = struct.pack("<BBHI4s", self.header_size, self.protocol, 21218, size, b".FIT")
        if self.header_size >= 14:
            right = crc16(head)
            head += struct.pack("<H", {"right": right, "zero": 0, "wrong": right ^ 0x5555}[header_crc])
            head += bytes(self.header_size - 14)
        whole = head + body
        if file_crc == "none":
            return whole
        right = crc16(whole)
        return whole + struct.pack("<H", {"right": right, "zero": 0, "wrong": right ^ 0x5555}[file_crc])

    def _named(self, number: int, name: str, value: Any) -> _Field:
        f = _fields(number)[name]
        base = f["base_type"]
        packed = len(f["scale"]) > 1  # several values in one field, each with a scale of its own
        scale, offset = (1.0, 0.0) if packed else (float(f["scale"][0]), float(f["offset"][0]))
        many = isinstance(value, list | tuple)
        values = list(value) if many else [value]
        if base != "string":
            values = [None if v is None else _stored(v, f["type"], scale, offset) for v in values]
        return self._raw(Raw(f["num"], base, values if many else values[0]))

    def _raw(self, r: Raw) -> _Field:
        data = _pack(r.base, r.value, self._order)
        return _Field(r.number, BASE[r.base][0], data, len(data) if r.size is None else r.size)

    def _define(
        self, number: int, fields: list[_Field], developer: list[Developer], local: int | None, *, compressed: bool
    ) -> int:
        """Local number for a message laid out so, writing the definition when it is a new one."""
        shape = struct.pack(f"{self._order}BBHB", 0, int(self.big_endian), number, len(fields))
        shape += b"".join(bytes((f.number, f.size, f.base)) for f in fields)
        if developer:
            shape += bytes([len(developer)])
            shape += b"".join(bytes((d.number, len(_pack(d.base, d.value, self._order)), d.index)) for d in developer)
        slots = 4 if compressed else 16
        known = [s for s, old in self._locals.items() if old == shape and s < slots and local in (None, s)]
        if known:
            return known[0]
        slot = local if local is not None else self._next_local % slots
        self._next_local = slot + 1
        self._locals[slot] = shape
        self._body.append(0x40 | (0x20 if developer else 0) | slot)
        self._body += shape
        return slot
