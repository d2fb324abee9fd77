"""An override of limits: what has another shape than the limit it replaces is one clear line."""

from __future__ import annotations

import tomllib

import pytest

from rules.limits import LimitsError, default_limits


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
    ],
)
def test_what_is_of_another_shape_is_said(text: str, said: str) -> None:
    with pytest.raises(LimitsError) as raised:
        default_limits().overridden(tomllib.loads(text))
    assert said in str(raised.value)
    assert "\n" not in str(raised.value)
    assert len(str(raised.value)) < 400


def test_a_table_keeps_the_values_that_an_override_leaves_out() -> None:
    before = default_limits().value("plan.event_days")
    changed = default_limits().overridden({"plan": {"event_days": {"marathon": 28}}})
    assert changed.value("plan.event_days") == {**before, "marathon": 28}


def test_a_number_may_be_whole_or_not() -> None:
    assert default_limits().overridden({"rest_hours": {"stop_hours": 47.5}}).number("rest_hours.stop_hours") == 47.5
