"""The service manager's protocol, against a socket that plays the manager."""

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.daemon import service_manager
from monitor.daemon.service_manager import Service
from tests.monitor.daemon.fakes import HandClock
from tests.waiting import PATIENCE_SECONDS


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.settimeout(PATIENCE_SECONDS)
        yield listening


def address(manager: socket.socket) -> str:
    return str(manager.getsockname())


def test_it_says_ready_and_stopping_where_it_is_asked_to(manager: socket.socket) -> None:
    service = Service({"NOTIFY_SOCKET": address(manager)})
    service.ready("watching 3 folders")
    assert manager.recv(100) == b"READY=1\nSTATUS=watching 3 folders"
    service.stopping()
    assert manager.recv(100) == b"STOPPING=1"


def test_it_says_nothing_where_no_manager_asks() -> None:
    service = Service({})
    service.ready("watching 3 folders")
    service.stopping()


def test_a_manager_that_is_gone_stops_nothing(tmp_path: Path) -> None:
    Service({"NOTIFY_SOCKET": str(tmp_path / "gone")}).ready("watching 3 folders")


def test_a_manager_that_does_not_read_does_not_hold_the_daemon_up(
    manager: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(service_manager, "SEND_SECONDS", 0.001)
    service = Service({"NOTIFY_SOCKET": address(manager)})
    for _ in range(500):  # more than the queue between the two holds
        service.stopping()
    assert manager.recv(100) == b"STOPPING=1"  # what the queue held is there, the rest was given up


def test_names_of_abstract_sockets_are_understood() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(f"\0fallow-test-{os.getpid()}")
        listening.settimeout(PATIENCE_SECONDS)
        Service({"NOTIFY_SOCKET": f"@fallow-test-{os.getpid()}"}).stopping()
        assert listening.recv(100) == b"STOPPING=1"


def test_it_is_alive_only_while_the_loop_keeps_its_promise(manager: socket.socket) -> None:
    clock = HandClock()
    service = Service({"NOTIFY_SOCKET": address(manager)}, clock.monotonic)
    service.beat(90)
    clock.at += 89
    assert service.pulse_once()
    assert manager.recv(100) == b"WATCHDOG=1"
    clock.at += 2
    assert not service.pulse_once()
    service.beat(90)
    assert service.pulse_once()


def test_a_watched_service_pulses_by_itself(manager: socket.socket) -> None:
    service = Service({"NOTIFY_SOCKET": address(manager), "WATCHDOG_USEC": "30000", "WATCHDOG_PID": str(os.getpid())})
    service.beat(1000)
    service.ready("watching 3 folders")
    assert manager.recv(100).startswith(b"READY=1")
    assert manager.recv(100) == b"WATCHDOG=1"
    assert manager.recv(100) == b"WATCHDOG=1"
    service.stopping()


@pytest.mark.parametrize(
    "said", [{}, {"WATCHDOG_USEC": "0"}, {"WATCHDOG_USEC": "x"}, {"WATCHDOG_USEC": "9", "WATCHDOG_PID": "1"}]
)
def test_a_service_that_nobody_watches_has_no_pulse(manager: socket.socket, said: dict[str, str]) -> None:
    service = Service({"NOTIFY_SOCKET": address(manager), **said})
    service.ready("x")
    assert service._pulse is None
