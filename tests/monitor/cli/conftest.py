from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.homes import LATER, Ran, copy_home, fallow, make_home
from tests.targets import Received, http_target

RUNA = (
    "--name", "Runa Vik", "--timezone", "Europe/Oslo", "--hr-max", "188", "--event", "marathon",
    "--finish", "2026-10-04T13:47", "--result", "3:25:10", "--condition", "heat", "--condition", "hills",
)  # fmt: skip
ODD = ("--name", "Odd", "--timezone", "Europe/Oslo", "--hr-max", "180")
"""Flags of `fallow init`."""


@pytest.fixture(autouse=True)
def _no_home_of_the_machine(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("FALLOW_HOME", str(tmp_path / "nowhere"))
    monkeypatch.delenv("FALLOW_DEBUG", raising=False)
    monkeypatch.delenv("COLUMNS", raising=False)


@dataclass(frozen=True)
class Scanned:
    """A home scanned twice, with what its target received after each scan."""

    home: Path
    first: Ran
    second: Ran
    sent_first: list[Received]
    sent_second: list[Received]
    untouched: bool


def _files(folder: Path) -> dict[Path, tuple[int, bytes]]:
    return {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="session")
def scans(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scanned]:
    with http_target() as target:
        home = make_home(tmp_path_factory.mktemp("scanned") / "home", url=target.url())
        before = _files(home / "exports")
        first = fallow("scan", "--json", "--as-of", LATER, home=home)
        sent = list(target.accepted)
        second = fallow("scan", "--as-of", LATER, home=home)
        yield Scanned(home, first, second, sent, list(target.accepted), before == _files(home / "exports"))


@pytest.fixture
def scanned(scans: Scanned) -> Path:
    """A home whose files have been read; only to be looked at."""
    assert scans.first.status == 0, scans.first.err
    return scans.home


@pytest.fixture
def own(scanned: Path, tmp_path: Path) -> Path:
    """A home whose files have been read, to be changed."""
    return copy_home(scanned, tmp_path / "own")
