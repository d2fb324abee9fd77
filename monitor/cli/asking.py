"""Questions in the terminal: one line each, a default in brackets, an empty answer takes it."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable
from typing import TypeVar

from monitor.cli import screen
from monitor.errors import WrongUse

Value = TypeVar("Value")


def hint(text: str) -> None:
    """What helps with the next question, wrapped."""
    print("\n".join(textwrap.wrap(text, screen.width() - 2, initial_indent="  ", subsequent_indent="  ",
                                  break_long_words=False, break_on_hyphens=False)), file=sys.stderr)  # fmt: skip


def can_ask() -> bool:
    """Whether a person sits there."""
    return sys.stdin.isatty()


def ask(question: str, default: str = "") -> str:
    """One answer, trimmed."""
    hint = f" [{default}]" if default else ""
    print(f"{question}{hint}:", end=" ", flush=True, file=sys.stderr)
    return input().strip() or default


def ask_for(question: str, read: Callable[[str], Value], default: str = "") -> Value | None:
    """Ask until the answer reads well; None for no answer. `read` raises WrongUse with what is allowed."""
    while True:
        answer = ask(question, default)
        if not answer:
            return None
        try:
            return read(answer)
        except WrongUse as error:
            hint(screen.plain(error))


def yes(question: str, *, default: bool) -> bool:
    return ask(f"{question} (y/n)", "y" if default else "n").lower().startswith("y")
