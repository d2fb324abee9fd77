"""Why a file or a message stands as it does is stored as a code with values, and worded when it is shown."""

from __future__ import annotations

import pickle
import string
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.alerts.responses import SendResult
from monitor.errors import Unreadable
from monitor.reasons import Reason, Why, code_of, stored
from tests.monitor.alerts.scene import Scene, finding

CODES = Path(__file__).with_name("reason_codes.txt")
"""Every code that a store somewhere may hold: lines are added here and never taken away."""
TEXTS = {
    name: text
    for module in (words.files, words.sending, words.doctor, words.roster)
    for name, text in vars(module).items()
    if isinstance(text, Reason)
}


def _filled(text: Reason) -> Reason:
    """A sentence with values that suit it."""
    asked = [(name, form) for _, name, form, _ in string.Formatter().parse(text) if name]
    return text.format(**{name: 3.0 if form else "it" for name, form in asked}) if asked else text


@pytest.mark.parametrize("text", TEXTS.values(), ids=list(TEXTS))
def test_every_reason_comes_back_from_the_store_in_the_words_it_had(text: Reason) -> None:
    said = _filled(text)
    kept = stored(said)
    assert code_of(kept) == text.code
    assert words.of_stored(kept) == said


@given(st.text(), st.text())
def test_whatever_a_value_holds_comes_back(value: str, other: str) -> None:
    inner = words.files.BROKEN_JSON.format(msg=value, lineno=3)
    said = words.files.IN_MEMBER.format(name=other, reason=Unreadable(inner))
    kept = stored(said, words.files.CADENCE_DOUBLED)
    assert words.of_stored(kept) == f"{said}; {words.files.CADENCE_DOUBLED}"
    assert "broken JSON" not in kept


def test_a_reason_crosses_to_the_worker_processes_and_back_with_its_code() -> None:
    said = words.files.IN_LINE.format(line=3, column="date", reason=words.files.ROW_WITHOUT_DATE)
    back = pickle.loads(pickle.dumps(said))
    assert (back, stored(back)) == (said, stored(said))


@pytest.mark.parametrize(
    "text",
    ["", "a sentence of an older version", "no_date and more", 'in_line {"line": 3}', "no_date {", "in_line 3"],
)
def test_what_the_store_does_not_know_is_shown_as_it_is(text: str) -> None:
    assert words.of_stored(text) == text


def test_a_code_that_a_store_may_hold_keeps_its_sentence() -> None:
    known = {text.code for text in TEXTS.values()} | {str(why) for why in Why}
    assert known == set(CODES.read_text("utf-8").split())


def test_no_two_sentences_share_a_code() -> None:
    assert len({text.code for text in TEXTS.values()}) == len(TEXTS)


def test_every_reason_of_a_message_is_worded_or_a_plain_word() -> None:
    for why in Why:
        assert words.of_stored(why) != why or why == Why.QUIET_HOURS or "_" not in why


def test_an_error_with_a_secret_in_a_value_is_stored_without_it(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    secret = scene.roster.contacts[0].urls[0]
    scene.channel = lambda *_, **__: SendResult(False, words.sending.BROKE_WHILE_SENDING.format(kind=secret))
    scene.queue(finding())
    scene.deliver()
    with scene.store.reading() as con:
        (kept,) = con.execute("SELECT last_error FROM outbox").fetchall()[0]
    assert kept.startswith("broke_while_sending ")
    assert secret not in kept


def test_a_name_that_the_room_of_words_has_not_is_missing_as_everywhere() -> None:
    assert not hasattr(words, "no_such_module")
