"""JSON and text from strangers."""

from __future__ import annotations

import codecs
import json

from monitor.errors import Unreadable
from monitor.intake.shown import quoted, shown

BOMS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))


def decoded(data: bytes) -> str:
    """Text as UTF-8, or as its byte order mark says; else Windows' Western letters, as spreadsheets write them."""
    encoding = next((name for mark, name in BOMS if data.startswith(mark)), "utf-8")
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    if "\0" in text:
        raise Unreadable(f"not a text file: begins with {quoted(data[:12])}")
    return text


def parsed_json(data: bytes) -> object:
    """The document. Unreadable where it is not JSON, or nested beyond reason."""
    try:
        return json.loads(decoded(data), parse_constant=_refuse)
    except json.JSONDecodeError as error:
        raise Unreadable(f"broken JSON: {error.msg} in line {error.lineno}") from None
    except RecursionError:
        raise Unreadable("JSON nested beyond reason") from None
    except ValueError as error:  # a number with thousands of digits
        raise Unreadable(f"broken JSON: {shown(error)}") from None


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is not JSON")
