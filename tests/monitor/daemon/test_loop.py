"""The loop on real folders, with the clock, the events and the scanner in the test's hand."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from monitor import logs
from monitor.daemon.eyes import Eyes
from monitor.daemon.looks import Looks
from monitor.daemon.loop import DISK_FULL, Loop
from monitor.daemon.notify import Service
from monitor.daemon.parts import Parts
from monitor.daemon.reload import RosterFile
from monitor.daemon.state import read_state
from monitor.errors import RosterError, WorkFailed
from monitor.folders.roots import HOLLOW
from monitor.folders.watching import Hint, Watching
from monitor.home import Home
from monitor.roster.types import Roster
from monitor.store.database import StoreBroken, StoreFull
from tests.monitor.daemon.fakes import FakeBoard, FakeScanner, HandClock, HandQueue, Timed, roster_of

WALL = 1_790_000_000.0


class StillObserver:
    """An observer of a system that never tells."""

    def __init__(self) -> None:
        self.emitters: list[object] = []
        self.alive = False

    def schedule(self, *args: object, **kwargs: object) -> None: ...
    def unschedule(self, watch: object) -> None: ...
    def join(self, timeout: float) -> None: ...

    def start(self) -> None:
        self.alive = True

    def stop(self) -> None:
        self.alive = False

    def is_alive(self) -> bool:
        return self.alive


class Bench:
    """A home with one or more athletes, and a loop over them that runs until a moment."""

    def __init__(self, home: Path, *athletes: str) -> None:
        self.home = Home(home)
        self.clock = HandClock()
        self.queue = HandQueue(self.clock)
        self.scanner = FakeScanner()
        self.board = FakeBoard()
        self.said: list[str] = []
        self.remarks: list[str] = []
        self.observers: list[StillObserver] = []
        self.outstanding: list[Callable[[], None]] = []
        self.roster = roster_of(home, *(athletes or ("runa",)))
        self.next_roster: Roster | RosterError = self.roster
        self.roster.path.write_text("1")
        for athlete in self.roster.athletes:
            athlete.folder.mkdir(exist_ok=True)
        self.looks_answer = True
        self.store_stamp: object = 1
        self.store_identity: object = None
        self.held: dict[str, tuple[int, int]] = {}
        self.loop = self.made()

    def made(self) -> Loop:
        eyes = Eyes(
            self.roster,
            self.scanner,
            Watching(self.queue, self._observer),
            Looks(self.queue.put, self._begin),
            wall=lambda: WALL + self.clock.at - 1000.0,
            store_stamp=lambda: self.store_stamp,
            store_identity=lambda: self.store_identity,
            held=self.held,
        )
        courier = SimpleNamespace(start=lambda: None, call=self.scanner.deliver, stop=lambda: None, failing=())
        return Loop(
            Parts(
                self.home,
                self.clock,
                self.scanner,
                RosterFile(self.roster, self._load),
                eyes,
                self.queue,
                courier,  # type: ignore[arg-type]
                self.board,
                Service({}),
                self.said.append,
                self.remarks.append,
            )
        )

    def _observer(self) -> StillObserver:
        self.observers.append(StillObserver())
        return self.observers[-1]

    def _begin(self, act: Callable[[], None], name: str) -> None:
        if self.looks_answer:
            act()

    def _load(self, path: Path) -> Roster:
        if isinstance(self.next_roster, RosterError):
            raise self.next_roster
        return self.next_roster

    def file(self, name: str, *, age: float = 100.0, content: bytes = b"x", athlete: str = "runa") -> Path:
        """A file last changed so many seconds before the test's present."""
        path = self.home.path / athlete / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        moment = WALL + self.clock.at - 1000.0 - age
        os.utime(path, (moment, moment))
        return path

    def hint(self, name: str, *, closed: bool = False, folder: bool = False, athlete: str = "runa") -> None:
        self.queue.put(Hint(athlete, name, closed, folder))

    def run(self, seconds: float) -> None:
        """Let the loop go on for so long, by its own clock."""
        self.queue.at(self.clock.at + seconds, lambda: self.queue.put("stop"))
        self.loop._stopping = False
        self.loop.run()


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_it_says_that_it_watches_once_and_takes_what_lies_there_in_one_pass(tmp_path: Path) -> None:
    bench = Bench(tmp_path, "runa", "hal")
    bench.file("b.fit")
    bench.file("sub/a.fit")
    bench.file("c.fit", athlete="hal")
    bench.run(700)
    assert bench.said == ["watching 2 folders"]
    assert bench.scanner.passes == [["c.fit", "b.fit", "sub/a.fit"]]


def test_known_files_are_not_taken_again(bench: Bench) -> None:
    path = bench.file("a.fit")
    bench.scanner.store = {"runa": {"a.fit": (1, path.stat().st_mtime_ns)}}
    bench.run(700)
    assert bench.scanner.passes == []


def test_a_file_heard_of_as_closed_is_taken_a_second_after_its_last_change(bench: Bench) -> None:
    def arrive() -> None:
        bench.file("a.fit", age=0.0)
        bench.hint("a.fit", closed=True)

    bench.queue.at(1060.0, arrive)
    bench.run(60.5)
    assert bench.scanner.warmed == 1, "the reader is started while the file settles"
    bench.run(0.6)
    assert bench.scanner.taken == ["a.fit"]
    assert bench.scanner.warmed == 1


def test_a_file_that_grows_is_taken_when_it_has_been_quiet_for_five_seconds(bench: Bench) -> None:
    taken_at: list[float] = []
    bench.scanner.before_take = lambda ready: taken_at.append(bench.clock.at)
    for moment in (1060, 1063, 1066):
        bench.queue.at(moment, lambda m=moment: bench.file("a.fit", age=0.0, content=b"x" * m))
    bench.queue.at(1060.0, lambda: bench.hint("a.fit"))
    bench.run(120)
    assert bench.scanner.taken == ["a.fit"]
    assert 1071 <= taken_at[0] <= 1076


def test_a_file_never_heard_of_is_found_by_the_rescan(bench: Bench) -> None:
    bench.queue.at(1010.0, lambda: bench.file("a.fit"))
    bench.run(290)
    assert bench.scanner.taken == []
    bench.run(20)
    assert bench.scanner.taken == ["a.fit"]


def test_a_folder_heard_of_is_looked_through_now_and_once_more(bench: Bench) -> None:
    def arrive() -> None:
        bench.file("october/deep/a.fit")
        bench.hint("october", folder=True)

    bench.queue.at(1010.0, arrive)
    bench.queue.at(1011.0, lambda: bench.file("october/late.fit"))
    bench.run(14)
    assert bench.scanner.passes == [["october/deep/a.fit"], ["october/late.fit"]]


def test_a_burst_of_five_thousand_files_is_taken_whole(bench: Bench) -> None:
    def arrive() -> None:
        for number in range(5000):
            bench.file(f"{number:04}.fit", age=0.0)
            if number < 2000:  # the rest of the events was lost
                bench.hint(f"{number:04}.fit", closed=True)

    bench.queue.at(1010.0, arrive)
    bench.queue.at(1011.0, lambda: bench.file("unheard.fit"))
    bench.run(30)
    assert len(bench.scanner.taken) == len(set(bench.scanner.taken)) == 5001


def test_a_file_left_undecided_is_tried_again_at_the_next_rescans_until_it_is_decided(bench: Bench) -> None:
    bench.file("a.fit")
    bench.scanner.undecided = {"a.fit"}
    bench.run(290)
    assert bench.scanner.passes == [["a.fit"]]
    bench.run(320)
    assert bench.scanner.passes == [["a.fit"]] * 3
    bench.scanner.undecided = set()
    bench.run(1000)
    assert bench.scanner.passes == [["a.fit"]] * 4


def test_a_changed_file_is_taken_again(bench: Bench) -> None:
    bench.file("a.fit")
    bench.queue.at(1010.0, lambda: bench.file("a.fit", content=b"longer"))
    bench.run(320)
    assert bench.scanner.taken == ["a.fit", "a.fit"]


def test_an_idle_hour_asks_the_store_once_and_wakes_every_few_seconds_at_most(bench: Bench) -> None:
    bench.file("a.fit")
    bench.run(3600)
    assert bench.scanner.asked_known <= 2
    assert len(bench.queue.waits) <= 3600 / 5 + 3600 / 60 + 30
    assert sum(wait < 1 for wait in bench.queue.waits) < 10
    assert bench.scanner.timed == pytest.approx(60, abs=1)


def test_a_store_changed_by_others_is_asked_again_at_the_rescan(bench: Bench) -> None:
    bench.file("a.fit")
    bench.run(20)
    bench.scanner.store.clear()
    bench.store_stamp = 2
    bench.run(300)
    assert bench.scanner.passes == [["a.fit"], ["a.fit"]]


def test_a_file_that_breaks_the_scanner_costs_itself_only_and_is_tried_again_ever_more_rarely(bench: Bench) -> None:
    def break_on_bad(ready: object) -> None:
        if "bad.fit" in str(ready):
            tries.append(bench.clock.at)
            raise UnicodeError("an odd name")

    tries: list[float] = []
    bench.scanner.before_take = break_on_bad
    for name in ("a.fit", "b.fit", "bad.fit", "c.fit", "d.fit"):
        bench.file(name)
    bench.run(600)
    assert sorted(bench.scanner.taken) == ["a.fit", "b.fit", "c.fit", "d.fit"]
    alone = [moment for moment in tries if moment > 1000.0]
    assert [round(moment - 1000) for moment in alone] == [30, 90, 210, 450]


def test_a_file_that_the_store_does_not_like_is_found_among_the_others(bench: Bench) -> None:
    def break_on_bad(ready: object) -> None:
        if "bad.fit" in str(ready):
            raise WorkFailed("fallow.duckdb: no such text")

    bench.scanner.before_take = break_on_bad
    for name in ("a.fit", "b.fit", "bad.fit", "c.fit"):
        bench.file(name)
    bench.run(60)
    assert sorted(bench.scanner.taken) == ["a.fit", "b.fit", "c.fit"]
    state = read_state(bench.home)
    assert state is not None
    assert state.trouble == "1 files cannot be stored"
    (bench.home.path / "runa" / "bad.fit").unlink()
    bench.run(300)
    state = read_state(bench.home)
    assert state is not None
    assert state.trouble is None


def test_a_store_that_takes_nothing_is_not_blamed_on_the_files(bench: Bench) -> None:
    bench.scanner.fail = {"take": [WorkFailed("the disk is full")] * 40}
    for name in ("a.fit", "b.fit", "c.fit"):
        bench.file(name)
    bench.run(20)
    state = read_state(bench.home)
    assert state is not None
    assert state.trouble == "pass keeps failing"
    bench.run(3600)
    assert sorted(bench.scanner.taken) == ["a.fit", "b.fit", "c.fit"]


def test_a_full_disk_is_blamed_on_no_file_and_told_once_when_there_is_space(bench: Bench) -> None:
    logs.open_log(bench.home)
    bench.file("a.fit")
    bench.scanner.fail = {step: [StoreFull("full")] * 8 for step in ("take", "notice")}
    bench.run(500)
    logs.close_log()
    assert bench.scanner.taken == ["a.fit"]
    assert bench.scanner.notices == [DISK_FULL]
    said = bench.home.log.read_text()
    assert said.count("error=StoreFull") == 2, "once a step"
    assert "file_failed" not in said


def test_many_broken_files_do_not_keep_the_good_ones_out_for_ever(bench: Bench) -> None:
    def break_on_bad(ready: object) -> None:
        if "bad" in str(ready):
            raise ValueError

    bench.scanner.before_take = break_on_bad
    for number in range(20):
        bench.file(f"bad{number:02}.fit")
        bench.file(f"good{number:02}.fit")
    bench.run(600)
    assert sorted(bench.scanner.taken) == [f"good{number:02}.fit" for number in range(20)]


def test_what_breaks_every_file_is_not_tried_file_by_file(bench: Bench) -> None:
    calls = []

    def break_always(ready: object) -> None:
        calls.append(bench.clock.at)
        raise ValueError

    bench.scanner.before_take = break_always
    for number in range(1000):
        bench.file(f"{number}.fit")
    bench.run(60)
    assert len(calls) < 300
    bench.scanner.before_take = lambda ready: None
    bench.run(600)
    assert len(bench.scanner.taken) == 1000


class Panic(BaseException):
    """As a library in another language raises it."""


@pytest.mark.parametrize("error", [WorkFailed("fallow.duckdb: the disk is full"), Panic("unwrap"), MemoryError()])
def test_no_failure_of_a_pass_ends_the_loop_or_loses_a_file(bench: Bench, error: BaseException) -> None:
    bench.file("a.fit")
    bench.scanner.fail = {"take": [error] * 4, "timers": [error] * 3, "known": [error] * 2, "roots": [error] * 2}
    bench.run(600)
    assert bench.scanner.taken == ["a.fit"]
    assert bench.said == ["watching 1 folders"]
    assert bench.scanner.timed >= 5
    assert len(bench.queue.waits) < 200


def test_a_lasting_trouble_stands_in_the_state_and_is_logged_once(bench: Bench) -> None:
    logs.open_log(bench.home)
    bench.file("a.fit")
    bench.scanner.fail = {"take": [WorkFailed("the disk is full")] * 2}
    bench.run(2)
    state = read_state(bench.home)
    assert state is not None
    assert state.trouble == "pass keeps failing"
    bench.run(60)
    logs.close_log()
    state = read_state(bench.home)
    assert state is not None
    assert state.trouble is None
    lines = [line for line in bench.home.log.read_text().splitlines() if "step=pass" in line]
    assert [line.split()[2] for line in lines] == ["failed", "works_again"]


def test_a_store_that_will_not_open_is_begun_anew_and_everything_is_read_again(bench: Bench) -> None:
    bench.file("a.fit")
    bench.run(20)
    bench.store_stamp = 2
    bench.scanner.fail = {"known": [StoreBroken("damaged")]}
    bench.run(320)
    assert bench.scanner.rebuilt == 1
    assert bench.scanner.taken == ["a.fit", "a.fit"]
    assert len(bench.scanner.notices) == 1
    assert "set aside" in bench.scanner.notices[0]


def test_a_store_found_broken_between_passes_is_begun_anew_as_well(bench: Bench) -> None:
    bench.file("a.fit")
    bench.run(20)
    bench.scanner.fail = {"timers": [StoreBroken("damaged")]}
    bench.run(90)
    assert bench.scanner.rebuilt == 1
    assert bench.scanner.taken == ["a.fit", "a.fit"]


def test_a_store_put_in_the_place_of_the_old_one_is_filled_at_once_and_before_the_timers(bench: Bench) -> None:
    bench.file("a.fit")
    bench.store_identity = 1
    order: list[str] = []
    bench.scanner.before_take = lambda ready: order.append(f"take {bench.clock.at:.0f}")
    bench.scanner.on_timers = lambda: order.append("timers")

    def rebuild() -> None:
        bench.scanner.store.clear()
        bench.store_identity = 2
        order.append("rebuilt")

    bench.queue.at(1058.0, rebuild)
    bench.run(130)
    assert order[:2] == ["take 1000", "timers"]
    at = order.index("rebuilt")
    assert order[at + 1].startswith("take 10"), "within seconds, not at the next rescan"
    assert order[at + 2] == "timers"
    assert bench.scanner.missing == [{}, {}], "what was not sent of a folder is told to the new store"


def test_files_that_are_not_quiet_yet_at_the_start_are_read_before_anything_is_judged_by_the_clock(
    bench: Bench,
) -> None:
    bench.file("a.fit", age=0.5)
    order: list[str] = []
    bench.scanner.before_take = lambda ready: order.append("take")
    bench.scanner.on_timers = lambda: order.append(f"timers {bench.clock.at:.0f}")
    bench.run(30)
    assert order == ["take", "timers 1010"]


def test_a_share_that_has_not_answered_yet_is_waited_for_before_anything_is_judged_by_the_clock(bench: Bench) -> None:
    bench.roster = polled(bench)
    bench.looks_answer = False
    bench.loop = bench.made()
    order: list[str] = []
    bench.scanner.on_timers = lambda: order.append(f"timers {bench.clock.at:.0f}")
    bench.run(30)
    assert order == ["timers 1010"], "but not for ever"


def test_the_first_store_of_a_home_takes_the_place_of_no_other(bench: Bench) -> None:
    bench.file("a.fit")
    bench.queue.at(1005.0, lambda: setattr(bench, "store_identity", 1))
    bench.run(30)
    assert bench.scanner.taken == ["a.fit"]
    assert bench.scanner.missing == [{}]


def test_a_disk_that_breaks_every_store_does_not_fill_up_with_them(bench: Bench) -> None:
    bench.file("a.fit")
    bench.scanner.fail = {"take": [StoreBroken("damaged")] * 20}
    bench.run(500)
    assert bench.scanner.rebuilt == 1


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
    assert bench.scanner.missing == [{}, {"runa": HOLLOW}, {}]
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
    assert bench.scanner.missing == [{}, {}, {"runa": HOLLOW}]


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
    assert [observer.alive for observer in bench.observers] == [False, False]  # all stopped at the end
    assert len(bench.observers) == 2


def test_a_root_heard_to_be_gone_is_looked_after_at_once(bench: Bench) -> None:
    def reset() -> None:
        shutil.rmtree(bench.home.path / "runa")
        bench.file("a.fit")
        bench.queue.put(Hint("runa", "", folder=True))

    bench.queue.at(1011.0, reset)
    bench.run(11.5)
    assert bench.scanner.taken == ["a.fit"]
    assert len(bench.observers) == 2


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


def polled(bench: Bench) -> Roster:
    runa = bench.roster.athletes[0]
    athlete = type(runa)(runa.athlete, runa.folder, runa.contacts, runa.options, "poll")
    return Roster(bench.roster.path, bench.roster.alerts, (), (athlete,), "2")


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
        bench.next_roster = RosterError("roster.toml: athlete 'runa': born = 19: too early")
        bench.roster.path.write_text("22")

    bench.queue.at(1030.0, edit)
    bench.queue.at(1100.0, lambda: bench.file("a.fit"))
    bench.queue.at(1100.0, lambda: bench.hint("a.fit", closed=True))
    bench.run(300)
    assert bench.scanner.rosters == []
    assert bench.scanner.taken == ["a.fit"]
    assert len(bench.scanner.notices) == 1
    assert "born = 19: too early" in bench.scanner.notices[0]
    assert bench.said == ["watching 1 folders", *bench.scanner.notices], "whoever reads along is told too"
    assert [line.split(" ", 1)[1] for line in bench.remarks] == ["1 file taken in"]
    state = read_state(bench.home)
    assert state is not None
    assert state.roster_error == "roster.toml: athlete 'runa': born = 19: too early"


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
    assert state.trouble == "board keeps failing"


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
