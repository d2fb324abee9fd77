"""What counts as a change of a kept answer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from tests.kept_answers import differences, now, plain


@dataclass(frozen=True)
class Answer:
    number: float
    text: str = ""
    rows: tuple[float, ...] = ()


@pytest.mark.parametrize(
    ("was", "is_now", "places"),
    [
        (Answer(1.0), Answer(1.0), []),
        (Answer(1000.0), Answer(1000.001), []),  # another machine's last digits
        (Answer(1000.0), Answer(1000.01), ["/number"]),
        (Answer(1.0, "a"), Answer(1.0, "b"), ["/text"]),
        (Answer(1.0, "a"), Answer(1.0), ["/text"]),
        (Answer(1.0, rows=(1.0, 2.0)), Answer(1.0, rows=(1.0, 2.1)), ["/rows/1"]),
        (Answer(1.0, rows=(1.0, 2.0)), Answer(1.0, rows=(1.0,)), ["/rows"]),
        (Answer(1.0, "x" * 99), Answer(1.0, "x" * 98 + "y"), ["/text"]),
    ],
)
def test_a_change_is_told_by_its_place(was: Answer, is_now: Answer, places: list[str]) -> None:
    found = differences(now(lambda: was), now(lambda: is_now))
    assert [line.partition(":")[0] for line in found] == places


@pytest.mark.parametrize("row", [0, 50, 299])
def test_one_row_of_many_changed_is_seen(row: int) -> None:
    values = np.arange(300.0)
    other = values.copy()
    other[row] += 0.2
    assert list(differences(plain(values), plain(other)))


def test_two_rows_changed_for_one_another_are_seen() -> None:
    values = np.arange(300.0)
    other = values.copy()
    other[[10, 11]] = other[[11, 10]]
    assert list(differences(plain(values), plain(other)))


@pytest.mark.parametrize("many", [1, 40])
def test_a_flag_more_is_seen(many: int) -> None:
    flags = np.zeros(300, dtype=np.bool_)
    flags[: 3 * many : 3] = True
    other = flags.copy()
    other[200] = True
    assert list(differences(plain(flags), plain(other)))


def test_what_cannot_be_kept_is_an_error() -> None:
    with pytest.raises(TypeError):
        plain(object())
