"""A table with a header: which line it is, how its cells are told apart, and which columns are known."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from monitor.errors import Unreadable
from monitor.intake.untrusted import quoted, shown
from monitor.values import ColumnMap, IntakeOptions

DELIMITERS = ",;\t|"
HEADER_WITHIN_LINES = 30
PLACES = ("date", "bedtime", "wake_time")
"""Columns that can say which day a row is of."""


@dataclass(frozen=True, slots=True)
class Table:
    text: str
    delimiter: str
    header_line: int  # counted from 1
    columns: Mapping[int, str]  # place in the row -> field
    options: IntakeOptions  # those by which the header was understood

    def rows(self) -> Iterator[tuple[int, dict[str, str]]]:
        """Line number and known cells of each row with anything in it; csv.Error where quotes do not close."""
        body = io.StringIO(self.text, newline=None)
        for _ in range(self.header_line):
            body.readline()
        reader = csv.reader(body, delimiter=self.delimiter, skipinitialspace=True)
        for row in reader:
            if any(cell.strip() for cell in row):
                known = {name: row[at] for at, name in self.columns.items() if at < len(row)}
                yield self.header_line + reader.line_num, known


def header_of(name: str, options: IntakeOptions) -> str:
    """The header text a field has in this athlete's tables."""
    return shown(options.columns.get(name, ColumnMap(name)).header, 40)


def find_table(text: str, fields: Collection[str], expected: Sequence[str], options: IntakeOptions) -> Table:
    """The table whose header line and delimiter make the most sense. Unreadable, naming what was found and expected.

    By the headers that the roster names or by the usual ones, whichever tell more: a file of before such an edit, or of
    another device, still says all it said.
    """
    lines = list(islice(io.StringIO(text, newline=None), HEADER_WITHIN_LINES))
    best = Table(text, ",", 0, {}, options)
    for tried in (options, replace(options, columns={})) if options.columns else (options,):
        wanted = _wanted(fields, tried)
        for number, line in enumerate(lines, start=1):
            for delimiter in DELIMITERS:
                columns = _known_columns(line, delimiter, wanted)
                if len(columns) > len(best.columns):
                    best = Table(text, delimiter, number, columns, tried)
    found = set(best.columns.values())
    if not found - {"date"} or not found.intersection(PLACES):
        seen = next((line.strip() for line in lines if line.strip()), "")
        names = ", ".join(header_of(name, options) for name in expected)
        raise Unreadable(
            f"no known columns in {quoted(seen)}; expected: {names}; "
            f"name other headers under [athlete.columns] in the roster{_as_in(seen)}"
        )
    return best


def _as_in(line: str) -> str:
    """An example of a name, by the first header of what may be the header line."""
    delimiter = max(DELIMITERS, key=line.count)
    first = line.split(delimiter, maxsplit=1)[0].strip(" \"'\ufeff") if delimiter in line else ""
    return f', as in date = "{shown(first, 40)}"' if first else ""


def _known_columns(line: str, delimiter: str, wanted: Mapping[str, str]) -> dict[int, str]:
    """Place -> field; the first of two columns of one name counts."""
    try:
        names = next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        return {}
    columns: dict[int, str] = {}
    for at, name in enumerate(names):
        known = wanted.get(_plain(name))
        if known is not None and known not in columns.values():
            columns[at] = known
    return columns


def _wanted(fields: Collection[str], options: IntakeOptions) -> dict[str, str]:
    """Plain header text -> field; what the roster names stands before the usual names."""
    wanted = {_plain(name): name for name in fields if name not in options.columns}
    return wanted | {_plain(column.header): name for name, column in options.columns.items() if name in fields}


def _plain(header: str) -> str:
    return " ".join(header.replace("_", " ").casefold().split())
