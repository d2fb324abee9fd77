"""Advice and catalogue are whole: every rule has what-now sentences, limits, evidence and a function."""

from __future__ import annotations

import re
from itertools import product

import pytest

from rules.catalogue import advice_for, catalogue, cautions, limits_of, rule, what_now
from rules.findings import Severity
from rules.plan import STAGES
from tests.rules.people import LIMITS

CONTRACT = [
    "rest_hours", "no_running", "no_strength", "duration_cap", "intensity_ceiling", "no_speed_work", "steep_ground",
    "run_spacing", "weekly_running", "long_run_jump", "resting_hr_up", "hrv_down", "short_sleep", "stairs_test", "pain",
    "see_a_doctor", "feels_too_good", "gone_quiet", "not_judged",
]  # fmt: skip


def test_the_catalogue_lists_every_rule_once_and_in_order() -> None:
    assert [each.id for each in catalogue()] == CONTRACT


@pytest.mark.parametrize("name", CONTRACT)
def test_every_rule_has_a_function_limits_that_exist_and_words_on_how_sure_it_is(name: str) -> None:
    each = rule(name)
    assert callable(each.function)
    assert all(
        limit.source and limit.evidence in {"published", "convention", "default"} for limit in limits_of(each, LIMITS)
    )
    assert each.about
    assert each.evidence
    assert set(each.stages) <= set(STAGES)


def test_an_unknown_rule_is_an_error_of_the_program() -> None:
    with pytest.raises(KeyError):
        rule("no_fun")


@pytest.mark.parametrize(("name", "reader"), list(product(CONTRACT, ["athlete", "coach"])))
def test_every_rule_has_advice_for_every_severity_and_stage_it_can_have(name: str, reader: str) -> None:
    severities = [severity for severity in Severity if str(severity) in rule(name).severity]
    assert severities
    assert rule(name).stages
    for severity in severities:
        for stage in rule(name).stages:
            said = what_now(name, severity, stage, LIMITS, "coach" if reader == "coach" else "athlete")
            assert said
            assert all("{" not in each and each[-1] in ".?" for each in said)


def test_advice_for_a_stop_names_the_hours_of_the_gate() -> None:
    for name in ("no_running", "no_speed_work"):
        assert any("65 h" in each for each in what_now(name, Severity.STOP, "days_off", LIMITS))
        assert any("release" in each for each in what_now(name, Severity.STOP, "days_off", LIMITS, "coach"))


def test_a_stop_and_a_caution_come_with_the_usual_cautions_and_a_note_without() -> None:
    assert any("doctor" in each for each in cautions(Severity.STOP))
    assert any("not medical advice" in each for each in cautions(Severity.CAUTION))
    assert cautions(Severity.NOTE) == ()


def test_advice_fits_the_first_entry_of_its_severity_and_stage() -> None:
    off = what_now("no_running", Severity.STOP, "days_off", LIMITS)
    cross = what_now("no_running", Severity.STOP, "cross_training", LIMITS)
    note = what_now("no_running", Severity.NOTE, "cross_training", LIMITS)
    assert len({off, cross, note}) == 3
    assert what_now("no_such_rule", Severity.STOP, "days_off", LIMITS) == ()


def test_words_carry_no_score_no_colour_and_no_promise() -> None:
    forbidden = re.compile(r"\b(score|readiness|green|amber|guarantee|safe to|cure[sd]?)\b", re.IGNORECASE)
    for name in CONTRACT:
        for entry in advice_for(name):
            assert not any(forbidden.search(each) for each in (*entry.athlete, *entry.coach))


def test_who_has_a_coach_is_told_that_theirs_stands_above_it() -> None:
    """Where it is not said, there is one."""
    assert cautions(Severity.STOP) == cautions(Severity.STOP, coached=True) != cautions(Severity.STOP, coached=False)
    for name in ("no_running", "pain"):
        for reader in ("athlete", "coach"):
            told = what_now(name, Severity.STOP, "days_off", LIMITS, reader)
            assert told == what_now(name, Severity.STOP, "days_off", LIMITS, reader, coached=True)
