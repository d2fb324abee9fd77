"""`fallow serve` as a process: slow and greedy clients, its end and its rest; and alerts that need none of it."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.home import Home
from monitor.pages.server import CAN_BEGIN_ANEW
from rules.limits import default_limits
from tests.homes import fallow
from tests.process.daemons import PROGRAM, Daemon, as_process, exports, home_of, run_file, until
from tests.process.pages import Site, served
from tests.targets import http_target
from tests.waiting import PATIENCE_SECONDS, alive, free_port

HEAD_SECONDS = 4
HEAD = "GET /icon.svg HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"


def _home(path: Path, url: str = "json://127.0.0.1:9/x") -> tuple[Path, int]:
    home, port = home_of(path, url), free_port()
    text = (home / "roster.toml").read_text("utf-8")
    (home / "roster.toml").write_text(f'[page]\nlisten = "127.0.0.1:{port}"\n{text}', "utf-8")
    return home, port


IMPATIENT = """
import sys
from rules import limits
from monitor.cli.main import run
short = limits.default_limits().overridden({"pages": %s})
limits.default_limits = lambda: short
run(sys.argv[1:])
"""


def _impatient(home: Path, **limits: float) -> Daemon:
    """`fallow serve` with other limits, so that nobody need wait for the usual ones."""
    return Daemon(home, command=(PROGRAM[0], "-c", IMPATIENT % limits, "serve", "--home", str(home)), anew=True)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, int]]:
    home, port = _home(tmp_path_factory.mktemp("serve"))
    daemon = _impatient(home, head_seconds=HEAD_SECONDS, form_seconds=2)
    try:
        assert daemon.ready() == f"serving on http://127.0.0.1:{port}"
        yield home, port
    finally:
        assert daemon.end() == (0, "")


def _status(port: int, path: str = "/icon.svg") -> int:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=PATIENCE_SECONDS) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        error.close()
        return error.code


def _said(port: int, request: str) -> bytes:
    """All that comes back until the other side closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_SECONDS) as one:
        one.sendall(request.encode("latin-1"))
        got = b""
        with contextlib.suppress(ConnectionResetError):
            while block := one.recv(65536):
                got += block
        return got


def test_who_never_ends_a_question_is_cut_off_and_nobody_waits_for_it(server: tuple[Path, int]) -> None:
    _, port = server
    begun = time.monotonic()
    slow = [socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_SECONDS) for _ in range(40)]
    for number, one in enumerate(slow):
        one.sendall(HEAD.format(port=port).encode() if number % 2 else b"G")
    assert _status(port) == 200
    for one in slow:
        with contextlib.suppress(ConnectionResetError):
            assert one.recv(100) == b""
        one.close()
    assert time.monotonic() - begun > HEAD_SECONDS / 2, "and honest ones have their time"


def test_a_body_that_never_comes_is_given_up(server: tuple[Path, int]) -> None:
    home, port = server
    link = fallow("link", "runa", home=home).out.split("/k/")[1].split()[0]
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/k/{link}", timeout=PATIENCE_SECONDS) as answer:
        cookie = answer.headers["set-cookie"].split(";")[0]
    head = (
        f"POST /checkin HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\nCookie: {cookie}\r\n"
        "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\nConnection: close\r\n\r\ntoken="
    )
    assert b" 408 " in _said(port, head).splitlines()[0]


@pytest.mark.parametrize(
    ("request_text", "status"),
    [
        ("GARBAGE\r\n\r\n", b"400"),
        ("GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\nConnection: close\r\n\r\n", b"4"),
        ("GET / HTTP/1.1\r\nHost: {host}\r\n" + "X: " + "a" * 20_000 + "\r\n\r\n", b"431"),
        ("GET / HTTP/1.1\r\nHost: {host}\r\n" + "".join(f"x-{n}: 1\r\n" for n in range(100)) + "\r\n", b"431"),
        ("POST /checkin HTTP/1.1\r\nHost: {host}\r\nContent-Length: 99999999999\r\n\r\n", b"413"),
        ("GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\nConnection: close\r\n\r\n", b"421"),
        ("GET / HTTP/1.0\r\n\r\n", b"421"),
    ],
)
def test_odd_questions_are_refused(server: tuple[Path, int], request_text: str, status: bytes) -> None:
    _, port = server
    answer = _said(port, request_text.replace("{host}", f"127.0.0.1:{port}"))
    assert answer.split(b" ")[1].startswith(status)
    assert _status(port) == 200


def test_it_says_nothing_of_what_it_is_made_of(server: tuple[Path, int]) -> None:
    _, port = server
    answer = _said(port, HEAD.format(port=port) + "Connection: close\r\n\r\n").lower()
    assert b"uvicorn" not in answer
    assert b"starlette" not in answer
    assert b"python" not in answer


def test_an_address_in_use_is_one_line(server: tuple[Path, int]) -> None:
    home, port = server
    ran = as_process("serve", home=home)
    assert ran.returncode == 1
    assert f"127.0.0.1:{port}: cannot be listened on" in ran.stderr
    assert len(ran.stderr.strip().splitlines()) == 1


@pytest.mark.skipif(not CAN_BEGIN_ANEW, reason="no process begins anew here")
def test_at_rest_it_gives_its_memory_back_and_answers_on(tmp_path: Path) -> None:
    home, port = _home(tmp_path)
    daemon = _impatient(home, rest_seconds=1)
    try:
        assert daemon.ready().startswith("serving on")
        log = Home(home).pages_log
        until(lambda: log.exists() and "again=True" in log.read_text("utf-8"), "it has begun anew")
        assert _status(port) == 200
        assert _status(port, "/") == 403
        assert daemon.end() == (0, "")
    finally:
        if daemon.process.poll() is None:
            daemon.end(signal.SIGKILL)


def _page_process(site: Site) -> int:
    found: list[int] = []

    def one() -> bool:  # what the daemon starts else has its own name until it has become another program
        told = subprocess.run(
            ["pgrep", "-P", str(site.daemon.process.pid), "-f", "serve"], capture_output=True, text=True, check=False
        )
        found[:] = [int(line) for line in told.stdout.split()]
        return len(found) == 1

    until(one, "one process serves the pages")
    return found[0]


def test_alerts_arrive_while_the_pages_are_killed_and_they_come_back_by_themselves(tmp_path: Path) -> None:
    with served(tmp_path) as site:
        site.told("own", "stairs")
        first = _page_process(site)
        os.kill(first, signal.SIGSTOP)  # hangs
        (site.folder / "first.fit").write_bytes(run_file(30))
        site.told("own", "STOP")
        os.kill(first, signal.SIGKILL)  # dies
        (site.folder / "second.fit").write_bytes(run_file(4, 26))
        site.told("own", "26 min")
        until(lambda: alive(first) is False and _comes_back(site), "the pages are served again")


def _comes_back(site: Site) -> bool:
    with contextlib.suppress(OSError):
        return _status(int(site.url.rpartition(":")[2])) == 200
    return False


def test_alerts_arrive_while_the_pages_are_filled_with_questions(tmp_path: Path) -> None:
    with served(tmp_path) as site:
        site.told("own", "stairs")
        port = int(site.url.rpartition(":")[2])
        crowd = [socket.create_connection(("127.0.0.1", port)) for _ in range(default_limits().pages.connections + 20)]
        for one in crowd:
            with contextlib.suppress(OSError):  # turned away already
                one.sendall(b"GET / HTTP/1.1\r\n")
        (site.folder / "run.fit").write_bytes(run_file(4))
        site.told("own", "STOP")
        for one in crowd:
            one.close()
        until(lambda: _comes_back(site), "and the next who asks is answered")


def test_the_pages_end_with_the_daemon_however_it_ends(tmp_path: Path) -> None:
    for number, sign in enumerate((signal.SIGTERM, signal.SIGKILL)):
        with served(tmp_path / str(number)) as site:
            page = _page_process(site)
            site.daemon.end(sign)
            until(lambda page=page: not alive(page), "it ends too")


def test_a_place_that_is_taken_keeps_no_alert_from_its_reader(tmp_path: Path) -> None:
    with http_target() as target, socket.create_server(("127.0.0.1", 0)) as taken:
        home = home_of(tmp_path, target.url())
        port = taken.getsockname()[1]
        text = (home / "roster.toml").read_text("utf-8")
        (home / "roster.toml").write_text(f'[page]\nlisten = "127.0.0.1:{port}"\n{text}', "utf-8")
        daemon = Daemon(home, command=("watch", "--serve"))
        try:
            assert daemon.ready() == "watching 1 folders"
            (exports(home) / "run.fit").write_bytes(run_file(4))
            target.wait_for(1)
            until(lambda: "serve_ended" in Home(home).log.read_text("utf-8"), "the pages were tried")
        finally:
            status, said = daemon.end()
        assert status == 0
        assert "cannot be listened on" in said
