from __future__ import annotations

from datetime import timedelta

from monitor.board.board_data import BoardContext, KnownAthlete
from monitor.board.board_page import News, news
from monitor.views.triage import FindingAnswers
from tests.monitor.board.scenes import scene
from tests.rules.people import at, checkin, hold, release, session

DAYS = 7


def _news(
    known: KnownAthlete, day: int, *, made: float = 0, marked: float | None = None, worse: float | None = None
) -> News:
    """`made`, `marked` and `worse`: hours before noon of the day."""
    now = at(day, 12)

    def ago(hours: float) -> dict[str, object]:
        return {each.id: now - timedelta(hours=hours) for each in known.standing}

    marks = {} if marked is None else {name: [{"by": "Ida", "at": moment}] for name, moment in ago(marked).items()}
    board_context = BoardContext(FindingAnswers(marks, ago(made)), {} if worse is None else ago(worse))
    return news(board_context, [known], now, DAYS)


def _kinds(told: News) -> list[str]:
    return [each.kind for each in told.changes]


def test_what_was_found_within_a_day_is_new() -> None:
    known = scene(session(5), day=6)
    assert _kinds(_news(known, 6, made=23.9)) == ["new"]
    assert _kinds(_news(known, 6, made=24)) == []


def test_a_first_import_of_an_old_session_is_no_news() -> None:
    assert _kinds(_news(scene(session(5), checkin(13), day=13), 13, made=1)) == []


def test_what_has_grown_worse_is_told_and_what_was_answered_is_no_longer_new() -> None:
    known = scene(session(5), day=6)
    assert _kinds(_news(known, 6, made=30, worse=2)) == ["worse"]
    answered = _news(known, 6, made=2, marked=1)
    assert _kinds(answered) == ["answered"]
    assert answered.changes[0].words == "no running seen by Ida"
    assert answered.tally == "1 answered"
    assert _kinds(_news(known, 6, made=30, marked=25)) == []


def test_holds_and_releases_are_answers() -> None:
    assert _kinds(_news(scene(hold(5, hour=13), day=6), 6)) == ["answered"]
    assert _kinds(_news(scene(hold(4), release(6), day=6), 6)) == ["answered"]


def test_a_stage_that_begins_and_one_that_waits_are_told() -> None:
    began = _news(scene(checkin(7, pain=0), day=8), 8)
    assert [(each.kind, each.words) for each in began.changes] == [("began", "cross-training began")]
    waits = _news(scene(checkin(7, pain=6), day=8), 8)
    assert "waits" in _kinds(waits)
    assert next(each.words for each in waits.changes if each.kind == "waits").startswith("cross-training waits, 1 day")
    assert "waits" not in _kinds(_news(scene(checkin(7, pain=6), day=11), 11)), "three days later that is known"
