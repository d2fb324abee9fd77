"""What a recording or a session comes to, measured from its samples."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from rules.facts import Digest
from rules.limits import Limits

if TYPE_CHECKING:
    import polars as pl

    from monitor.intake.facts import Samples


class Measured(Protocol):
    """What a digest needs beside the samples: a recording just read, one as stored, or a session."""

    @property
    def sport(self) -> str: ...
    @property
    def sub_sport(self) -> str: ...
    @property
    def timer_s(self) -> float: ...
    @property
    def elapsed_s(self) -> float: ...
    @property
    def pauses(self) -> tuple[tuple[float, float], ...]: ...
    @property
    def barometer(self) -> bool | None: ...


def make_digest(one: Measured, samples: Samples | pl.DataFrame, limits: Limits) -> Digest:
    """The digest of one recording or session; `samples` as the store keeps them."""
    from rules.session.digest import digest  # noqa: PLC0415 - brings much that nights and check-ins do without

    return digest(one.sport, one.sub_sport, one.timer_s, one.elapsed_s, one.pauses, samples, limits, one.barometer)
