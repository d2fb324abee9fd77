"""FIT files as bytes: parts of a chained file, headers and checksums, without looking at any message.

Layout: a header of 12 bytes (size, version, length of the data, ".FIT") or 14 (and its checksum, 0 for none), the
data, a checksum over both; more such files may follow in the same file.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

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
        """Whether the header gives no length: the device never came to write it."""
        return self.data[4:8] == b"\0\0\0\0"


def _is_header(data: bytes, offset: int) -> bool:
    return len(data) - offset >= 12 and data[offset + 8 : offset + 12] == _MAGIC and data[offset] >= 12


def split(data: bytes, most: int) -> tuple[list[Part], str | None]:
    """The parts of a file, and a remark about what follows them. Unreadable when it does not begin as FIT does."""
    if not data:
        raise Unreadable("the file is empty")
    if not _is_header(data, 0):
        if len(data) < 12 and data[0] in (12, 14) and _MAGIC.startswith(data[8:]):
            raise Unreadable(f"cut off after {len(data)} bytes, before anything was recorded")
        raise Unreadable("not a FIT file: it does not begin as one")
    parts: list[Part] = []
    offset = 0
    while _is_header(data, offset):
        if len(parts) == most:
            return parts, f"only the first {most} recordings of the chain were read"
        part = _part(data, offset)
        parts.append(part)
        offset += len(part.data)
    left = len(data) - offset
    return parts, f"{left} bytes after the recording make no sense and were left out" if left else None


def _part(data: bytes, offset: int) -> Part:
    header_size = data[offset]
    (promised,) = struct.unpack_from("<I", data, offset + 4)
    size = header_size + promised + _CRC.size
    there = len(data) - offset
    if promised == 0:  # written while recording, never closed
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
    head = data[:4] + struct.pack("<I", len(body)) + _MAGIC
    if header_size >= 14:
        head += _CRC.pack(crc16(head)) + bytes(header_size - 14)
    return head + body + _CRC.pack(crc16(body, crc16(head))), wrong


def _what_is_wrong(part: Part, promised: int) -> str | None:
    if promised == 0:
        return "its header gives no length"
    if part.missing > _CRC.size:
        return f"{part.missing} bytes at the end are missing"
    if part.missing:
        return "its checksum is missing"
    if crc16(part.data) != 0:  # over the checksum too
        return "its checksum is wrong"
    return _what_is_wrong_with_header(part)


def _what_is_wrong_with_header(part: Part) -> str | None:
    if part.header_size < 14:
        return None
    (stored,) = _CRC.unpack_from(part.data, 12)
    if stored == 0:
        return "its header carries no checksum"
    return None if stored == crc16(part.data[:12]) else "the checksum of its header is wrong"
