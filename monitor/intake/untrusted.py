"""Text, JSON and XML from strangers: made safe to read and to show."""

from __future__ import annotations

import codecs
import io
import json
import re
from collections.abc import Iterator
from functools import cache
from typing import cast
from xml.etree.ElementTree import Element, ParseError, XMLPullParser

import defusedxml.ElementTree as defused  # noqa: N813 - it is a module
from defusedxml import DefusedXmlException

from monitor import words
from monitor.errors import Unreadable
from monitor.intake.plausible import MOST

# Text from files and file names, made safe to show: nothing in it can move a cursor, hide itself or fill a screen.

MOST_CHARACTERS = 80


def shown(text: object, most: int = MOST_CHARACTERS) -> str:
    """One line in which control, format and half characters stand as escapes, cut to `most` characters."""
    raw = text.decode("latin-1") if isinstance(text, bytes) else str(text)
    line = "".join(_shown_character(character, isinstance(text, bytes)) for character in raw[:most])
    return f"{line[:most]}…" if max(len(line), len(raw)) > most else line


def quoted(text: object, most: int = MOST_CHARACTERS) -> str:
    """The same between quotation marks, for a value inside a sentence."""
    return f"'{shown(text, most)}'"


def kept(text: object, most: int) -> str | None:
    """Free text to be stored: controls become spaces, length is capped; None when nothing is left."""
    cut = str(text)[:most]
    line = " ".join("".join(character if character.isprintable() else " " for character in cut).split())
    return line or None


def _shown_character(character: str, of_bytes: bool) -> str:
    if character.isprintable() and not (of_bytes and not character.isascii()):
        return character
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")


# JSON and text from strangers.

BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def decoded(data: bytes) -> str:
    """Text as UTF-8, or as its byte order mark says; else Windows' Western letters, as spreadsheets write them."""
    encoding = next((name for mark, name in BOMS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise Unreadable(words.files.NOT_TEXT_FILE.format(begin=quoted(data[:12])))
    return text


def parsed_json(data: bytes) -> object:
    """The document. Unreadable where it is not JSON, or nested beyond reason."""
    try:
        return json.loads(decoded(data), parse_constant=_refuse)
    except json.JSONDecodeError as error:
        raise Unreadable(words.files.BROKEN_JSON.format(msg=error.msg, lineno=error.lineno)) from None
    except RecursionError:
        raise Unreadable(words.files.JSON_NESTED_BEYOND_REASON) from None
    except ValueError as error:  # a number with thousands of digits
        raise Unreadable(words.files.JSON_CANNOT_BE_READ.format(error=shown(error))) from None


def _refuse(constant: str) -> None:
    raise ValueError(words.files.NO_JSON_CONSTANT.format(constant=constant))


# XML from strangers, read as a stream: no document type, no entities, bounded depth and number of elements. The
# prologue is read by defusedxml, which refuses a document type and entities. A document type can only stand before
# the root element (XML 1.0, production 22), so once the root has begun without one the rest is safe for the standard
# parser, which is written in C and twice as fast (0.26 s against 0.53 s for a GPX of 20,000 points).

CHUNK_BYTES = 1 << 20  # large, because old parsers read an unfinished token again with every chunk
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_USED = re.compile(rb"""[<\s]([A-Za-z_][\w.-]*):[A-Za-z_][\w.-]*(?=[\s=>/])""")
_DECLARED = re.compile(rb"""\sxmlns:([A-Za-z_][\w.-]*)\s*=""")
_ROOT = re.compile(rb"""(?:\s|<\?.*?\?>|<!--.*?-->)*+<[A-Za-z_][\w.:-]*""", re.DOTALL)


@cache
def local(tag: str) -> str:
    """Name of an element without its namespace."""
    return tag.rpartition("}")[2]


def root_name(data: bytes) -> str:
    """Local name of the root element. Unreadable for a document type, entities, or no XML at all."""
    try:
        for _, element in defused.iterparse(io.BytesIO(data), events=("start",), forbid_dtd=True):
            return local(element.tag)
    except DefusedXmlException:
        raise Unreadable(words.files.XML_WITH_DOCUMENT_TYPE) from None
    except (ParseError, ValueError, LookupError) as error:
        raise Unreadable(words.files.XML_CANNOT_BE_READ.format(error=shown(error))) from None
    raise Unreadable(words.files.XML_WITHOUT_ELEMENT)


def mended(data: bytes) -> bytes:
    """A document without what exporters spoil it by: white space before its declaration, prefixes never declared.

    Only names without their namespace are ever looked at, so an undeclared prefix is declared as nobody's. The whole
    document is searched (a tenth of the time that reading it takes): some devices write one only at its end.
    """
    data = data.removeprefix(BYTE_ORDER_MARK).lstrip()
    used, declared_ones = ({match[1] for match in names.finditer(data)} for names in (_USED, _DECLARED))
    unknown = used - declared_ones - {b"xml", b"xmlns"}
    root = _ROOT.match(data) if unknown else None
    if root is None:
        return data
    declared = b"".join(b' xmlns:%b="undeclared:%b"' % (prefix, prefix) for prefix in sorted(unknown))
    return data[: root.end()] + declared + data[root.end() :]


class XmlStream:
    """Start and end of each element in turn. `broken` tells afterwards where the document ended too early."""

    def __init__(self, data: bytes) -> None:
        data = mended(data)
        self.root = root_name(data)
        self.broken: str | None = None
        self._data = data

    def __iter__(self) -> Iterator[tuple[str, Element]]:
        deepest, most_elements = MOST.xml_depth, MOST.xml_elements
        depth = elements = 0
        parser: XMLPullParser[Element] = XMLPullParser(("start", "end"))
        for at in range(0, len(self._data) + CHUNK_BYTES, CHUNK_BYTES):
            self._feed(parser, self._data[at : at + CHUNK_BYTES])
            try:
                for item in cast("Iterator[tuple[str, Element]]", parser.read_events()):
                    if item[0] == "start":
                        depth += 1
                        elements += 1
                        if depth > deepest or elements > most_elements:
                            raise Unreadable(words.files.XML_NESTED_TOO_DEEP)
                    else:
                        depth -= 1
                    yield item
            except ParseError as error:
                self.broken = words.files.XML_CANNOT_BE_READ.format(error=shown(error))
            if self.broken:
                return

    def _feed(self, parser: XMLPullParser[Element], chunk: bytes) -> None:
        """The next piece, or the end of the document where there is none."""
        try:
            if chunk:
                parser.feed(chunk)
            else:
                parser.close()
        except (ParseError, ValueError, LookupError) as error:
            self.broken = words.files.XML_CANNOT_BE_READ.format(error=shown(error))


def number(element: Element | None) -> float:
    """The number in an element; NaN where there is none."""
    try:
        return float(element.text or "") if element is not None else float("nan")
    except ValueError:
        return float("nan")


def child(element: Element, name: str) -> Element | None:
    """First child of a local name."""
    return next((inner for inner in element if local(inner.tag) == name), None)
