"""Commands that are shown can be copied into the terminal they stand in."""

from __future__ import annotations

import pytest

from monitor.cli import screen


@pytest.fixture(autouse=True)
def _on_no_path(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")


def test_a_program_that_is_not_on_the_path_is_called_by_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.argv", ["my venv/bin/fallow", "demo"])
    assert screen.called() == "'my venv/bin/fallow'"
    assert "activate its environment" in screen.known_by_path()


def test_one_that_was_called_in_another_way_keeps_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.argv", ["/usr/bin/pytest"])
    assert screen.called() == "fallow"
    assert screen.known_by_path() == ""


@pytest.mark.parametrize(
    ("system", "shown"), [("linux", "'/home/a b/x'"), ("darwin", "'/home/a b/x'"), ("win32", '"/home/a b/x"')]
)
def test_a_path_is_quoted_as_its_system_does(system: str, shown: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.platform", system)
    assert screen.quoted("/home/a b/x") == shown
