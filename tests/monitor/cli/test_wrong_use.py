"""Every mistake is one line that says what is wrong and what would be right, with the status that goes with it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from monitor.cli import main
from tests.homes import fallow, make_home

WRONG = [
    (("pln",), "did you mean plan?"),
    (("plan",), "missing argument"),
    (("plan", "rina"), "did you mean 'runa'?"),
    (("plan", "nobody-like-it"), "there are: runa"),
    (("plan", "runa", "--jsn"), "did you mean --json?"),
    (("findings", "--severity", "stp"), "did you mean 'stop'?"),
    (("findings", "--since", "soon"), "must be a date"),
    (("plan", "runa", "--as-of", "yesterday"), "--as-of 'yesterday'"),
    (("plan", "runa", "--as-of", "2026-13-01"), "--as-of"),
    (("explain", "zzzz"), "no finding begins with 'zzzz'"),
    (("explain", ""), "no finding begins with ''"),
    (("seen", "zzzz"), "no finding"),
    (("findings", "--rule", "no_runing"), "did you mean 'no_running'?"),
    (("findings", "--since", "3/10/2026"), "must be a date"),
    (("intake", "--state", "unreadible"), "did you mean 'unreadable'?"),
    (("hold", "runa", "--days", "three"), "must be a whole number"),
    (("plan", "runa", "--hom"), "did you mean --home?"),
    (("findings", "runa", "--rule"), "`fallow findings --help` shows how"),
    (("hold", "runa", "--days", "0"), "--days 0"),
    (("hold", "runa", "--days", "many"), "--days"),
    (("rules", "no_speedwork"), "did you mean 'no_speed_work'?"),
    (("checkin", "runa", "--pain", "11"), "--pain '11': must be a number from 0 to 10"),
    (("checkin", "runa"), "no answers"),
]


@pytest.mark.parametrize(("arguments", "told"), WRONG, ids=[" ".join(arguments) for arguments, _ in WRONG])
def test_wrong_use_is_one_line_and_status_2(tmp_path: Path, arguments: tuple[str, ...], told: str) -> None:
    home = make_home(tmp_path / "home", files={})
    ran = fallow(*arguments, "--home", str(home))
    assert ran.status == 2
    assert told in ran.err
    assert len(ran.err.splitlines()) == 1
    assert ran.out == ""


def test_an_option_before_the_command_that_is_nearly_home_is_named() -> None:
    assert "did you mean --home?" in fallow("--homee", "x", "status").err


def test_a_day_may_be_written_with_dots(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    dotted, dashed = (
        fallow("status", "--as-of", day, "--json", home=home).json() for day in ("13.10.2026", "2026-10-13")
    )
    assert dotted == dashed
    assert fallow("findings", "--since", "1.10.2026", "--json", home=home).json() == []


def test_a_home_without_a_roster_names_init(tmp_path: Path) -> None:
    ran = fallow("status", home=tmp_path)
    assert ran.status == 2
    assert "fallow init" in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_mistake_in_the_roster_is_one_line_with_file_key_and_value(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    (home / "roster.toml").write_text((home / "roster.toml").read_text().replace("hr_max", "hr_mx"))
    ran = fallow("status", home=home)
    assert ran.status == 2
    assert "roster.toml: athlete 'runa': unknown key `hr_mx`" in ran.err
    assert "hr_max" in ran.err


def test_home_may_stand_before_the_command(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    assert fallow("--home", str(home), "findings", "--json").json() == []
    assert fallow(f"--home={home}", "findings", "--json").json() == []


def test_what_nobody_foresaw_is_one_line_and_its_place_is_in_the_log_without_what_it_was_about(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status = main.unexpected(ValueError("pulse of Runa: 171"), ["status", "--home", str(tmp_path)])
    said = capsys.readouterr().err
    assert status == 1
    assert len(said.splitlines()) == 1
    assert "ValueError" in said
    assert "171" not in said
    log = (tmp_path / "fallow.log").read_text()
    assert "ValueError" in log
    assert "171" not in log


def test_a_store_that_will_not_open_is_one_line_and_status_1(tmp_path: Path) -> None:
    home = make_home(tmp_path / "home", files={})
    (home / "fallow.duckdb").write_bytes(b"no store at all " * 64)
    ran = fallow("findings", home=home)
    assert ran.status == 1
    assert len(ran.err.splitlines()) == 1
    assert "fallow.duckdb" in ran.err


def test_fallow_alone_shows_the_help() -> None:
    ran = fallow()
    assert ran.status == 0
    assert "Commands:" in ran.out


def test_help_tells_each_command_whole_and_what_to_type_in_the_words_of_the_field() -> None:
    commands = fallow("--help").out.partition("Commands:")[2].splitlines()
    names = [line.split()[0] for line in commands if line.startswith("  ") and line[2] != " "]
    assert len(names) > 20
    assert not [line for line in commands if line.endswith("...")]
    for name in names:
        said = fallow(name, "--help").out
        assert said.splitlines()[0].startswith(f"Usage: fallow {name} [OPTIONS]")
        assert "Example: fallow" in said
        assert not re.search(r"<\w+|\[\[|\{\w+\}", said), name
        assert max(map(len, said.splitlines())) <= 80
