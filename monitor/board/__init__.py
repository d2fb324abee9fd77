"""board.html: what a coach looks at, and the proof behind a finding.

`write` makes it, `write_finding` the page of one finding, `BoardThread` makes it again and again beside a daemon. They
are imported when asked for: they bring numpy and the templates.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from monitor.board.athlete_pages import write_finding
    from monitor.board.board_page import write
    from monitor.board.board_thread import BoardThread

__all__ = ["BoardThread", "write", "write_finding"]
_FOUND_IN = {"BoardThread": "board_thread", "write_finding": "athlete_pages", "write": "board_page"}


def __getattr__(name: str) -> Any:
    if name not in _FOUND_IN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"monitor.board.{_FOUND_IN[name]}"), name)
