"""Files as they come: known, growing, in bursts, never heard of."""

from pathlib import Path

import pytest

from tests.monitor.daemon.loop_bench import Bench


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
