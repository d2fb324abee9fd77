"""How loudly a service tells: a `stop` breaks through, a `caution` comes as usual, a `note` is silent."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rules.findings import Severity

TYPES = {Severity.NOTE: "info", Severity.CAUTION: "warning", Severity.STOP: "failure"}
"""Apprise's name for each severity: colours and signs of the services hang on it."""

ByRank = tuple[str, str, str]
_OF_SIX: ByRank = ("moderate", "normal", "emergency")
_DESKTOP = ("urgency", ("low", "normal", "high"))
# Scheme -> the option of Apprise's URL and its word for note, caution and stop. No service that only takes them by
# phone number or mail knows one. From Apprise's own tables of words; a test reads them back.
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
    "pover": ("priority", ("moderate", "normal", "high")),  # its emergency rings until somebody confirms it
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
    """The URL with the service's own word for a severity, where it knows one and the URL names none itself."""
    scheme = url.partition("://")[0].lower()
    option, words = KNOWN.get(scheme) or KNOWN.get(scheme.removesuffix("s")) or ("", ("", "", ""))
    if not option or re.search(rf"[?&]({option}|priority)=", url, re.IGNORECASE):
        return url
    return f"{url}{'&' if '?' in url else '?'}{option}={words[int(severity) - 1]}"
