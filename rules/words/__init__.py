"""The words of the rules: what a judgement says, in one folder a language, as `monitor.words` has those of the program.

`words.findings.RUN_OF` is a text of the language that is spoken, `en`, and `words.texts("advice")` one of its tables.
They stand here and not in the other room, since findings are stored with their summary and the rules import no shell.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import import_module, resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rules.words.en import day, findings, plan, report, today

    __all__ = ["day", "findings", "plan", "report", "today"]

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
