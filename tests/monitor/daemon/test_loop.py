"""Edits of the roster, messages, the hour's judgement, the board and the state file."""

import os

from monitor import words
from monitor.daemon.daemon_state import read_state
from monitor.errors import RosterError, WorkFailed
from tests.monitor.daemon.fakes import Timed, roster_of
from tests.monitor.daemon.loop_bench import Bench


def test_a_good_edit_of_the_roster_is_used_and_its_folders_are_watched(bench: Bench) -> None:
    bench.file("a.fit")

    def edit() -> None:
        bench.next_roster = roster_of(bench.home.path, "hal", fingerprint="2")
        bench.file("b.fit", athlete="hal")
        bench.roster.path.write_text("22")

    bench.queue.at(1030.0, edit)
    bench.run(60)
    assert bench.scanner.rosters == [bench.next_roster]
    assert bench.scanner.taken == ["a.fit", "b.fit"]
    state = read_state(bench.home)
    assert state is not None
    assert state.folders == 1


def test_a_roster_that_cannot_be_used_yet_is_used_later(bench: Bench) -> None:
    def edit() -> None:
        bench.next_roster = roster_of(bench.home.path, "runa", "hal", fingerprint="2")
        (bench.home.path / "hal").mkdir()
        bench.roster.path.write_text("22")

    bench.scanner.fail = {"use": [WorkFailed("the store is busy")] * 2}
    bench.queue.at(1030.0, edit)
    bench.run(60)
    assert bench.scanner.rosters == [bench.next_roster]


def test_a_bad_edit_changes_nothing_is_told_once_and_stands_in_the_state(bench: Bench) -> None:
    def edit() -> None:
        bench.next_roster = RosterError(
            "roster.toml: athlete 'runa': born = 19: too early", "roster.toml: athlete 1: born: wrong"
        )
        bench.roster.path.write_text("22")

    bench.queue.at(1030.0, edit)
    bench.queue.at(1100.0, lambda: bench.file("a.fit"))
    bench.queue.at(1100.0, lambda: bench.hint("a.fit", closed=True))
    bench.run(300)
    assert bench.scanner.rosters == []
    assert bench.scanner.taken == ["a.fit"]
    assert len(bench.scanner.notices) == 1
    assert "roster.toml: athlete 1: born: wrong" in bench.scanner.notices[0]
    assert "19" not in bench.scanner.notices[0], "values stay in the terminal of whoever edits it"
    assert bench.said == ["watching 1 folders", *bench.scanner.notices], "whoever reads along is told too"
    assert [line.split(" ", 1)[1] for line in bench.remarks] == ["1 file taken in"]
    state = read_state(bench.home)
    assert state is not None
    assert state.roster_error == "roster.toml: athlete 1: born: wrong"


def test_a_reload_signal_reads_the_roster_at_once(bench: Bench) -> None:
    bench.next_roster = roster_of(bench.home.path, "runa", fingerprint="2")
    bench.queue.at(1002.0, lambda: bench.queue.put("reload"))
    bench.run(3)
    assert bench.scanner.rosters == [bench.next_roster]


def test_messages_are_sent_after_every_pass_and_every_round_of_timers(bench: Bench) -> None:
    bench.run(1)
    before = bench.scanner.delivered
    bench.file("a.fit")
    bench.hint("a.fit")
    bench.run(2)
    assert bench.scanner.delivered == before + 1


def test_athletes_who_wait_for_the_judgement_of_the_hour_let_files_go_first(bench: Bench) -> None:
    bench.run(70)
    timed, boards = bench.scanner.timed, bench.board.changes
    order: list[str] = []

    def come() -> None:
        order.append("timers")
        bench.file(f"{len(order)}.fit")
        bench.hint(f"{len(order)}.fit")

    bench.scanner.to_judge = [Timed(8, more=True), Timed(8, more=True), Timed(4, more=False)]
    bench.scanner.on_timers = come
    bench.scanner.before_take = lambda ready: order.append("take")
    bench.run(61)
    assert order[:4] == ["timers", "take", "timers", "take"]
    assert bench.scanner.timed >= timed + 3
    assert bench.board.changes >= boards + 3


def test_the_board_is_made_again_after_every_change_and_not_in_idle_hours(bench: Bench) -> None:
    bench.run(20)
    at_the_start = bench.board.changes
    assert at_the_start >= 1
    bench.run(3600)
    assert bench.board.changes == at_the_start
    bench.file("a.fit")
    bench.run(320)
    assert bench.board.changes == at_the_start + 1
    assert not bench.board.running


def test_a_board_that_cannot_be_written_stands_in_the_state(bench: Bench) -> None:
    bench.board.failing = ("board",)
    bench.run(10)
    state = read_state(bench.home)
    assert state is not None
    assert words.of_stored(state.trouble or "") == "board keeps failing"


def test_the_state_file_tells_of_start_readiness_and_passes(bench: Bench) -> None:
    bench.run(10)
    state = read_state(bench.home)
    assert state is not None
    assert (state.pid, state.folders, state.running, state.missing) == (os.getpid(), 1, False, {})
    assert state.ready_at is not None
    assert state.last_pass_at is not None
    assert bench.home.state.stat().st_mode & 0o777 == 0o600


def test_a_state_that_cannot_be_written_stops_nothing(bench: Bench) -> None:
    bench.home.state.mkdir()
    bench.file("a.fit")
    bench.run(60)
    assert bench.scanner.taken == ["a.fit"]
