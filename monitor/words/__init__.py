"""The room of words: every sentence that a person reads, in one folder a language.

`words.files.TOO_LARGE` is a text of the language that is spoken, `en`; its `{names}` are filled in where it is used.
Another language is another folder with the same modules. Modules are read when first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from monitor.words.en import (
        alerts,
        board,
        checkin,
        commands,
        demo,
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
        store,
    )

    __all__ = [
        "alerts",
        "board",
        "checkin",
        "commands",
        "demo",
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
        "store",
    ]

LANGUAGE = "en"


def __getattr__(name: str) -> Any:
    if name.startswith("_"):
        raise AttributeError(name)
    module = globals()[name] = import_module(f"{__name__}.{LANGUAGE}.{name}")
    return module
