"""How much, how long and how often: each limit of the pages at its border, with no server and no store.

The numbers are those of `rules/limits.toml`, written down once more: a limit that is changed is changed here too.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any, cast
from unittest import mock

import pytest
from starlette.exceptions import HTTPException
from starlette.types import Message
from uvicorn.server import ServerState

from monitor.pages import server as serving
from monitor.pages.guard import RequestGuard, WrongLinks
from monitor.pages.server import _config, _server
from monitor.roster import Page
from rules.limits import default_limits

PAGE = Page("127.0.0.1", 8722, "")
HOST = (b"host", f"{PAGE.host}:{PAGE.port}".encode())


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def guard(clock: Clock) -> RequestGuard:
    return RequestGuard(nothing, lambda: PAGE, default_limits(), clock)


async def nothing(*_: Any) -> None:
    """An app that does nothing."""


async def any_app(scope: Any, receive: Any, send: Any) -> None:
    """The same, as the server knows one."""


def scope(method: str = "GET", path: str = "/", *headers: tuple[bytes, bytes]) -> dict[str, Any]:
    return {"type": "http", "method": method, "path": path, "headers": [HOST, *headers], "client": ("192.0.2.1", 1)}


def status(guard: RequestGuard, asked: dict[str, Any]) -> int:
    refused = guard._refused(asked, PAGE)
    return 200 if refused is None else refused[0]


@pytest.mark.parametrize(("count", "answer"), [(63, 200), (64, 200), (65, 431)])
def test_pages_headers(guard: RequestGuard, count: int, answer: int) -> None:
    assert status(guard, scope("GET", "/", *[(b"x", b"")] * (count - 1))) == answer


@pytest.mark.parametrize(("letters", "answer"), [(16383, 200), (16384, 200), (16385, 431)])
def test_pages_head_bytes(guard: RequestGuard, letters: int, answer: int) -> None:
    rest = letters - len(HOST[0]) - len(HOST[1]) - 1
    assert status(guard, scope("GET", "/", (b"x", b"y" * rest))) == answer


@pytest.mark.parametrize(
    ("path", "size", "answer"),
    [
        ("/checkin", 65536, 200),
        ("/checkin", 65537, 413),
        ("/received", 201326592, 200),
        ("/received", 201326593, 413),
    ],
)
def test_pages_form_bytes_and_pages_upload_bytes(guard: RequestGuard, path: str, size: int, answer: int) -> None:
    assert status(guard, scope("POST", path, (b"content-length", str(size).encode()))) == answer


def test_what_only_reads_sends_nothing(guard: RequestGuard) -> None:
    assert status(guard, scope("GET", "/", (b"content-length", b"0"))) == 200
    assert status(guard, scope("GET", "/", (b"content-length", b"1"))) == 413
    assert status(guard, scope("POST", "/checkin", (b"content-length", b"-1"))) == 413


@pytest.mark.parametrize(("length", "answer"), [(512, 200), (513, 414)])
def test_a_path_has_512_letters_at_most(guard: RequestGuard, length: int, answer: int) -> None:
    assert status(guard, scope("GET", "/" * length)) == answer


COOKIE = (b"cookie", b"fallow=abc")


@pytest.mark.parametrize(
    ("asked", "most"),
    [
        (scope("GET", "/", COOKIE), 120),  # pages.requests_a_minute
        (scope("POST", "/checkin", COOKIE), 120),  # pages.writes_a_minute
        (scope("POST", "/received", COOKIE), 10),  # pages.uploads_a_minute
        (scope("GET", "/"), 600),  # pages.strangers_a_minute
    ],
)
def test_so_many_a_minute_and_then_as_they_come_back(
    guard: RequestGuard, clock: Clock, asked: dict[str, Any], most: int
) -> None:
    assert [status(guard, asked) for _ in range(most + 1)] == [200] * most + [429]
    clock.now += 60 / most + 1e-6
    assert [status(guard, asked) for _ in range(2)] == [200, 429]
    clock.now += 600
    assert [status(guard, asked) for _ in range(most + 1)] == [200] * most + [429]


def test_one_address_with_ever_new_cookies_has_ten_times_as_many(guard: RequestGuard) -> None:
    answers = [status(guard, scope("GET", "/", (b"cookie", f"fallow={n}".encode()))) for n in range(1201)]
    assert answers == [200] * 1200 + [429]


@pytest.mark.parametrize(("size", "taken"), [(65536, True), (65537, False)])
@pytest.mark.parametrize("parts", [1, 3])
def test_what_comes_is_counted_whatever_was_said(guard: RequestGuard, size: int, parts: int, *, taken: bool) -> None:
    each, more = divmod(size, parts)
    pieces: Iterator[Message] = iter(
        {"type": "http.request", "body": b"x" * (each + more * (part == 0)), "more_body": part < parts - 1}
        for part in range(parts)
    )

    async def receive() -> Message:
        return next(pieces)

    async def read() -> int:
        bounded = guard._bounded(scope("POST", "/checkin"), receive)
        return sum([len((await bounded())["body"]) for _ in range(parts)])

    if taken:
        assert asyncio.run(read()) == size
    else:
        with pytest.raises(HTTPException):
            asyncio.run(read())


@pytest.mark.parametrize(("path", "seconds"), [("/checkin", 30), ("/received", 900)])
def test_pages_form_seconds_and_pages_upload_seconds(
    guard: RequestGuard, monkeypatch: pytest.MonkeyPatch, path: str, seconds: float
) -> None:
    asked: list[float] = []
    whole = asyncio.timeout_at

    def timeout_at(when: float) -> Any:
        asked.append(when - asyncio.get_running_loop().time())
        return whole(when)

    async def receive() -> Message:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def read() -> None:
        await guard._bounded(scope("POST", path), receive)()

    monkeypatch.setattr(asyncio, "timeout_at", timeout_at)
    asyncio.run(read())
    assert asked == [pytest.approx(seconds, abs=1)]


def test_pages_wrong_links_wait_twice_as_long_each_time_and_then_get_no_answer(clock: Clock) -> None:
    tried = WrongLinks(default_limits().pages.wrong_links, clock)
    waits = []
    while not tried.shut("192.0.2.1"):
        waits.append(tried.pause("192.0.2.1"))
    assert waits == [0.5, 1.0, 2.0, 4.0, 8.0, 8.0, 8.0, 8.0, 8.0, 8.0]
    assert not tried.shut("192.0.2.2")
    clock.now += 599.9
    assert tried.shut("192.0.2.1")
    clock.now += 0.1
    assert not tried.shut("192.0.2.1"), "after ten minutes all is forgotten"


def test_pages_connections_and_pages_head_bytes_bound_the_server_itself() -> None:
    config = _config(nothing, PAGE, default_limits())
    assert (config.limit_concurrency, config.h11_max_incomplete_event_size) == (256, 16384)


@pytest.mark.parametrize(("after_s", "ended"), [(9.99, False), (10.0, True)])
def test_pages_head_seconds_end_a_connection_that_asks_nothing(after_s: float, *, ended: bool) -> None:
    """By a clock that is set by hand, with all that is waited for on it."""
    config = _config(any_app, PAGE, default_limits())
    config.load()
    transport = mock.MagicMock(spec=asyncio.Transport)
    transport.is_closing.return_value = False
    waits: list[tuple[float, Any]] = []
    loop = mock.MagicMock(call_later=lambda seconds, act: waits.append((seconds, act)))
    made = cast("Any", config.http_protocol_class)(config, ServerState(), {}, loop)
    made.connection_made(transport)
    for seconds, act in waits:
        if seconds <= after_s:
            act()
    assert transport.abort.called is ended


@pytest.mark.parametrize(("after_s", "rests"), [(299.9, False), (300.0, True)])
def test_pages_rest_seconds_pass_twice_without_a_question_before_it_rests(
    monkeypatch: pytest.MonkeyPatch, after_s: float, *, rests: bool
) -> None:
    """A wait that is longer than the clock is set forward ends the server, as who ends it would."""
    server = _server(nothing, PAGE, default_limits())

    async def waited(asked: Any, seconds: float) -> None:
        asked.close()
        if seconds <= after_s:
            raise TimeoutError
        server.should_exit = True

    monkeypatch.setattr(asyncio, "wait_for", waited)
    monkeypatch.setattr(serving, "BROUGHT", "sys")
    asyncio.run(server.main_loop())
    assert server.rests is rests
