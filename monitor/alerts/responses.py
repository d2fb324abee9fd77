"""The outcome of one try to send, from what the HTTP and mail libraries saw; without addresses or secrets."""

from __future__ import annotations

import re
import smtplib
import socket
import ssl
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from functools import cache
from http import HTTPStatus
from types import SimpleNamespace
from typing import Any, Literal
from urllib.parse import urlsplit

from monitor import words

# Outcomes in our own words: a server's text may quote the URL or a recipient.

Trouble = Literal[
    "", "unknown host", "unreachable", "certificate", "no encryption", "password", "recipient", "refused", "not there",
    "moved", "busy", "server error", "no answer", "desktop", "unknown",
]  # fmt: skip
"""What kind of failure it was; "" for none, and "unknown" where the service's own plugin tells nothing."""

TAKEN, ELSEWHERE, REFUSED, BROKEN = 200, 300, 400, 500
"""Where the kinds of HTTP answers begin; a mail server refuses for good from 500 on."""
PASSES_BY_ITSELF = (408, 429)  # request timeout, too many requests: the only 4xx answers that are worth another try
LONGEST_WISH_SECONDS = 6 * 3600.0


@dataclass(frozen=True, slots=True)
class SendResult:
    """Whether a channel took the message. `error` is short and holds nothing secret.

    `for_good`: the same message to the same recipient would be refused again. `perhaps`: it left us whole and no answer
    came, so that it may have arrived. `wait_seconds`: how long the service asked to be left alone.
    """

    ok: bool
    error: str = ""
    trouble: Trouble = ""
    for_good: bool = False
    perhaps: bool = False
    wait_seconds: float | None = None

    def __bool__(self) -> bool:
        return self.ok


def result_of(trace: Trace, *, worked: bool, now: datetime | None = None) -> SendResult:
    """The outcome from the trace of a try; `worked` is what Apprise says of it."""
    if trace.error is not None:
        return _of_error(trace.error, trace)
    status = trace.status
    if status is not None and not TAKEN <= status < ELSEWHERE:
        return _of_status(status, trace.headers, now or datetime.now(UTC))
    return SendResult(True) if worked else SendResult(False, words.sending.NOT_TAKEN, "unknown")


def too_late(seconds: float, trace: Trace) -> SendResult:
    """The outcome of a try that did not end in time."""
    return _silent(words.sending.NO_ANSWER_IN_TIME.format(seconds=seconds), perhaps=trace.message_left)


def _silent(error: str, *, perhaps: bool) -> SendResult:
    return SendResult(
        False, words.sending.PERHAPS_DELIVERED.format(reason=error) if perhaps else error, "no answer", perhaps=perhaps
    )


def _of_status(status: int, headers: Mapping[str, str], now: datetime) -> SendResult:
    phrase = HTTPStatus(status).phrase.lower() if status in set(HTTPStatus) else "unknown status"
    said = words.sending.ANSWERED.format(status=status, phrase=phrase)
    if ELSEWHERE <= status < REFUSED:
        there = where(headers.get("location", ""))
        return SendResult(False, words.sending.ADDRESS_MOVED.format(said=said, there=there), "moved")
    wait = _wish(headers.get("retry-after", ""), now)
    if status in PASSES_BY_ITSELF or status == HTTPStatus.SERVICE_UNAVAILABLE:
        return SendResult(
            False, said, "busy" if status != HTTPStatus.REQUEST_TIMEOUT else "no answer", wait_seconds=wait
        )
    if REFUSED <= status < BROKEN:
        return SendResult(False, said, _refusal(status), for_good=True)
    return SendResult(False, said, "server error" if status >= BROKEN else "unknown", wait_seconds=wait)


def _refusal(status: int) -> Trouble:
    if status in (401, 403, 407):
        return "password"
    return "not there" if status in (404, 405, 410) else "refused"


def where(address: str) -> str:
    """Scheme and host of an address that a server named; its path may hold a token."""
    try:
        parts = urlsplit(address)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        host, port = "", None
    if not re.fullmatch(r"[A-Za-z0-9.:-]{1,80}", host):
        return words.sending.OTHER_PATH if address.startswith("/") else words.sending.UNSAID_ADDRESS
    return f"{parts.scheme}://{host}" + (f":{port}" if port else "")


def _wish(text: str, now: datetime) -> float | None:
    """`Retry-After` in seconds: a number of them, or a date (RFC 9110, 10.2.3)."""
    if text.strip().isdigit():
        return min(float(text), LONGEST_WISH_SECONDS)
    try:
        seconds = (parsedate_to_datetime(text) - now).total_seconds()
    except (ValueError, TypeError):
        return None
    return min(max(seconds, 0.0), LONGEST_WISH_SECONDS)


def _of_error(error: BaseException, trace: Trace) -> SendResult:
    if trace.mail_refused:
        return _of_refused_mail(error)
    if isinstance(error, smtplib.SMTPResponseException | smtplib.SMTPNotSupportedError):
        return _of_mail(error)
    chain = list(_causes(error))
    names = {type(raised).__name__ for raised in chain}
    timed_out = any(isinstance(raised, TimeoutError) for raised in chain) or names & {"ReadTimeout", "ReadTimeoutError"}
    if timed_out and (trace.message_left or "ReadTimeout" in names):
        return _silent(words.sending.NO_ANSWER_TO_MESSAGE, perhaps=True)
    return SendResult(False, *_of_connection(chain, timed_out=bool(timed_out)))


def _of_connection(chain: Sequence[BaseException], *, timed_out: bool) -> tuple[str, Trouble]:
    if any(isinstance(error, ssl.SSLCertVerificationError) for error in chain):
        return words.sending.CERTIFICATE_INVALID, "certificate"
    if any(isinstance(error, socket.gaierror) for error in chain):
        return words.sending.NO_SUCH_HOST, "unknown host"
    if timed_out:
        return words.sending.UNREACHABLE_IN_TIME, "unreachable"
    if any(isinstance(error, ssl.SSLError) for error in chain):
        return words.sending.NO_TLS, "certificate"
    return words.sending.UNREACHABLE, "unreachable"


def _of_mail(error: smtplib.SMTPException) -> SendResult:
    code = error.smtp_code if isinstance(error, smtplib.SMTPResponseException) else 0
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return SendResult(False, words.sending.MAIL_LOGIN_REFUSED.format(code=code), "password")
    if isinstance(error, smtplib.SMTPSenderRefused):
        said = words.sending.MAIL_SENDER_REFUSED.format(code=code)
        return SendResult(False, said, "password" if code in (530, 535) else "refused")
    if isinstance(error, smtplib.SMTPNotSupportedError):
        return SendResult(False, words.sending.MAIL_WITHOUT_ENCRYPTION, "no encryption")
    return SendResult(False, words.sending.MAIL_ANSWERED.format(code=code), "server error")


def _of_refused_mail(error: BaseException) -> SendResult:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code = next((int(answer[0]) for answer in error.recipients.values()), 0)
        said = words.sending.MAIL_RECIPIENT_REFUSED.format(code=code)
        return SendResult(False, said, "recipient", for_good=code >= BROKEN)
    code = error.smtp_code if isinstance(error, smtplib.SMTPResponseException) else 0
    return SendResult(False, words.sending.MAIL_TEXT_REFUSED.format(code=code), "refused", for_good=code >= BROKEN)


def _causes(error: BaseException) -> Iterator[BaseException]:
    """The error and all that it came from, also where a library keeps that in `reason` or among its arguments."""
    seen: set[int] = set()
    left: list[object] = [error]
    while left:
        one = left.pop()
        if not isinstance(one, BaseException) or id(one) in seen:
            continue
        seen.add(id(one))
        yield one
        left += [one.__cause__, one.__context__, getattr(one, "reason", None), *one.args]


# Apprise only says whether a send worked, so its HTTP and mail libraries are replaced by subclasses that keep a `Trace`
# for the thread of each send. Redirects are not followed: they would drop the message, or carry it to another host.

CONNECT_SECONDS = 5.0
READ_SECONDS = 30.0  # some mail servers delay their greeting on purpose (greet pause)


@dataclass(slots=True)
class Trace:
    """The last HTTP answer of a send, the last mail error, and whether a whole message has left us."""

    status: int | None = None
    headers: Mapping[str, str] = field(default_factory=dict)
    error: BaseException | None = None
    message_left: bool = False  # and no answer has come since
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
    """The trace of this thread; a throw-away one outside of `traced`."""
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
    """Replace Apprise's HTTP adapter and mail classes by those that keep a trace."""
    from apprise.plugins.email import smtp  # noqa: PLC0415 - half a second, only where something is sent
    from requests import sessions  # noqa: PLC0415 - brought only where it is needed

    sessions.HTTPAdapter = _http_adapter()  # type: ignore[attr-defined]  # put in the place of its own
    traced = SimpleNamespace(SMTP=_Mail, SMTP_SSL=_SecureMail, SMTPException=smtplib.SMTPException)
    smtp.smtplib = traced  # type: ignore[attr-defined, assignment]  # put in the place of its own


def _http_adapter() -> Any:
    from requests.adapters import HTTPAdapter  # noqa: PLC0415 - brought only where it is needed
    from urllib3.connection import HTTPConnection, HTTPSConnection  # noqa: PLC0415 - brought only where it is needed
    from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool  # noqa: PLC0415 - as above

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
            response.headers.pop("Location", None)  # requests follows it otherwise
            return response

    return Adapter


class _Mail(smtplib.SMTP):
    """Connects within 5 s and waits longer for answers; notes every error with its kind."""

    def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
        made = super()._get_socket(host, port, CONNECT_SECONDS)  # type: ignore[misc]  # not in the published types
        made.settimeout(timeout)
        return made  # type: ignore[no-any-return]  # as above

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
        except smtplib.SMTPResponseException as error:  # an error answer: the message was not accepted
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
