"""Kept answers (what is sent and what stands in the outbox): a guard against change, no outside check.

Where a change is meant: `python -m tests.kept_answers renew alerts`.
"""

from __future__ import annotations

import pytest

from tests import kept_answers
from tests.monitor.alerts import kept_alerts as made

KEPT = kept_answers.load(made.__name__)


@pytest.mark.parametrize("name", made.ANSWERS)
def test_an_answer_is_the_one_that_was_kept(name: str) -> None:
    assert kept_answers.changed(name, made.ANSWERS[name], KEPT) == []


def test_no_answer_is_kept_to_what_is_no_longer_asked() -> None:
    assert set(KEPT) == set(made.ANSWERS)
