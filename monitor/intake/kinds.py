"""What kind of file it is: by its content first, by its ending second; then the reader for that kind.

Each reader is imported when it is first needed.
"""

from __future__ import annotations

from monitor.errors import Unreadable
from monitor.intake.endings import ENDINGS
from monitor.intake.facts import FileFacts, IntakeOptions
from monitor.intake.plausible import MOST
from monitor.intake.shown import quoted, shown

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


def read(name: str, data: bytes, options: IntakeOptions, *, within: int = 0) -> FileFacts:
    """All facts of a file. Unreadable, with a reason a coach understands, when there are none to be had.

    `within` counts the archives it was found in.
    """
    if len(data) > size_limit(name):
        raise Unreadable(
            f"{len(data) / 1e6:.0f} MB, more than the {size_limit(name) / 1e6:.0f} MB such a file may have"
        )
    if not data:
        raise Unreadable("an empty file")
    if data[8:12] == b".FIT":
        from monitor.intake.fit import read_fit

        return read_fit(data, options)
    if data.startswith(GZIP):
        from monitor.intake.archive import read_gzip

        return read_gzip(name, data, options, within=within)
    if data.startswith(ZIP):
        from monitor.intake.archive import read_zip

        return read_zip(data, options, within=within)
    start = _start(data)
    if start.startswith("<"):
        return _read_xml(name, data, options)
    if start.startswith(("{", "[")):
        return _read_json(name, data, options)
    return _read_text(name, data, options.of(name))


def _start(data: bytes) -> str:
    """The first letters of what may be text."""
    head = data[:400]
    if head.startswith(MARKS[1:]):
        return head.decode("utf-16", errors="replace").lstrip()
    return head.removeprefix(MARKS[0]).decode("latin-1").lstrip()


def _read_xml(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.xml_safe import mended, root_name

    if _start(data).lower().startswith(WEB_PAGE):
        raise _foreign(name, "holds a web page")
    root = root_name(mended(data))
    if root == "TrainingCenterDatabase":
        from monitor.intake.tcx import read_tcx

        return read_tcx(data, options)
    if root == "gpx":
        from monitor.intake.gpx import read_gpx

        return read_gpx(data, options)
    raise _foreign(name, f"holds XML of the kind {quoted(root, 40)}")


def _read_json(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.checkin import checkins_of, is_checkin
    from monitor.intake.json_safe import parsed_json

    document = parsed_json(data)
    if name.lower().endswith(".checkin.json") or is_checkin(document):
        return checkins_of(document, options)
    from monitor.intake.mhealth_json import read_documents

    return read_documents(document, options)


def _read_text(name: str, data: bytes, options: IntakeOptions) -> FileFacts:
    from monitor.intake.json_safe import decoded
    from monitor.intake.nights_csv import has_header, read_csv
    from monitor.intake.rr_text import looks_like_rr, read_rr

    ending = ending_of(name)
    if ending not in (".csv", ".txt", ".rr", None):
        raise _foreign(name, f"begins with {quoted(data[:16], 40)}")
    text = decoded(data)
    if looks_like_rr(text):
        return read_rr(name, text, options)
    if ending == ".csv" or has_header(text, options):
        return read_csv(data, options)
    first = next((line for line in text.splitlines() if line.strip()), "")
    raise Unreadable(f"neither RR intervals nor a table with known columns: begins with {quoted(first, 60)}")


def _foreign(name: str, found: str) -> Unreadable:
    ending = "." + name.lower().rpartition(".")[2]
    kind = WORDS_OF.get(ending)
    return Unreadable(
        f"not {kind} file: {found}" if kind else f"not a kind of file that is read: {found}; {shown(ending, 20)}"
    )
