"""What people type for a day, a result, an event or a name."""

from __future__ import annotations

from pathlib import Path

import pytest

from monitor.cli.typed import event_of, iso, result_of
from monitor.initialise import known_events, slug
from tests.homes import fallow, make_home


@pytest.mark.parametrize(
    ("text", "meant"),
    [("22/11/2026 12.41", "2026-11-22T12:41"), ("11/22/2026 12:41", "2026-11-22T12:41"), ("3/4/2026", "3/4/2026"),
     ("22/13/2026", "22/13/2026"), ("22.11.2026 9:05", "2026-11-22T09:05")],
)  # fmt: skip
def test_strokes_are_a_date_where_only_one_of_the_two_can_be_the_month(text: str, meant: str) -> None:
    assert iso(text) == meant


@pytest.mark.parametrize(
    ("text", "event", "meant"),
    [("3.25", "marathon", "3:25:00"), ("3:25:10", "marathon", "3:25:10"), ("3.25.10", "marathon", "3:25:10"),
     ("19.46", "5k", "19:46"), ("12:00", "5k", "12:00"), ("11:59", "half", "11:59:00"), ("5:10", "custom", "5:10"),
     ("3:25 h", "marathon", "3:25:00"), ("soon", "5k", "soon")],
)  # fmt: skip
def test_a_result_is_taken_as_people_write_it(text: str, event: str, meant: str) -> None:
    assert result_of(text, event) == meant


@pytest.mark.parametrize(("typed", "meant"), [("Half marathon", "half"), ("10 km", "10k"), ("50K", "ultra_50k")])
def test_an_event_has_more_than_one_spelling(typed: str, meant: str) -> None:
    assert event_of(typed, known_events()) == meant


def test_an_id_comes_from_a_name_in_any_script() -> None:
    assert slug("Åse Berg") == "ase"
    assert slug("李雷") == "athlete"


def test_what_is_neither_a_yes_nor_a_no_is_asked_again(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    said = fallow("rebuild", home=home, typed="vielleicht\nnein\n", terminal=True)
    assert (said.status, said.err.count("(y/n)")) == (0, 2)
    assert not list(home.glob("fallow.duckdb*"))
    assert "reads the folders again" in fallow("rebuild", home=home, typed="Ja!\n", terminal=True).out
