"""Real events of real folders, awaited and never slept for."""

import errno
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty, SimpleQueue

import pytest
from watchdog.events import DirCreatedEvent, FileClosedEvent, FileMovedEvent
from watchdog.observers.api import BaseObserver

from monitor import words
from monitor.folders.events import Hint, Watching, _Handler, make_observer
from monitor.folders.listing import root_identity
from tests.waiting import PATIENCE_SECONDS


class Ears:
    """The queue of hints, with the waiting that tests need."""

    def __init__(self) -> None:
        self.queue: SimpleQueue[Hint] = SimpleQueue()
        self.heard: list[Hint] = []

    def put(self, hint: Hint, /) -> None:
        self.queue.put(hint)

    def until(self, wanted: Callable[[Hint], bool]) -> Hint:
        while True:
            try:
                hint = self.queue.get(timeout=PATIENCE_SECONDS)
            except Empty:
                raise AssertionError(f"not heard; heard were {self.heard}") from None
            self.heard.append(hint)
            if wanted(hint):
                return hint


@pytest.fixture
def ears() -> Ears:
    return Ears()


@pytest.fixture
def watching(ears: Ears) -> Iterator[Watching]:
    watching = Watching(ears)
    yield watching
    watching.close()


def arm(watching: Watching, root: Path) -> bool:
    return watching.tend("runa", root, root_identity(root))


def test_a_file_written_and_closed_is_heard_as_closed(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    assert arm(watching, tmp_path)
    (tmp_path / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed) == Hint("runa", "run.fit", closed=True)


def test_a_file_moved_in_from_outside_is_heard_as_whole(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    root = tmp_path / "root"
    root.mkdir()
    (tmp_path / "outside").write_bytes(b"x")
    arm(watching, root)
    (tmp_path / "outside").rename(root / "run.fit")
    assert ears.until(lambda hint: hint.closed) == Hint("runa", "run.fit", closed=True)


def test_a_file_renamed_within_is_heard_under_its_new_name(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    (tmp_path / "run.fit.part").write_bytes(b"x")
    arm(watching, tmp_path)
    (tmp_path / "run.fit.part").rename(tmp_path / "run.fit")
    assert ears.until(lambda hint: hint.closed).relative == "run.fit"


def test_a_folder_moved_in_full_is_heard_as_a_folder(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    root, outside = tmp_path / "root", tmp_path / "outside"
    root.mkdir()
    (outside / "deep").mkdir(parents=True)
    (outside / "deep" / "run.fit").write_bytes(b"x")
    arm(watching, root)
    outside.rename(root / "october")
    assert ears.until(lambda hint: hint.folder).relative == "october"


def test_a_file_written_later_in_a_new_subfolder_is_heard(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    arm(watching, tmp_path)
    (tmp_path / "new").mkdir()
    ears.until(lambda hint: hint.folder and hint.relative == "new")
    (tmp_path / "new" / "run.fit").write_bytes(b"x")
    ears.until(lambda hint: hint.relative == "new/run.fit")


def test_odd_names_are_heard_as_they_are(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    arm(watching, tmp_path)
    (tmp_path / "two\nlines <b>.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed).relative == "two\nlines <b>.fit"


def test_tending_twice_changes_nothing(tmp_path: Path, watching: Watching) -> None:
    assert arm(watching, tmp_path)
    assert not arm(watching, tmp_path)
    assert watching.polled == {}


def test_a_root_made_anew_under_the_same_path_is_watched_again(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    root = tmp_path / "root"
    root.mkdir()
    arm(watching, root)
    shutil.rmtree(root)
    ears.until(lambda hint: hint.relative == "")
    assert not watching.tend("runa", root, None)
    root.mkdir()
    assert arm(watching, root)
    (root / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed).relative == "run.fit"


def test_another_folder_in_its_place_is_watched_anew(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    root = tmp_path / "root"
    root.mkdir()
    arm(watching, root)
    root.rename(tmp_path / "old")
    root.mkdir()
    assert arm(watching, root)
    (tmp_path / "old" / "stale.fit").write_bytes(b"x")
    (root / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed).relative == "run.fit"


def test_a_dead_observer_is_started_anew(tmp_path: Path, ears: Ears) -> None:
    made: list[BaseObserver] = []

    def observer() -> BaseObserver:
        made.append(make_observer())
        return made[-1]

    watching = Watching(ears, observer)
    arm(watching, tmp_path)
    made[0].stop()
    made[0].join(PATIENCE_SECONDS)
    assert arm(watching, tmp_path)
    (tmp_path / "run.fit").write_bytes(b"x")
    ears.until(lambda hint: hint.closed)
    watching.close()


@pytest.mark.skipif(sys.platform != "linux", reason="counts what only Linux has few of")
def test_many_folders_take_one_instance_of_the_kernels(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    for number in range(20):
        (tmp_path / f"a{number}" / "deep").mkdir(parents=True)
    before = _instances()
    for number in range(20):
        root = tmp_path / f"a{number}"
        assert watching.tend(f"a{number}", root, root_identity(root))
    assert _instances() == before + 1
    (tmp_path / "a19" / "deep" / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed) == Hint("a19", "deep/run.fit", closed=True)


def _instances() -> int:
    opened = [str(one.readlink()) for one in Path("/proc/self/fd").iterdir() if one.is_symlink()]
    return opened.count("anon_inode:inotify")


def test_a_folder_given_up_leaves_the_others_heard(tmp_path: Path, watching: Watching, ears: Ears) -> None:
    for name in ("runa", "elin"):
        (tmp_path / name).mkdir()
        watching.tend(name, tmp_path / name, root_identity(tmp_path / name))
    watching.drop("elin")
    (tmp_path / "elin" / "run.fit").write_bytes(b"x")
    (tmp_path / "runa" / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed) == Hint("runa", "run.fit", closed=True)
    assert {hint.athlete for hint in ears.heard} == {"runa"}
    assert not watching.tend("runa", tmp_path / "runa", root_identity(tmp_path / "runa"))


@pytest.mark.parametrize("which", ["_inotify_fd", "emitters"])
@pytest.mark.skipif(sys.platform != "linux", reason="ends a thread that only Linux's observer has")
def test_a_thread_that_died_below_the_observer_is_noticed(tmp_path: Path, ears: Ears, which: str) -> None:
    made: list[BaseObserver] = []

    def observer() -> BaseObserver:
        made.append(make_observer())
        return made[-1]

    watching = Watching(ears, observer)
    arm(watching, tmp_path)
    dying = next(iter(made[0].emitters)) if which == "emitters" else made[0]._inotify_fd
    dying.stop()
    dying.join(PATIENCE_SECONDS)
    assert arm(watching, tmp_path)
    assert not arm(watching, tmp_path)
    (tmp_path / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed).relative == "run.fit"
    watching.close()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EMFILE])
def test_a_system_out_of_watches_falls_back_to_polling_once(tmp_path: Path, ears: Ears, number: int) -> None:
    tries = []

    def observer() -> BaseObserver:
        tries.append(1)
        raise OSError(number, "limit reached")

    watching = Watching(ears, observer)
    assert not watching.polls("runa", tmp_path, "events")
    assert watching.tend("runa", tmp_path, root_identity(tmp_path))
    assert not watching.tend("runa", tmp_path, root_identity(tmp_path))
    assert watching.polls("runa", tmp_path, "events")
    assert watching.polled == {"runa": words.files.WATCHES_USED_UP}
    assert len(tries) == 1


def test_the_roster_may_choose_polling(tmp_path: Path, watching: Watching) -> None:
    assert watching.polls("runa", tmp_path, "poll")
    assert not arm(watching, tmp_path)
    assert watching.polled == {"runa": "the roster says so"}
    watching.drop("runa")
    assert not watching.polls("runa", tmp_path, "events")
    assert arm(watching, tmp_path)
    assert watching.polled == {}


def test_a_handler_never_raises_and_hears_nothing_outside_its_root(ears: Ears) -> None:
    class Broken:
        def put(self, hint: Hint, /) -> None:
            raise RuntimeError("full")

    _Handler(Broken(), "runa", Path("/w/runa")).dispatch(FileClosedEvent("/w/runa/a.fit"))
    handler = _Handler(ears, "runa", Path("/w/runa"))
    handler.dispatch(FileClosedEvent("/w/runaway/a.fit"))
    handler.dispatch(FileMovedEvent("/w/runa/a.fit", ""))
    handler.dispatch(DirCreatedEvent(b"/w/runa/october"))
    assert ears.queue.get_nowait() == Hint("runa", "october", folder=True)
    assert ears.queue.empty()


def test_a_root_heard_to_be_deleted_is_armed_anew_even_if_the_new_one_has_its_number(
    tmp_path: Path, watching: Watching, ears: Ears
) -> None:
    arm(watching, tmp_path)
    watching.doubt("runa")
    assert arm(watching, tmp_path)
    (tmp_path / "run.fit").write_bytes(b"x")
    assert ears.until(lambda hint: hint.closed).relative == "run.fit"
