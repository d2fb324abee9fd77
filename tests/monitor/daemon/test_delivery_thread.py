"""When messages are sent, and what a failing delivery may cost."""

from datetime import UTC, datetime, timedelta
from threading import Event

from monitor.daemon.delivery_thread import LONGEST_WAIT_SECONDS, DeliveryThread
from tests.monitor.daemon.fakes import START, HandClock, Sent
from tests.waiting import PATIENCE_SECONDS


def test_it_comes_again_when_the_delivery_said_but_reads_the_clock_every_minute() -> None:
    due: list[datetime | None] = [START + timedelta(seconds=12), START + timedelta(hours=8), START - timedelta(1), None]
    delivery_loop = DeliveryThread(lambda: Sent(due.pop(0)), lambda: START)
    assert delivery_loop.once() == 12
    assert delivery_loop.once() == LONGEST_WAIT_SECONDS
    assert 0 < (delivery_loop.once() or 0) < 1
    assert delivery_loop.once() is None


def test_a_failing_delivery_is_tried_again_after_growing_pauses() -> None:
    failures = [RuntimeError("store busy")] * 10

    def deliver() -> Sent:
        if failures:
            raise failures.pop()
        return Sent()

    delivery_loop = DeliveryThread(deliver, lambda: START, HandClock().monotonic)
    waits = [delivery_loop.once() for _ in range(10)]
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300]
    assert delivery_loop.failing == ("deliver",)
    assert delivery_loop.once() is None
    assert delivery_loop.failing == ()


def test_a_library_s_panic_does_not_end_it() -> None:
    class Panic(BaseException):
        pass

    def deliver() -> Sent:
        raise Panic

    assert DeliveryThread(deliver).once() == 1


def test_a_call_is_answered_at_once_and_a_stop_ends_the_thread() -> None:
    came = [Event(), Event()]
    waiting = iter(came)

    def deliver() -> Sent:
        next(waiting).set()
        return Sent(datetime.now(UTC) + timedelta(hours=1))

    delivery_loop = DeliveryThread(deliver)
    delivery_loop.start()
    assert came[0].wait(PATIENCE_SECONDS)
    delivery_loop.call()
    assert came[1].wait(PATIENCE_SECONDS)
    delivery_loop.stop()
    assert not delivery_loop._thread.is_alive()


def test_a_delivery_that_hangs_does_not_keep_the_caller() -> None:
    hanging, go_on = Event(), Event()

    def deliver() -> Sent:
        hanging.set()
        go_on.wait(PATIENCE_SECONDS)
        return Sent()

    delivery_loop = DeliveryThread(deliver)
    delivery_loop.start()
    assert hanging.wait(PATIENCE_SECONDS)
    delivery_loop.call()
    delivery_loop.call()
    go_on.set()
    delivery_loop.stop()
    assert not delivery_loop._thread.is_alive()
