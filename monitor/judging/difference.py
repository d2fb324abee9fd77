"""What a new judgement changes against the findings that stand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rules.findings import Finding


@dataclass(frozen=True, slots=True)
class Difference:
    """Fresh findings, worsened ones (old, new), changed ones of no greater severity, and withdrawn ones."""

    athlete: str
    fresh: tuple[Finding, ...] = ()
    worse: tuple[tuple[Finding, Finding], ...] = ()
    changed: tuple[tuple[Finding, Finding], ...] = ()
    withdrawn: tuple[Finding, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.fresh or self.worse or self.changed or self.withdrawn)


def difference(athlete: str, standing: Iterable[Finding], judged: Iterable[Finding]) -> Difference:
    """Compare by id, then by rule and overlapping time: a better recording of a session makes no new finding."""
    left = {finding.id: finding for finding in standing}
    pairs: list[tuple[Finding, Finding]] = []
    unmatched: list[Finding] = []
    for finding in judged:
        old = left.pop(finding.id, None)
        if old is None:
            unmatched.append(finding)
        else:
            pairs.append((old, finding))
    fresh: list[Finding] = []
    for finding in unmatched:
        old = next((one for one in left.values() if _same_subject(one, finding)), None)
        if old is None:
            fresh.append(finding)
        else:
            del left[old.id]
            pairs.append((old, finding))
    worse = tuple(pair for pair in pairs if pair[1].severity > pair[0].severity)
    changed = tuple(pair for pair in pairs if pair[1].severity <= pair[0].severity and pair[0] != pair[1])
    return Difference(athlete, tuple(fresh), worse, changed, tuple(left.values()))


def _same_subject(old: Finding, new: Finding) -> bool:
    return (
        old.rule == new.rule
        and old.subject_kind == new.subject_kind == "session"
        and old.subject_start < new.subject_end
        and new.subject_start < old.subject_end
    )
