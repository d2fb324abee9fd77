"""How a table would be read: which columns were understood as what, which were passed over, the first rows."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

from monitor.errors import Unreadable
from monitor.folders.listing import look
from monitor.folders.names import as_name
from monitor.intake.facts import ColumnMap, FileFacts, IntakeOptions
from monitor.intake.json_safe import decoded
from monitor.intake.nights_csv import EXPECTED, FIELDS, USUAL_UNIT, read_csv
from monitor.intake.shown import shown
from monitor.intake.table import find_table

ROWS = 3
HEAD_BYTES = 1 << 16
MOST_TABLES = 50
"""Tables of a folder that are looked at, the newest; years of exports share a few headers."""


@dataclass(frozen=True, slots=True)
class Preview:
    """A table before it is taken in. `understood` is (header as written, field, unit or "")."""

    header_line: int
    understood: tuple[tuple[str, str, str], ...]
    passed_over: tuple[str, ...]
    rows: tuple[dict[str, str], ...]  # field -> cell as written, of the first rows
    facts: FileFacts  # what those rows come to


@dataclass(frozen=True, slots=True)
class FolderTable:
    """A table that lies in a folder: how it would be read, or why it cannot be; and how many have the same header."""

    relative: str
    made: Preview | None
    reason: str
    alike: int


def tables_in(folder: Path, options: IntakeOptions) -> list[FolderTable]:
    """The newest table of each header in a folder, by its first rows."""
    found: dict[object, FolderTable] = {}
    tables = [seen for seen in look(folder, (".csv",)).files if seen.size]
    for seen in sorted(tables, key=lambda one: (-one.mtime_ns, one.relative))[:MOST_TABLES]:
        table = _looked_at(folder, seen.relative, options)
        key = (table.made.understood, table.made.passed_over) if table.made else table.reason
        before = found.get(key)
        found[key] = replace(before, alike=before.alike + 1) if before else table
    return list(found.values())


def _looked_at(folder: Path, relative: str, options: IntakeOptions) -> FolderTable:
    try:
        with (folder / as_name(relative)).open("rb") as file:
            head = file.read(HEAD_BYTES)
        whole = head if len(head) < HEAD_BYTES else head[: head.rfind(b"\n") + 1]
        return FolderTable(relative, preview(whole, options.of(relative)), "", 1)
    except OSError as error:
        return FolderTable(relative, None, error.strerror or "cannot be read", 1)
    except Unreadable as reason:
        return FolderTable(relative, None, str(reason), 1)


def preview(data: bytes, options: IntakeOptions) -> Preview:
    """Read the head and the first rows of a table. Unreadable where no line is a header that is known."""
    text = decoded(data)
    table = find_table(text, FIELDS, EXPECTED, options)
    lines = list(islice(io.StringIO(text, newline=None), table.header_line))
    headers = next(csv.reader([lines[-1]], delimiter=table.delimiter, skipinitialspace=True))
    understood = tuple(
        (shown(headers[at].strip(), 40), name, _unit(name, table.options)) for at, name in sorted(table.columns.items())
    )
    passed_over = tuple(
        shown(name.strip(), 40) for at, name in enumerate(headers) if at not in table.columns and name.strip()
    )
    rows = list(islice(table.rows(), ROWS))
    last = max((line for line, _ in rows), default=table.header_line)
    head = "".join(islice(io.StringIO(text, newline=None), last))
    return Preview(
        table.header_line,
        understood,
        passed_over,
        tuple({name: shown(cell.strip(), 40) for name, cell in cells.items()} for _, cells in rows),
        read_csv(head.encode(), options),
    )


def _unit(name: str, options: IntakeOptions) -> str:
    if name not in USUAL_UNIT:
        return ""
    return options.columns.get(name, ColumnMap(name)).unit or USUAL_UNIT[name]
