"""What a message says of each finding, word for word: the numbers in it are the finding's own."""

from __future__ import annotations

from typing import Any

import pytest

from monitor.news import Reader
from monitor.words.en.findings import happened
from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, OSLO, finding

COACH = Reader("coach", "runa", "Runa Vik", "Runa", OSLO)
ATHLETE = Reader("athlete", "runa", "Runa Vik", "Runa", OSLO, "Coach Ida")
FAST = {
    "kind": "hill repeats", "bout_seconds": [68] * 8, "speed_mps": 2.5, "over_reference": 0.09, "threshold_mps": 3.85,
    "threshold_confidence": "high",
}  # fmt: skip


def said(
    rule: str, evidence: dict[str, Any], observed: float | None = None, limit: float | None = None, **more: Any
) -> tuple[str, str]:
    reader = more.pop("reader", COACH)
    told = happened(
        finding(
            rule, more.pop("severity", Severity.CAUTION), observed=observed, limit=limit, evidence=evidence, **more
        ),
        reader,
    )
    return told.title, told.more


@pytest.mark.parametrize(
    ("severity", "label", "words"),
    [
        (Severity.STOP, "running", ("a run of 25 min", "The days off have no running.")),
        (Severity.STOP, "walking", ("part of the walk was a jog, 25 min", "The days off have no running.")),
        (
            Severity.CAUTION,
            "hiking",
            (
                "part of the walk looks like a jog, 25 min; was it?",
                "The days off have no running. If it was none, nothing is lost.",
            ),
        ),
        (
            Severity.CAUTION,
            "running",
            (
                "this looks like a run, 25 min; was it?",
                "The days off have no running. If it was none, nothing is lost.",
            ),
        ),
        (Severity.NOTE, "running", ("a short run, 25 min", "This stage tolerates one of up to 20 min.")),
    ],
)
def test_running(severity: Severity, label: str, words: tuple[str, str]) -> None:
    assert said("no_running", {"label": label}, 24.6, 20.0, severity=severity) == words


@pytest.mark.parametrize(
    ("evidence", "words"),
    [
        ({"of": "run"}, ("a run of 47 min, 17 over", "A run may be 30 min long.")),
        ({"of": "day", "day": [1]}, ("47 min, 17 over the day's 30", "All sport but walking counts.")),
        (
            {"of": "day", "day": [1, 2]},
            ("47 min, 17 over the day's 30", "2 sessions together; all sport but walking counts."),
        ),
    ],
)
def test_too_long(evidence: dict[str, Any], words: tuple[str, str]) -> None:
    assert said("duration_cap", evidence, 46.5, 30.0) == words


@pytest.mark.parametrize(("above", "told"), [(59.0, "59 s"), (60.0, "1 min"), (449.0, "7 min"), (450.0, "8 min")])
def test_above_the_ceiling(above: float, told: str) -> None:
    evidence = {"ceiling_bpm": 121, "highest_minute_bpm": 151}
    assert said("intensity_ceiling", evidence, above) == (
        f"{told} above 121 bpm",
        "This stage's ceiling; the highest minute was at 151.",
    )
    assert said("intensity_ceiling", {"ceiling_bpm": 121}, above)[1] == "This stage's ceiling."


@pytest.mark.parametrize(
    ("more", "observed", "severity", "words"),
    [
        ({}, 2.5, Severity.STOP, ("hill repeats, 8 x 1 min 8 s", "At 6:40/km, 9 % faster than the threshold pace.")),
        (
            {},
            2.5,
            Severity.CAUTION,
            ("looks like hill repeats, 8 x 1 min 8 s; was it?", "At 6:40/km, 9 % faster than the threshold pace."),
        ),
        (
            {"over_reference": -0.03},
            2.5,
            Severity.STOP,
            ("hill repeats, 8 x 1 min 8 s", "At 6:40/km, 3 % slower than the threshold pace."),
        ),
        (
            {"threshold_mps": None},
            2.5,
            Severity.STOP,
            ("hill repeats, 8 x 1 min 8 s", "At 6:40/km, 9 % faster than the easy running of the same session."),
        ),
        (
            {"threshold_confidence": "low"},
            2.5,
            Severity.STOP,
            ("hill repeats, 8 x 1 min 8 s", "At 6:40/km, 9 % faster than the easy running of the same session."),
        ),
        (
            {"bout_seconds": [600], "kind": "a time trial"},
            2.5,
            Severity.STOP,
            ("a time trial, 10 min", "At 6:40/km, 9 % faster than the threshold pace."),
        ),
        (
            {},
            4.0,
            Severity.STOP,
            (
                "hill repeats, 8 x 1 min 8 s",
                "At 6:40/km uphill, worth 4:10/km on the level, 9 % faster than the threshold pace.",
            ),
        ),
    ],
)
def test_fast_running(more: dict[str, Any], observed: float, severity: Severity, words: tuple[str, str]) -> None:
    assert said("no_speed_work", FAST | more, observed, severity=severity) == words


def test_an_athlete_reads_of_the_own_threshold() -> None:
    assert said("no_speed_work", FAST, 2.5, reader=ATHLETE)[1] == "At 6:40/km, 9 % faster than your threshold pace."


def test_the_rest_of_the_rules() -> None:
    assert said("weekly_running", {"usual_week_min": 240.0, "share": 0.5}, 150.0, 120.0) == (
        "150 min of running in the week, 30 over", "Its share is 120 min, 50 % of the usual 240.",
    )  # fmt: skip
    assert said("long_run_jump", {"longest_before_m": 8000}, 9500.0)[0] == "a long run of 9.5 km, after 8.0 km at most"
    beats = {"mornings_bpm": {"2026-10-09": 54.0, "2026-10-08": 55.0}, "baseline_bpm": 47.0}
    assert said("resting_hr_up", beats, 54.0, 52.0) == (
        "resting heart rate up, 55 and 54 against 47", "On two mornings running; from 52 it counts as up.",
    )  # fmt: skip
    assert said("hrv_down", {"mornings_ln_rmssd": {"a": 4.0, "b": 4.0, "c": 3.9}, "baseline_ln_rmssd": 4.1}, 4.0) == (
        "heart-rate variability down, 55 ms against 60", "The mean of 3 mornings (ln RMSSD 4.00, usual 4.10).",
    )  # fmt: skip
    assert said("short_sleep", {"nights_min": {"a": 330.0, "b": 330.0, "c": 330.0}}, 5.5, 7.0) == (
        "5 h 30 min of sleep a night", "The mean of 3 nights; 7 h are wanted.",
    )  # fmt: skip
    assert said("pain", {"where": "left calf", "growing": False}, 4.0)[0] == "pain 4 of 10 (left calf)"
    assert said("pain", {"where": "", "growing": True}, 2.5)[0] == "pain 2.5 of 10, growing over three check-ins"
    assert said("no_strength", {}, 24.6, severity=Severity.STOP) == (
        "25 min of strength work",
        "The days off have none.",
    )
    assert said("no_strength", {}, 24.6, severity=Severity.NOTE)[0] == "25 min of yoga or pilates"
    assert said("rest_hours", {}, 20.9, 65.0, sport="cycling") == (
        "a ride 20 h after the finish", "The first 65 h are for walking and gentle moving.",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("hours", "title"),
    [
        (23, "nothing came for a while"),
        (24, "nothing came for 1 day"),
        (95, "nothing came for 3 days"),
        (96, "nothing came for 4 days"),
    ],
)
def test_silence_is_told_in_whole_days(hours: float, title: str) -> None:
    assert said("gone_quiet", {"since": NOON.isoformat(), "ever": True}, float(hours))[0] == title


def test_evidence_of_another_version_gives_way_to_the_summary() -> None:
    assert said("weekly_running", {}, 150.0, 120.0, summary="Much running") == ("much running", "")
