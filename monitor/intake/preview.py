"""How a table would be read: which columns were understood as what, which were passed over, the first rows."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from itertools import islice

from monitor.intake.facts import ColumnMap, FileFacts, IntakeOptions
from monitor.intake.json_safe import decoded
from monitor.intake.nights_csv import EXPECTED, FIELDS, USUAL_UNIT, read_csv
from monitor.intake.shown import shown
from monitor.intake.table import find_table

ROWS = 3


@dataclass(frozen=True, slots=True)
class Preview:
    """A table before it is taken in. `understood` is (header as written, field, unit or "")."""

    header_line: int
    understood: tuple[tuple[str, str, str], ...]
    passed_over: tuple[str, ...]
    rows: tuple[dict[str, str], ...]  # field -> cell as written, of the first rows
    facts: FileFacts  # what those rows come to


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
