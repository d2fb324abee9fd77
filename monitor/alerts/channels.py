"""Channels: Apprise URLs, checked, shown without their secrets, and sent to one at a time.

Nothing that Apprise or its HTTP library logs goes anywhere: even their errors hold whole URLs.
"""

from __future__ import annotations

import logging
import re
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from monitor.errors import RosterError
from monitor.roster import Roster

TIMEOUT_SECONDS = 10.0
MAIL_TIMEOUT_SECONDS = 25.0  # its own socket waits 15 s
HOST_IS_NO_SECRET = {
    "json", "jsons", "xml", "xmls", "form", "forms", "mailto", "mailtos", "gotify", "gotifys", "apprise", "apprises",
}  # fmt: skip
DID_NOT = "did not take it"


@dataclass(frozen=True, slots=True)
class SendResult:
    """Whether a channel took the message; `error` is short and holds nothing of the URL."""

    ok: bool
    error: str = ""

    def __bool__(self) -> bool:
        return self.ok


Send = Callable[[str, str, str], SendResult]
"""(url, title, body) -> result. Never raises."""


class AppriseSender:
    """The real channel. Every send has its own thread, so that one that hangs holds up neither us nor the exit."""

    def __init__(self, timeout_seconds: float | None = None) -> None:
        self._timeout_seconds = timeout_seconds

    def __call__(self, url: str, title: str, body: str) -> SendResult:
        timeout = self._timeout_seconds or timeout_of(url)
        box: list[SendResult] = []
        thread = threading.Thread(target=lambda: box.append(_notify(url, title, body)), daemon=True)
        thread.start()
        thread.join(timeout)
        return box[0] if box else SendResult(False, f"no answer within {timeout:g} s")


def timeout_of(url: str) -> float:
    return MAIL_TIMEOUT_SECONDS if url.lower().startswith("mailto") else TIMEOUT_SECONDS


def warm(urls: Iterable[str] = ()) -> None:
    """Import what sending needs, off the hot path."""
    for url in urls:
        check_url(url)
    _apprise()


def check_url(url: str) -> str | None:
    """What is wrong with a channel's URL, without its secrets; None when nothing is."""
    try:
        _ = urlsplit(url).port
    except ValueError:
        return "the host or the port cannot be read"
    if re.search(r"\$\{\w*\}", url):
        return "${…} is not replaced; set it in the environment"
    if not _target(url):
        return "not a URL that Apprise can send to; check the service's name and the parts it needs"
    return None


def check_roster(roster: Roster) -> None:
    """RosterError for the first channel that could never be sent to, by contact and position."""
    for contact in roster.contacts:
        for position, url in enumerate(contact.urls, start=1):
            if reason := check_url(url):
                raise RosterError(f"{roster.path}: contact {contact.id!r}: urls {position} = {shown(url)}: {reason}")


def shown(url: str) -> str:
    """Scheme and, where it can be no secret, host: "json://127.0.0.1:9009"; nothing else of a URL is ever shown."""
    match = re.match(r"([A-Za-z][A-Za-z0-9+.-]{0,19})://", url)
    if match is None:
        return "…"
    scheme = match[1].lower()
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        host = port = None
    strayed = "@" in url[match.end() + len(parts.netloc) :] if host else True  # a password with / ? # in it
    if strayed or scheme not in HOST_IS_NO_SECRET or not re.fullmatch(r"[\w.:-]+", host or ""):
        return f"{scheme}://…"
    return f"{scheme}://{host}" + (f":{port}" if port else "")


def _notify(url: str, title: str, body: str) -> SendResult:
    try:
        target = _target(url)
        if not target:
            return SendResult(False, "no channel that Apprise can send to")
        result = target.notify(body=body, title=title, body_format="text", log_level=logging.WARNING)
    except Exception as error:  # noqa: BLE001 - a plugin may raise anything; its words may hold the URL
        return SendResult(False, f"broke while sending ({type(error).__name__})")
    return SendResult(True) if result else SendResult(False, _why(result))


def _target(url: str) -> Any:
    """An Apprise object with this one target, or None. What is too long for a service is split, unless its URL says."""
    apprise = _apprise()
    # No deadline of Apprise's own: it would send from a pool that all channels share and that the exit waits for.
    asset = apprise.AppriseAsset(async_mode=False, storage_mode=apprise.PersistentStoreMode.MEMORY, service_timeout=0)
    target = apprise.Apprise(asset=asset)
    try:
        if not target.add(url) or len(target) != 1:
            return None
        if "overflow=" not in url.lower():
            target[0].overflow_mode = apprise.OverflowMode.SPLIT
    except Exception:  # noqa: BLE001 - see above
        return None
    return target


def _why(result: Any) -> str:
    """Why a send failed, from what Apprise logged of it in our words."""
    try:
        said = [str(entry.message) for entry in result.logs()]
    except Exception:  # noqa: BLE001 - a nicety must not fail a send
        said = []
    return next((reason for reason in said if reason != DID_NOT), DID_NOT)


def _in_our_words(said: str) -> str:
    """What is left of a message of Apprise's: an HTTP status at most."""
    if match := re.search(r"\berror=(\d{3})\b", said):
        code = int(match[1])
        phrase = HTTPStatus(code).phrase.lower() if code in set(HTTPStatus) else "unknown status"
        return f"answered {code} ({phrase})"
    if "onnection" in said or "did not finish" in said:
        return "could not be reached, or did not answer"
    return DID_NOT


class _OurWords(logging.Filter):
    """Takes Apprise's own words, which may hold whole URLs, out of every record before any handler sees it."""

    def filter(self, record: logging.LogRecord) -> bool:
        try:
            said = record.getMessage()
        except Exception:  # noqa: BLE001 - a message that cannot be made is none
            said = ""
        record.msg, record.args = _in_our_words(said), None
        record.exc_info = record.exc_text = record.stack_info = None
        return True


@cache
def _silenced() -> None:
    """Let neither Apprise's loggers nor those of its HTTP library say anything of a URL."""
    for name, level in (("apprise", logging.WARNING), ("urllib3", logging.CRITICAL), ("requests", logging.CRITICAL)):
        logger = logging.getLogger(name)
        logger.propagate = False
        logger.setLevel(level)
        logger.addHandler(logging.NullHandler())
        logger.addFilter(_OurWords())


def _apprise() -> Any:
    """Apprise, imported late and kept from talking."""
    _silenced()
    import apprise  # noqa: PLC0415 - half a second, only where something is sent

    return apprise
