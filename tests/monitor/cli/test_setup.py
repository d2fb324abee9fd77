"""`fallow init`: from nothing to a roster that is right."""

from __future__ import annotations

import tomllib
from datetime import datetime
from pathlib import Path

import pytest

from tests.homes import LATER, exports, fallow, make_home, put, run_on
from tests.monitor.cli.conftest import ODD, RUNA


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


def test_init_never_overwrites_an_athlete(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_text("utf-8")
    again = fallow("init", *RUNA, home=home)
    assert again.status == 2
    assert "'runa' stands there already" in again.err
    assert "--event ... --finish" in again.err
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
        (("--name", "Runa", "--hr-max", "20"), "--hr-max 20"),
        (("--name", "Runa", "--sex", "mann"), "--sex 'mann'"),
        (("--name", "Runa", "--condition", "hilly"), "--condition 'hilly'"),
        (("--name", "Runa", "--receives", "all"), "--receives 'all'"),
        (("--name", "Runa", "--receives", "note"), "give --alert URL with it"),
        (("--name", "Runa", "--event", "10k", "--finish", "2026-10-04"), "the time of day is missing"),
        (("--name", "Runa", "--event", "10k", "--finish", "4/10/2026 13:47"), "--finish '4/10/2026 13:47'"),
        (("--name", "Runa", "--folder", "/no/such/place"), "--folder /no/such/place: is not there"),
        (("--name", "Runa", "--folder", r"C:\Users\me\exports"), "a path of Windows"),
        (("--name", "Runa", "--alert", "nosuchservice://secret@x"), "nosuchservice"),
        (("--name", "Runa", "--alert", "https://secret.example/x"), "write jsons:// in place of https://"),
        (("--name", "Runa", "--alert", "jsn://secret"), "did you mean json://?"),
        (("--name", "Runa", "--alert", "secret@example.org"), "for mail write mailtos://"),
        (("--name", "Runa", "--alert", "coach json://secret/x"), "has a space in it"),
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
    "nosuch://x\njson://127.0.0.1:9/x\ncoach\nCoach Ida\n\nn\n"
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


@pytest.mark.parametrize(
    ("event", "finish"),
    [("Marathon", "4.10.2026 13:47"), ("marathon", "2026-10-04 13:47"), ("MARATHON", "04.10.2026, 13.47")],
)
def test_event_and_finish_are_taken_as_people_write_them(tmp_path: Path, event: str, finish: str) -> None:
    assert fallow("init", *ODD, "--event", event, "--finish", finish, home=tmp_path).status == 0
    (race,) = tomllib.loads((tmp_path / "roster.toml").read_text("utf-8"))["athlete"][0]["race"]
    assert (race["event"], race["finish"].isoformat()) == ("marathon", "2026-10-04T13:47:00")


def test_an_id_that_cannot_be_is_asked_again_before_anything_else(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", home=home, typed="Jörg\njörg\nruna\njo\n\nEurope/Oslo\n180\n\n\n\n", terminal=True)
    assert ran.status == 0, ran.err
    assert "'jörg': must be 1 to 64 letters" in ran.err
    assert "'runa' stands there already" in ran.err
    assert "--event ... --finish" in " ".join(ran.err.split())
    assert [one["id"] for one in tomllib.loads((home / "roster.toml").read_text("utf-8"))["athlete"]] == ["runa", "jo"]


def test_a_folder_that_is_not_there_or_cannot_be_is_asked_again(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    folders = f"{tmp_path}\n{home / 'roster.toml'}\n{tmp_path / 'typo'}\nn\n\n"
    ran = fallow("init", home=home, typed=f"Odd\n\n{folders}Europe/Oslo\n180\n\n\n\n", terminal=True)
    assert ran.status == 0, ran.err
    for told in ("holds the home folder", "is a file", "is not there yet. Make it?"):
        assert told in " ".join(ran.err.split())
    assert not (tmp_path / "typo").exists()
    assert (home / "exports/odd").is_dir()


def test_a_folder_where_the_terminal_stands_is_the_one_that_is_meant(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here/mein Lauf ü").mkdir(parents=True)
    (tmp_path / "here/mein Lauf ü/walk.fit").write_bytes(run_on(2, 12, 30, sport="walking", speed=1.3, bpm=95))
    monkeypatch.chdir(tmp_path / "here")
    ran = fallow("init", *ODD, "--folder", "'mein Lauf ü'", home=tmp_path / "home")
    assert ran.status == 0, ran.err
    (athlete,) = tomllib.loads((tmp_path / "home/roster.toml").read_text("utf-8"))["athlete"]
    assert athlete["folder"] == str(tmp_path / "here/mein Lauf ü")
    assert "1 file can be read there already" in " ".join(ran.out.split())


def test_a_path_can_be_copied_whole_however_long_it_is(tmp_path: Path) -> None:
    home = tmp_path / "Application Support" / ("long " * 20).strip()
    ran = fallow("init", *ODD, home=home)
    assert f"Odd is on the roster: {home / 'roster.toml'}" in ran.out.splitlines()
    assert f"Exports are awaited in: {home / 'exports/odd'}" in ran.out.splitlines()
    put(home / "exports/odd/torn.fit", exports()["torn.fit"])
    assert f"board: {home / 'board.html'}" in fallow("scan", home=home).out.splitlines()


def test_init_says_when_it_has_made_the_folder(tmp_path: Path) -> None:
    assert "made just now" in " ".join(fallow("init", *ODD, home=tmp_path).out.split())


def test_whoever_stops_in_the_middle_is_told_that_nothing_was_written(tmp_path: Path) -> None:
    ran = fallow("init", home=tmp_path / "home", typed="Runa Vik\n\n", terminal=True)
    assert ran.status == 130
    assert "nothing was written" in ran.err
    assert not (tmp_path / "home").exists()


def test_a_no_before_it_is_written_leaves_everything_as_it_was(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_bytes()
    ran = fallow("init", home=home, typed="Odd\n\n\nEurope/Oslo\n180\n\n\nn\n", terminal=True)
    assert ran.status == 130
    assert (home / "roster.toml").read_bytes() == before
    assert not (home / "exports/odd").exists()


def test_init_shows_the_plan_at_a_glance(tmp_path: Path) -> None:
    ran = fallow("init", *RUNA, home=tmp_path)
    assert "fallow plan runa" in ran.out
    assert "Garber" not in ran.out
    assert "Garber" in fallow("plan", "runa", home=tmp_path).out


def test_a_finish_far_ahead_is_asked_about_or_refused_where_nobody_can_be_asked(tmp_path: Path) -> None:
    late = f"{datetime.now().year + 2}-10-04T13:47"  # noqa: DTZ005 - a day plays no part
    flags = (*ODD, "--event", "marathon", "--finish", late)
    ran = fallow("init", *flags, home=tmp_path)
    assert ran.status == 2
    assert "days from now; must be 60 at most" in ran.err
    assert ran.err.count("\n") == 1
    no = fallow("init", *flags, home=tmp_path, typed="n\n", terminal=True)
    assert (no.status, no.out) == (2, "")
    yes = fallow("init", *flags, home=tmp_path, typed="y\n\n\n\n\n\n\n\n", terminal=True)
    assert yes.status == 0, yes.err


def test_init_shows_how_the_tables_that_lie_there_will_be_read(tmp_path: Path) -> None:
    folder = tmp_path / "exports"
    put(folder / "sleep.csv", b"Date,Bedtime,Total sleep (h),Mood\n2026-10-06,22:40,7.2,fine\n")
    put(folder / "sleep-old.csv", b"Date,Bedtime,Total sleep (h),Mood\n2026-10-01,22:30,7.4,fine\n")
    put(folder / "money.csv", b"Konto;Saldo\n1;2\n")
    ran = fallow("init", *ODD, "--folder", str(folder), home=tmp_path / "home")
    assert ran.status == 0, ran.err
    said = " ".join(ran.out.split())
    assert "columns named in line 1" in said
    assert "night" in said
    assert "Passed over: " in said
    assert "1 table more with the same columns" in said
    assert "money.csv: no known columns" in said
    checks = fallow("doctor", "--json", home=tmp_path / "home").json()
    (fine,) = [check for check in checks if check["what"].endswith(".csv and 1 like it")]
    assert fine["state"] == "fine"
    assert "passed over" in fine["says"]
    (odd,) = [check for check in checks if check["what"] == "odd: money.csv"]
    assert (odd["state"], "[[athlete.table]]" in odd["do"]) == ("note", True)
