"""What the HTTP and mail libraries see while a channel is sent to: Apprise itself tells only whether it worked.

Every send has a thread and a `Trace` of its own. No redirect is followed: it would drop the message, or carry it
elsewhere.
"""

from __future__ import annotations

import smtplib
import socket
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from types import SimpleNamespace
from typing import Any

CONNECT_SECONDS = 5.0
READ_SECONDS = 30.0  # a mail server may greet late on purpose, a web service think long


@dataclass(slots=True)
class Trace:
    """The last HTTP answer of a send, the last mail error, and whether a whole message has left us."""

    status: int | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    error: BaseException | None = None
    message_left: bool = False  # nothing has been answered since
    mail_refused: bool = False  # the one recipient, or the text, by a mail server

    def answered(self, status: int, headers: Mapping[str, str]) -> None:
        self.status, self.headers, self.error, self.message_left = status, headers, None, False


_here = threading.local()


@contextmanager
def traced() -> Iterator[Trace]:
    """Watch what is sent in this thread."""
    _here.trace = trace = Trace()
    try:
        yield trace
    finally:
        _here.trace = None


def _trace() -> Trace:
    """This thread's; one that nobody reads where nothing is watched."""
    return getattr(_here, "trace", None) or Trace()


@contextmanager
def _noting() -> Iterator[None]:
    try:
        yield
    except Exception as error:
        _trace().error = error
        raise


@cache
def watch() -> None:
    """Have Apprise's HTTP and mail go through what watches them."""
    from apprise.plugins.email import smtp  # noqa: PLC0415 - half a second, only where something is sent
    from requests import sessions  # noqa: PLC0415

    sessions.HTTPAdapter = _http_adapter()  # type: ignore[attr-defined]
    smtp.smtplib = SimpleNamespace(SMTP=_Mail, SMTP_SSL=_SecureMail, SMTPException=smtplib.SMTPException)  # type: ignore[attr-defined, assignment]


def _http_adapter() -> Any:
    from requests.adapters import HTTPAdapter  # noqa: PLC0415
    from urllib3.connection import HTTPConnection, HTTPSConnection  # noqa: PLC0415
    from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool  # noqa: PLC0415

    class Connection(HTTPConnection):
        def getresponse(self) -> Any:
            _trace().message_left = True
            return super().getresponse()

    class SecureConnection(HTTPSConnection):
        def getresponse(self) -> Any:
            _trace().message_left = True
            return super().getresponse()

    class Pool(HTTPConnectionPool):
        ConnectionCls = Connection

    class SecurePool(HTTPSConnectionPool):
        ConnectionCls = SecureConnection

    class Adapter(HTTPAdapter):
        def init_poolmanager(self, *args: Any, **more: Any) -> None:
            super().init_poolmanager(*args, **more)
            self.poolmanager.pool_classes_by_scheme = {"http": Pool, "https": SecurePool}

        def send(self, *args: Any, **more: Any) -> Any:
            with _noting():
                response = super().send(*args, **more)
            _trace().answered(response.status_code, dict(response.headers.lower_items()))
            response.headers.pop("Location", None)  # or it would be followed
            return response

    return Adapter


class _Mail(smtplib.SMTP):
    """Connects within 5 s and waits longer for answers; notes every error with its kind."""

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        made = super()._get_socket(host, port, CONNECT_SECONDS)  # type: ignore[misc]
        made.settimeout(timeout)
        return made  # type: ignore[no-any-return]

    def connect(self, *args: Any, **more: Any) -> Any:
        with _noting():
            return super().connect(*args, **more)

    def starttls(self, *args: Any, **more: Any) -> Any:
        with _noting():
            return super().starttls(*args, **more)

    def login(self, *args: Any, **more: Any) -> Any:
        with _noting():
            return super().login(*args, **more)

    def data(self, msg: Any) -> Any:
        _trace().message_left = True
        answer = super().data(msg)
        _trace().message_left = False
        return answer

    def sendmail(self, *args: Any, **more: Any) -> Any:
        try:
            refused = super().sendmail(*args, **more)
        except smtplib.SMTPResponseException as error:  # it answered, so it has not taken it
            _trace().message_left = False
            _trace().error = error
            _trace().mail_refused = not isinstance(error, smtplib.SMTPSenderRefused)
            raise
        except smtplib.SMTPRecipientsRefused as error:
            _trace().error, _trace().mail_refused = error, True
            raise
        except Exception as error:
            _trace().error = error
            raise
        return refused


class _SecureMail(_Mail, smtplib.SMTP_SSL):
    """The same, encrypted from the first byte."""
