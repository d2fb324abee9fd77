"""board.html: what a coach looks at, and the proof behind a finding."""

from __future__ import annotations

from monitor.board.write import write

__all__ = ["write"]
