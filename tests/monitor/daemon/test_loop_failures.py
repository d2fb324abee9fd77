"""What fails: single files, whole passes, the disk, the store."""

import pytest

from monitor import logs, words
from monitor.daemon.daemon_state import read_state
from monitor.daemon.loop import LoopTrouble
from monitor.errors import WorkFailed
from monitor.store.database import StoreBroken, StoreFailed, StoreFull, StoreNewer
from tests.monitor.daemon.loop_bench import Bench, polled


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
    assert state.trouble == 'files_not_stored {"failing": 1}'
    assert words.of_stored(state.trouble) == "1 files cannot be stored"
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
    assert words.of_stored(state.trouble or "") == "pass keeps failing (the disk is full)"
    bench.run(3600)
    assert sorted(bench.scanner.taken) == ["a.fit", "b.fit", "c.fit"]


def test_a_full_disk_is_blamed_on_no_file_and_told_once_when_there_is_space(bench: Bench) -> None:
    logs.open_log(bench.home)
    bench.file("a.fit")
    bench.scanner.fail = {step: [StoreFull("full")] * 8 for step in ("take", "notice")}
    bench.run(500)
    logs.close_log()
    assert bench.scanner.taken == ["a.fit"]
    assert bench.scanner.notices == [words.doctor.DISK_FULL]
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
    assert words.of_stored(state.trouble or "") == "pass keeps failing (the disk is full)"
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


def test_a_store_that_breaks_under_the_courier_or_the_board_is_begun_anew_as_well(bench: Bench) -> None:
    """They work in threads of their own, and nothing else may read that part of the store for an hour."""
    bench.file("a.fit")
    bench.queue.at(1020.0, lambda: bench.queue.put(LoopTrouble(StoreBroken("damaged", 7))))
    bench.run(60)
    assert bench.scanner.rebuilt == 1
    assert bench.scanner.taken == ["a.fit", "a.fit"]
    assert bench.scanner.notices == [words.doctor.STORE_REBUILT]


def test_a_store_that_cannot_be_set_aside_yet_is_tried_again(bench: Bench) -> None:
    bench.scanner.fail = {"timers": [StoreBroken("damaged")], "rebuild": [WorkFailed("a message is being sent")] * 3}
    bench.file("a.fit")
    bench.run(120)
    assert bench.scanner.rebuilt == 1


def test_a_store_of_a_newer_program_ends_the_daemon_with_its_line(bench: Bench) -> None:
    bench.scanner.fail = {"known": [StoreNewer("written by a newer fallow")] * 9}
    with pytest.raises(StoreNewer, match="newer"):
        bench.run(60)


def test_other_trouble_of_the_store_sets_nothing_aside_and_is_said(bench: Bench) -> None:
    bench.scanner.fail = {"take": [StoreFailed("fallow.duckdb: IO Error: Too many open files")] * 3}
    bench.file("a.fit")
    bench.run(5)
    state = read_state(bench.home)
    assert state is not None
    assert words.of_stored(state.trouble or "") == "pass keeps failing (fallow.duckdb: IO Error: Too many open files)"
    bench.run(600)
    assert bench.scanner.rebuilt == 0
    assert bench.scanner.taken == ["a.fit"]
