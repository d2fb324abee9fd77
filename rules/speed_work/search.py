"""Which bouts of a session make it speed work."""

from __future__ import annotations

from dataclasses import dataclass

from rules.limits import Limits
from rules.session.clean import Track
from rules.session.rolling import Floats
from rules.speed_work.bouts import Bout, bouts_above, progression, sustained
from rules.speed_work.kinds import kind_of_bouts, kind_of_effort
from rules.speed_work.levels import Levels

LEVEL_GROUND = 0.02  # a slope that is hardly felt


@dataclass(frozen=True, slots=True)
class Work:
    """What was found, and its name."""

    kind: str
    bouts: list[Bout]


def search(track: Track, hard: Floats, fast: Levels, limits: Limits) -> Work | None:
    """Repeats by speed, then by contrast to the easy running around them, then one sustained effort."""
    for bouts in (
        _by_speed(track, hard, fast, limits),
        _bursts(track, hard, fast, limits),
        _apart(track, hard, fast, limits),
    ):
        if bouts:
            return Work(kind_of_bouts(bouts), bouts)
    effort = sustained(track, hard, fast.sustained)
    if effort is None and fast.by_itself:
        effort = progression(track, hard, limits)
    return None if effort is None else Work(kind_of_effort(track, hard, effort), [effort])


def _by_speed(track: Track, hard: Floats, fast: Levels, limits: Limits) -> list[Bout]:
    """Faster than threshold: three short ones, two of half a minute, or a single one of a minute and a half."""
    bouts = bouts_above(track, hard, fast.short, fast.easy, limits)
    if fast.by_itself:
        bouts = [b for b in bouts if b.effort_mps >= limits.number("speed_work.own_mean") * fast.short]
    bouts = _one_set(bouts, limits)
    lengths = [b.seconds for b in bouts if _sure(track, b, fast, limits)]
    longest = max(lengths, default=0)
    if len(bouts) == 1 and longest > limits.number("speed_work.longest_bout_s"):
        return []  # told better as one sustained effort
    enough = (
        len(bouts) >= limits.whole("speed_work.least_bouts") + fast.by_itself
        or sum(seconds >= limits.number("speed_work.stride_s") for seconds in lengths) >= 2
        or longest >= limits.whole("speed_work.single_s")
    )
    return bouts if enough else []


def _bursts(track: Track, hard: Floats, fast: Levels, limits: Limits) -> list[Bout]:
    """No faster than threshold, but far out of the easy running: four short ones, not by a descent or a vague climb."""
    found = bouts_above(track, hard, fast.burst, fast.easy, limits)
    bouts = [b for b in found if b.slope > -LEVEL_GROUND and _sure(track, b, fast, limits)]
    bouts = _one_set(bouts, limits)
    return bouts if len(bouts) >= limits.whole("speed_work.least_bouts") + (fast.easy is not None) else []


def _apart(track: Track, hard: Floats, fast: Levels, limits: Limits) -> list[Bout]:
    """Long repeats a little slower than threshold that stand apart from the easy running."""
    found = bouts_above(track, hard, fast.apart, fast.easy, limits, bridge=10)
    long = [b for b in found if b.seconds >= limits.whole("speed_work.apart_s") and b.effort_mps >= fast.apart]
    long = _one_set(long, limits)
    return long if len(long) >= limits.whole("speed_work.least_bouts") else []


def _sure(track: Track, b: Bout, fast: Levels, limits: Limits) -> bool:
    """Fast over ground, or up a hill that a quiet altitude tells."""
    quiet = track.ground.noise_m <= limits.number("grade.quiet_m")
    return quiet or b.speed_mps >= min(fast.short, fast.burst)


def _one_set(bouts: list[Bout], limits: Limits) -> list[Bout]:
    """The greatest set of bouts that follow each other without long breaks; lone surges in a long run are none."""
    sets: list[list[Bout]] = []
    for b in bouts:
        if sets and b.start - sets[-1][-1].end <= limits.number("speed_work.longest_rest_s"):
            sets[-1].append(b)
        else:
            sets.append([b])
    return max(sets, key=lambda s: (len(s), sum(b.seconds for b in s)), default=[])
