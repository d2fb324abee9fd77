"""Channels: Apprise URLs, checked, shown without their secrets, and sent to one recipient at a time.

Nothing that Apprise or its HTTP library logs goes anywhere: even their errors hold whole URLs.
"""

from __future__ import annotations

import hashlib
import logging
import re
import threading
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, Protocol
from urllib.parse import urlsplit

from monitor import words
from monitor.alerts import responses
from monitor.alerts.responses import SendResult, result_of, too_late
from monitor.errors import RosterError
from monitor.roster import Roster
from rules.findings import Severity

# Urgency: a `stop` breaks through the phone's silence, a `caution` comes as usual, a `note` makes no sound.

TYPES = {Severity.NOTE: "info", Severity.CAUTION: "warning", Severity.STOP: "failure"}
"""Apprise's name for each severity; services choose colours and icons by it."""

ByRank = tuple[str, str, str]
_OF_SIX: ByRank = ("moderate", "normal", "emergency")
_DESKTOP = ("urgency", ("low", "normal", "high"))
# Scheme -> the option of Apprise's URL for urgency, and its value for note, caution and stop. Services that send by
# phone number or mail have no such option. From Apprise's own tables; a test compares them.
KNOWN: Mapping[str, tuple[str, ByRank]] = {
    "bark": ("level", ("passive", "active", "critical")),
    "dbus": _DESKTOP,
    "exotel": ("priority", ("normal", "normal", "high")),
    "fcm": ("priority", ("low", "normal", "max")),
    "gio": _DESKTOP,
    "glib": _DESKTOP,
    "gnome": _DESKTOP,
    "gorush": ("priority", ("normal", "normal", "high")),
    "gotify": ("priority", _OF_SIX),
    "growl": ("priority", _OF_SIX),
    "join": ("priority", _OF_SIX),
    "kde": _DESKTOP,
    "lametric": ("priority", ("info", "warning", "critical")),
    "nctalk": ("silent", ("yes", "no", "no")),
    "ntfy": ("priority", ("low", "default", "max")),
    "pinglet": ("priority", ("silent", "normal", "urgent")),
    "pover": ("priority", ("moderate", "normal", "high")),  # "emergency" would ring until somebody confirms it
    "prowl": ("priority", _OF_SIX),
    "psafer": ("priority", ("-1", "0", "2")),
    "pushward": ("level", ("passive", "active", "critical")),
    "qt": _DESKTOP,
    "simplepush": ("priority", ("2", "3", "5")),
    "spush": ("priority", ("2", "3", "5")),
    "tgram": ("silent", ("yes", "no", "no")),
    "trigv": ("urgency", ("standard", "standard", "time_sensitive")),
    "youlmk": ("priority", ("low", "normal", "critical")),
}


def with_urgency(url: str, severity: Severity) -> str:
    """The URL with the service's option for a severity, where it has one and the URL does not set it already."""
    scheme = url.partition("://")[0].lower()
    option, text = KNOWN.get(scheme) or KNOWN.get(scheme.removesuffix("s")) or ("", ("", "", ""))
    if not option or re.search(rf"[?&]({option}|priority)=", url, re.IGNORECASE):
        return url
    return f"{url}{'&' if '?' in url else '?'}{option}={text[int(severity) - 1]}"


TIMEOUT_SECONDS = responses.CONNECT_SECONDS + responses.READ_SECONDS + 5
MAIL_TIMEOUT_SECONDS = (
    2 * responses.READ_SECONDS
)  # a mail server answers several times, and each answer may take READ_SECONDS
HOST_IS_NO_SECRET = {
    "json", "jsons", "xml", "xmls", "form", "forms", "mailto", "mailtos", "gotify", "gotifys", "apprise", "apprises",
}  # fmt: skip
DESKTOP = {"dbus", "kde", "qt", "gio", "glib", "gnome", "windows", "macosx"}
OUR_NAME = "fallow"


class Send(Protocol):
    """Sends one message; never raises. `recipient` is one of `recipients_of` the URL, or empty for all there are."""

    def __call__(
        self, url: str, title: str, body: str, /, *, severity: Severity = ..., recipient: str = ...
    ) -> SendResult: ...


class AppriseSender:
    """The real channel. Every send runs in a daemon thread: one that hangs blocks neither the caller nor the exit."""

    def __init__(self, timeout_seconds: float | None = None) -> None:
        self._timeout_seconds = timeout_seconds

    def __call__(
        self, url: str, title: str, body: str, /, *, severity: Severity = Severity.CAUTION, recipient: str = ""
    ) -> SendResult:
        timeout = self._timeout_seconds or timeout_of(url)
        traces: list[responses.Trace] = []
        results: list[SendResult] = []

        def send() -> None:
            with responses.traced() as trace:
                traces.append(trace)
                results.append(_notify(url, title, body, severity, recipient, trace))

        thread = threading.Thread(target=send, daemon=True)
        thread.start()
        thread.join(timeout)
        return results[0] if results else too_late(timeout, traces[0] if traces else responses.Trace())


def timeout_of(url: str) -> float:
    """How long one try may take, in seconds."""
    return MAIL_TIMEOUT_SECONDS if _scheme(url).startswith("mailto") else TIMEOUT_SECONDS


def warm(urls: Iterable[str] = ()) -> None:
    """Import what sending needs, off the hot path."""
    for url in urls:
        check_url(url)
    _apprise()


def check_url(url: str) -> str | None:
    """What is wrong with a channel's URL, without its secrets; None when nothing is."""
    try:
        _ = urlsplit(url).port if _scheme(url) in HOST_IS_NO_SECRET else None
    except ValueError:
        return words.sending.HOST_OR_PORT_UNREADABLE
    if re.search(r"\$\{\w*\}", url):
        return words.sending.VARIABLE_NOT_SET
    if not _parses_elsewhere(url) and _target(url) is None:
        return words.sending.NO_APPRISE_URL
    return None


def lacks(url: str) -> str | None:
    """What this machine lacks for a channel that is otherwise right: a library, or the desktop of another system."""
    plugin = _plugin(url)
    if plugin is None or plugin.enabled:
        return None
    if _scheme(url) in ("windows", "macosx"):
        return words.sending.OTHER_SYSTEM.format(url=_scheme(url))
    needed = plugin.requirements.get("packages_required") or ()
    packages = ", ".join([needed] if isinstance(needed, str) else map(str, needed))
    return words.sending.MISSING_HERE.format(what=packages or words.sending.UNNAMED_LIBRARY)


def check_roster(roster: Roster) -> None:
    """RosterError for the first channel that could never be sent to, by contact and position."""
    for contact in roster.contacts:
        for position, url in enumerate(contact.urls, start=1):
            if reason := check_url(url):
                raise RosterError(f"{roster.path}: contact {contact.id!r}: urls {position} = {shown(url)}: {reason}")


@cache
def recipients_of(url: str) -> tuple[str, ...]:
    """Hashes of the recipients of one URL, where there are several: each is sent to and fails separately."""
    target = _target(url)
    several = _several(target) if target is not None else []
    return tuple(map(_mark, several)) if len(several) > 1 else ()


def _several(target: Any) -> list[Any]:
    """The recipients of an Apprise object; for mail also those in cc and bcc."""
    listed = getattr(target[0], "targets", None) or getattr(target[0], "topics", None)
    if not isinstance(listed, list):
        return []
    copies = [getattr(target[0], name, None) for name in ("cc", "bcc")]
    return [*listed, *(address for copy in copies if isinstance(copy, set) for address in sorted(copy))]


def _mark(recipient: Any) -> str:
    return hashlib.sha256(repr(recipient).encode()).hexdigest()[:12]


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


def _scheme(url: str) -> str:
    return url.partition("://")[0].lower()


def _notify(url: str, title: str, body: str, severity: Severity, recipient: str, trace: responses.Trace) -> SendResult:
    try:
        target = _target(with_urgency(url, severity))
        if target is None:
            missing = lacks(url)
            return SendResult(False, missing or words.sending.NO_APPRISE_CHANNEL, "desktop" if missing else "unknown")
        if recipient and not _narrow(target, recipient):
            return SendResult(False, words.sending.NO_SUCH_RECIPIENT, "recipient", for_good=True)
        result = target.notify(body=body, title=title, body_format="text", notify_type=TYPES[severity])
    except Exception as error:  # noqa: BLE001 - a plugin may raise anything; its words may hold the URL
        return SendResult(False, words.sending.BROKE_WHILE_SENDING.format(kind=type(error).__name__), "unknown")
    done = result_of(trace, worked=bool(result))
    if not done and done.trouble == "unknown" and _scheme(url) in DESKTOP:
        return SendResult(False, words.sending.DESKTOP_REFUSED, "desktop")
    return done


def _narrow(target: Any, recipient: str) -> bool:
    """Reduce an Apprise object to one of its recipients; False where it has no such recipient any more."""
    chosen = [address for address in _several(target) if _mark(address) == recipient]
    if not chosen:
        return False
    one = chosen[0]
    plugin = target[0]
    if hasattr(plugin, "targets"):
        mail = plugin.targets and isinstance(plugin.targets[0], tuple)
        plugin.targets = [(False, one) if mail and isinstance(one, str) else one]
    else:
        plugin.topics = [one]
    for copies in ("cc", "bcc"):
        if isinstance(getattr(plugin, copies, None), set):
            setattr(plugin, copies, set())
    return True


def _target(url: str) -> Any:
    """An Apprise object for one URL, or None. Messages too long for the service are split, unless the URL says how."""
    apprise = _apprise()
    # No timeout of Apprise's own: with one it sends from a thread pool that all channels share and the exit waits for.
    # No image and no link of Apprise: the reader's phone would fetch them from a third host.
    asset = apprise.AppriseAsset(
        async_mode=False, storage_mode=apprise.PersistentStoreMode.MEMORY, service_timeout=0, http_redirects=False,
        app_id=OUR_NAME, app_desc=OUR_NAME, app_url="", image_url_mask="", image_url_logo="",
    )  # fmt: skip
    target = apprise.Apprise(asset=asset)
    try:
        if not target.add(url) or len(target) != 1:
            return None
        plugin = target[0]
        mail = _scheme(url).startswith("mailto")
        if "cto=" not in url.lower():
            plugin.socket_connect_timeout = responses.READ_SECONDS if mail else responses.CONNECT_SECONDS
        if "rto=" not in url.lower():
            plugin.socket_read_timeout = responses.READ_SECONDS
        if "overflow=" not in url.lower():
            plugin.overflow_mode = apprise.OverflowMode.SPLIT
    except Exception:  # noqa: BLE001 - see above
        return None
    return target


def _plugin(url: str) -> Any:
    """Apprise's class for a URL's scheme, None where it has none."""
    _apprise()
    from apprise.manager_plugins import NotificationManager  # noqa: PLC0415 - see below

    manager = NotificationManager()  # type: ignore[no-untyped-call]  # it has no types
    return manager[_scheme(url)] if _scheme(url) in manager.schemas() else None  # type: ignore[no-untyped-call] # Apprise has no types


def _parses_elsewhere(url: str) -> bool:
    """Whether a URL is valid, though a library that its service needs is missing on this machine."""
    plugin = _plugin(url)
    try:
        return plugin is not None and not plugin.enabled and bool(plugin.parse_url(url))
    except Exception:  # noqa: BLE001 - a plugin may raise anything
        return False


class _Nothing(logging.Filter):
    """Empties every log record of Apprise and its HTTP library: they may contain whole URLs."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args, record.exc_info, record.exc_text = "", None, None, None
        return False


@cache
def _silenced() -> None:
    """Silence the loggers of Apprise and its HTTP library, since they print URLs."""
    for name in ("apprise", "urllib3", "requests"):
        logger = logging.getLogger(name)
        logger.propagate = False
        logger.setLevel(logging.CRITICAL)
        logger.addHandler(logging.NullHandler())
        logger.addFilter(_Nothing())


def _apprise() -> Any:
    """Apprise, imported when first needed, with its logs silenced and its connections traced."""
    _silenced()
    import apprise  # noqa: PLC0415 - half a second, only where something is sent

    responses.watch()
    return apprise
