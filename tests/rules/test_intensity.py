"""Time above a ceiling, at each of its borders, through its own function."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rules.facts import Ceiling
from rules.findings import Breach, Severity
from rules.limits import default_limits
from rules.session.heart import Heart
from rules.session.track import clean
from rules.session_rules import over_ceiling
from rules.words import rendered

LIMITS = default_limits()
CEILING = Ceiling(150, 1, "invented")


def judged(*parts: tuple[int, float], ceiling: Ceiling = CEILING, masked: slice = slice(0)) -> Breach | None:
    """The verdict on an hour: seconds at a heart rate after the other, as if all but the `masked` were believed."""
    bpm = np.concatenate([np.full(seconds, rate) for seconds, rate in parts])
    bpm = np.concatenate((bpm, np.full(3600 - len(bpm), 130.0)))
    track = clean("cycling", "generic", 3600.0, (), {"t_s": np.arange(3600.0)}, LIMITS)
    doubted = np.zeros(3600, np.bool_)
    doubted[masked] = True
    rows = np.concatenate((np.where(doubted, np.nan, bpm), np.full(track.size - 3600, np.nan)))
    return over_ceiling(replace(track, heart=Heart(bpm, np.ones(3600), doubted, rows)), ceiling, LIMITS)


def severity(*parts: tuple[int, float]) -> Severity | None:
    breach = judged(*parts)
    return None if breach is None else breach.severity


@pytest.mark.parametrize(
    ("seconds", "told"),
    [
        (119, None),
        (120, Severity.CAUTION),
        (121, Severity.CAUTION),
        (599, Severity.CAUTION),
        (600, Severity.STOP),
        (601, Severity.STOP),
    ],
)
def test_two_minutes_above_are_a_caution_and_ten_a_stop(seconds: int, told: Severity | None) -> None:
    assert severity((seconds, 151)) == told


def test_the_ceiling_itself_is_allowed_and_a_beat_above_it_is_not() -> None:
    assert severity((1200, 150)) is None
    assert severity((300, 150), (120, 151)) == Severity.CAUTION


@pytest.mark.parametrize(
    ("seconds", "bpm", "told"),
    [
        (179, 160, Severity.CAUTION),
        (180, 160, Severity.STOP),
        (181, 160, Severity.STOP),
        (400, 159, Severity.CAUTION),
    ],
)
def test_three_minutes_ten_beats_above_are_a_stop(seconds: int, bpm: int, told: Severity) -> None:
    assert severity((60, 155), (seconds, bpm)) == told


def test_what_is_masked_counts_neither_way() -> None:
    assert severity((400, 165)) == Severity.STOP
    breach = judged((400, 165), masked=slice(0, 280))
    assert breach is not None
    assert (breach.severity, breach.observed, breach.evidence["masked_s"]) == (Severity.CAUTION, 120.0, 280.0)
    assert judged((400, 165), masked=slice(0, 281)) is None


def test_seconds_apart_add_up() -> None:
    quiet = [(60, 140.0)]
    assert severity(*[part for _ in range(3) for part in ((40, 151.0), *quiet)]) == Severity.CAUTION
    assert severity(*[part for _ in range(3) for part in ((39, 151.0), *quiet)]) is None


def test_of_a_ceiling_by_age_it_is_said_how_far_off_it_may_be() -> None:
    breach = judged((300, 155), ceiling=Ceiling(150, 1, "by age", estimated=True))
    assert breach is not None
    assert rendered(breach.evidence["assumed"]) == ["HRmax estimated from age; the ceiling may be off by some 8 bpm"]


@pytest.mark.parametrize(("bpm", "far"), [(159, 0.0), (160, 200.0), (161, 200.0)])
def test_the_evidence_counts_what_lies_ten_beats_above(bpm: int, far: float) -> None:
    breach = judged((200, bpm))
    assert breach is not None
    assert breach.evidence["far_above_s"] == far


def test_the_evidence_tells_how_long_how_far_and_when() -> None:
    breach = judged((100, 140), (180, 155), (100, 140), (60, 153))
    assert breach is not None
    told = breach.evidence
    assert (breach.observed, breach.limit, breach.unit) == (240.0, 120.0, "s")
    assert told["longest_s"] == pytest.approx(180, abs=1)
    assert told["mean_excess_bpm"] == pytest.approx((180 * 5 + 60 * 3) / 240, abs=0.05)
    assert told["far_above_s"] == 0
    assert told["highest_minute_bpm"] == 155
    assert [[round(edge) for edge in span] for span in told["times"]] == [[100, 280], [380, 440]]
    assert (told["known_s"], told["masked_s"]) == (3600, 0)
