import threading
import time

import pytest

from monitor.daemon.scanner import ScanPriority
from tests.waiting import PATIENCE_SECONDS


def test_who_gives_way_goes_on_when_the_way_is_free() -> None:
    way, went = ScanPriority(), threading.Event()
    give = way.giver(PATIENCE_SECONDS)
    give()
    drawing = threading.Thread(target=lambda: (give(), went.set()))
    with way.taken():
        drawing.start()
        assert not went.wait(0.05)
    assert went.wait(PATIENCE_SECONDS)
    drawing.join()


def test_one_task_waits_only_so_long_in_all() -> None:
    way = ScanPriority()
    give = way.giver(0.5)
    with way.taken():
        give()
        began = time.process_time()
        for _ in range(1000):  # were each wait that long, the test would not end in time
            give()
    assert time.process_time() - began < PATIENCE_SECONDS  # nor does it burn the time


def test_the_way_is_free_again_after_a_failure() -> None:
    way = ScanPriority()
    with pytest.raises(OSError, match="torn"), way.taken():
        raise OSError("torn")
    free = threading.Thread(target=way.giver(float("inf")), daemon=True)
    free.start()
    free.join(PATIENCE_SECONDS)
    assert not free.is_alive()
