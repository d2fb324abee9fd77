"""The terminal: tables and paragraphs that fit it, JSON, CSV, commands to copy, questions."""

from __future__ import annotations

import codecs
import csv
import json
import os
import shlex
import shutil
import subprocess
import sys
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal, TypeVar

from monitor import words
from monitor.errors import WrongUse

Value = TypeVar("Value")

# Letters that the encoding of a terminal may lack, and their nearest in ASCII.

NEAREST = {
    "–": "-", "—": "-", "─": "-", "…": "...", "·": "-", "•": "-", "→": "->", "×": "x", "≤": "<=", "≥": ">=", "±": "+-",
    "’": "'", "‘": "'", "“": '"', "”": '"', "²": "2", "°": " degrees", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
}  # fmt: skip
HANDLER = "fallow.nearest"


def nearest(error: UnicodeError) -> tuple[str, int]:
    """An error handler for encoding: the nearest letters in ASCII, else escapes."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    wanted = error.object[error.start : error.end]
    return "".join(NEAREST.get(letter) or _escaped(letter) for letter in wanted), error.end


def _escaped(letter: str) -> str:
    return letter.encode("ascii", "backslashreplace").decode("ascii")


codecs.register_error(HANDLER, nearest)


# Commands in messages are written so that they can be copied and run in this terminal.

NAME = "fallow"


def called() -> str:
    """How to call the program in this terminal: by its name, or by the path with which it was called."""
    if shutil.which(NAME) or Path(sys.argv[0]).stem != NAME:
        return NAME
    return quoted(sys.argv[0])


def quoted(text: object) -> str:
    """One word of a command line."""
    return subprocess.list2cmdline([str(text)]) if sys.platform == "win32" else shlex.quote(str(text))


def known_by_path() -> str:
    """A sentence for a terminal that does not know the program by its name; else empty."""
    name = called()
    if name == NAME:
        return ""
    return words.commands.KNOWN_BY_PATH.format(name=NAME, known=name)


# Printing: tables and paragraphs that fit 80 columns, JSON, CSV. Nothing from a file can move the cursor.

NARROWEST = 40
WIDEST = 120
PLAIN_WIDTH = 80
WIDEST_WORD = 14
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table: its title, its alignment, and whether its cells stay on one line."""

    title: str
    justify: Literal["left", "right"] = "left"
    one_line: bool = True


def width() -> int:
    """Columns to print in: the terminal's, within reason; 80 elsewhere."""
    known = shutil.get_terminal_size((PLAIN_WIDTH, 24)).columns
    return max(NARROWEST, min(known, WIDEST)) if sys.stdout.isatty() or os.environ.get("COLUMNS") else PLAIN_WIDTH


def plain(text: object) -> str:
    """Text on one line, with control and format characters escaped."""
    return "".join(
        character if character.isprintable() else character.encode("unicode_escape", "surrogatepass").decode("ascii")
        for character in str(text)
    )


def say(text: str = "", *, indent: str = "", hang: str | None = None) -> None:
    """One paragraph, wrapped; `hang` indents its further lines."""
    lines = textwrap.wrap(
        plain(text),
        width(),
        initial_indent=indent,
        subsequent_indent=indent if hang is None else hang,
        break_on_hyphens=False,
    )
    print("\n".join(lines))


def say_path(before: str, path: object) -> None:
    """A path after a word or two, on a line of its own and never broken, so that it can be copied."""
    print(f"{before} {plain(path)}")


def as_bytes(content: bytes) -> None:
    """Bytes to standard output, with their line ends unchanged."""
    sys.stdout.flush()
    beneath = getattr(sys.stdout, "buffer", None)
    if beneath is None:
        sys.stdout.write(content.decode())
    else:
        beneath.write(content)


def warn(text: str) -> None:
    """One line on stderr."""
    print(plain(text), file=sys.stderr)


def heading(text: str) -> None:
    """A line, underlined."""
    say(text)
    print("-" * min(len(plain(text)), width()))


def entries(rows: Sequence[tuple[str, str]], *, indent: str = "") -> None:
    """Names and texts side by side, the texts wrapped in their own column."""
    if not rows:
        return
    gap = max(len(plain(name)) for name, _ in rows) + 2
    for name, text in rows:
        say(text or "-", indent=f"{indent}{plain(name):<{gap}}", hang=indent + " " * gap)


def listing(rows: Sequence[tuple[Sequence[object], str]], *, indent: str = "    ") -> None:
    """A line of short cells in columns for each row, and below it, indented, what does not fit a column."""
    cells = [[plain("" if cell is None else cell) for cell in head] for head, _ in rows]
    widths = [max(len(line[number]) for line in cells) for number in range(len(cells[0]))] if cells else []
    for line, (_, text) in zip(cells, rows, strict=True):
        head = "  ".join(f"{cell:<{width}}" for cell, width in zip(line, widths, strict=True)).rstrip()
        say(head, hang=indent) if len(head) > width() else print(head)
        if text:
            say(text, indent=indent)


def table(columns: Sequence[Column], rows: Sequence[Sequence[object]]) -> None:
    """A table that fits the screen: long cells are folded, never cut; where it cannot fit, each row is listed."""
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    leasts = [_least(column, [row[number] for row in rows]) for number, column in enumerate(columns)]
    if sum(leasts) + 2 * len(leasts) > width() + 2:
        for row in rows:
            entries([(column.title, str(cell)) for column, cell in zip(columns, row, strict=True)])
            print()
        return
    drawn = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False, header_style="bold")
    for column, least in zip(columns, leasts, strict=True):
        drawn.add_column(
            column.title, justify=column.justify, no_wrap=column.one_line, overflow="fold", min_width=least
        )
    for row in rows:
        drawn.add_row(*(Text(plain("" if cell is None else cell)) for cell in row))
    styled = sys.stdout.isatty() and not os.environ.get("NO_COLOR")
    colours: Literal["auto"] | None = "auto" if styled else None
    console = Console(width=width(), highlight=False, emoji=False, markup=False, color_system=colours)
    with console.capture() as lines:
        console.print(drawn)
    print("\n".join(line.rstrip() for line in lines.get().splitlines()))


def _least(column: Column, cells: Sequence[object]) -> int:
    """Narrowest that a column may be: its longest word, within reason, or its longest cell where cells stay whole."""
    shown = [plain("" if cell is None else cell) for cell in cells]
    if column.one_line:
        return max(map(len, (*shown, column.title)))
    return min(max(len(word) for text in (*shown, column.title) for word in text.split() or [""]), WIDEST_WORD)


def for_programs(rows: Sequence[Mapping[str, Any]], columns: Sequence[str], *, json: bool, csv: bool) -> bool:
    """Rows as JSON or CSV where that was asked for; whether it was."""
    if json:
        as_json(rows)
    elif csv:
        as_csv(rows, columns)
    return json or csv


def as_json(value: object) -> None:
    """JSON in ASCII, so that every terminal and pipe carries it."""
    print(json.dumps(value, indent=2, default=_json_ready, allow_nan=False))


def _json_ready(value: object) -> object:
    if isinstance(value, datetime | date):
        return value.isoformat()
    raise TypeError(type(value).__name__)


def as_csv(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> None:
    """CSV with a header; lists are joined, and nothing in a cell is taken for a formula."""
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        writer.writerow([_cell(row.get(column)) for column in columns])


def _cell(value: object) -> object:
    if value is None or isinstance(value, int | float):
        return "" if value is None else value
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Mapping):
        value = "; ".join(f"{key} {part}" for key, part in value.items())
    elif isinstance(value, list | tuple):
        value = "; ".join(str(part) for part in value)
    text = plain(value)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


# Questions in the terminal: one line each, a default in brackets, an empty answer takes it.


def hint(text: str) -> None:
    """A wrapped explanation before a question, on stderr."""
    print("\n".join(textwrap.wrap(text, width() - 2, initial_indent="  ", subsequent_indent="  ",
                                  break_long_words=False, break_on_hyphens=False)), file=sys.stderr)  # fmt: skip


def can_ask() -> bool:
    """Whether standard input is a terminal, so that somebody can answer."""
    return sys.stdin.isatty()


def ask(question: str, default: str = "") -> str:
    """One answer, trimmed."""
    hint = f" [{default}]" if default else ""
    print(f"{question}{hint}:", end=" ", flush=True, file=sys.stderr)
    return input().strip() or default


def ask_for(question: str, read: Callable[[str], Value], default: str = "") -> Value | None:
    """Ask until the answer reads well; None for no answer. `read` raises WrongUse with what is allowed."""
    while True:
        answer = ask(question, default)
        if not answer:
            return None
        try:
            return read(answer)
        except WrongUse as error:
            hint(plain(error))


def yes(question: str, *, default: bool) -> bool:
    """Ask until the answer is a yes or a no; what is neither is not taken for a no."""
    while True:
        answer = yes_or_no(ask(f"{question} (y/n)", "y" if default else "n"))
        if answer is not None:
            return answer
        hint(words.interview.Y_OR_N)


def yes_or_no(answer: str) -> bool | None:
    """A plain yes or no as people type it; None for anything else."""
    from monitor.intake.checkin import NO, YES

    word = answer.strip(" .!").casefold()
    return True if word in YES | {"j", "o", "s"} else False if word in NO else None
