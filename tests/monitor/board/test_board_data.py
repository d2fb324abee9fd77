"""What the board reads in a few queries is what the judge reads for one athlete at a time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from monitor.board.board_data import gather
from monitor.home import Home
from monitor.judging import view
from monitor.store.recordings import samples_of, samples_of_many
from monitor.views.plan import plan_view, today_view
from rules.limits import default_limits
from rules.today import today_by
from tests.boards import NOW, opened


@pytest.mark.parametrize("days", [0, 3])
def test_facts_plans_and_today_are_those_of_a_full_judgement(board_home: Home, days: int) -> None:
    roster, store = opened(board_home)
    now, limits = NOW + timedelta(days=days), default_limits()
    _, found = gather(store, roster, now, limits)
    assert [each.athlete.id for each in found] == ["runa", "odd", "nora"]
    for known in found:
        with store.reading() as con:
            full = view(con, roster, known.athlete, now, limits)
        whole, read = full.history, known.made.history
        assert read.sessions == whole.sessions[-len(read.sessions) :]
        assert read.mornings == whole.mornings
        assert read.nights == tuple(replace(night, bedtime=None, wake=None) for night in whole.nights)
        assert read.checkins == whole.checkins
        assert read.last_file_at == whole.last_file_at
        assert known.made.judgement.plans == full.judgement.plans
        assert known.made.judgement.thin == full.judgement.thin
        assert plan_view(known.made, now, limits) == plan_view(full, now, limits)
        assert today_by(known.made.judgement, known.facts, now, limits).sentences == tuple(
            today_view(full, now, limits)["sentences"]
        )


def test_findings_that_stand_are_those_of_the_judgement(board_home: Home) -> None:
    roster, store = opened(board_home)
    for known in gather(store, roster, NOW, default_limits())[1]:
        with store.reading() as con:
            full = view(con, roster, known.athlete, NOW, default_limits())
        current = {each.id for each in full.judgement.findings}
        assert current <= {each.id for each in known.standing}


def test_samples_of_many_sessions_are_those_of_each(board_home: Home) -> None:
    roster, store = opened(board_home)
    wanted = [
        (known.athlete.id, session.key)
        for known in gather(store, roster, NOW, default_limits())[1]
        for session in known.made.history.sessions[-6:]
    ]
    with store.reading() as con:
        together = samples_of_many(con, [*wanted, ("nobody", "2026")])
        apart = [samples_of(con, athlete, key) for athlete, key in wanted]
    assert len(wanted) >= 5
    assert all(len(one["t_s"]) for one in apart)
    for one, other in zip(together[:-1], apart, strict=True):
        for column, values in one.items():
            np.testing.assert_array_equal(values, other[column])
    assert {column: len(values) for column, values in together[-1].items()} == dict.fromkeys(apart[0], 0)
