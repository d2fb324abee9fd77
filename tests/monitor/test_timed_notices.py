from dataclasses import replace
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.news import DigestRow, MorningDigest
from monitor.timed_notices import urgency

FINE = DigestRow("Siri", 11, "cross_training", "60 min easy, no running")
JOG = DigestRow("Runa", 4, "days_off", "walking only until Sun 10:21", "part of the walk was a jog, 13 min (Thu 8 Oct)")
SIGN = DigestRow("Olav", 9, "cross_training", "call for help now", "“chest pain”", "phone now")
SILENT = replace(FINE, name="Kari", silent_since=date(2026, 10, 5))


def told(*rows: DigestRow) -> tuple[str, str]:
    return words.news.digest_words(MorningDigest(tuple(sorted(rows, key=urgency))))


def test_the_title_names_who_needs_a_word_and_the_first_line_what_to_do() -> None:
    title, body = told(FINE, JOG, SIGN, SILENT)
    assert title == "2 of 4 need a word: Olav, Runa"
    assert body.splitlines() == [
        "Phone now: Olav, “chest pain”.",
        "1. Olav, day 9: call for help now.",
        "2. Runa, day 4: walking only until Sun 10:21. Part of the walk was a jog, 13 min (Thu 8 Oct).",
        "No file since: Kari (Mon 5 Oct).",
        "Fine: Siri.",
    ]


def test_who_never_sent_anything_is_named_as_that() -> None:
    title, body = told(FINE, replace(FINE, name="Kari", never_came=True))
    assert title == "No word needed; nothing new from Kari"
    assert body.startswith("Ask Kari to sync; nobody else needs a word.\nNo file since: Kari (nothing ever came).")


def test_stages_that_begin_or_wait_are_named() -> None:
    rows = (
        replace(FINE, begins="cross_training"),
        replace(FINE, name="Kari", waits="test_runs", opens_with="a check-in"),
    )
    _, body = told(*rows)
    assert "Begins today: Siri cross-training." in body
    assert "Waits: Kari test runs (a check-in)." in body


def test_a_morning_on_which_all_are_fine_says_so() -> None:
    assert told(FINE, replace(FINE, name="Kari")) == (
        "All 2 are fine today",
        "Nothing to do: nobody needs a word.\nFine: Kari, Siri.",
    )


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 60))
def test_a_morning_of_many_stays_short_and_counts_the_rest(needing: int, fine: int, silent: int) -> None:
    rows = [replace(JOG, name=f"Needing {n}") for n in range(needing)]
    rows += [replace(FINE, name=f"Fine {n}", begins="on_ramp") for n in range(fine)]
    rows += [replace(SILENT, name=f"Silent {n}") for n in range(silent)]
    if not rows:
        return
    title, body = told(*rows)
    assert len(title) <= 100
    assert len(body) <= 1500
    shown = sum(line[:1].isdigit() for line in body.splitlines())
    assert shown == needing or f"And {needing - shown} more: fallow status" in body


def test_of_one_alone_the_title_says_the_name() -> None:
    assert told(FINE) == ("Siri is fine today", "Nothing to do: nobody needs a word.\nFine: Siri.")
