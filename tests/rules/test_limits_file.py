"""An override of limits: what has another shape than the limit it replaces is one clear line."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from rules.limits import SECTIONS, Limit, LimitsError, _told, default_limits

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[rest_hours]\nstop_hours = 'two days'", "rest_hours.stop_hours = 'two days': must be a number"),
        ("[rest_hours]\nstop_hours = true", "must be a number"),
        ("[rest_hours]\nstop_hours = nan", "must be a number from 0"),
        ("[rest_hours]\nstop_hours = -1", "must be a number from 0"),
        ("[rest_hours]\nstop_hour = 48", "rest_hours.stop_hour: no such limit"),
        ("rest_hours = 48", "[rest_hours]: must be a table"),
        ("[intake]\npulse_interval_ms = 5", "no such limit"),
        ("[zones]\nhrmax = [0.64]", "zones.hrmax = [0.64]: must be a list of 2"),
        ("[zones]\nhrmax = [0.64, 'high']", "zones.hrmax[2] = 'high': must be a number"),
        ("[zones]\nhrmax = 0.64", "must be a list of 2"),
        ("[plan]\ncustom_days = [[5, 5], [10]]", "plan.custom_days[2] = [10]: must be a list of 2"),
        ("[plan]\ncustom_days = []", "must be a list of such rows"),
        ("[plan]\nevent_days = {marathon = '3 weeks'}", "plan.event_days.marathon = '3 weeks'"),
        ("[plan]\nevent_days = {swimrun = 9}", "plan.event_days.swimrun: no such key"),
        ("[plan]\nevent_days = [1, 2]", "must be a table"),
        ("[plan]\nevent_days = {marathon = 21.5}", "plan.event_days.marathon = 21.5: must be a whole number"),
        ("[on_ramp]\nbaseline_weeks = 5.5", "on_ramp.baseline_weeks = 5.5: must be a whole number, as 6 is"),
        ("[grade]\nwindow_s = [20.5, 30]", "grade.window_s[1] = 20.5: must be a whole number"),
        (
            "[weekly_running]\nslack_share = 5",
            "slack_share = 5: must be a number from 0 to 1, as 0.05 is",
        ),
        ("[zones]\nhrmax = [64, 77]", "zones.hrmax[1] = 64: must be a number from 0 to 1"),
        ("[gates]\npain = 40", "gates.pain = 40: must be a number from 0 to 10"),
        ("[gait]\nlabel_bias = {walk = -5}", "gait.label_bias.walk = -5: must be a number from -3 to 3"),
    ],
)
def test_what_is_of_another_shape_is_said(text: str, said: str) -> None:
    with pytest.raises(LimitsError) as raised:
        default_limits().overridden(tomllib.loads(text))
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)
    assert len(str(raised.value)) < 400


def test_a_table_keeps_the_values_that_an_override_leaves_out() -> None:
    before = default_limits().plan.event_days
    changed = default_limits().overridden({"plan": {"event_days": {"marathon": 28}}})
    assert changed.plan.event_days == {**before, "marathon": 28}


def test_a_number_may_be_whole_or_not() -> None:
    assert default_limits().overridden({"rest_hours": {"stop_hours": 47.5}}).rest_hours.stop_hours == 47.5
    assert default_limits().overridden({"on_ramp": {"baseline_weeks": 5.0}}).on_ramp.baseline_weeks == 5


def test_a_number_may_be_negative_where_the_file_says_so() -> None:
    assert default_limits().overridden({"race_file": {"cold_c": -5}}).race_file.cold_c == -5


def test_an_override_leaves_the_limits_that_it_was_made_from_alone() -> None:
    before = default_limits().fingerprint
    changed = default_limits().overridden({"gait": {"border_spm": 140}})
    assert (changed.gait.border_spm, changed.source("gait.border_spm")) == (140.0, "override file")
    assert default_limits().gait.border_spm == 138.0
    assert changed.fingerprint != default_limits().fingerprint == before


def test_nothing_writes_into_limits() -> None:
    with pytest.raises(AttributeError):
        default_limits().gait.border_spm = 140.0
    with pytest.raises(AttributeError):
        default_limits().gait = default_limits().gait


def test_every_limit_of_the_file_stands_in_the_schema_and_the_other_way_round() -> None:
    """What is missing is a line in rules/limits_schema.py or limits_schema_reading.py, or an entry in limits.toml."""
    typed = {f"{section}.{key}" for section, kind in SECTIONS.items() for key in kind.__annotations__}
    assert {limit.name for limit in default_limits()} == typed


@pytest.mark.parametrize("limit", list(default_limits()), ids=lambda limit: limit.name)
def test_a_limit_is_of_the_kind_that_the_schema_says_and_within_its_range(limit: Limit) -> None:
    section, key = limit.name.split(".")
    found = getattr(getattr(default_limits(), section), key)
    TypeAdapter(SECTIONS[section].__annotations__[key]).validate_python(found, strict=True)
    assert default_limits().overridden({section: {key: limit.value}}).limit(limit.name).value == limit.value
    assert limit.evidence in {"published", "convention", "default"}
    assert limit.unit
    assert limit.source


def test_every_limit_is_read_by_code() -> None:
    """As an attribute of its section; or its section is taken whole in a module that reads an attribute of its name."""
    read: set[str] = set()
    for file in [*(ROOT / "rules").rglob("*.py"), *(ROOT / "monitor").rglob("*.py")]:
        if file.name.startswith("limits_schema"):
            continue
        text = file.read_text("utf-8")
        taken = re.findall(r"limits(?:\(\))?\s*\.\s*([a-z_]+)(?:\s*\.\s*([a-z0-9_]+))?", text)
        read |= {f"{section}.{key}" for section, key in taken}
        whole = {section for section, key in taken if not key}
        read |= {f"{section}.{key}" for section in whole for key in re.findall(r"\.([a-z0-9_]+)", text)}
    borrowed = re.findall(r"\b(?:BOUNDS|MOST|MORNING)\.([a-z0-9_]+)", intake_text())
    read |= {f"{section}.{key}" for section in ("plausible", "intake", "morning") for key in borrowed}
    assert {limit.name for limit in default_limits()} - read == set()


def intake_text() -> str:
    return "".join(file.read_text("utf-8") for file in (ROOT / "monitor" / "intake").rglob("*.py"))


@pytest.mark.parametrize(("letters", "told"), [(57, "57 letters"), (58, "58 letters"), (59, "…")])
def test_sixty_letters_of_what_was_written_are_told(letters: int, told: str) -> None:
    """Two of them are its quotes."""
    text = "x" * letters
    expected = f"'{text}'" if told != "…" else f"'{text}…"
    assert _told(text) == expected
