from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake.checkin import is_checkin, read_checkins
from monitor.values import FileFacts, IntakeOptions

OSLO = IntakeOptions("Europe/Oslo")


def facts_of(document: object) -> FileFacts:
    return read_checkins(json.dumps(document).encode(), OSLO)


def test_a_check_in_as_the_contract_writes_it() -> None:
    facts = facts_of(
        {
            "date": "2026-10-06",
            "stairs_unaided": False,
            "squat_unaided": True,
            "soreness": 7,
            "pain": 2.5,
            "pain_where": "left calf",
            "energy": 4,
            "mood": 6,
            "symptoms": ["dark urine", "fever"],
            "note": "slept badly",
        }
    )
    (checkin,) = facts.checkins
    assert checkin.date == date(2026, 10, 6)
    assert (checkin.stairs_unaided, checkin.squat_unaided) == (False, True)
    assert (checkin.soreness, checkin.pain, checkin.energy, checkin.mood) == (7, 2.5, 4, 6)
    assert (checkin.pain_where, checkin.note) == ("left calf", "slept badly")
    assert checkin.symptoms == ("dark urine", "fever")
    assert (facts.kind, facts.remarks) == ("checkin", ())


@pytest.mark.parametrize("written", [True, "yes", "Y", "TRUE", "true", 1, "1", 1.0])
def test_yes_is_understood_however_it_is_written(written: object) -> None:
    assert facts_of({"date": "2026-10-06", "stairs_unaided": written}).checkins[0].stairs_unaided is True


@pytest.mark.parametrize("written", [False, "no", "N", "False", 0, "0"])
def test_no_is_understood_however_it_is_written(written: object) -> None:
    assert facts_of({"date": "2026-10-06", "squat_unaided": written}).checkins[0].squat_unaided is False


@pytest.mark.parametrize(
    ("written", "pain"), [("3", 3), ("3,5", 3.5), ("4/10", 4), (0, 0), (10, 10), (None, None), ("", None), ("-", None)]
)
def test_scales_are_read_from_numbers_and_text(written: object, pain: float | None) -> None:
    assert facts_of({"date": "2026-10-06", "pain": written}).checkins[0].pain == pain


@pytest.mark.parametrize("key", ["soreness", "pain", "energy", "mood"])
@pytest.mark.parametrize("value", [11, -1, "blue", True, [3], 10.01, "1e400", "9-11"])
def test_a_scale_out_of_range_is_refused_by_key_value_and_what_is_allowed(key: str, value: object) -> None:
    with pytest.raises(Unreadable, match=rf"^{key} = '.+': must be a number from 0 to 10$"):
        facts_of({"date": "2026-10-06", key: value})


def test_neither_yes_nor_no_is_refused() -> None:
    with pytest.raises(Unreadable, match="stairs_unaided = 'maybe': must be yes or no"):
        facts_of({"date": "2026-10-06", "stairs_unaided": "maybe"})


def test_a_bad_answer_discards_nothing_beside_it_and_is_remarked() -> None:
    facts = facts_of({"date": "2026-10-06", "mood": -1, "pain": "a lot", "stairs_unaided": "with help",
                      "symptoms": ["chest pain"]})  # fmt: skip
    (checkin,) = facts.checkins
    assert (checkin.mood, checkin.pain, checkin.stairs_unaided) == (None, 7, False)
    assert checkin.symptoms == ("chest pain",)
    assert facts.remarks == ("mood = '-1': must be a number from 0 to 10; the other answers are kept",)


def test_one_bad_check_in_of_a_list_discards_no_other() -> None:
    facts = facts_of([{"date": "never", "pain": 1}, 7, {"date": "2026-10-06", "symptoms": "chest pain"}])
    assert [one.symptoms for one in facts.checkins] == [("chest pain",)]
    assert len(facts.remarks) == 2


@pytest.mark.parametrize(
    ("written", "unaided"),
    [
        ("with help", False), ("yes, with help", False), ("only with the rail", False), ("barely", False),
        ("holding on", False), ("no, not yet", False), ("can't", False), ("can’t do it", False), ("nein", False),
        ("without help", True), ("yes, without holding on", True), ("easily", True), ("Yes!", True), ("ja", True),
        ("no help needed", True), ("ja, gut", True), ("fine, thanks", True), ("sí", True), ("not without help", False),
        ("no, I need help", False), ("no, with support", False),
    ],
)  # fmt: skip
def test_how_stairs_went_is_understood_in_words(written: str, unaided: bool) -> None:
    assert facts_of({"date": "2026-10-06", "stairs_unaided": written}).checkins[0].stairs_unaided is unaided


@pytest.mark.parametrize(
    ("key", "written", "value"),
    [
        ("pain", "a lot", 7), ("pain", "A little.", 2), ("pain", "no pain", 0), ("pain", "7-8", 8),
        ("pain", "3 of 10", 3),
        ("energy", "7 or 8", 7), ("energy", "a lot", 8), ("mood", "good", 7), ("soreness", "severe", 8),
    ],
)  # fmt: skip
def test_how_much_is_understood_in_words(key: str, written: str, value: float) -> None:
    assert getattr(facts_of({"date": "2026-10-06", key: written}).checkins[0], key) == value


@pytest.mark.parametrize("value", [None, "", "yesterday", "2026-13-01", 20, [], {}])
def test_a_check_in_needs_a_date(value: object) -> None:
    with pytest.raises(Unreadable, match=r"date = .*must be a date such as"):
        facts_of({"date": value, "pain": 1})


def test_the_order_is_the_moment_told_else_noon_of_the_day() -> None:
    noon, morning, elsewhere = facts_of(
        [
            {"date": "2026-10-06", "pain": 1},
            {"date": "2026-10-06T07:15", "pain": 2},
            {"date": "2026-10-06T00:30:00+09:00", "pain": 3},
        ]
    ).checkins
    assert noon.order == datetime(2026, 10, 6, 10, 0, tzinfo=UTC).timestamp()
    assert morning.order == datetime(2026, 10, 6, 5, 15, tzinfo=UTC).timestamp()
    assert elsewhere.date == date(2026, 10, 5)


def test_the_later_of_two_in_one_file_stands_behind_the_first() -> None:
    first, second = facts_of([{"date": "2026-10-06", "pain": 1}, {"date": "2026-10-06", "pain": 5}]).checkins
    assert (first.pain, second.pain) == (1, 5)
    assert first.order < second.order


def test_unknown_keys_are_left_out_and_told() -> None:
    facts = facts_of({"date": "2026-10-06", "pain": 1, "Shoe": "x", "a\nb": 2})
    assert facts.checkins[0].pain == 1
    assert facts.remarks == (r"keys left out: Shoe, a\nb",)
    many = facts_of({"date": "2026-10-06", "pain": 1} | dict.fromkeys("abcdefghijk", 1))
    assert many.remarks == ("keys left out: a, b, c, d, e, f, g, h, i, j",)


def test_symptoms_may_be_one_text_with_commas() -> None:
    assert facts_of({"date": "2026-10-06", "symptoms": "fever, chest pain; fever"}).checkins[0].symptoms == (
        "fever",
        "chest pain",
    )
    assert facts_of({"date": "2026-10-06", "symptoms": "none"}).checkins[0].symptoms == ()


def test_free_text_is_kept_on_one_line_and_within_bounds() -> None:
    checkin = facts_of({"date": "2026-10-06", "note": "a\n\x1b[31mb\u202e" + "x" * 9000, "pain_where": "  "}).checkins[
        0
    ]
    assert checkin.note is not None
    assert checkin.note.startswith("a [31mb ")
    assert len(checkin.note) <= 2000
    longest = {"date": "2026-10-06", "note": "n" * 2001, "pain_where": "w" * 101, "symptoms": ["s"] * 50 + ["t"]}
    (whole,) = facts_of(longest).checkins
    assert (whole.note, whole.pain_where, whole.symptoms) == ("n" * 2000, "w" * 100, ("s",))
    assert checkin.pain_where is None


@pytest.mark.parametrize(
    ("document", "is_one"),
    [
        ({"date": "2026-10-06", "pain": 1}, True),
        ([{"date": "2026-10-06", "gone": True}], True),
        ({"date": "2026-10-06"}, False),
        ({"date": "2026-10-06", "steps": 1}, False),
        ({"pain": 1, "mood": 2}, False),
        ([], False),
        (3, False),
    ],
)
def test_a_check_in_has_a_date_and_an_answer(document: object, *, is_one: bool) -> None:
    assert is_checkin(document) == is_one


def test_several_of_one_moment_are_a_second_apart() -> None:
    told = facts_of([{"date": "2026-10-06", "pain": pain} for pain in range(4)]).checkins
    assert [one.order - told[0].order for one in told] == [0, 1, 2, 3]


@pytest.mark.parametrize("document", [[], "text", 3, [1], None])
def test_what_is_no_check_in_is_unreadable(document: object) -> None:
    with pytest.raises(Unreadable):
        facts_of(document)


@pytest.mark.parametrize(
    "data", [b"", b"{", b"{'date': 1}", b"[" * 100_000, b'{"pain": NaN}', b'{"pain": ' + b"9" * 6000 + b"}"]
)
def test_broken_json_is_unreadable(data: bytes) -> None:
    with pytest.raises(Unreadable):
        read_checkins(data, OSLO)


scales = st.none() | st.floats(0, 10).map(lambda value: round(value, 2))


@settings(max_examples=50, deadline=None)
@given(
    st.fixed_dictionaries(
        {"date": st.dates(date(2001, 1, 1), date(2100, 1, 1)).map(date.isoformat)},
        optional={"pain": scales, "mood": scales, "stairs_unaided": st.none() | st.booleans()},
    )
)
def test_what_is_written_is_read_back(document: dict[str, Any]) -> None:
    (checkin,) = facts_of(document).checkins
    assert checkin.date.isoformat() == document["date"]
    assert checkin.pain == document.get("pain")
    assert checkin.mood == document.get("mood")
    assert checkin.stairs_unaided == document.get("stairs_unaided")


anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["date", "pain", "symptoms", "note", "x"]), inner, max_size=4)
    ),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None)
@given(anything)
def test_any_document_is_check_ins_or_unreadable(document: object) -> None:
    try:
        told = facts_of(document).checkins
    except Unreadable as reason:
        told = str(reason)
    assert told
    assert not isinstance(told, str) or told.isprintable()


@pytest.mark.parametrize(
    ("written", "gone"),
    [
        (["fever", "chest pain"], ("fever", "chest pain")), ("fever; chest pain", ("fever", "chest pain")),
        (True, ("all",)), ("yes", ("all",)), ("all", ("all",)), (False, ()), ("no", ()), ([], ()), (None, ()),
        ("Ja.", ("all",)), ("nein", ()), ("no, not yet", ()), ("fever not gone", ()), ("fine", ("fine",)),
    ],
)  # fmt: skip
def test_what_is_gone_is_named_or_is_all_of_it(written: object, gone: tuple[str, ...]) -> None:
    (checkin,) = facts_of({"date": "2026-10-06", "gone": written}).checkins
    assert checkin.gone == gone


@pytest.mark.parametrize(
    ("written", "doctor"),
    [
        ("Dr Berg", "Dr Berg"), (True, "a doctor"), ("yes", "a doctor"), (False, None), ("no", None),
        ("ja", "a doctor"), ("Yes!", "a doctor"), ("nein", None), ("Not yet.", None), ("no, on Monday", None),
        ("haven’t, can’t before Monday", None), ("the physio, no doctor", "the physio, no doctor"),
        ("Dr Berg, not urgent", "Dr Berg, not urgent"),
        ("Dr Berg (can't help)", "Dr Berg (can't help)"),
    ],
)  # fmt: skip
def test_a_doctor_who_looked_at_it_has_a_name_or_none(written: object, doctor: str | None) -> None:
    (checkin,) = facts_of({"date": "2026-10-06", "seen_doctor": written}).checkins
    assert checkin.seen_doctor == doctor
