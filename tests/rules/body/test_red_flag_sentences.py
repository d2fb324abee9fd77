"""Red-flag words against sentences that people might write, labelled by hand.

`tuned` are those that the words were made with. `kept` were written first, in another style, and kept aside while the
words were made. All are of one author, who had both in mind, so the world is worse: of 30 alarming and 30 harmless
sentences written when all was done, 16 were found and 1 alarmed; they are now among the tuned.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

from rules.body.red_flags import red_flags, signs_in

HARMLESS = ("harmless", "denied")


@dataclass(frozen=True)
class Sentence:
    part: str
    expected: str  # id of a flag, "harmless", "denied", or "ask"
    text: str

    @property
    def told(self) -> list[str]:
        return [sign.flag.id for sign in signs_in((self.text,), 1) if sign.standing == "told"]

    @property
    def doubtful(self) -> list[str]:
        return [sign.flag.id for sign in signs_in((self.text,), 1) if sign.standing == "doubtful"]


def sentences() -> list[Sentence]:
    with Path(__file__).with_name("red_flag_sentences.tsv").open(encoding="utf-8", newline="") as file:
        return [Sentence(**row) for row in csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE)]


def test_the_list_is_long_half_harmless_nearly_a_third_denied_and_a_part_kept_aside() -> None:
    told = sentences()
    ids = {flag.id for flag in red_flags()}
    assert {each.expected for each in told} == {*ids, *HARMLESS, "ask"}
    assert len(told) >= 600
    assert 0.45 < sum(each.expected in HARMLESS for each in told) / len(told) < 0.65
    assert sum(each.expected == "denied" for each in told) / len(told) > 0.3
    assert sum(each.part == "kept" for each in told) / len(told) > 0.2
    assert len({each.text for each in told}) == len(told)


@pytest.mark.parametrize("part", ["tuned", "kept"])
def test_alarming_sentences_are_found_and_harmless_ones_do_not_alarm(part: str) -> None:
    known = [each for each in sentences() if each.part == part]
    alarming = [each for each in known if each.expected not in (*HARMLESS, "ask")]
    harmless = [each for each in known if each.expected in HARMLESS]
    missed = [each.text for each in alarming if not each.told]
    false = [each.text for each in harmless if each.told]
    assert len(missed) <= 0.05 * len(alarming), missed
    assert len(false) <= 0.03 * len(harmless), false
    assert sum(each.expected in each.told for each in alarming) >= 0.9 * len(alarming)
    assert sum(bool(each.doubtful) for each in harmless) <= 0.03 * len(harmless)


def test_what_is_in_doubt_is_asked_about_and_alarms_nobody() -> None:
    doubtful = [each for each in sentences() if each.expected == "ask"]
    assert [each.text for each in doubtful if each.told or not each.doubtful] == []
