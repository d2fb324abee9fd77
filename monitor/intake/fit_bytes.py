"""FIT files as bytes, no message decoded: parts of a chain, headers, checksums, records apart from the rest.

Layout: a header of 12 bytes (size, version, length of the data, ".FIT") or 14 (and its checksum, 0 for none), the
data, a checksum over both; more such files may follow in the same file. The data are messages: a definition says how
long those are that follow under the same local number.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from monitor import words
from monitor.errors import Unreadable

_MAGIC = b".FIT"
_CRC = struct.Struct("<H")


def _table() -> tuple[int, ...]:
    rows = []
    for value in range(256):
        crc = value
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
        rows.append(crc)
    return tuple(rows)


_TABLE = _table()


def crc16(data: bytes, crc: int = 0) -> int:
    """CRC-16/ARC (polynomial 0xA001 reflected, start 0), the checksum of FIT."""
    table = _TABLE
    for byte in data:
        crc = (crc >> 8) ^ table[(crc ^ byte) & 0xFF]
    return crc


@dataclass(frozen=True, slots=True)
class Part:
    """One FIT file of a chain, as stored; `missing` bytes that its header promises are not there."""

    data: bytes
    missing: int = 0

    @property
    def header_size(self) -> int:
        return self.data[0]

    @property
    def unclosed(self) -> bool:
        """Whether the header gives no length, which devices write when they close the file."""
        return self.data[4:8] == b"\0\0\0\0"


def _is_header(data: bytes, offset: int) -> bool:
    return len(data) - offset >= 12 and data[offset + 8 : offset + 12] == _MAGIC and data[offset] >= 12


def split(data: bytes, most: int) -> tuple[list[Part], str | None]:
    """The parts of a file, and a remark about what follows them. Unreadable when it does not begin as FIT does."""
    if not data:
        raise Unreadable(words.files.FILE_IS_EMPTY)
    if not _is_header(data, 0):
        if len(data) < 12 and data[0] in (12, 14) and _MAGIC.startswith(data[8:]):
            raise Unreadable(words.files.CUT_OFF_AFTER_BYTES.format(size=len(data)))
        raise Unreadable(words.files.NOT_FIT_FILE)
    parts: list[Part] = []
    offset = 0
    while _is_header(data, offset):
        if len(parts) == most:
            return parts, words.files.CHAIN_TOO_LONG.format(most=most)
        part = _part(data, offset)
        parts.append(part)
        offset += len(part.data)
    left = len(data) - offset
    return parts, words.files.BYTES_AFTER_RECORDING.format(left=left) if left else None


def _part(data: bytes, offset: int) -> Part:
    header_size = data[offset]
    (promised,) = struct.unpack_from("<I", data, offset + 4)
    size = header_size + promised + _CRC.size
    there = len(data) - offset
    if promised == 0:  # the device never closed the file
        return Part(data[offset:])
    return Part(data[offset : offset + size], missing=max(0, size - there))


def mend(part: Part) -> tuple[bytes, str] | None:
    """The part with a header and checksums that hold, and what was wrong; None when nothing was.

    A file that ends early keeps its bytes; the length in its header becomes what is there.
    """
    data, header_size = part.data, part.header_size
    if len(data) <= header_size:
        return None
    (promised,) = struct.unpack_from("<I", data, 4)
    wrong = _what_is_wrong(part, promised)
    if wrong is None:
        return None
    body = data[header_size : header_size + promised] if promised else data[header_size:]
    if not promised and crc16(data) == 0:
        body = body[: -_CRC.size]
    return _closed(data[:header_size], body), wrong


def _closed(head: bytes, body: bytes) -> bytes:
    """A file of that body: the header with its length and checksum, and the checksum over all."""
    first = head[:4] + struct.pack("<I", len(body)) + _MAGIC
    if len(head) >= 14:
        first += _CRC.pack(crc16(first)) + bytes(len(head) - 14)
    return first + body + _CRC.pack(crc16(body, crc16(first)))


def _what_is_wrong(part: Part, promised: int) -> str | None:
    if promised == 0:
        return words.files.HEADER_GIVES_NO_LENGTH
    if part.missing > _CRC.size:
        return words.files.BYTES_AT_END_ARE_MISSING.format(missing=part.missing)
    if part.missing:
        return words.files.CHECKSUM_IS_MISSING
    if crc16(part.data) != 0:  # over the checksum too
        return words.files.CHECKSUM_IS_WRONG
    return _what_is_wrong_with_header(part)


def _what_is_wrong_with_header(part: Part) -> str | None:
    if part.header_size < 14:
        return None
    (stored,) = _CRC.unpack_from(part.data, 12)
    if stored == 0:
        return words.files.HEADER_CARRIES_NO_CHECKSUM
    return None if stored == crc16(part.data[:12]) else words.files.CHECKSUM_OF_HEADER_IS_WRONG


# Records apart from the rest: they are nearly all of a recording, and the fast decoder has columns for them, where it
# makes a dict of any other message.

RECORD = 20
RECORDS_AT_ONCE = 256
_COMPRESSED, _DEFINITION, _DEVELOPER = 0x80, 0x40, 0x20  # bits of the byte that each message begins with
_FIELD_BYTES = (1, 1, 1, 2, 2, 4, 4, 1, 4, 8, 1, 2, 4, 1, 8, 8, 8)  # by the number of the base type


def without_records(data: bytes) -> bytes | None:
    """The same file with all its other messages; None where a record holds more than one number a field, or where its
    bytes do not show where it ends. `data` is one part of a chain, header and checksum included."""
    at, end = data[0], len(data) - _CRC.size
    sizes: dict[int, int] = {}
    records: set[int] = set()
    kept: list[bytes] = []
    since = at
    try:
        while at < end:
            head = data[at]
            if head & _COMPRESSED:  # its time hangs on the message before
                return None
            if head & _DEFINITION:
                size, fields = _defined(data, at)
                sizes[head & 15] = 1 + sum(width for width, _ in fields)
                records.discard(head & 15)
                if int.from_bytes(data[at + 3 : at + 5], "big" if data[at + 2] else "little") == RECORD:
                    if any(base is not None and width != _FIELD_BYTES[base] for width, base in fields):
                        return None
                    records.add(head & 15)
                at += size
                continue
            size = sizes[head & 15]
            if (head & 15) not in records:
                at += size
                continue
            kept.append(data[since:at])
            same, more = bytes((head,)), True
            while more:  # one record after another, as nearly all are
                heads = data[at : min(end, at + RECORDS_AT_ONCE * size) : size]
                number = len(heads) - len(heads.lstrip(same))
                at += number * size
                more = number == RECORDS_AT_ONCE
            since = at
    except (IndexError, KeyError):
        return None
    kept.append(data[since:end])
    return _closed(data[: data[0]], b"".join(kept)) if at == end else None


def _defined(data: bytes, at: int) -> tuple[int, list[tuple[int, int | None]]]:
    """Bytes of a definition, and of each of its fields the bytes and the base type (None: of a developer)."""
    own = at + 6
    behind = own + 3 * data[own - 1]
    fields: list[tuple[int, int | None]] = [(data[i + 1], data[i + 2] & 31) for i in range(own, behind, 3)]
    if data[at] & _DEVELOPER:
        first = behind + 1
        behind = first + 3 * data[behind]
        fields += [(data[i + 1], None) for i in range(first, behind, 3)]
    return behind - at, fields
