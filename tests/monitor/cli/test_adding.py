"""`fallow init` where there is a roster: another athlete, a race, a contact, an address; nothing else is changed."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.homes import SECOND, fallow, make_home
from tests.monitor.cli.conftest import ODD, RUNA


def roster_of(home: Path) -> dict[str, Any]:
    return tomllib.loads((home / "roster.toml").read_text("utf-8"))


def test_several_may_be_told_and_a_new_address_gets_an_id_of_its_own(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    answers = "Odd\n\n\nEurope/Oslo\n180\n\ncooch\ncoach json://127.0.0.1:9/odd\na\n\nn\n"
    ran = fallow("init", home=home, typed=answers, terminal=True)
    assert ran.status == 0, ran.err
    assert "'cooch': nobody of that id" in ran.err
    table = tomllib.loads((home / "roster.toml").read_text("utf-8"))
    assert [one["id"] for one in table["contact"]] == ["coach", "odd"]
    assert table["athlete"][1]["contacts"] == ["odd", "coach"]
    third = "Ea\n\n\nEurope/Oslo\n180\n\njson://127.0.0.1:9/ea\ncoach\nIda\n\nn\n"
    assert fallow("init", home=home, typed=third, terminal=True).status == 0
    table = tomllib.loads((home / "roster.toml").read_text("utf-8"))
    assert table["athlete"][2]["contacts"] == ["coach2", "coach"]


def test_an_athlete_is_not_told_of_another_unless_named(tmp_path: Path) -> None:
    own = ("--alert", "json://127.0.0.1:9/runa", "--contact", "runa", "--contact-name", "Runa Vik")
    assert fallow("init", *RUNA, *own, home=tmp_path).status == 0
    ran = fallow("init", *ODD, home=tmp_path)
    assert ran.status == 0, ran.err
    assert "contacts" not in tomllib.loads((tmp_path / "roster.toml").read_text("utf-8"))["athlete"][1]
    assert "Nobody is told yet" in ran.out


def test_whoever_sets_up_only_oneself_is_the_athlete(tmp_path: Path) -> None:
    assert fallow("init", *RUNA, "--alert", "json://127.0.0.1:9/me", home=tmp_path).status == 0
    (contact,) = roster_of(tmp_path)["contact"]
    assert (contact["id"], contact["name"], contact["role"]) == ("runa", "Runa Vik", "athlete")
    typed = "Odd\n\n\nEurope/Oslo\n180\n\njson://127.0.0.1:9/x\n\n\nn\n"
    assert fallow("init", home=tmp_path / "asked", typed=typed, terminal=True).status == 0
    (contact,) = roster_of(tmp_path / "asked")["contact"]
    assert (contact["id"], contact["name"]) == ("odd", "Odd")


def test_naming_a_contact_leaves_the_coach_told_and_all_is_said_before_it_is_written(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", *ODD, "--alert", "json://127.0.0.1:9/bo", "--contact", "bo", home=home)
    assert ran.status == 0, ran.err
    assert roster_of(home)["athlete"][1]["contacts"] == ["bo", "coach"]
    assert "Told of odd: Coach Ida (coach)" in ran.out
    assert "Told of odd: bo (bo)" in ran.out
    assert ran.out.index("Told of odd") < ran.out.index("is on the roster")


def test_an_address_that_somebody_has_is_that_persons(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    url = roster_of(home)["contact"][0]["urls"][0]
    assert fallow("init", *ODD, "--alert", url, home=home).status == 0
    table = roster_of(home)
    assert [one["id"] for one in table["contact"]] == ["coach"]
    assert table["athlete"][1]["contacts"] == ["coach"]


def test_a_second_athlete_is_one_more_init_and_nothing_that_stood_is_changed(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_text("utf-8")
    ran = fallow("init", "--name", 'Åse "Fjell" Berg', "--timezone", "Europe/Oslo", "--born", "1980", home=home)
    assert ran.status == 0, ran.err
    after = (home / "roster.toml").read_text("utf-8")
    assert after.startswith(before.rstrip("\n"))
    second = tomllib.loads(after)["athlete"][1]
    assert (second["id"], second["name"], second["contacts"]) == ("ase", 'Åse "Fjell" Berg', ["coach"])


def test_a_second_athlete_is_told_through_the_contact_who_is_there(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", home=home, typed="Odd\n\n\nEurope/Oslo\n180\n\n\n\n", terminal=True)
    assert ran.status == 0, ran.err
    assert tomllib.loads((home / "roster.toml").read_text("utf-8"))["athlete"][1]["contacts"] == ["coach"]


def test_a_race_is_added_to_an_athlete_who_is_there_and_all_else_stays(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    text = (home / "roster.toml").read_text("utf-8").replace("hr_max = 188", "hr_max = 188   # in the lab")
    (home / "roster.toml").write_text(text + SECOND, "utf-8")
    (home / "exports/odd").mkdir(exist_ok=True)
    ran = fallow("init", "--athlete", "runa", "--event", "10k", "--finish", "2026-11-20T11:00", home=home)
    assert ran.status == 0, ran.err
    after = (home / "roster.toml").read_text("utf-8")
    assert "hr_max = 188   # in the lab" in after
    runa, odd = roster_of(home)["athlete"]
    assert [race["event"] for race in runa["race"]] == ["marathon", "10k"]
    assert "race" not in odd
    assert fallow("init", "--athlete", "odd", "--event", "5k", "--finish", "2026-11-21T11:00", home=home).status == 0
    runa, odd = roster_of(home)["athlete"]
    assert [race["event"] for race in odd["race"]] == ["5k"]
    assert len(runa["race"]) == 2


def test_a_contact_and_an_address_are_added_to_an_athlete_who_is_there(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    added = ("--alert", "json://127.0.0.1:9/physio", "--contact", "physio", "--contact-name", "Mo")
    assert fallow("init", "--athlete", "runa", *added, home=home).status == 0
    more = ("--alert", "json://127.0.0.1:9/second", "--contact", "coach")
    assert fallow("init", "--athlete", "runa", *more, home=home).status == 0
    table = roster_of(home)
    assert table["athlete"][0]["contacts"] == ["coach", "physio"]
    assert [one["id"] for one in table["contact"]] == ["coach", "physio"]
    assert table["contact"][0]["urls"][1] == "json://127.0.0.1:9/second"


@pytest.mark.parametrize(
    ("flags", "told"),
    [((), "--event with --finish adds a race"), (("--hr-max", "180"), "edit hr_max"), (("--name", "R"), "edit name"),
     (("--contact", "nobody"), "nobody of that id")],
)  # fmt: skip
def test_what_cannot_be_added_is_one_line(tmp_path: Path, flags: tuple[str, ...], told: str) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_bytes()
    ran = fallow("init", "--athlete", "runa", *flags, home=home)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert told in ran.err
    assert (home / "roster.toml").read_bytes() == before


def test_quiet_hours_of_a_roster_that_is_there_are_not_passed_over(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", *ODD, "--quiet-hours", "22:00-06:00", home=home)
    assert ran.status == 2
    assert "edit quiet_hours" in ran.err


@pytest.mark.parametrize("written", ["\ufeff{}", "{}"], ids=["a mark before it", "other line ends"])
def test_a_roster_saved_by_an_editor_of_another_system_is_read_and_added_to(tmp_path: Path, written: str) -> None:
    home = make_home(tmp_path / "home", files={})
    text = (home / "roster.toml").read_text("utf-8").replace("\n", "\r\n")
    (home / "roster.toml").write_bytes(written.format(text).encode("utf-8"))
    assert fallow("status", home=home).status == 0
    assert fallow("init", *ODD, home=home).status == 0
    assert [row["athlete"] for row in fallow("status", "--json", home=home).json()] == ["runa", "odd"]
