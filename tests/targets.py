"""A local alert target for tests: records what it received, and misbehaves as asked."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from tests.waiting import PATIENCE_SECONDS


@dataclass(frozen=True)
class Received:
    """One message as it arrived, whether or not it was answered well."""

    path: str
    title: str
    body: str
    headers: dict[str, str]
    answered: int | str
    type: str = ""
    payload: dict[str, Any] = field(default_factory=dict)


@dataclass
class Target:
    """Answers with a status, or "hang" (says nothing), "refuse" (closes), "accept then hang" (a trickle)."""

    answer: int | str | Callable[[int], int | str] = 200
    received: list[Received] = field(default_factory=list)
    changed: threading.Condition = field(default_factory=threading.Condition)
    released: threading.Event = field(default_factory=threading.Event)
    port: int = 0
    more_headers: dict[str, str] = field(default_factory=dict)  # of every answer

    def url(self, rest: str = "/hook", scheme: str = "json", user: str = "") -> str:
        """An Apprise URL of this target."""
        return f"{scheme}://{user}127.0.0.1:{self.port}{rest}"

    @property
    def accepted(self) -> list[Received]:
        """Messages that were answered with success."""
        return [one for one in self.received if one.answered == 200]

    @property
    def titles(self) -> list[str]:
        return [one.title for one in self.accepted]

    def wait_for(self, count: int, seconds: float = PATIENCE_SECONDS) -> list[Received]:
        """Until so many messages were accepted; AssertionError when they do not come."""
        with self.changed:
            came = self.changed.wait_for(lambda: len(self.accepted) >= count, seconds)
        assert came, f"{len(self.accepted)} of {count} messages arrived: {self.titles}"
        return self.accepted

    def take(self, message: Received) -> None:
        with self.changed:
            self.received.append(message)
            self.changed.notify_all()


@contextmanager
def http_target(answer: int | str | Callable[[int], int | str] = 200, port: int = 0) -> Iterator[Target]:
    """A target that listens on a local port while the block runs."""
    target = Target(answer)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            _answer(self, target)

        def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the name is the base class's
            pass

    server = ThreadingHTTPServer(("127.0.0.1", port), Handler)
    server.daemon_threads = True
    target.port = server.server_port
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield target
    finally:
        target.released.set()
        server.shutdown()
        server.server_close()


def _answer(request: BaseHTTPRequestHandler, target: Target) -> None:
    payload = json.loads(request.rfile.read(int(request.headers["Content-Length"])))
    answer = target.answer(len(target.received)) if callable(target.answer) else target.answer
    message = Received(
        request.path,
        payload["title"],
        payload["message"],
        dict(request.headers),
        answer,
        payload.get("type", ""),
        payload,
    )
    target.take(message)
    if answer == "refuse":
        request.close_connection = True
        request.connection.close()
    elif answer == "hang":
        target.released.wait(60)
    elif answer == "accept then hang":
        request.send_response(200)
        request.end_headers()
        while not target.released.wait(0.2):  # a trickle that defeats a read timeout
            try:
                request.wfile.write(b".")
                request.wfile.flush()
            except OSError:
                return
    else:
        request.send_response(int(answer))
        for name, value in target.more_headers.items():
            request.send_header(name, value)
        request.send_header("Content-Length", "0")
        request.end_headers()
