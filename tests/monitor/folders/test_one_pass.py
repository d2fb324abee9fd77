"""The single look of `scan`, with a second one for what is young."""

import os
from collections.abc import Callable
from pathlib import Path

from monitor.folders.listing import settled

NOW = 1_790_000_000.0


def write(path: Path, content: bytes = b"x", age: float = 100.0) -> None:
    path.write_bytes(content)
    os.utime(path, (NOW - age, NOW - age))


def never(seconds: float) -> None:
    raise AssertionError(f"waited {seconds} s for nothing")


class Meanwhile:
    """Stands for the second that passes: does something to the folder and keeps how long was waited."""

    def __init__(self, act: Callable[[], None]) -> None:
        self.act, self.waits = act, list[float]()

    def __call__(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.act()


def test_old_files_are_settled_without_waiting_and_known_ones_left_out(tmp_path: Path) -> None:
    write(tmp_path / "a.fit")
    write(tmp_path / "b.fit")
    status = (tmp_path / "a.fit").stat()
    ready, waiting, listing = settled(tmp_path, {"a.fit": (1, status.st_mtime_ns)}, never, lambda: NOW)
    assert [seen.relative for seen in ready] == ["b.fit"]
    assert waiting == []
    assert len(listing.files) == 2


def test_young_files_are_looked_at_again_once_after_the_settle_second(tmp_path: Path) -> None:
    for name in ("quiet.fit", "growing.fit", "vanishing.fit", "future.fit"):
        write(tmp_path / name, age=-60 if name == "future.fit" else 0.2)
    write(tmp_path / "old.fit")

    def act() -> None:
        write(tmp_path / "growing.fit", b"longer", age=-0.5)
        (tmp_path / "vanishing.fit").unlink()

    meanwhile = Meanwhile(act)
    ready, waiting, _ = settled(tmp_path, {}, meanwhile, lambda: NOW)
    assert [seen.relative for seen in ready] == ["future.fit", "old.fit", "quiet.fit"]
    assert [seen.relative for seen in waiting] == ["growing.fit"]
    assert meanwhile.waits == [1.0]


def test_a_download_under_way_waits_and_one_given_up_does_not(tmp_path: Path) -> None:
    write(tmp_path / "a.fit")
    write(tmp_path / "a.fit.part", age=3)
    write(tmp_path / "b.fit")
    write(tmp_path / "b.fit.part", age=3600)
    ready, waiting, _ = settled(tmp_path, {}, never, lambda: NOW)
    assert [seen.relative for seen in ready] == ["b.fit"]
    assert [seen.relative for seen in waiting] == ["a.fit"]


def test_a_missing_root_is_said_and_nothing_is_ready(tmp_path: Path) -> None:
    ready, waiting, listing = settled(tmp_path / "gone", {}, never, lambda: NOW)
    assert (ready, waiting) == ([], [])
    assert listing.missing == "the folder is not there"
