from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from monitor.home import Home
from monitor.reasons import Why
from monitor.roster import Roster, read_roster
from monitor.views.status import program
from tests.homes import ROSTER


@pytest.fixture
def home(tmp_path: Path) -> Home:
    (tmp_path / "roster.toml").write_text(ROSTER.format(url="json://127.0.0.1:9/nobody"))
    return Home(tmp_path)


@pytest.fixture
def roster(home: Home) -> Roster:
    return read_roster(home.roster)


def _row(
    state: str, tries: int = 0, error: str | None = None, contact: str = "coach", reason: str = ""
) -> dict[str, Any]:
    return {"contact": contact, "state": state, "tries": tries, "last_error": error, "reason_code": reason}


def test_messages_that_do_not_get_through_are_told_by_contact(home: Home, roster: Roster) -> None:
    unsent = [_row("waiting", 3, "no answer"), _row("waiting", 1), _row("failed", 40), _row("waiting", 1, None, "gone")]
    assert program(home, roster, unsent).troubles == (
        "To Coach Ida: 2 messages wait, 1 given up; the last error: no answer.",
        "To gone: 1 message waits.",
    )


def test_a_message_held_for_the_night_not_tried_yet_or_of_a_day_that_is_over_is_no_trouble(
    home: Home, roster: Roster
) -> None:
    over = _row("failed", reason=Why.DAY_OVER)
    assert program(home, roster, [_row("held"), _row("waiting"), over]).troubles == ()


def test_what_the_daemon_wrote_of_itself_is_told(home: Home, roster: Roster) -> None:
    said = {
        "last_pass_at": "2026-10-17T10:00:00+00:00",
        "missing": {"runa": "not mounted", "left": "gone"},
        "roster_error": "roster.toml: [alerts] typo",
        "trouble": "store keeps failing",
    }
    home.state.write_text(json.dumps(said))
    told = program(home, roster, [])
    assert told.looked_at == datetime(2026, 10, 17, 10, tzinfo=UTC)
    assert told.troubles == (
        "The folder of Runa Vik cannot be looked into: not mounted.",
        "The roster was edited and is not valid; the last good one is in use. roster.toml: [alerts] typo",
        "The daemon: store keeps failing.",
    )


@pytest.mark.parametrize("text", ["", "{", "[1]", '{"last_pass_at": 7}', '{"last_pass_at": "soon"}'])
def test_a_state_that_cannot_be_read_says_nothing(home: Home, roster: Roster, text: str) -> None:
    home.state.write_text(text)
    told = program(home, roster, [])
    assert (told.troubles, told.looked_at) == ((), None)
