"""Where the demo's alerts arrive: a small HTTP target on 127.0.0.1 that keeps what it is sent."""

from __future__ import annotations

import json
import threading
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from types import TracebackType
from typing import Any

MOST_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class Message:
    """An alert as it was received; `to` is the last part of the path it was sent to."""

    to: str
    title: str
    body: str


class Target:
    """Listens while it is entered. `taken` hands over what has arrived since it was last asked."""

    def __init__(self) -> None:
        self._messages: list[Message] = []
        self._lock = threading.Lock()
        target = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                length = int(self.headers.get("Content-Length", 0))
                target._keep(self.path, self.rfile.read(min(length, MOST_BYTES)))
                self.send_response(204)
                self.end_headers()

            def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the name it has there
                """Say nothing: alerts hold health values."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)

    @property
    def port(self) -> int:
        return int(self._server.server_address[1])

    def taken(self) -> tuple[Message, ...]:
        with self._lock:
            messages, self._messages = tuple(self._messages), []
        return messages

    def __enter__(self) -> Target:
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def _keep(self, path: str, body: bytes) -> None:
        said = json.loads(body)
        message = Message(path.rpartition("/")[2], str(said.get("title", "")), str(said.get("message", "")))
        with self._lock:
            self._messages.append(message)
