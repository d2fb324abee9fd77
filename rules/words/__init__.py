"""The words of the rules: what a judgement says, in one folder a language, as `monitor.words` has those of the program.

`words.plan.NEW_CHECK` is a text of the language that is spoken, `en`, and `words.texts("advice")` one of its tables.
Findings carry statements (`rules.findings.say`); `said` makes sentences of them where they are shown.
"""

from __future__ import annotations

import string
import tomllib
from functools import cache
from importlib import import_module, resources
from typing import TYPE_CHECKING, Any

from rules.findings import STATEMENT, Said

if TYPE_CHECKING:
    from rules.words.en import amounts, day, findings, plan, report, today

    __all__ = ["amounts", "day", "findings", "plan", "report", "today"]

LANGUAGE = "en"


def __getattr__(name: str) -> Any:
    if name.startswith("_"):
        raise AttributeError(name)
    module = globals()[name] = import_module(f"{__name__}.{LANGUAGE}.{name}")
    return module


@cache
def texts(name: str) -> dict[str, Any]:
    """A table of texts, or of the words by which a check-in is read, as it stands in its TOML file."""
    return tomllib.loads(resources.files(__name__).joinpath(LANGUAGE, f"{name}.toml").read_text("utf-8"))


# Statements as sentences.


class _Sentence(string.Formatter):
    """A text with its values: nested statements said, other values in the way that the text asks for."""

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, dict):
            return said(value)
        way = __getattr__("findings").WAYS.get(format_spec)
        return way(value) if way is not None else str(super().format_field(value, format_spec))


def said(text: Said) -> str:
    """The sentence of a statement; what an older version stored as text, as it is.

    One that this version does not know, or that lacks a value, is said by its key: whoever reads it is never left out.
    """
    if isinstance(text, str):
        return text
    key = str(text.get(STATEMENT, ""))
    try:
        return _Sentence().vformat(__getattr__("findings").STATEMENTS[key], (), text)
    except (KeyError, ValueError, TypeError, IndexError):
        return key.replace("_", " ")


def rendered(value: Any) -> Any:
    """Evidence as it is shown: each statement in it as its sentence, all else as it is."""
    if isinstance(value, dict):
        return said(value) if STATEMENT in value else {name: rendered(one) for name, one in value.items()}
    if isinstance(value, list | tuple) and value and not isinstance(value[0], int | float):
        return [rendered(one) for one in value]
    return value
