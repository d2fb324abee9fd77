"""`stairs_test`, `pain`, `see_a_doctor`."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rules.body.checkins import in_time, not_understood
from rules.body.red_flags import CLASSES, flags_in, red_flags, signs_in
from rules.findings import Severity
from rules.words import said
from tests.rules.people import checkin, judged, on, only, session, told

# stairs_test


def test_stairs_not_managed_are_a_caution_and_a_stop_with_training_that_day() -> None:
    failed = checkin(3, stairs_unaided=False)
    assert told(judged(failed)) == [(3, "stairs_test", "caution")]
    assert told(judged(failed, session(3, "walking", 30))) == [(3, "stairs_test", "caution")]
    ride = session(3, "cycling", 30, 15)
    [found] = judged(failed, ride).findings
    assert (found.rule, found.severity, found.session_start) == ("stairs_test", Severity.STOP, ride.start)
    assert (found.subject_kind, found.subject) == ("checkin", on(3).isoformat())
    assert told(judged(failed, session(4, "cycling", 30))) == [(3, "stairs_test", "caution")]
    assert told(judged(checkin(3, squat_unaided=False))) == [(3, "stairs_test", "caution")]


def test_a_later_check_in_of_the_day_corrects_the_earlier() -> None:
    wrong = checkin(3, stairs_unaided=False, order=1.8e9)
    assert told(judged(wrong, checkin(3, stairs_unaided=True, order=1.8e9 + 60))) == []
    assert told(judged(wrong, checkin(3, mood=7, order=1.8e9 + 60))) == [(3, "stairs_test", "caution")]


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({}, {"pain": 0.5}),
        ({"pain": 3}, {"pain": 4}),
        ({}, {"stairs_unaided": False}),
        ({"stairs_unaided": True}, {"stairs_unaided": False}),
        ({}, {"squat_unaided": False}),
        ({"squat_unaided": False}, {"stairs_unaided": False}),
        ({"stairs_unaided": False}, {"pain": 1}),
    ],
)
def test_of_two_check_ins_of_one_moment_the_worse_is_the_later(better: dict[str, Any], worse: dict[str, Any]) -> None:
    pair = [checkin(3, order=1.8e9, **answers) for answers in (worse, better)]
    assert in_time(pair) == in_time(pair[::-1]) == pair[::-1]


# pain


@pytest.mark.parametrize(
    ("values", "days"),
    [
        ({3: 4}, [3]), ({3: 3.9}, []), ({3: 1, 4: 2, 5: 3}, [5]), ({3: 1, 4: 1, 5: 2}, []), ({3: 0, 5: 1, 9: 2}, [9]),
        ({3: 1, 4: 2}, []), ({3: 5, 4: 4, 5: 3}, [3, 4]), ({-2: 1, 3: 2, 4: 3}, []),
    ],
)  # fmt: skip
def test_pain_is_told_when_it_is_great_or_has_grown_over_three_check_ins(
    values: dict[int, float], days: list[int]
) -> None:
    found = only(judged([checkin(day, pain=value) for day, value in values.items()]), "pain")
    assert [each.day for each in found] == days


def test_a_check_in_without_pain_repeats_no_pain() -> None:
    assert told(judged(checkin(3, pain=6), checkin(4, mood=5))) == [(3, "pain", "caution")]


# see_a_doctor

FLAGGED = {
    "muscle_breakdown": ["dark urine", "my pee is brown", "cola_coloured urine: cola urine", "no urine since yesterday",
                         "cannot pee", "blood in my urine", "thighs extremely swollen"],
    "low_sodium": ["bad headache", "Vomiting all night", "threw up twice", "swollen hands and face"],
    "confusion": ["confused and slurred speech", "collapsed at the table"],
    "heat_stroke": ["heat stroke"],
    "stroke": ["one side of my face droops", "slurred speech", "weakness of one arm"],
    "head_injury": ["hit my head on the kerb", "concussion"],
    "heart": ["chest pain", "chest_tightness", "tight chest", "pain in my chest", "fainted in the shower", "felt faint",
              "palpitations", "heart is fine at rest but heart racing at night",
              "shortness of breath", "trouble breathing"],
    "clot": ["left calf swollen", "one calf is hot", "my right calf is red and tender", "deep vein thrombosis?"],
    "infection": ["fever", "temperature 38.5", "chills", "chest infection", "flu"],
    "bone": ["shin pain at night", "pain on hopping", "stress fracture again", "pinpoint tenderness"],
    "nerve": ["numb in the saddle area", "lost control of bladder"],
}  # fmt: skip


@pytest.mark.parametrize(("flag", "text"), [(flag, text) for flag, texts in FLAGGED.items() for text in texts])
def test_common_wordings_of_a_red_flag_are_found(flag: str, text: str) -> None:
    assert flag in [found.id for found, _ in flags_in((text,), 1)]


@pytest.mark.parametrize(
    "text",
    [
        "no chest pain", "without fever", "legs sore, sleepy", "drinking plenty of fluids", "calves tired both sides",
        "heart rate fine after racing", "chest strap tight", "faint soreness", "chill day on the sofa", "numb toes",
        "quads burn on stairs", "read a book at night, quads ache", "foot blister", "feels like one big nap", "hungry",
        "urine is pale and fine", "rested hip", "not confused", "dark chocolate", "slept hot", "lost a toenail",
        "stressed at work",
    ],
)  # fmt: skip
def test_what_is_no_red_flag_is_left_alone(text: str) -> None:
    assert flags_in((text,), 1) == []


def test_headache_is_a_red_flag_only_close_to_the_race() -> None:
    assert flags_in(("headache",), 1)
    assert flags_in(("headache",), 9) == []


def test_a_red_flag_is_a_stop_with_its_source_and_no_diagnosis() -> None:
    [found] = judged(checkin(2, symptoms=("dark urine",))).findings
    assert (found.rule, found.severity) == ("see_a_doctor", Severity.STOP)
    assert found.evidence["flags"][0]["source"].startswith("Scalco")
    assert "no diagnosis" in said(found.evidence["assumed"][0])
    assert told(judged(checkin(2, note="Slept badly. Left calf swollen since the flight"))) == [
        (2, "see_a_doctor", "stop")
    ]


def test_every_red_flag_says_what_to_do_how_soon_and_who_says_so() -> None:
    assert all(flag.say and flag.urgency and flag.source and flag.wordings for flag in red_flags())
    assert {flag.klass for flag in red_flags()} == set(CLASSES)
    assert len({flag.id for flag in red_flags()}) == len(red_flags())


def test_a_sign_in_doubt_is_a_question_and_no_stop() -> None:
    [found] = judged(checkin(3, note="Slept well. Had chest pain last week")).findings
    assert (found.rule, found.severity) == ("see_a_doctor", Severity.CAUTION)
    assert said(found.summary) == "You wrote “Had chest pain last week”: is it still there?"
    assert found.evidence["flags"] == []
    assert [each["flag"] for each in found.evidence["questions"]] == ["heart"]


def test_a_sign_told_and_one_in_doubt_are_a_stop_that_keeps_the_question() -> None:
    [found] = judged(checkin(3, note="Chest pain. Maybe a bit of fever")).findings
    assert found.severity is Severity.STOP
    assert [each["flag"] for each in found.evidence["questions"]] == ["infection"]


@pytest.mark.parametrize(
    ("note", "unclear"),
    [
        ("Slept well, legs heavy, quads ache on the stairs", ()),
        ("Easy day. Odd rash on the belly", ("Odd rash on the belly",)),
        ("no pain, no rash", ()),
        ("Alles bestens, Schmerzen in der Brust", ("Alles bestens", "Schmerzen in der Brust")),
        ("no fever, calf is fine", ()),
        ("", ()),
    ],
)
def test_what_a_note_complains_of_and_no_red_flag_knows_is_said(note: str, unclear: tuple[str, ...]) -> None:
    assert not_understood(checkin(3, note=note)) == unclear


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("temperature 37.9", False), ("temperature 38.0", True), ("temp 42.9", True), ("38.9 this morning", True),
        ("38,9 this morning", True), ("101.5 F", True), ("ran 38.9 km", False), ("39 degrees in the shade", False),
    ],
)  # fmt: skip
def test_numbers_are_a_fever_only_as_temperatures_of_a_body(text: str, told: bool) -> None:
    assert ("infection" in [flag.id for flag, _ in flags_in((text,), 3)]) == told


def test_a_denial_reaches_over_a_list_and_not_over_a_new_thought() -> None:
    def stand(text: str) -> dict[str, str]:
        return {sign.flag.id: sign.standing for sign in signs_in((text,), 3)}

    assert stand("no fever, chest pain or palpitations") == {"heart": "denied", "infection": "denied"}
    assert stand("no fever, chest pain when breathing") == {"heart": "doubtful", "infection": "denied"}
    assert stand("no fever but chest pain") == {"heart": "told", "infection": "denied"}
    assert stand("no fever. Chest pain") == {"heart": "told", "infection": "denied"}
    assert stand("chest pain not gone") == {"heart": "told"}
    assert stand("chest pain gone") == {"heart": "denied"}


@given(
    st.lists(st.sampled_from(["no", "not", "chest", "pain", "gone", ",", "calf", "hot", "fever", "38.9", "but", "."]))
)
def test_reading_words_is_the_same_every_time_and_never_fails(words: list[str]) -> None:
    text = " ".join(words)
    assert signs_in((text,), 1) == signs_in((text,), 1)
    assert all(sign.text for sign in signs_in((text,), 1))


@given(st.text(max_size=200))
@example("0_FEBRILE")
@example("fever: no, chest pain")
def test_any_text_can_be_read(text: str) -> None:
    typed = text.replace("_", " ").replace("’", "'").replace("`", "'")
    for sign in signs_in((text,), 1):
        assert sign.text
        assert all(part.strip() in typed for part in sign.text.split(" is absent"))  # an answer "no" is worded so
    assert all(each.strip() for each in not_understood(checkin(3, note=text)))
