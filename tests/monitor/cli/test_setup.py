"""`fallow init` and `fallow doctor`: from nothing to a first true alert."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from monitor.initialise import slug
from tests.homes import LATER, ROSTER, SECOND, fallow, make_home
from tests.targets import http_target

RUNA = (
    "--name", "Runa Vik", "--timezone", "Europe/Oslo", "--hr-max", "188", "--event", "marathon",
    "--finish", "2026-10-04T13:47", "--result", "3:25:10", "--condition", "heat", "--condition", "hills",
)  # fmt: skip


def test_init_writes_a_roster_that_is_right_and_shows_the_plan(tmp_path: Path) -> None:
    home = tmp_path / "home"
    ran = fallow("init", *RUNA, "--alert", "json://127.0.0.1:9/hook", home=home)
    assert ran.status == 0, ran.err
    table = tomllib.loads((home / "roster.toml").read_text("utf-8"))
    (athlete,) = table["athlete"]
    assert (athlete["id"], athlete["name"], athlete["folder"]) == ("runa", "Runa Vik", "exports/runa")
    assert athlete["race"][0]["conditions"] == ["heat", "hills"]
    assert table["contact"][0]["urls"] == ["json://127.0.0.1:9/hook"]
    assert (home / "roster.toml").stat().st_mode & 0o777 == 0o600
    assert (home / "exports/runa").is_dir()
    assert "25 days after marathon" in ran.out
    assert fallow("status", "--json", "--as-of", LATER, home=home).json()[0]["day"] == 9


def test_a_second_athlete_is_one_more_init_and_nothing_that_stood_is_changed(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_text("utf-8")
    ran = fallow("init", "--name", 'Åse "Fjell" Berg', "--timezone", "Europe/Oslo", "--born", "1980", home=home)
    assert ran.status == 0, ran.err
    after = (home / "roster.toml").read_text("utf-8")
    assert after.startswith(before.rstrip("\n"))
    second = tomllib.loads(after)["athlete"][1]
    assert (second["id"], second["name"], second["contacts"]) == ("ase", 'Åse "Fjell" Berg', ["coach"])


def test_init_never_overwrites_an_athlete_or_a_contact(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_text("utf-8")
    again = fallow("init", *RUNA, home=home)
    assert again.status == 2
    assert "'runa' stands there already" in again.err
    contact = fallow("init", "--name", "Odd", "--alert", "json://127.0.0.1:9/x", home=home)
    assert contact.status == 2
    assert "'coach' stands there already" in contact.err
    assert (home / "roster.toml").read_text("utf-8") == before


@pytest.mark.parametrize(
    ("flags", "told"),
    [
        ((), "--name is missing"),
        (("--name", "Runa", "--event", "marathon"), "--event without --finish"),
        (("--name", "Runa", "--finish", "2026-10-04T13:47"), "--finish without --event"),
        (("--name", "Runa", "--event", "maraton", "--finish", "2026-10-04T13:47"), "marathon"),
        (("--name", "Runa", "--event", "marathon", "--finish", "soon"), "must be a date and time"),
        (("--name", "Runa", "--timezone", "Mars"), "IANA timezone"),
        (("--name", "Runa", "--hr-max", "20"), "hr_max"),
        (("--name", "Runa", "--alert", "nosuchservice://secret@x"), "nosuchservice"),
    ],
)
def test_a_wrong_answer_writes_nothing(tmp_path: Path, flags: tuple[str, ...], told: str) -> None:
    ran = fallow("init", *flags, home=tmp_path / "home")
    assert ran.status == 2
    assert told in ran.err
    assert "secret" not in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not (tmp_path / "home/roster.toml").exists()


ASKED = (
    "Runa Vik\n\n\nEurope/Osl\nEurope/Oslo\n\n1991\nmaraton\nmarathon\n2026-10-04 13:47\n3:25:10\n\n"
    "nosuch://x\njson://127.0.0.1:9/x\ncoach\nCoach Ida\nn\n"
)


def test_init_asks_for_what_was_not_said_and_again_after_an_answer_that_cannot_be(tmp_path: Path) -> None:
    home = tmp_path / "home"
    ran = fallow("init", home=home, typed=ASKED, terminal=True)
    assert ran.status == 0, ran.err
    table = tomllib.loads((home / "roster.toml").read_text("utf-8"))
    assert table["contact"] == [
        {"id": "coach", "name": "Coach Ida", "urls": ["json://127.0.0.1:9/x"], "receives": "caution"}
    ]
    (athlete,) = table["athlete"]
    assert (athlete["id"], athlete["timezone"], athlete["born"]) == ("runa", "Europe/Oslo", 1991)
    assert athlete["race"][0]["event"] == "marathon"
    assert "did you mean" in ran.err
    assert "must be one of 5k" in ran.err
    assert "nosuch://" in ran.err


def test_a_second_athlete_is_told_through_the_contact_who_is_there(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", home=home, typed="Odd\n\n\nEurope/Oslo\n180\n\n\nn\n", terminal=True)
    assert ran.status == 0, ran.err
    assert tomllib.loads((home / "roster.toml").read_text("utf-8"))["athlete"][1]["contacts"] == ["coach"]


def test_an_id_comes_from_a_name_in_any_script() -> None:
    assert slug("Åse Berg") == "ase"
    assert slug("李雷") == "athlete"


def test_doctor_says_of_each_thing_how_it_stands(scanned: Path) -> None:
    checks = fallow("doctor", "--json", home=scanned).json()
    whats = {check["what"]: check["state"] for check in checks}
    assert whats["roster"] == whats["runa: folder"] == whats["store"] == whats["clock"] == "fine"
    assert whats["daemon"] == "note"
    assert all(check["do"] for check in checks if check["state"] != "fine")
    assert max(map(len, fallow("doctor", home=scanned).out.splitlines())) <= 80


def test_doctor_ends_with_1_when_a_folder_is_missing_and_says_what_to_do(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", ROSTER.format(url="json://127.0.0.1:9/") + SECOND, files={})
    ran = fallow("doctor", home=home)
    assert ran.status == 1
    assert "WRONG  odd: folder" in ran.out
    assert "create or mount it" in ran.out


def test_doctor_sends_one_test_message_to_every_channel_and_shows_no_secret(tmp_path: Path) -> None:
    with http_target() as target:
        home = make_home(tmp_path / "home", url=target.url("/hook?token=planted"), files={})
        ran = fallow("doctor", "--send", home=home)
    assert ran.status == 0, ran.out
    assert target.titles == ["fallow: a test message"]
    assert "planted" not in ran.out
    down = fallow("doctor", "--send", home=home)
    assert down.status == 1
    assert "WRONG  coach: test message 1" in down.out
    assert "planted" not in down.out


def test_doctor_names_a_store_that_will_not_open(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    (home / "fallow.duckdb").write_bytes(b"no store at all " * 64)
    ran = fallow("doctor", home=home)
    assert ran.status == 1
    assert "fallow rebuild" in ran.out


def test_a_secret_that_is_not_set_hides_no_other_check(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", url="json://127.0.0.1:${FALLOW_NO_SUCH_PORT}/", files={})
    ran = fallow("doctor", "--send", home=home)
    assert ran.status == 1
    assert "${FALLOW_NO_SUCH_PORT} is not set" in ran.out
    assert "fine   roster" in ran.out
