"""Words of a scale against one another and against the bands of a numeric rating scale; how misspelt a word may be."""

from __future__ import annotations

from itertools import pairwise

import pytest

from rules.body.symptom_text import Spelling
from rules.limits import default_limits

TROUBLE = (
    ("no", "no pain", "nothing", "not at all"), ("hardly",),
    ("a little", "a bit", "little", "slight", "slightly", "mild", "light"), ("some",), ("moderate", "medium"),
    ("much", "a lot", "lots", "strong", "bad"), ("severe", "very much"), ("very bad", "terrible"),
    ("extreme", "unbearable"),
)  # fmt: skip
STRENGTH = (
    ("none",), ("very low", "terrible", "very bad"), ("bad", "low", "poor", "tired", "little", "a little"),
    ("so-so", "ok", "okay", "medium", "normal", "average"), ("fine",), ("good",), ("high", "a lot", "lots"),
    ("very good", "great"), ("excellent",),
)  # fmt: skip


def values(name: str) -> dict[str, int]:
    limits = default_limits()
    return dict({"trouble": limits.checkin_words.trouble, "strength": limits.checkin_words.strength}[name])


@pytest.mark.parametrize(("name", "steps"), [("trouble", TROUBLE), ("strength", STRENGTH)])
def test_words_that_mean_the_same_are_one_step_and_each_step_is_higher_than_the_one_before(
    name: str, steps: tuple[tuple[str, ...], ...]
) -> None:
    told = values(name)
    assert {word for step in steps for word in step} == set(told)
    for step in steps:
        assert len({told[word] for word in step}) == 1, step
    for lower, higher in pairwise(steps):
        assert told[lower[0]] < told[higher[0]], (lower, higher)
    assert (told[steps[0][0]], told[steps[-1][0]]) == (0, 10)


@pytest.mark.parametrize(
    ("words", "least", "most"),
    [(TROUBLE[1] + TROUBLE[2], 1, 3), (TROUBLE[3] + TROUBLE[4], 4, 6), (sum(TROUBLE[5:], ()), 7, 10)],
)
def test_mild_moderate_and_severe_are_those_of_a_numeric_rating_scale(
    words: tuple[str, ...], least: int, most: int
) -> None:
    """1-3, 4-6, 7-10: common practice, from memory."""
    assert {word for word in words if not least <= values("trouble")[word] <= most} == set()


def test_as_usual_is_the_middle_of_a_scale_and_what_is_less_than_that_lies_below() -> None:
    told = values("strength")
    assert told["normal"] == 5
    assert max(told[word] for step in STRENGTH[:3] for word in step) == 3, "low enough to be asked about"
    assert min(told[word] for step in STRENGTH[4:] for word in step) > 5


MENDED = Spelling({"leg", "pain", "chest", "swelling", "breathing"}, {"paid"})


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("lge", "lge"),  # of three letters none
        ("pian", "pain"),  # of four two that change places
        ("paun", "paun"),
        ("chast", "chest"),  # of five one that is wrong
        ("chasr", "chasr"),
        ("hcest", "chest"),  # the first two changed places
        ("ghest", "ghest"),  # but the first is never another one
        ("swallung", "swallung"),  # of eight not two
        ("swallimg", "swallimg"),
        ("swelimg", "swelimg"),
        ("sweling", "swelling"),
        ("braathung", "breathing"),  # of nine two
        ("braathunk", "braathunk"),
        ("paid", "paid"),  # a word of its own
        ("pa1n", "pa1n"),
    ],
)
def test_a_word_is_mended_where_it_is_long_enough_for_its_errors(written: str, meant: str) -> None:
    """checkin_words.misspelt"""
    assert MENDED.mended(written) == meant
