"""Folders that vanish, come back, are polled, or do not answer."""

import shutil
from pathlib import Path

from monitor import words
from monitor.daemon.daemon_state import read_state
from monitor.errors import WorkFailed
from monitor.folders.events import Hint
from monitor.roster.types import Roster
from tests.monitor.daemon.loop_bench import Bench, polled


def test_a_root_that_vanishes_is_told_once_and_told_when_it_is_back_with_all_its_files(bench: Bench) -> None:
    bench.file("a.fit")
    folder = bench.home.path / "runa"
    bench.queue.at(1030.0, lambda: shutil.rmtree(folder))
    bench.queue.at(1400.0, lambda: bench.file("b.fit"))
    bench.run(500)
    assert bench.scanner.missing == [{}, {"runa": "the folder is not there"}, {}]
    assert bench.scanner.taken == ["a.fit", "b.fit"]


def test_a_root_taken_away_for_a_moment_is_not_told_of(bench: Bench) -> None:
    folder = bench.home.path / "runa"
    bench.queue.at(1030.0, lambda: folder.rename(bench.home.path / "away"))
    bench.queue.at(1036.0, lambda: (bench.home.path / "away").rename(folder))
    bench.run(100)
    assert bench.scanner.missing == [{}]


def test_an_unmounted_share_that_leaves_an_empty_folder_is_told_as_missing_and_as_back(bench: Bench) -> None:
    folder, share = bench.home.path / "runa", bench.home.path / "share"
    bench.file("a.fit")

    def unmount() -> None:
        folder.rename(share)
        folder.mkdir()

    def mount() -> None:
        folder.rmdir()
        share.rename(folder)
        bench.file("b.fit")

    bench.queue.at(1030.0, unmount)
    bench.queue.at(1400.0, mount)
    bench.run(500)
    assert bench.scanner.missing == [{}, {"runa": words.files.ANOTHER_EMPTY_FOLDER}, {}]
    assert bench.scanner.taken == ["a.fit", "b.fit"]


def test_a_share_that_is_not_mounted_when_the_daemon_starts_again_is_told_of(bench: Bench) -> None:
    bench.file("a.fit")
    bench.run(20)
    bench.home.path.joinpath("runa").rename(bench.home.path / "share")
    bench.home.path.joinpath("runa").mkdir()
    before = read_state(bench.home)
    assert before is not None
    bench.held = before.held
    bench.loop = bench.made()
    bench.run(30)
    assert bench.scanner.missing == [{}, {}, {"runa": words.files.ANOTHER_EMPTY_FOLDER}]


def test_a_folder_emptied_by_its_owner_is_not_missed(bench: Bench) -> None:
    file = bench.file("a.fit")
    bench.queue.at(1030.0, file.unlink)
    bench.run(700)
    assert bench.scanner.missing == [{}]


def test_another_folder_in_the_place_of_the_root_is_looked_through_and_watched_anew(bench: Bench) -> None:
    folder = bench.home.path / "runa"

    def replace() -> None:
        folder.rename(bench.home.path / "old")
        bench.file("new.fit")

    bench.queue.at(1030.0, replace)
    bench.run(40)
    assert bench.scanner.taken == ["new.fit"]
    assert [(one.armed, one.alive) for one in bench.observers] == [(2, False)]  # stopped at the end


def test_a_root_heard_to_be_gone_is_looked_after_at_once(bench: Bench) -> None:
    def reset() -> None:
        shutil.rmtree(bench.home.path / "runa")
        bench.file("a.fit")
        bench.queue.put(Hint("runa", "", folder=True))

    bench.queue.at(1011.0, reset)
    bench.run(11.5)
    assert bench.scanner.taken == ["a.fit"]
    assert [one.armed for one in bench.observers] == [2]


def test_a_root_missing_at_the_start_neither_stops_the_others_nor_is_forgotten(tmp_path: Path) -> None:
    bench = Bench(tmp_path, "runa", "hal")
    shutil.rmtree(tmp_path / "hal")
    bench.file("a.fit")
    bench.run(15)
    assert bench.said == ["watching 2 folders"]
    assert bench.scanner.taken == ["a.fit"]
    assert bench.scanner.missing[-1] == {"hal": "the folder is not there"}
    bench.file("b.fit", athlete="hal")
    bench.run(10)
    assert bench.scanner.taken == ["a.fit", "b.fit"]


def test_a_polled_folder_is_looked_through_every_minute(bench: Bench) -> None:
    bench.roster = polled(bench)
    bench.loop = bench.made()
    bench.queue.at(1010.0, lambda: bench.file("a.fit", age=1000.0))
    bench.queue.at(1010.0, lambda: bench.file("skewed.fit", age=30.0))
    bench.run(62)
    assert bench.scanner.taken == ["a.fit"], "a share's clock may be behind, so half a minute says nothing"
    bench.run(6)
    assert bench.scanner.taken == ["a.fit", "skewed.fit"]
    assert bench.observers == []


def test_a_share_that_does_not_answer_holds_nobody_up_and_is_told_of(tmp_path: Path) -> None:
    bench = Bench(tmp_path, "runa", "hal")
    bench.roster = Roster(
        bench.roster.path, bench.roster.alerts, (), (polled(bench).athletes[0], bench.roster.athletes[1]), "2"
    )
    bench.loop = bench.made()
    bench.looks_answer = False
    bench.file("a.fit")
    bench.queue.at(1010.0, lambda: (bench.file("b.fit", age=0.0, athlete="hal"), bench.hint("b.fit", athlete="hal")))
    bench.run(120)
    assert bench.scanner.taken == ["b.fit"]
    assert bench.scanner.missing[-1] == {"runa": "the folder does not answer"}


def test_what_must_not_be_opened_is_told_once(bench: Bench) -> None:
    bench.file("notes.docx")
    (bench.home.path / "runa" / "link.fit").symlink_to("/dev/null")
    bench.scanner.fail = {"take": [WorkFailed("the store is busy")]}
    bench.run(1000)
    assert bench.scanner.refused == [("runa", "link.fit"), ("runa", "notes.docx")]
