"""Whatever tells of a day tells the one decision: commands, JSON, board, messages, for anybody and on any day."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from monitor import words
from monitor.alerts.message import compose
from monitor.alerts.outbox_editor import about_words, by_subject, day_of, item, news_item, reader_of
from monitor.board.athlete_view import athlete_view, row
from monitor.board.board_data import BoardContext, KnownAthlete
from monitor.judging import View
from monitor.news import MorningDigest, Reader, stage_news
from monitor.roster import AlertSettings, Contact, Roster, RosterAthlete
from monitor.timed_notices import daily_of, digest_row
from monitor.values import IntakeOptions
from monitor.views.plan import plan_view, today_view
from monitor.views.status import status_entry
from rules import words as rule_words
from rules.day import decide
from rules.facts import History
from rules.findings import Severity
from rules.history import in_order
from rules.judge import Judgement
from tests.rules.day.random_days import Life, lives
from tests.rules.day.test_one_voice import OF_A_COACH, contradictions
from tests.rules.people import LIMITS

SOME = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
NOTHING_ASIDE = BoardContext()
NEWS_DAYS = 7.0


def _roster(life: Life) -> Roster:
    coach, own = Contact("coach", "Coach Ida", ()), Contact("own", "Runa", (), role="athlete")
    contacts = (coach, own) if life.runner.coached else (own,)
    names = tuple(each.id for each in contacts)
    one = RosterAthlete(life.runner, Path("/nowhere"), names, IntakeOptions(life.runner.timezone))
    return Roster(Path("/nowhere/roster.toml"), AlertSettings(), contacts, (one,), "")


def _view(life: Life, roster: Roster) -> View:
    return View(roster.athletes[0], life.facts, life.judgement, None)


def _readers(roster: Roster) -> list[Reader]:
    return [reader_of(roster, roster.athletes[0].id, contact) for contact in roster.contacts]


def messages(judgement: Judgement, facts: History, roster: Roster, now: datetime) -> Iterator[tuple[Reader, str]]:
    """Title and text of whatever could be sent of an athlete at this moment."""
    tells = day_of(judgement, facts, LIMITS)
    today = facts.athlete.local_date(now)
    for reader in _readers(roster):
        day = tells(reader, now)
        known = [each for each in judgement.findings if each.subject_start <= now]
        alerts = [replace(item("first", about_words(found[0]), found), day=day) for found in by_subject(known).values()]
        news = [
            replace(news_item(each.key, each.news, Severity.NOTE), day=day)
            for each in (stage_news(judgement.current, today) if judgement.current else ())
            if each.news is not None
        ]
        daily = daily_of(judgement, facts, reader, now, LIMITS)
        plain = [news_item("daily", daily, Severity.NOTE)] if daily is not None else []
        for items in [[each] for each in (*alerts, *news, *plain)] + ([[*alerts, *news]] if alerts else []):
            told = compose(items, reader, now)
            yield reader, f"{told.title}\n{told.body}"
        line = digest_row(judgement, facts, known, reader, now, LIMITS)
        if line is not None and reader.role == "coach":
            yield reader, "\n".join(words.news.digest_words(MorningDigest((line,))))


def in_sentences(text: str) -> Sequence[str]:
    return [part for line in text.splitlines() for part in re.split(r"(?<=[.:?!;]) (?=[A-Z])", line)]


@SOME
@given(lives())
def test_commands_json_and_board_show_the_one_decision(life: Life) -> None:
    roster = _roster(life)
    made = _view(life, roster)
    facts = in_order(life.facts, LIMITS)
    decision = decide(life.judgement, facts, life.now, LIMITS)
    shown = [
        plan_view(made, life.now, LIMITS)["decision"],
        status_entry(made, life.judgement.findings, set(), life.now, LIMITS)["decision"],
        today_view(made, life.now, LIMITS),
    ]
    for each in shown:
        assert (each["answer"], each["movement"], each["rest"], each["allowed_min"], each["running"]) == (
            rule_words.day.answer(decision),
            decision.movement,
            decision.rest,
            decision.allowed_min,
            decision.running,
        )
        assert each["run_allowed_min"] == decision.run_allowed_min
    known = KnownAthlete(made, facts, life.judgement.findings)
    line = row(known, NOTHING_ASIDE, life.now, NEWS_DAYS, LIMITS)
    assert line.allowed == rule_words.day.answer(decision)
    page = athlete_view(known, line, NOTHING_ASIDE, life.now, LIMITS)
    assert contradictions([*page.now, *page.easy], decision) == []


@SOME
@given(lives())
def test_no_message_offers_what_the_day_forbids_or_speaks_of_a_coach_that_there_is_not(life: Life) -> None:
    roster = _roster(life)
    decision = decide(life.judgement, in_order(life.facts, LIMITS), life.now, LIMITS)
    for reader, text in messages(life.judgement, life.facts, roster, life.now):
        assert contradictions(in_sentences(text), decision) == [], text
        if not reader.coached:
            assert [each for each in in_sentences(text) if OF_A_COACH.search(each)] == [], text
