"""Facts in one order, whatever order they came in."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from rules.body.checkins import flag_spans
from rules.facts import CheckIn, Hold, Morning, Night
from rules.history import in_order
from tests.rules.people import LIMITS, at, history, on

SAME_DAY: dict[str, list[Any]] = {
    "mornings": [Morning(on(3), 50.0, 60.0, source) for source in ("b.csv", None, "a.csv")],
    "nights": [Night(on(3), total_sleep_min=420.0, source=source) for source in ("b.csv", None, "a.csv")],
    "check-ins": [
        CheckIn(on(3), 5.0, pain=pain, source=source) for pain, source in ((3.0, "b"), (None, "a"), (3.0, "a"))
    ],
}


@pytest.mark.parametrize("kind", SAME_DAY)
def test_facts_of_one_moment_have_one_order(kind: str) -> None:
    first = in_order(history(SAME_DAY[kind]), LIMITS)
    for other in itertools.permutations(SAME_DAY[kind]):
        assert in_order(history(list(other)), LIMITS) == first


def test_the_last_file_of_a_morning_and_a_night_is_the_one_that_is_named() -> None:
    found = in_order(history(SAME_DAY["mornings"], SAME_DAY["nights"]), LIMITS)
    assert (found.morning_files[on(3)], found.night_files[on(3)]) == ("b.csv", "b.csv")


@pytest.mark.parametrize(("day", "answered"), [(3, False), (4, True), (5, True)])
def test_a_release_answers_the_signs_of_its_day_and_before(day: int, *, answered: bool) -> None:
    told = CheckIn(on(4), at(4, 8).timestamp(), symptoms=("chest pain",))
    later = Hold("release", on(day), at(9))
    [span] = flag_spans([told], [later], on(0))
    assert (span.answer == "release") is answered
