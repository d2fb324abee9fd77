"""`fallow intake FILE --preview` tells how a table would be read, for whom, and touches nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.homes import ROSTER, SECOND, fallow, make_home

TABLE = "Date;Schlaf (Std);Wetter\n2026-10-06;7,2;nass\n2026-10-07;0,1;trocken\n"
NAMED = ROSTER.format(url="json://127.0.0.1:9/nobody").replace(
    "\n[[athlete.race]]", '\n[athlete.columns]\ntotal_sleep_min = "Schlaf (Std)"\n\n[[athlete.race]]'
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "schlaf.csv"
    path.write_text(TABLE, "utf-8")
    return path


def test_a_preview_names_columns_and_units_and_says_what_a_row_lost(tmp_path: Path, table: Path) -> None:
    home = make_home(tmp_path / "home", NAMED, files={})
    said = fallow("intake", str(table), "--preview", home=home)
    assert said.status == 0
    assert "total_sleep_min" in said.out
    assert "2026-10-06: night, 7.2 h asleep" in said.out
    assert "Passed over: Wetter" in said.out
    assert "not taken: line 3" in said.out
    made = fallow("intake", str(table), "--preview", "--json", home=home).json()
    assert made["understood"][1] == {"header": "Schlaf (Std)", "as": "total_sleep_min", "unit": "h"}
    assert not (home / "fallow.duckdb").exists()


def test_a_preview_works_before_there_is_a_roster(tmp_path: Path, table: Path) -> None:
    said = fallow("intake", str(table), "--preview", home=tmp_path / "none")
    assert said.status == 2
    assert "no known columns" in said.err
    assert "[athlete.columns]" in said.err


def test_a_table_outside_of_all_folders_asks_whose_it_is(tmp_path: Path, table: Path) -> None:
    home = make_home(tmp_path / "home", NAMED + SECOND, files={})
    (home / "exports/odd").mkdir()
    said = fallow("intake", str(table), "--preview", home=home)
    assert (said.status, said.out) == (2, "")
    assert "--athlete ID" in said.err
    assert fallow("intake", str(table), "--preview", "--athlete", "runa", home=home).status == 0


@pytest.mark.parametrize("arguments", [("nothing.csv", "--preview"), ("--preview",)])
def test_a_preview_of_nothing_is_one_line(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    said = fallow("intake", *arguments, home=make_home(tmp_path / "home", files={}))
    assert said.status == 2
    assert said.err.count("\n") == 1
