"""${NAME} in a contact's URL: the value as it is, encoded for the place in the URL where it stands."""

from __future__ import annotations

import re
from collections.abc import Mapping
from urllib.parse import quote

NAME = re.compile(r"\$\{([A-Za-z_][A-Za-z0-9_]*)\}")
READ_TWICE = re.compile(r"[?&](?:user|pass|from|[+:-][^=&]*)=$", re.IGNORECASE)
"""Options that the sending library decodes once more than others."""


def names_in(url: str) -> list[str]:
    """The names that a URL needs, each once."""
    return list(dict.fromkeys(NAME.findall(url)))


def unset(url: str, environment: Mapping[str, str]) -> list[str]:
    """Names that a URL needs and the environment lacks."""
    return [name for name in names_in(url) if name not in environment]


def filled_in(url: str, environment: Mapping[str, str]) -> str:
    """The URL with every name's value; KeyError for one that is not set.

    A name that stands for a whole URL, or for its beginning, is put in as it is: its value is a URL itself.
    """
    parts: list[str] = []
    end = 0
    for match in NAME.finditer(url):
        parts.append(url[end : match.start()])
        value = environment[match[1]]
        whole = match.start() == 0 or value == match[0]  # a name that is not set may stand for itself
        parts.append(value if whole else _encoded(value, url[: match.start()], url[match.end() :]))
        end = match.end()
    return "".join([*parts, url[end:]])


def _encoded(value: str, before: str, after: str) -> str:
    rest = before.partition("://")[2]
    if "?" in before:
        return _option(value, before)
    if "/" in rest:
        return quote(value, safe="/")  # a path may have several parts
    authority = re.split(r"[/?]", after, maxsplit=1)[0]
    if "@" in authority:  # user or password
        both = ":" not in rest and ":" not in authority.partition("@")[0]
        if both and ":" in value:
            user, _, password = value.partition(":")
            return f"{quote(user, safe='')}:{quote(password, safe='')}"
        return quote(value, safe="")
    return quote(value, safe=":/@[]")  # a host with its port, or tokens in its place


def _option(value: str, before: str) -> str:
    if before[-1] in "?&":  # whole options
        return quote(value, safe="=&%+")
    encoded = quote(value, safe="")
    return quote(encoded, safe="") if READ_TWICE.search(before) else encoded
