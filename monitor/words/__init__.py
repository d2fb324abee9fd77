"""The room of words: every sentence that a person reads, in one folder a language.

`words.files.TOO_LARGE` is a text of the language that is spoken, `en`; its `{names}` are filled in where it is used.
Another language is another folder with the same modules. Modules are read when first used.
"""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from monitor.reasons import in_words

if TYPE_CHECKING:
    from monitor.words.en import (
        board,
        commands,
        doctor,
        files,
        findings,
        interview,
        news,
        pages,
        roster,
        sending,
        shared,
        status,
    )

    __all__ = [
        "board",
        "commands",
        "doctor",
        "files",
        "findings",
        "interview",
        "news",
        "pages",
        "roster",
        "sending",
        "shared",
        "status",
    ]

LANGUAGE = "en"
WITH_REASONS = ("files", "sending", "doctor", "roster")
"""The modules in which the codes that the store keeps have their sentences."""


def __getattr__(name: str) -> Any:
    full = f"{__name__}.{LANGUAGE}.{name}"
    if name.startswith("_") or find_spec(full) is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module = globals()[name] = import_module(full)
    return module


def of_stored(reason: str) -> str:
    """A reason as the store keeps it, as the sentence that is shown."""
    for room in WITH_REASONS:
        import_module(f"{__name__}.{LANGUAGE}.{room}")
    return in_words(reason)
