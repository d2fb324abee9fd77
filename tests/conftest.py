from __future__ import annotations

import gc
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import nullcontext

import pytest
from hypothesis import HealthCheck, settings

from monitor.home import Home
from tests import one_engine
from tests.boards import make_board_home
from tests.process import warm

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and threading.current_thread() is threading.main_thread():
    signal.signal(signal.SIGINT, signal.default_int_handler)  # as a shell leaves it in what runs in its background
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # or each process that a test starts would compile all of the program
SAME_DRAWS = "CI" in os.environ
"""Each run of CI says what the one before it said; by hand examples are drawn anew each time."""
settings.register_profile(
    "fallow", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=SAME_DRAWS
)  # a busy machine is no failure
settings.load_profile("fallow")
if SAME_DRAWS:
    warm.import_program()  # constants of what is loaded are among what is drawn

LONGEST = {"test_any_order.py", "test_real_recordings.py"}
"""One worker has each of them for half a minute."""
WORK_BESIDE_WAITING = 8
STORE_IS_TRIED = {"store", "test_newer_store.py", "test_damaged_store.py", "test_rebuilding.py"}
STORE_IS_TRIED |= {"test_other_systems.py"}
one_engine.use()


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Nothing of what is collected is garbage, and looking for it would take a fifth of the time."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: tests with real processes wait more than they work."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What takes longest goes first; then, to each file of real processes, which mostly wait, some that only work.

    So neither is any of it left for the end, nor do all workers wait at once. Of what only works the scenarios, which
    take seconds each, go before the rest, so that what is left for the end is small.
    """
    files = list(dict.fromkeys(item.path for item in items))
    first = [path for path in files if path.name in LONGEST]
    waiting = [path for path in files if "process" in path.parts]
    working = [path for path in files if path not in {*first, *waiting}]
    working.sort(key=lambda path: "scenarios" not in path.parts)
    place = dict.fromkeys(first, -1.0)
    place |= {path: float(number * WORK_BESIDE_WAITING) for number, path in enumerate(waiting)}
    place |= {path: number + 0.5 for number, path in enumerate(working)}
    items.sort(key=lambda item: place[item.path])


@pytest.fixture(autouse=True)
def _where_the_store_is_tried_it_is_opened_as_ever(request: pytest.FixtureRequest) -> Iterator[None]:
    with one_engine.as_ever() if STORE_IS_TRIED & set(request.path.parts) else nullcontext():
        yield


@pytest.fixture(scope="session")
def board_home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """A home with its board; read it, and copy it before changing anything."""
    return make_board_home(tmp_path_factory.mktemp("board") / "home")
