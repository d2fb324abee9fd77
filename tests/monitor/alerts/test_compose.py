from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alerts.compose import compose
from monitor.alerts.items import Item, ItemKind, from_text, item, to_text
from monitor.alerts.readers import Reader, reader_of
from monitor.alerts.words import clean
from rules.advice import cautions
from rules.findings import Severity
from tests.monitor.alerts.scene import NOON, contact, finding, roster

OSLO = ZoneInfo("Europe/Oslo")
COACH = Reader("coach", "runa", "Runa Vik", "Runa", OSLO)
ATHLETE = Reader("athlete", "runa", "Runa Vik", "Runa", OSLO)
RUN = finding()
HEART = finding(
    "intensity_ceiling", Severity.CAUTION, summary="6 min 20 s above 121 bpm", observed=380.0, limit=120.0, unit="s",
    advice=("Slow down before the heart does",),
)  # fmt: skip
LONG = finding("duration_cap", Severity.CAUTION, summary="71 min, over the 45 min cap", observed=71.0, limit=45.0)


def both(kind: ItemKind = "first") -> Item:
    return item(kind, "s", [HEART, RUN])


def test_the_coach_reads_who_what_where_and_how_far_over_on_a_locked_telephone() -> None:
    message = compose([item("first", "s", [LONG])], COACH)
    assert message.title == "Caution – Runa: 71 min, over the 45 min cap (day 5, days off)"


def test_the_coachs_text_says_who_what_how_far_over_and_what_was_advised() -> None:
    assert compose([both()], COACH).body.splitlines() == [
        "Running 9 min in a session labelled walk, in the days off, which have none.",
        "Runa Vik, day 5, days off; Fri 9 Oct 12:00–12:40, running.",
        "9.2 min against 0 min, 9.2 min over.",
        f"Also caution: 6 min 20 s above 121 bpm. ({HEART.id})",
        "Advised: Stop running; walk home. Tomorrow: rest, or walk. Slow down before the heart does.",
        f"Details: fallow explain {RUN.id}",
    ]


def test_the_athletes_text_says_what_happened_the_numbers_what_to_do_now_and_the_usual_cautions() -> None:
    assert compose([both()], ATHLETE).body.splitlines() == [
        "Running 9 min in a session labelled walk, in the days off, which have none.",
        "Fri 9 Oct 12:00–12:40, running; day 5, days off.",
        "9.2 min against 0 min, 9.2 min over.",
        "Now: Stop running; walk home. Tomorrow: rest, or walk. Slow down before the heart does.",
        f"Also caution: 6 min 20 s above 121 bpm. ({HEART.id})",
        *cautions(Severity.STOP),
        f"Details: fallow explain {RUN.id}",
    ]
    assert "Runa" not in compose([both()], ATHLETE).title


def test_an_athlete_is_told_whom_to_ask() -> None:
    asking = replace(ATHLETE, coach="Coach Ida")
    for kind in ("first", "taken_back"):
        assert compose([both(kind)], asking).body.endswith(f"Details: ask Coach Ida, or fallow explain {RUN.id}")
    told = roster(contact(), contact("runa", role="athlete"))
    assert reader_of(told, "runa", told.contacts[1]).coach == told.contacts[0].name
    alone = roster(contact("runa", role="athlete"))
    assert reader_of(alone, "runa", alone.contacts[0]).coach == ""


def test_the_coach_of_a_silent_athlete_reads_what_a_coach_can_do() -> None:
    silent = item("first", "s", [finding("gone_quiet", Severity.CAUTION, advice=("Let your watch sync",))])
    assert "Now: Nothing heard for a while" in compose([silent], COACH).body
    assert "Let your watch sync" not in compose([silent], COACH).body
    assert "Now: Let your watch sync." in compose([silent], ATHLETE).body


def test_a_finding_without_advice_still_says_what_to_do() -> None:
    message = compose([item("first", "s", [replace(RUN, advice=())])], ATHLETE)
    assert "Now: Do no more today; rest." in message.body


def test_a_rule_that_wants_more_says_how_far_under() -> None:
    sleep = finding(
        "short_sleep", Severity.CAUTION, kind="morning", observed=5.6, limit=7.0, unit="h", summary="5 h 36 min"
    )
    body = compose([item("first", "m", [sleep])], COACH).body
    assert "5.6 h against 7 h, 1.4 h under." in body
    assert "; Fri 9 Oct." in body


def test_units_that_cannot_be_subtracted_are_left_to_the_summary() -> None:
    odd = replace(RUN, unit="h after the finish", observed=14.0, limit=65.0)
    assert "against" not in compose([item("first", "s", [odd])], COACH).body


def test_what_the_numbers_rest_on_is_named() -> None:
    guess = replace(HEART, evidence={"assumed": ["the highest heart rate, from age (Tanaka 2001)", 3]})
    body = compose([item("first", "s", [guess])], COACH).body
    assert "Assumes: the highest heart rate, from age (Tanaka 2001)." in body


def test_an_update_says_so() -> None:
    message = compose([both("update")], COACH)
    assert message.title.startswith("Update: STOP – Runa: ")
    assert "This adds to what you were told before." in message.body


def test_what_is_taken_back_does_not_shout() -> None:
    message = compose([item("taken_back", "s", [RUN])], COACH)
    assert message.title.startswith("Taken back: Runa: running 9 min")
    assert "STOP" not in message.title + message.body
    assert item("taken_back", "s", [RUN]).severity == Severity.NOTE


def test_several_alerts_in_one_message_are_numbered_worst_first() -> None:
    message = compose([item("first", "a", [LONG]), both()], COACH)
    assert message.title.startswith("STOP – Runa: 2 alerts, worst: running 9 min")
    assert message.body.startswith("1. STOP – Runa: running 9 min")
    assert "\n\n2. Caution – Runa: 71 min" in message.body


def test_the_cautions_stand_once_in_a_message_of_several() -> None:
    assert compose([both(), both()], ATHLETE).body.count(cautions(Severity.STOP)[0]) == 1


def test_a_title_fits_a_lock_screen() -> None:
    long = replace(RUN, summary="Running " + "on and on " * 40)
    title = compose([item("first", "s", [long])], COACH).title
    assert len(title) <= 130
    assert title.endswith("… (day 5, days off)")


def test_two_athletes_of_one_first_name_are_told_apart() -> None:
    known = roster()
    (runa,) = known.athletes
    other = replace(runa, athlete=replace(runa.athlete, id="runa2", name="Runa Dal"))
    both_of_them = replace(known, athletes=(runa, other))
    assert reader_of(known, "runa", contact()).called == "Runa"
    assert reader_of(both_of_them, "runa", contact()).called == "Runa Vik"


@pytest.mark.parametrize(
    "name", ["Runa\r\nVik", "\x1b[31mRuna Vik", "Runa\u202eVik\u2066", "Runa\u2028Vik", "<b>Runa</b> Vik"]
)
def test_a_name_can_neither_break_a_line_nor_carry_markup(name: str) -> None:
    reader = reader_of(roster(name=name), "runa", contact())
    message = compose([both()], reader)
    plain = compose([both()], COACH)
    assert len(message.body.splitlines()) == len(plain.body.splitlines())
    assert not set("\x1b\u202e\u2066\u2028<>\r") & set(message.title + message.body)


@given(st.text(max_size=600))
def test_cleaned_text_is_one_printable_line(text: str) -> None:
    cleaned = clean(text)
    assert len(cleaned) <= 400
    assert cleaned.isprintable()
    assert clean(cleaned) == cleaned


def test_items_come_back_from_the_store_as_they_were() -> None:
    told = (both(), Item("text", Severity.NOTE, "k", title="Today", body="Rest."))
    assert from_text(to_text(told)) == told


def test_times_are_those_of_the_athletes_clock() -> None:
    late = finding(start=datetime(2026, 10, 9, 22, 50, tzinfo=NOON.tzinfo), minutes=30)
    assert "Sat 10 Oct 00:50–01:20" in compose([item("first", "s", [late])], COACH).body
    assert late.subject_end - late.subject_start == timedelta(minutes=30)
