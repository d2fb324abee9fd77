"""When messages are sent, and what a failing delivery may cost."""

from datetime import UTC, datetime, timedelta
from threading import Event

from monitor.daemon.delivery_thread import LONGEST_WAIT_SECONDS, DeliveryThread
from tests.monitor.daemon.fakes import START, HandClock, Sent

PATIENCE_SECONDS = 20


def test_it_comes_again_when_the_delivery_said_but_reads_the_clock_every_minute() -> None:
    due: list[datetime | None] = [START + timedelta(seconds=12), START + timedelta(hours=8), START - timedelta(1), None]
    courier = DeliveryThread(lambda: Sent(due.pop(0)), lambda: START)
    assert courier.once() == 12
    assert courier.once() == LONGEST_WAIT_SECONDS
    assert 0 < (courier.once() or 0) < 1
    assert courier.once() is None


def test_a_failing_delivery_is_tried_again_after_growing_pauses() -> None:
    failures = [RuntimeError("store busy")] * 10

    def deliver() -> Sent:
        if failures:
            raise failures.pop()
        return Sent()

    courier = DeliveryThread(deliver, lambda: START, HandClock().monotonic)
    waits = [courier.once() for _ in range(10)]
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300]
    assert courier.failing == ("deliver",)
    assert courier.once() is None
    assert courier.failing == ()


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

    courier = DeliveryThread(deliver)
    courier.start()
    assert came[0].wait(PATIENCE_SECONDS)
    courier.call()
    assert came[1].wait(PATIENCE_SECONDS)
    courier.stop()
    assert not courier._thread.is_alive()


def test_a_delivery_that_hangs_does_not_keep_the_caller() -> None:
    hanging, go_on = Event(), Event()

    def deliver() -> Sent:
        hanging.set()
        go_on.wait(PATIENCE_SECONDS)
        return Sent()

    courier = DeliveryThread(deliver)
    courier.start()
    assert hanging.wait(PATIENCE_SECONDS)
    courier.call()
    courier.call()
    go_on.set()
    courier.stop()
    assert not courier._thread.is_alive()
