"""Printing: what fits, what is escaped, what a spreadsheet must not run."""

from __future__ import annotations

import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.cli import screen
from monitor.cli.screen import Column
from rules.words import amounts


@given(st.text())
def test_what_is_shown_is_one_printable_line(text: str) -> None:
    shown = screen.plain(text)
    assert shown == "" or shown.isprintable()


def test_a_table_fits_and_folds_long_cells(capsys: pytest.CaptureFixture[str]) -> None:
    path = "very/long/" + "x" * 150 + ".fit"
    screen.table([Column("file", one_line=False), Column("n", "right")], [(path, 3), ("[red]b[/red]", 12)])
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert "".join(line.split("  ")[0].strip() for line in lines if "x" in line).startswith("very/long/xxx")
    assert any("[red]b[/red]" in line for line in lines)
    assert all(line == line.rstrip() for line in lines)


def test_a_table_that_cannot_fit_is_listed_without_losing_a_column(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    screen.table([Column(f"column {number}") for number in range(6)], [[f"value-{number}" for number in range(6)]])
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[-1] for line in lines if line] == [f"value-{number}" for number in range(6)]
    assert max(map(len, lines)) <= 40


def test_a_listing_keeps_short_cells_in_columns_and_indents_the_rest(capsys: pytest.CaptureFixture[str]) -> None:
    screen.listing([(("a", "longer"), "one " * 30), (("bb", "x"), "")])
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "a   longer"
    assert lines[-1] == "bb  x"
    assert all(line.startswith("    ") for line in lines[1:-1])
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("encoding", ["ascii", "cp437", "cp1252", "utf-8"])
def test_any_terminal_and_file_carries_what_is_said(encoding: str) -> None:
    written = io.BytesIO()
    out = io.TextIOWrapper(written, encoding, errors=screen.HANDLER)
    out.write("STOP – 8 x 1 min… 45–60 ≤ 3 → Åse 李")
    out.flush()
    said = written.getvalue().decode(encoding)
    assert said.replace("–", "-").replace("…", "...").startswith("STOP - 8 x 1 min... 45-60 ")
    assert ("李" in said) == (encoding == "utf-8")


def test_a_table_is_drawn_in_letters_that_the_output_has(monkeypatch: pytest.MonkeyPatch) -> None:
    written = io.BytesIO()
    out = io.TextIOWrapper(written, "cp1252", errors=screen.HANDLER)
    monkeypatch.setattr("sys.stdout", out)
    screen.table([Column("file"), Column("n", "right")], [("a.fit", 3)])
    out.flush()
    assert "\\u" not in written.getvalue().decode("cp1252")


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_csv_cells_are_no_formulas(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    screen.as_csv([{"a": text, "b": -1, "c": [text, "y"], "d": None}], ["a", "b", "c", "d"])
    cells = capsys.readouterr().out.splitlines()[1].split(",")
    assert not cells[0].startswith(("=", "+", "-", "@", "\t"))
    assert cells[1] == "-1"
    assert not cells[2].startswith(("=", "+", "-", "@"))
    assert cells[3] == ""


def test_json_is_ascii_and_knows_no_nan(capsys: pytest.CaptureFixture[str]) -> None:
    screen.as_json({"name": "Åse \udcff"})
    assert capsys.readouterr().out.isascii()
    with pytest.raises(ValueError, match="JSON"):
        screen.as_json({"x": float("nan")})


@pytest.mark.parametrize(("number", "words"), [(0, "0 files"), (1, "1 file"), (2, "2 files")])
def test_things_are_counted_as_people_do(number: int, words: str) -> None:
    assert amounts.counted(number, "file") == words


def test_a_heading_fits_a_narrow_screen(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    screen.heading("Runa Vik: 21 days after marathon, finish 2026-10-04 13:47")
    *title, rule = capsys.readouterr().out.splitlines()
    assert " ".join(title) == "Runa Vik: 21 days after marathon, finish 2026-10-04 13:47"
    assert (len(title), rule) == (2, "-" * 40)
