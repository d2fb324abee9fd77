"""What a key of the roster may hold, said in words that an editor of the file understands."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from typing import Any

TABLES = ("contact", "athlete", "race")
WORDS = {
    "list_type": "must be a list, as in {key} = [\"...\"]",
    "int_type": "must be a whole number without quotes",
    "int_from_float": "must be a whole number",
    "int_parsing": "must be a whole number",
    "float_type": "must be a number without quotes",
    "bool_type": "must be true or false",
    "model_type": "must be a table, as in [{key}]",
    "float_parsing": "must be a number",
    "string_type": "must be text in quotes",
    "greater_than": "must be more than {gt:g}",
    "greater_than_equal": "must be {ge:g} or more",
    "less_than_equal": "must be {le:g} or less",
    "too_short": "must not be empty",
    "string_too_short": "must not be empty",
    "string_too_long": "must be shorter than {max_length} letters",
}  # fmt: skip


def allowed(mistake: Mapping[str, Any], key: str = "") -> str:
    """One mistake found by pydantic, as what would be right; `key` as it stands in the file."""
    kind, given = mistake["type"], mistake.get("input")
    if kind == "list_type" and key in TABLES:
        name = "athlete.race" if key == "race" else key
        return f"write [[{name}]], with two brackets on each side"
    if kind == "literal_error":
        expected = str(mistake["ctx"]["expected"]).replace("'", "")
        return f"must be {expected}{meant(given, expected.replace(' or ', ', ').split(', '))}"
    if kind == "list_type" and isinstance(given, str) and key != "urls":
        return f'must be a list, as in {key} = ["{given}"]'
    if kind == "too_short" and key == "urls":
        return "must not be empty; name an address, or take this contact out"
    if kind in WORDS:
        return WORDS[kind].format(**{"key": key, **mistake.get("ctx", {})})
    message = str(mistake["msg"]).removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def meant(given: object, known: Iterable[str]) -> str:
    """ "; did you mean ...?" for the name that comes nearest, else nothing."""
    by_lower = {name.lower(): name for name in known}
    said = str(given).strip().lower()
    first = re.split(r"[\s_-]+", said)[0]  # a half marathon is no marathon
    near = [first] if first in by_lower else difflib.get_close_matches(said, list(by_lower), 1, 0.6)
    return f"; did you mean {by_lower[near[0]]}?" if near else ""
