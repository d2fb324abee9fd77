"""`fallow init` and `fallow doctor`: from nothing to a first true alert."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from monitor.cli.typed import event_of, iso, result_of
from monitor.initialise import known_events, slug
from tests.homes import LATER, ROSTER, SECOND, exports, fallow, make_home, put, run_on
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


def test_a_second_athlete_is_told_through_the_contact_who_is_there(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow("init", home=home, typed="Odd\n\n\nEurope/Oslo\n180\n\n\n\n", terminal=True)
    assert ran.status == 0, ran.err
    assert tomllib.loads((home / "roster.toml").read_text("utf-8"))["athlete"][1]["contacts"] == ["coach"]


BY_FLAGS = ("--name", "Odd", "--timezone", "Europe/Oslo", "--hr-max", "180")


@pytest.mark.parametrize(
    ("event", "finish"),
    [("Marathon", "4.10.2026 13:47"), ("marathon", "2026-10-04 13:47"), ("MARATHON", "04.10.2026, 13.47")],
)
def test_event_and_finish_are_taken_as_people_write_them(tmp_path: Path, event: str, finish: str) -> None:
    assert fallow("init", *BY_FLAGS, "--event", event, "--finish", finish, home=tmp_path).status == 0
    (race,) = tomllib.loads((tmp_path / "roster.toml").read_text("utf-8"))["athlete"][0]["race"]
    assert (race["event"], race["finish"].isoformat()) == ("marathon", "2026-10-04T13:47:00")


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
    ran = fallow("init", *BY_FLAGS, "--folder", "'mein Lauf ü'", home=tmp_path / "home")
    assert ran.status == 0, ran.err
    (athlete,) = tomllib.loads((tmp_path / "home/roster.toml").read_text("utf-8"))["athlete"]
    assert athlete["folder"] == str(tmp_path / "here/mein Lauf ü")
    assert "1 file can be read there already" in " ".join(ran.out.split())


def test_a_path_can_be_copied_whole_however_long_it_is(tmp_path: Path) -> None:
    home = tmp_path / "Application Support" / ("long " * 20).strip()
    ran = fallow("init", *BY_FLAGS, home=home)
    assert f"Odd is on the roster: {home / 'roster.toml'}" in ran.out.splitlines()
    assert f"Exports are awaited in: {home / 'exports/odd'}" in ran.out.splitlines()
    put(home / "exports/odd/torn.fit", exports()["torn.fit"])
    assert f"board: {home / 'board.html'}" in fallow("scan", home=home).out.splitlines()


def test_init_says_when_it_has_made_the_folder(tmp_path: Path) -> None:
    assert "made just now" in " ".join(fallow("init", *BY_FLAGS, home=tmp_path).out.split())


def test_whoever_stops_in_the_middle_is_told_that_nothing_was_written(tmp_path: Path) -> None:
    ran = fallow("init", home=tmp_path / "home", typed="Runa Vik\n\n", terminal=True)
    assert ran.status == 130
    assert "nothing was written" in ran.err
    assert not (tmp_path / "home").exists()


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
    ran = fallow("init", *BY_FLAGS, home=tmp_path)
    assert ran.status == 0, ran.err
    assert "contacts" not in tomllib.loads((tmp_path / "roster.toml").read_text("utf-8"))["athlete"][1]
    assert "Nobody is told yet" in ran.out


def roster_of(home: Path) -> dict[str, Any]:
    return tomllib.loads((home / "roster.toml").read_text("utf-8"))


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
    ran = fallow("init", *BY_FLAGS, "--alert", "json://127.0.0.1:9/bo", "--contact", "bo", home=home)
    assert ran.status == 0, ran.err
    assert roster_of(home)["athlete"][1]["contacts"] == ["bo", "coach"]
    assert "Told of odd: Coach Ida (coach)" in ran.out
    assert "Told of odd: bo (bo)" in ran.out
    assert ran.out.index("Told of odd") < ran.out.index("is on the roster")


def test_a_no_before_it_is_written_leaves_everything_as_it_was(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    before = (home / "roster.toml").read_bytes()
    ran = fallow("init", home=home, typed="Odd\n\n\nEurope/Oslo\n180\n\n\nn\n", terminal=True)
    assert ran.status == 130
    assert (home / "roster.toml").read_bytes() == before
    assert not (home / "exports/odd").exists()


def test_an_address_that_somebody_has_is_that_persons(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    url = roster_of(home)["contact"][0]["urls"][0]
    assert fallow("init", *BY_FLAGS, "--alert", url, home=home).status == 0
    table = roster_of(home)
    assert [one["id"] for one in table["contact"]] == ["coach"]
    assert table["athlete"][1]["contacts"] == ["coach"]


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
    ran = fallow("init", *BY_FLAGS, "--quiet-hours", "22:00-06:00", home=home)
    assert ran.status == 2
    assert "edit quiet_hours" in ran.err


def test_init_shows_the_plan_at_a_glance(tmp_path: Path) -> None:
    ran = fallow("init", *RUNA, home=tmp_path)
    assert "fallow plan runa" in ran.out
    assert "Garber" not in ran.out
    assert "Garber" in fallow("plan", "runa", home=tmp_path).out


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


def test_doctor_says_how_a_mistyped_address_was_meant(tmp_path: Path) -> None:
    ran = fallow("doctor", home=make_home(tmp_path / "home", url="jsn://planted@127.0.0.1/hook", files={}))
    assert ran.status == 1
    assert "did you mean json://?" in " ".join(ran.out.split())
    assert "planted" not in ran.out


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


@pytest.mark.parametrize("written", ["\ufeff{}", "{}"], ids=["a mark before it", "other line ends"])
def test_a_roster_saved_by_an_editor_of_another_system_is_read_and_added_to(tmp_path: Path, written: str) -> None:
    home = make_home(tmp_path / "home", files={})
    text = (home / "roster.toml").read_text("utf-8").replace("\n", "\r\n")
    (home / "roster.toml").write_bytes(written.format(text).encode("utf-8"))
    assert fallow("status", home=home).status == 0
    assert fallow("init", *BY_FLAGS, home=home).status == 0
    assert [row["athlete"] for row in fallow("status", "--json", home=home).json()] == ["runa", "odd"]
