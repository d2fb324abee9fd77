"""Archives: .gz of one file, .zip of several. All in memory, nothing is ever written.

A bomb never unfolds: unpacking stops at the limit, whatever the archive says of itself. A member that is bad costs that
member; a name that would leave the archive, a link, or another archive of several costs that member too.
"""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib
from dataclasses import dataclass, field, replace

from monitor.errors import Unreadable
from monitor.intake import kinds
from monitor.intake.facts import FileFacts, IntakeOptions
from monitor.intake.plausible import most
from monitor.intake.shown import quoted, shown

CHUNK_BYTES = 1 << 16
DEVICE_NAME = re.compile(r"(?:con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(?:\..*)?", re.IGNORECASE)
LITTER = re.compile(r"(?:^|/)(?:\.(?!\.?/)|~|__macosx(?:/|$))", re.IGNORECASE)
CENTRAL_ENTRY = b"PK\x01\x02"
SMALL_BYTES = 1 << 20  # below it the ratio says nothing: a short file of zeros packs well
MOST_REMARKS = 20


def read_gzip(name: str, data: bytes, options: IntakeOptions, *, within: int = 0) -> FileFacts:
    """The facts of the one file in it."""
    inner_name = name[:-3] if name.lower().endswith(".gz") else name
    limit = min(kinds.size_limit(inner_name), most("archive_unpacked_bytes"))
    content, fault = _gunzipped(data, limit)
    if content.startswith((kinds.GZIP, *kinds.ZIP)):
        raise Unreadable("an archive within an archive; unpack it once")
    if not content:
        raise Unreadable(fault or "an empty file in a gzip file")
    facts = kinds.read(inner_name, content, options, within=within + 1)
    if fault is None:
        return facts
    return replace(facts, remarks=(*facts.remarks, fault), damaged=True)


def _gunzipped(data: bytes, limit: int) -> tuple[bytes, str | None]:
    """What unpacks, and what stopped it early. Unreadable beyond the limit."""
    unpacked = bytearray()
    rest = memoryview(data)
    while rest.nbytes:
        stream = zlib.decompressobj(wbits=31)
        at = 0
        try:
            while not stream.eof and (at < len(rest) or stream.unconsumed_tail):
                packed = stream.unconsumed_tail or bytes(rest[at : at + CHUNK_BYTES])
                at += 0 if stream.unconsumed_tail else len(packed)
                unpacked += stream.decompress(packed, CHUNK_BYTES)
                _check_size(len(unpacked), limit, len(data))
        except zlib.error as error:
            return bytes(unpacked), f"the gzip file is damaged: {shown(error)}"
        if not stream.eof:
            return bytes(unpacked), "the gzip file is cut off"
        rest = memoryview(stream.unused_data + bytes(rest[at:]))
        if bytes(rest[:2]) != kinds.GZIP:  # padding behind the last member is usual
            break
    return bytes(unpacked), None


def _check_size(size: int, limit: int, packed: int) -> None:
    if size > limit:
        raise Unreadable(f"unpacks to more than the {limit / 1e6:.0f} MB such a file may have")
    if size > SMALL_BYTES and size > packed * most("archive_ratio"):
        raise Unreadable(f"unpacks to more than {most('archive_ratio')} times its size: no recording does")


@dataclass(slots=True)
class _Gathered:
    """Facts of the members read so far."""

    facts: list[FileFacts] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    bad: int = 0
    ignored: int = 0
    bytes_left: int = 0

    def leave_out(self, name: str, reason: object) -> None:
        self.bad += 1
        self.remarks.append(f"{quoted(name)} left out: {reason}")


def read_zip(data: bytes, options: IntakeOptions, *, within: int = 0) -> FileFacts:
    """The facts of all members that can be read."""
    if within:
        raise Unreadable("an archive within an archive; unpack it once")
    if data.count(CENTRAL_ENTRY) > most("archive_members"):
        raise Unreadable(f"more than {most('archive_members')} files in the archive; unpack it into the folder")
    gathered = _Gathered(bytes_left=most("archive_unpacked_bytes"))
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in sorted(archive.infolist(), key=lambda member: member.filename):
                _take(archive, member, options, gathered)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, ValueError, OSError, EOFError) as error:
        raise Unreadable(f"a damaged ZIP file: {shown(error)}") from None
    return _together(gathered)


def _take(archive: zipfile.ZipFile, member: zipfile.ZipInfo, options: IntakeOptions, gathered: _Gathered) -> None:
    name = member.filename
    if member.is_dir() or LITTER.search(name.replace("\\", "/")):
        return
    if kinds.ending_of(name) is None:
        gathered.ignored += 1
        return
    try:
        _check_member(member)
        content = _unpacked(archive, member, gathered)
        facts = kinds.read(name.replace("\\", "/").rpartition("/")[2], content, options, within=1)
    except Unreadable as error:
        gathered.leave_out(name, error)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as error:
        gathered.leave_out(name, f"damaged: {shown(error)}")
    else:
        gathered.facts.append(facts)
        gathered.remarks += [f"{quoted(name)}: {remark}" for remark in facts.remarks]


def _check_member(member: zipfile.ZipInfo) -> None:
    """Unreadable for a member that is not a plain file with a plain name."""
    raw = getattr(member, "orig_filename", member.filename)
    parts = raw.replace("\\", "/").split("/")
    if raw.startswith(("/", "\\")) or ".." in parts or re.match(r"[A-Za-z]:", raw):
        raise Unreadable("its name leads out of the archive")
    if any(DEVICE_NAME.fullmatch(part.strip(" .")) for part in parts) or not raw.isprintable():
        raise Unreadable("its name is not one of a plain file")
    if member.flag_bits & 1:
        raise Unreadable("it is encrypted")
    if stat.S_ISLNK(member.external_attr >> 16):
        raise Unreadable("it is a link")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Unreadable("it is packed by a method that is not read; pack it with deflate")


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, gathered: _Gathered) -> bytes:
    limit = min(kinds.size_limit(member.filename), gathered.bytes_left)
    content = bytearray()
    with archive.open(member) as stream:
        while chunk := stream.read(CHUNK_BYTES):
            content += chunk
            gathered.bytes_left -= len(chunk)
            _check_size(len(content), limit, max(member.compress_size, 1))
    return bytes(content)


def _together(gathered: _Gathered) -> FileFacts:
    facts = gathered.facts
    if not facts:
        first = gathered.remarks[0] if gathered.remarks else "no file of a kind that is read"
        raise Unreadable(f"nothing in the archive could be read: {first}")
    remarks = gathered.remarks[:MOST_REMARKS]
    if len(gathered.remarks) > MOST_REMARKS:
        remarks.append(f"and {len(gathered.remarks) - MOST_REMARKS} more like these")
    if gathered.ignored:
        remarks.append(f"{gathered.ignored} files of other kinds in the archive were not looked at")
    return FileFacts(
        kind="zip",
        recordings=tuple(recording for one in facts for recording in one.recordings),
        nights=tuple(night for one in facts for night in one.nights),
        mornings=tuple(morning for one in facts for morning in one.mornings),
        checkins=tuple(checkin for one in facts for checkin in one.checkins),
        remarks=tuple(remarks),
        damaged=gathered.bad > 0 or any(one.damaged for one in facts),
    )
