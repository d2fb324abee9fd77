"""`fallow serve`: the process that answers browsers; and `watch --serve`, which starts it and starts it again."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from types import FrameType
from typing import NoReturn

import h11
import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from monitor import logs, words
from monitor.clock import Clock
from monitor.errors import FallowError, WorkFailed, WrongUse
from monitor.home import Home
from monitor.pages.app import make_app
from monitor.pages.context import PageContext
from monitor.pages.links import reader_named
from monitor.roster import Page, Roster
from rules.limits import Limits

WRONG_ROSTER = 2  # exit status
KEEP_ALIVE_SECONDS = 15
"""An open page of a phone asks again within that, or opens anew."""
LEAVE_SECONDS = 5
"""How long those who are being answered may take when the process ends."""
HELD = "FALLOW_PAGES_HELD"
"""In the environment of a process that begins anew: the number of what it listens on."""
BROUGHT = "duckdb"
"""Loaded once a page was drawn; most of what a process at rest can do without."""
CAN_BEGIN_ANEW = os.name == "posix"
AT_ONCE_FROM_ONE_ADDRESS = 48
BACKLOG = 128
AGAIN_SECONDS = (1.0, 5.0, 30.0, 300.0)
OF_THE_DAEMON = ("NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID")
LONG_ENOUGH_SECONDS = 60.0
"""A process that ran so long is started again at once when it ends."""


def run_serve(
    home: Home, roster: Roster, clock: Clock, limits: Limits, say: Callable[[str], None], *, with_parent: bool = False
) -> bool:
    """Serve until SIGTERM or SIGINT; `with_parent`: or until standard input ends. WorkFailed for an address in use.

    True where it rests: nobody has asked for a while, and what was brought for those who did is best forgotten by
    beginning anew (`begin_anew`). Who asks meanwhile waits a moment; the address is held.
    """
    page = page_of(roster)
    listener, again = _held_listener(page) or (_listener(page), False)
    logs.open_log(home.made(), path=home.pages_log)
    try:
        app = make_app(home, roster, clock, limits)
        server = _server(app, page, limits)
        if with_parent:
            threading.Thread(target=_end_with_parent, args=(server,), name="fallow-parent", daemon=True).start()
        if not again:
            people = f", for {page.url}" if page.url else ""
            say(f"serving on {page.here}{people}")
            threading.Thread(target=_warm, args=(app.state.pages,), name="fallow-warm", daemon=True).start()
        logs.event("serve", athletes=len(roster.athletes), again=again)
        server.run(sockets=[listener.dup()])
        logs.event("serve_rest" if server.rests else "serve_end")
        if server.rests:
            os.set_inheritable(listener.fileno(), True)
            os.environ[HELD] = str(listener.detach())
        return server.rests
    finally:
        listener.close()
        logs.close_log()


def _warm(pages: PageContext) -> None:
    """What the first who asks would have to wait for."""
    import_module("monitor.pages.athlete")
    readers = [reader_named(name) for name in pages.links.all()]
    for reader in readers:
        if reader is not None and reader.kind == "athlete" and pages.roster.athlete(reader.id):
            with suppress(FallowError):
                pages.look(reader.id)
            return


def begin_anew(command: list[str]) -> NoReturn:
    """The same process with a new program in it, which listens on where this one did."""
    os.execv(command[0], command)


def _held_listener(page: Page) -> tuple[socket.socket, bool] | None:
    """What this process listened on before it began anew."""
    held = os.environ.pop(HELD, "")
    if not held.isdecimal():
        return None
    listener = socket.socket(fileno=int(held))
    if listener.getsockname()[:2] == (page.host, page.port):
        return listener, True
    listener.close()  # the roster names another place by now
    return None


def page_of(roster: Roster) -> Page:
    """The roster's [page]; WrongUse, with what to write, where it has none."""
    if roster.page is None:
        raise WrongUse(words.pages.NO_PAGE_SECTION.format(path=roster.path))
    return roster.page


def _listener(page: Page) -> socket.socket:
    family = socket.AF_INET6 if ":" in page.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((page.host, page.port))
        listener.listen(BACKLOG)
    except OSError as error:
        listener.close()
        why = error.strerror or type(error).__name__
        raise WorkFailed(words.pages.CANNOT_LISTEN.format(host=page.host, port=page.port, why=why)) from None
    return listener


def _server(app: object, page: Page, limits: Limits) -> _Server:
    return _Server(_config(app, page, limits), limits.pages.rest_seconds)


def _config(app: object, page: Page, limits: Limits) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # type: ignore[arg-type]  # an ASGI app, seen as an object to import it late
        loop="asyncio",
        http=_patient_for(limits.pages.head_seconds),
        ws="none",
        lifespan="off",
        interface="asgi3",
        log_config=None,
        access_log=False,
        proxy_headers=bool(page.url),  # of a proxy on this machine only
        forwarded_allow_ips="127.0.0.1,::1",
        server_header=False,
        date_header=False,
        limit_concurrency=limits.pages.connections,
        timeout_keep_alive=KEEP_ALIVE_SECONDS,
        timeout_graceful_shutdown=LEAVE_SECONDS,
        h11_max_incomplete_event_size=limits.pages.head_bytes,
    )


class _Server(uvicorn.Server):
    """Sleeps while nobody asks, and ends with status 0 when it is told to."""

    def __init__(self, config: uvicorn.Config, rest_seconds: float) -> None:
        super().__init__(config)
        self.rests = False
        self._rest_seconds = rest_seconds
        self._loop: asyncio.AbstractEventLoop | None = None
        self._over: asyncio.Event | None = None

    async def main_loop(self) -> None:
        self._loop, self._over = asyncio.get_running_loop(), asyncio.Event()
        before = -1
        while not self.should_exit:
            try:
                await asyncio.wait_for(self._over.wait(), self._rest_seconds)
            except TimeoutError:
                state = self.server_state
                quiet = not state.connections and not state.tasks and state.total_requests == before
                before = state.total_requests
                self.rests = quiet and CAN_BEGIN_ANEW and BROUGHT in sys.modules
                self.should_exit = self.should_exit or self.rests

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        self.force_exit = self.should_exit and sig == signal.SIGINT
        self.end()

    def end(self) -> None:
        self.should_exit = True
        if self._loop is not None and self._over is not None:
            self._loop.call_soon_threadsafe(self._over.set)


def _patient_for(seconds: float) -> type[H11Protocol]:
    """A protocol that ends connections on which a question takes so long, and a crowd of them from one address."""
    open_from: Counter[str] = Counter()

    class Bounded(H11Protocol):
        _waited: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # TCP only
            super().connection_made(transport)
            address = self.client[0] if self.client else ""
            open_from[address] += 1
            if open_from[address] > AT_ONCE_FROM_ONE_ADDRESS and address not in ("127.0.0.1", "::1"):
                transport.abort()
                return
            self._wait()

        def connection_lost(self, exc: Exception | None) -> None:
            address = self.client[0] if self.client else ""
            open_from[address] -= 1
            if open_from[address] <= 0:
                del open_from[address]
            self._enough()
            super().connection_lost(exc)

        def data_received(self, data: bytes) -> None:
            super().data_received(data)
            if self.conn.their_state is not h11.IDLE:
                self._enough()
            elif self._waited is None:
                self._wait()

        def _wait(self) -> None:
            self._waited = self.loop.call_later(seconds, self._too_slow)

        def _enough(self) -> None:
            if self._waited is not None:
                self._waited.cancel()
                self._waited = None

        def _too_slow(self) -> None:
            self._waited = None
            if self.transport is not None and not self.transport.is_closing():
                self.transport.abort()

    return Bounded


def _end_with_parent(server: _Server) -> None:
    """The parent's end closes the pipe, also when it is killed."""
    while sys.stdin.buffer.read(1024):
        pass
    server.end()


class ServeProcess:
    """`fallow serve` as a process beside the daemon, which it can in no way hold up; started again when it ends."""

    def __init__(self, command: list[str], *, sleep: Callable[[float], object] | None = None) -> None:
        self._command = command
        self._over = threading.Event()
        self._sleep = sleep or self._over.wait
        self._process: subprocess.Popen[bytes] | None = None
        self._turn = threading.Lock()
        self._thread = threading.Thread(target=self._run, name="fallow-serve", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        self._over.set()
        with self._turn:
            if self._process is not None and self._process.stdin is not None:
                self._process.stdin.close()
                self._process.terminate()
        self._thread.join(LEAVE_SECONDS + 2)

    def _run(self) -> None:
        failures = 0
        while not self._over.is_set():
            begun = time.monotonic()
            status = self._once()
            if self._over.is_set() or status == WRONG_ROSTER:  # a wrong roster is not mended by starting again
                return
            failures = 0 if time.monotonic() - begun > LONG_ENOUGH_SECONDS else failures + 1
            logs.event("serve_ended", status=status, failures=failures)
            self._sleep(AGAIN_SECONDS[min(failures, len(AGAIN_SECONDS) - 1)])

    def _once(self) -> int:
        environment = {name: value for name, value in os.environ.items() if name not in OF_THE_DAEMON}
        with self._turn:
            if self._over.is_set():
                return 0
            try:
                self._process = subprocess.Popen(self._command, stdin=subprocess.PIPE, env=environment)
            except OSError as error:
                logs.failure("serve", error)
                return 1
        return self._process.wait()
