from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.views.triage import body_words, next_words, quiet_words, where_words
from tests.rules.people import OSLO, at, checkin, on, plan


def test_it_says_where_an_athlete_stands_and_what_comes_next() -> None:
    laid = plan(as_of_day=9)
    assert where_words(laid, at(9)) == "day 9 of 21, cross-training"
    assert next_words(laid, at(9)) == "test runs from Mon 19 Oct"
    assert (where_words(laid, at(-2)), next_words(laid, at(-2))) == ("marathon in 2 days", "")
    assert (where_words(laid, at(40)), next_words(laid, at(40))) == ("done after 21 days", "")
    assert (where_words(None, at(1)), next_words(None, at(1))) == ("no plan", "")


def test_a_gate_that_is_shut_tells_the_earliest_day() -> None:
    laid = plan(as_of_day=8, checkins=[checkin(7, stairs_unaided=False)])
    assert next_words(laid, at(8)) == "cross-training waits, Tue 13 Oct at the earliest"


def test_pain_and_stairs_are_those_told_last_each() -> None:
    said = {on(3): checkin(3, pain=4, pain_where="left calf"), on(5): checkin(5, stairs_unaided=False)}
    assert body_words(said, on(6)) == "pain 4 left calf, stairs not unaided, Fri 9 Oct"
    assert body_words(said, on(4)) == "pain 4 left calf, Wed 7 Oct"
    assert body_words({}, on(4)) == "no check-in"
    assert body_words({on(3): checkin(3, mood=5)}, on(4)) == "nothing on pain or stairs, Wed 7 Oct"


@pytest.mark.parametrize(
    ("hours", "words"), [(1, "a file today"), (13, "1 day without a file"), (61, "3 days without a file")]
)
def test_days_without_a_file_are_days_of_the_calendar(hours: int, words: str) -> None:
    now = at(9, 12)
    assert quiet_words(now - timedelta(hours=hours), now, ZoneInfo(OSLO)) == words
    assert quiet_words(None, now, ZoneInfo(OSLO)) == "no file yet"
