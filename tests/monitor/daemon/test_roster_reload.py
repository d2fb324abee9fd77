"""Edits of the roster: whole and good ones count, others change nothing."""

from pathlib import Path

import pytest

from monitor.daemon.roster_reload import LOOK_SECONDS, SETTLE_SECONDS, RosterFile
from monitor.errors import RosterError
from monitor.roster.types import Roster
from tests.monitor.daemon.fakes import roster_of


class Editing:
    """A roster file whose text is its fingerprint; text with a `!` is a mistake."""

    def __init__(self, home: Path) -> None:
        self.path = home / "roster.toml"
        self.home, self.reads = home, 0
        self.save("1")
        self.file = RosterFile(roster_of(home, "runa", fingerprint="1"), self.load)

    def save(self, text: str) -> None:
        self.path.write_text(text)

    def load(self, path: Path) -> Roster:
        self.reads += 1
        text = path.read_text() if path.exists() else "!gone"
        if "!" in text:
            raise RosterError(f"wrong: {text}", "a line without a value")
        return roster_of(self.home, "runa", fingerprint=text)


@pytest.fixture
def editing(tmp_path: Path) -> Editing:
    return Editing(tmp_path)


def test_a_file_that_does_not_change_is_never_read(editing: Editing) -> None:
    assert [editing.file.look(now) for now in (0.0, 5.0, 10.0)] == [None] * 3
    assert editing.reads == 0
    assert editing.file.next_due(10.0) == 10.0 + LOOK_SECONDS


def test_an_edit_counts_when_it_has_been_still_for_a_second(editing: Editing) -> None:
    editing.save("22")
    assert editing.file.look(5.0) is None
    assert editing.file.next_due(5.0) == 5.0 + SETTLE_SECONDS
    editing.save("333")
    assert editing.file.look(6.0) is None
    roster = editing.file.look(7.0)
    assert isinstance(roster, Roster)
    assert roster.fingerprint == "333"
    assert editing.file.good is roster
    assert editing.file.look(8.0) is None


def test_a_file_saved_in_two_steps_is_not_a_bad_edit(editing: Editing) -> None:
    editing.save("!half")
    assert editing.file.look(5.0) is None
    assert editing.file.look(6.0) is None, "found wrong once"
    editing.save("whole")
    assert editing.file.look(7.0) is None
    assert isinstance(editing.file.look(8.0), Roster)
    assert editing.file.error is None


def test_a_bad_edit_is_said_once_and_the_good_roster_stays(editing: Editing) -> None:
    good = editing.file.good
    editing.save("!bad")
    found = [editing.file.look(float(now)) for now in range(5, 20)]
    assert [type(one) for one in found if one is not None] == [RosterError]
    assert editing.file.error == "a line without a value"
    assert editing.file.good is good
    assert editing.reads == 2


def test_the_same_mistake_saved_again_is_not_said_again(editing: Editing) -> None:
    said = []
    for now in range(5, 40):
        if now in (5, 20):
            editing.save("!bad")
        said.append(editing.file.look(float(now)))
    assert len([one for one in said if one is not None]) == 1


def test_a_mistake_taken_back_clears_the_error_without_a_change(editing: Editing) -> None:
    editing.save("!bad")
    for now in range(5, 10):
        editing.file.look(float(now))
    editing.save("1")
    assert [editing.file.look(float(now)) for now in range(10, 15)] == [None] * 5
    assert editing.file.error is None


def test_a_file_replaced_as_editors_do_is_followed_and_a_missing_one_is_a_bad_edit(editing: Editing) -> None:
    editing.path.unlink()
    assert editing.file.look(5.0) is None
    beside = editing.home / "beside"
    beside.write_text("22")
    beside.rename(editing.path)
    assert editing.file.look(6.0) is None
    assert isinstance(editing.file.look(7.0), Roster)
    editing.path.unlink()
    found = [editing.file.look(float(now)) for now in range(10, 20)]
    assert [type(one) for one in found if one is not None] == [RosterError]


def test_a_file_saved_again_while_it_is_read_is_read_again(editing: Editing) -> None:
    editing.save("22")
    editing.file.look(5.0)
    load = editing.load

    def meddle(path: Path) -> Roster:
        roster = load(path)
        editing.save("4444")
        return roster

    editing.file._load = meddle
    assert editing.file.look(6.0) is None
    editing.file._load = load
    editing.file.look(7.0)
    roster = editing.file.look(8.0)
    assert isinstance(roster, Roster)
    assert roster.fingerprint == "4444"


def test_being_asked_reads_the_file_though_nothing_seems_changed(editing: Editing) -> None:
    editing.file.ask()
    assert editing.file.look(5.0) is None
    assert editing.reads == 1
