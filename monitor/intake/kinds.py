"""What kind of file it is: by its content first, by its ending second; then the reader for that kind.

Each reader is imported when it is first needed.
"""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib
from dataclasses import dataclass, field, replace

from monitor import words
from monitor.errors import Unreadable
from monitor.intake.plausible import MOST, Remarks
from monitor.intake.untrusted import quoted, shown
from monitor.values import ENDINGS, FileFacts, IntakeOptions

# Archives: .gz of one file, .zip of several. All in memory, nothing is ever written. A bomb never unfolds: unpacking
# stops at the limit, whatever the archive says of itself. A member that is bad costs that member; a name that would
# leave the archive, a link, or another archive of several costs that member too.

CHUNK_BYTES = 1 << 16
DEVICE_NAME = re.compile(r"(?:con|prn|aux|nul|conin\$|conout\$|com[0-9¹²³]|lpt[0-9¹²³])(?:\..*)?", re.IGNORECASE)
LITTER = re.compile(r"(?:^|/)(?:\.(?!\.?/)|~|__macosx(?:/|$))", re.IGNORECASE)
CENTRAL_ENTRY = b"PK\x01\x02"
SMALL_BYTES = 1 << 20  # below it the ratio says nothing: a short file of zeros packs well


def read_gzip(name: str, data: bytes, options: IntakeOptions, *, within: bool) -> FileFacts:
    """The facts of the one file in it."""
    if within:
        raise Unreadable(words.files.ARCHIVE_WITHIN_ARCHIVE)
    inner_name = _inner_name(name)
    limit = min(size_limit(inner_name), MOST.archive_unpacked_bytes)
    content, fault = _gunzipped(data, limit)
    if content.startswith(GZIP):  # packed once more by whoever keeps a folder of packed exports
        content, again = _gunzipped(content, limit)
        fault = fault or again
    if not content:
        raise Unreadable(fault or words.files.EMPTY_FILE_IN_GZIP)
    facts = read(inner_name, content, options, within=True)
    if fault is None:
        return facts
    return replace(facts, remarks=(*facts.remarks, fault), damaged=True)


def _inner_name(name: str) -> str:
    return name[:-3] if name.lower().endswith(".gz") else name


def _gunzipped(data: bytes, limit: int) -> tuple[bytes, str | None]:
    """What unpacks, and what stopped it early. Unreadable beyond the limit."""
    unpacked = bytearray()
    at = 0
    for _ in range(MOST.archive_members):  # a gzip file may be several in a row
        stream = zlib.decompressobj(wbits=31)
        try:
            while not stream.eof and (at < len(data) or stream.unconsumed_tail):
                packed = stream.unconsumed_tail or data[at : at + CHUNK_BYTES]
                at += 0 if stream.unconsumed_tail else len(packed)
                unpacked += stream.decompress(packed, CHUNK_BYTES)
                _check_size(len(unpacked), limit, len(data))
        except zlib.error as error:
            return bytes(unpacked), words.files.GZIP_FILE_IS_DAMAGED.format(error=shown(error))
        if not stream.eof:
            return bytes(unpacked), words.files.GZIP_FILE_IS_CUT_OFF
        at -= len(stream.unused_data)
        if data[at : at + 2] != GZIP:  # padding behind the last one is usual
            return bytes(unpacked), None
    return bytes(unpacked), words.files.TOO_MANY_GZIP_FILES.format(archive_members=MOST.archive_members)


def _check_size(size: int, limit: int, packed: int) -> None:
    if size > limit:
        raise Unreadable(words.files.UNPACKED_TOO_LARGE.format(limit=limit / 1e6))
    if size > SMALL_BYTES and size > packed * MOST.archive_ratio:
        raise Unreadable(words.files.PACKED_TOO_TIGHT.format(archive_ratio=MOST.archive_ratio))


@dataclass(slots=True)
class _Gathered:
    """Facts of the members read so far."""

    facts: list[FileFacts] = field(default_factory=list)
    remarks: Remarks = field(default_factory=Remarks)
    bad: int = 0
    ignored: int = 0
    bytes_left: int = field(default_factory=lambda: MOST.archive_unpacked_bytes)
    points_left: int = field(default_factory=lambda: MOST.archive_points)

    def limit_for(self, name: str) -> int:
        return min(size_limit(name), self.bytes_left)

    def leave_out(self, name: str, reason: object) -> None:
        self.bad += 1
        self.remarks.add(words.files.MEMBER_LEFT_OUT.format(name=quoted(name), reason=reason))

    def take(self, name: str, facts: FileFacts, fault: str | None) -> None:
        points = sum(len(recording.samples["t_s"]) for recording in facts.recordings)
        if points > self.points_left:
            raise Unreadable(words.files.ARCHIVE_HOLDS_TOO_MUCH)
        self.points_left -= points
        self.facts.append(facts)
        self.bad += fault is not None
        for remark in (*facts.remarks, *([fault] if fault else [])):
            self.remarks.add(words.files.IN_MEMBER.format(name=quoted(name), reason=remark))


def read_zip(data: bytes, options: IntakeOptions, *, within: bool) -> FileFacts:
    """The facts of all members that can be read."""
    if within:
        raise Unreadable(words.files.ARCHIVE_WITHIN_ARCHIVE)
    if data.count(CENTRAL_ENTRY) > MOST.archive_members:
        raise Unreadable(words.files.TOO_MANY_FILES_IN_ARCHIVE.format(archive_members=MOST.archive_members))
    gathered = _Gathered()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in sorted(archive.infolist(), key=lambda member: member.filename):
                _take(archive, member, options, gathered)
    except (zipfile.BadZipFile, zipfile.LargeZipFile, NotImplementedError, ValueError, OSError, EOFError) as error:
        raise Unreadable(words.files.DAMAGED_ZIP_FILE.format(error=shown(error))) from None
    return _together(gathered)


def _take(archive: zipfile.ZipFile, member: zipfile.ZipInfo, options: IntakeOptions, gathered: _Gathered) -> None:
    name = member.filename
    if member.is_dir() or LITTER.search(name.replace("\\", "/")):
        return
    if ending_of(name) is None:
        gathered.ignored += 1
        return
    try:
        _check_member(member)
        own_name = name.replace("\\", "/").rpartition("/")[2]
        content, fault = _unpacked(archive, member, gathered), None
        if content.startswith(GZIP):
            own_name = _inner_name(own_name)
            content, fault = _gunzipped(content, gathered.limit_for(own_name))
            gathered.bytes_left -= len(content)
        gathered.take(name, read(own_name, content, options, within=True), fault)
    except Unreadable as error:
        gathered.leave_out(name, error)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, OSError, EOFError, ValueError) as error:
        gathered.leave_out(name, words.files.DAMAGED_MEMBER.format(error=shown(error)))


def _check_member(member: zipfile.ZipInfo) -> None:
    """Unreadable for a member that is not a plain file with a plain name."""
    raw = getattr(member, "orig_filename", member.filename)
    parts = raw.replace("\\", "/").split("/")
    if raw.startswith(("/", "\\")) or ".." in parts or re.match(r"[A-Za-z]:", raw):
        raise Unreadable(words.files.NAME_LEADS_OUT_OF_ARCHIVE)
    if any(DEVICE_NAME.fullmatch(part.strip(" .")) for part in parts) or not raw.isprintable():
        raise Unreadable(words.files.NO_PLAIN_FILE_NAME)
    if member.flag_bits & 1:
        raise Unreadable(words.files.ENCRYPTED_MEMBER)
    if stat.S_ISLNK(member.external_attr >> 16):
        raise Unreadable(words.files.LINK_IN_ARCHIVE)
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Unreadable(words.files.UNKNOWN_COMPRESSION)


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, gathered: _Gathered) -> bytes:
    limit = gathered.limit_for(member.filename)
    content = bytearray()
    with archive.open(member) as stream:
        while chunk := stream.read(CHUNK_BYTES):
            content += chunk
            gathered.bytes_left -= len(chunk)
            _check_size(len(content), limit, member.compress_size)
    return bytes(content)


def _together(gathered: _Gathered) -> FileFacts:
    facts = gathered.facts
    if not facts:
        first = gathered.remarks.first() if gathered.remarks else words.files.NO_FILE_THAT_IS_READ
        raise Unreadable(words.files.NOTHING_READ_OF_ARCHIVE.format(reason=first))
    if gathered.ignored:
        gathered.remarks.add(words.files.FILES_OF_OTHER_KINDS.format(ignored=gathered.ignored))
    return FileFacts(
        kind="zip",
        recordings=tuple(recording for fact in facts for recording in fact.recordings),
        nights=tuple(night for fact in facts for night in fact.nights),
        mornings=tuple(morning for fact in facts for morning in fact.mornings),
        checkins=tuple(checkin for fact in facts for checkin in fact.checkins),
        remarks=gathered.remarks.all(),
        damaged=gathered.bad > 0 or any(fact.damaged for fact in facts),
    )


LIMIT_OF = {
    ".fit": MOST.fit_bytes,
    ".tcx": MOST.xml_bytes,
    ".gpx": MOST.xml_bytes,
    ".gz": MOST.archive_bytes,
    ".zip": MOST.archive_bytes,
    ".checkin.json": MOST.checkin_bytes,
}
GZIP = b"\x1f\x8b"
ZIP = (b"PK\x03\x04", b"PK\x05\x06")
MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")
WORDS_OF = {
    ".fit": "a FIT",
    ".tcx": "a TCX",
    ".gpx": "a GPX",
    ".gz": "a gzip",
    ".zip": "a ZIP",
    ".csv": "a CSV",
    ".json": "a JSON",
}
WEB_PAGE = ("<!doctype html", "<html")


def ending_of(name: str) -> str | None:
    """The longest ending of the list that a file name has; None for a name that is not taken up."""
    lower = name.lower()
    return max((ending for ending in ENDINGS if lower.endswith(ending)), key=len, default=None)


def size_limit(name: str) -> int:
    """Most bytes that a file of this name may have to be opened at all."""
    lower = name.lower()
    known = [ending for ending in LIMIT_OF if lower.endswith(ending)]
    return LIMIT_OF[max(known, key=len)] if known else MOST.text_bytes


def read(name: str, data: bytes, options: IntakeOptions, *, within: bool = False) -> FileFacts:
    """All facts of a file. Unreadable, with a reason a coach understands, when there are none to be had.

    `within` says that it was found in an archive.
    """
    if len(data) > size_limit(name):
        raise Unreadable(words.files.FILE_TOO_LARGE.format(size=len(data) / 1e6, most=size_limit(name) / 1e6))
    if not data:
        raise Unreadable(words.files.EMPTY_FILE)
    if data[8:12] == b".FIT":
        from monitor.intake.fit import read_fit

        return read_fit(data, options)
    if data.startswith(GZIP):
        return read_gzip(name, data, options, within=within)
    if data.startswith(ZIP):
        return read_zip(data, options, within=within)
    start = _start(data)
    if start.startswith("<"):
        return _read_xml(name, data, options)
    if start.startswith(("{", "[")):
        return _read_json(name, data, options)
    return _read_text(name, data, options.of(name))


def _start(data: bytes) -> str:
    """The first letters of what may be text."""
    head = data[:CHUNK_BYTES]
    if head.startswith(MARKS[1:]):
        return head.decode("utf-16", errors="replace").lstrip()
    return head.removeprefix(MARKS[0]).decode("latin-1").lstrip()


def _read_xml(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.untrusted import mended, root_name

    if _start(data).lower().startswith(WEB_PAGE):
        raise _foreign(name, words.files.WEB_PAGE)
    root = root_name(mended(data))
    if root == "TrainingCenterDatabase":
        from monitor.intake.tcx import read_tcx

        return read_tcx(data, options)
    if root == "gpx":
        from monitor.intake.gpx import read_gpx

        return read_gpx(data, options)
    raise _foreign(name, words.files.OTHER_XML.format(root=quoted(root, 40)))


def _read_json(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.checkin import checkins_of, is_checkin
    from monitor.intake.untrusted import parsed_json

    document = parsed_json(data)
    if name.lower().endswith(".checkin.json") or is_checkin(document):
        return checkins_of(document, options)
    from monitor.intake.mhealth_json import read_documents

    return read_documents(document, options)


def _read_text(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.beats import looks_like_rr, read_rr
    from monitor.intake.nights_csv import has_header, read_csv
    from monitor.intake.untrusted import decoded

    ending = ending_of(name)
    if ending not in (".csv", ".txt", ".rr", None):
        raise _foreign(name, f"begins with {quoted(data, 40)}")
    text = decoded(data)
    if looks_like_rr(text):
        return read_rr(name, text, options)
    if ending == ".csv" or has_header(text, options):
        return read_csv(data, options)
    first = next((line for line in text.splitlines() if line.strip()), "")
    raise Unreadable(words.files.UNKNOWN_TEXT.format(begin=quoted(first, 60)))


def _foreign(name: str, found: str) -> Unreadable:
    ending = "." + name.lower().rpartition(".")[2]
    kind = WORDS_OF.get(ending)
    return Unreadable(
        words.files.NOT_OF_ITS_KIND.format(kind=kind, found=found)
        if kind
        else words.files.KIND_NOT_READ.format(found=found, ending=shown(ending, 20))
    )
