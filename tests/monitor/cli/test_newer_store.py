"""A home whose store a later program wrote: every command says so in one line, and touches nothing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from monitor.home import Home
from monitor.store.database import Store
from tests.homes import fallow, make_home

COMMANDS = (
    ("scan",), ("watch",), ("rebuild", "--yes"), ("status",), ("findings",), ("plan", "runa"), ("today",), ("intake",),
    ("outbox",), ("outbox", "--retry"), ("explain", "abc"), ("replay",), ("board",),
    ("hold", "runa", "--days", "1", "--why", "cold"), ("seen", "abc"),
)  # fmt: skip


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = make_home(tmp_path_factory.mktemp("newer") / "home")
    with Store(Home(path).store).writing() as con:
        con.execute("INSERT INTO migration (name, version) VALUES ('0099_moons.sql', '0.9.0')")
    return path


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_every_command_says_so_and_touches_nothing(command: tuple[str, ...], home: Path) -> None:
    before = Home(home).store.read_bytes()
    ran = fallow(*command, home=home)
    assert ran.status == 1
    assert len(ran.err.splitlines()) == 1
    assert "written by a newer fallow (0.9.0, 0099_moons.sql)" in ran.err
    assert ran.out == ""
    assert Home(home).store.read_bytes() == before
    assert not list(home.glob("fallow.broken-*"))


def test_doctor_says_so_and_does_not_advise_a_rebuild(home: Path) -> None:
    ran = fallow("doctor", "--json", home=home)
    assert ran.status == 1
    checks = {one["what"]: one for one in json.loads(ran.out)}
    assert "newer fallow" in checks["store"]["says"]
    assert "update" in checks["store"]["do"]
