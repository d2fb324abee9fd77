"""What people type by mistake, a line each in clumsy.tsv, ends in one line that says what to type instead."""

from __future__ import annotations

import csv
import shlex
import shutil
from pathlib import Path

import pytest

from tests.homes import ROSTER, Ran, fallow, make_home

URL = "json://127.0.0.1:9/nobody"
TABLE = Path(__file__).with_name("clumsy.tsv")
with TABLE.open(encoding="utf-8", newline="") as table:
    CLUMSY = [(row[0], row[1], row[2]) for row in csv.reader(table, delimiter="\t", quoting=csv.QUOTE_NONE)]
BYTES = {
    "a roster in Latin letters of old": ROSTER.format(url=URL).replace("Runa", "Åse").encode("latin-1"),
    "a roster in UTF-16": ROSTER.format(url=URL).encode("utf-16"),
    "a sheet of a spreadsheet program": b"PK\x03\x04\x14\x00\x06\x00\x08\x00[Content_Types].xml",
    "a picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
    "a photograph": b"\xff\xd8\xff\xe0\x00\x10JFIF\x00",
}


def tried(kind: str, given: str, home: Path, elsewhere: Path) -> Ran:
    """Do what a line of the table says: type a command, edit the roster, preview a table."""
    text = given.replace("\\n", "\n")
    make_home(home, ROSTER.format(url=URL), files={})
    if kind == "new":
        shutil.rmtree(home)
    if kind == "roster":
        before, _, after = text.partition(" => ")
        assert before in ROSTER
        (home / "roster.toml").write_text(ROSTER.replace(before, after).format(url=URL), "utf-8")
        return fallow("status", home=home)
    if kind == "bytes" and "roster" in given:
        (home / "roster.toml").write_bytes(BYTES[given])
        return fallow("status", home=home)
    if kind in {"bytes", "table"}:
        table = elsewhere / "table.csv"
        table.write_bytes(BYTES[given] if kind == "bytes" else text.encode())
        return fallow("intake", str(table), "--preview", home=home)
    return fallow(*shlex.split(given))


@pytest.mark.parametrize(("kind", "given", "told"), CLUMSY, ids=[f"{kind}: {given}" for kind, given, _ in CLUMSY])
def test_a_clumsy_input_ends_in_one_line_that_says_what_to_type(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, given: str, told: str
) -> None:
    monkeypatch.setenv("FALLOW_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    ran = tried(kind, given, tmp_path / "home", tmp_path)
    assert told
    if kind == "said":
        assert ran.status == 0
        assert told in " ".join(ran.out.split())
        return
    assert ran.status == 2
    assert told in ran.err
    assert ran.out == ""
    assert len(ran.err.splitlines()) == 1
    assert "should not happen" not in ran.err


def test_there_are_a_hundred_and_twenty_and_more() -> None:
    assert len({(kind, given) for kind, given, _ in CLUMSY}) == len(CLUMSY) >= 120
