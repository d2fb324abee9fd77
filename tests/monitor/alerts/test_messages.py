"""What holds for every message, whatever it is about and whoever reads it."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.alerts.message import MOST_LETTERS, advice, compose
from monitor.alerts.outbox_editor import DayTold, Item, item
from monitor.news import Reader
from rules.catalogue import catalogue
from rules.findings import Finding, Severity
from tests.monitor.alerts.scene import NOON, OSLO, finding

COACH = Reader("coach", "runa", "Runa Vik", "Runa", OSLO)
ATHLETE = Reader("athlete", "runa", "Runa Vik", "Runa", OSLO, "Coach Ida")
ALONE = replace(ATHLETE, coach="", units="imperial", face="12h")
READERS = (COACH, ATHLETE, ALONE)
LONGEST_FIRST_LINE = 120
LONGEST_TITLE = 100
STAGES = ("days_off", "cross_training", "test_runs", "on_ramp")
DAY = DayTold(
    date(2026, 10, 9),
    "walking only until Mon 05:40",
    ("Walking only until Mon 05:40.",),
    (("", "65 h of rest after a run on Wed 7 Oct."),),
    ("It ends with a check-in with pain under 4 of 10.",),
)
FLAG = {"flag": "f", "told": "my chest hurts when I climb the stairs at work", "class": "emergency"}
EVIDENCE: dict[str, dict[str, Any]] = {
    "no_running": {"label": "hiking"},
    "duration_cap": {"of": "day", "day": [1, 2]},
    "intensity_ceiling": {"ceiling_bpm": 121, "highest_minute_bpm": 151},
    "no_speed_work": {
        "kind": "hill repeats", "bout_seconds": [68] * 8, "speed_mps": 2.53, "over_reference": 0.09,
        "threshold_mps": 3.85, "threshold_confidence": "high",
    },
    "steep_ground": {"ascent_m": 157.0, "descent_m": 167.0, "distance_m": 6000, "steepest_slope": -0.12},
    "run_spacing": {"run_before": "2026-10-08"},
    "weekly_running": {"usual_week_min": 240.0, "share": 0.5},
    "long_run_jump": {"longest_before_m": 8000},
    "resting_hr_up": {"mornings_bpm": {"2026-10-08": 55.0, "2026-10-09": 54.0}, "baseline_bpm": 47.0},
    "hrv_down": {"mornings_ln_rmssd": {"2026-10-09": 4.0}, "baseline_ln_rmssd": 4.16},
    "short_sleep": {"nights_min": {"2026-10-09": 320.0}},
    "stairs_test": {"failed": ["stairs", "a squat"]},
    "pain": {"where": "left calf", "growing": True},
    "see_a_doctor": {"flags": [FLAG]},
    "gone_quiet": {"since": NOON.isoformat(), "ever": True},
    "feels_too_good": {},
    "no_strength": {"minutes": 4.0},
    "not_judged": {"missing": ["how long it took"]},
    "rest_hours": {},
}  # fmt: skip
RULES = [each.id for each in catalogue()]


def one(rule: str, severity: Severity = Severity.CAUTION, **more: Any) -> Finding:
    kinds = {"resting_hr_up": "morning", "hrv_down": "morning", "short_sleep": "morning", "gone_quiet": "silence"}
    kinds |= dict.fromkeys(("stairs_test", "pain", "see_a_doctor"), "checkin") | {"feels_too_good": "day"}
    measured = {"observed": 4.0, "limit": 3.7, "evidence": EVIDENCE.get(rule, {}), "kind": kinds.get(rule, "session")}
    return finding(rule, severity, **{**measured, **more})


findings = st.builds(one, st.sampled_from(RULES), st.sampled_from(list(Severity)), stage=st.sampled_from(STAGES))
items = st.builds(
    lambda found, kind, day: replace(item(kind, "s", {each.rule: each for each in found}.values()), day=day),
    st.lists(findings, min_size=1, max_size=5),
    st.sampled_from(["first", "update", "correction"]),
    st.sampled_from([None, DAY]),
)


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule in words.findings.WORDS])
@pytest.mark.parametrize("reader", READERS, ids=lambda reader: f"{reader.role}-{reader.units}")
def test_each_rule_has_words_of_its_own_that_stand_in_for_its_summary(rule: str, reader: Reader) -> None:
    said = words.findings.happened(one(rule), reader)
    assert "running 9 min" not in said.title, "the summary of the finding, since its words could not be made"
    assert len(said.title) <= 80
    assert said.title[:1].islower() or not said.title[:1].isalpha()
    assert said.more.endswith(".")


@given(st.lists(items, min_size=1, max_size=9), st.sampled_from(READERS), st.integers(0, 2))
def test_a_message_is_short_and_its_first_line_says_what_to_do(told: list[Item], reader: Reader, days: int) -> None:
    message = compose(told, reader, NOON + timedelta(days=days))
    first = message.body.splitlines()[0]
    assert len(message.title) <= LONGEST_TITLE
    assert len(message.body) <= MOST_LETTERS
    worst = sorted(told, key=lambda each: -each.severity)[0].findings
    if (
        days == 0
        and any(each.day for each in told)
        and not {"gone_quiet", "see_a_doctor"} & {each.rule for each in worst}
    ):
        assert "alking only until Mon 05:40." in first
        assert len(first) <= LONGEST_FIRST_LINE
    assert all(line.isprintable() for line in (message.title, *message.body.splitlines()))


@given(items, st.sampled_from(READERS), st.integers(0, 2))
def test_the_title_is_not_repeated_and_no_advice_is_cut(told: Item, reader: Reader, days: int) -> None:
    now = NOON + timedelta(days=days)
    message = compose([told], reader, now)
    first = told.findings[0]
    assert words.findings.happened(first, reader).title not in message.body
    assert all(said in message.body for said in advice(told.findings, reader, now.astimezone(OSLO).date()))


@given(st.lists(items, min_size=1, max_size=4), st.integers(0, 2))
def test_nobody_reads_what_is_meant_for_another(told: list[Item], days: int) -> None:
    now = NOON + timedelta(days=days)
    assert "coach" not in compose(told, ALONE, now).body.lower()
    to_coach = compose(told, COACH, now).body
    assert not [word for word in ("your threshold", "your usual", "your coach", "Tell your") if word in to_coach]
    assert compose(told, ATHLETE, now).body.count("not medical advice") <= 1
