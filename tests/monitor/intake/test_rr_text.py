from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from monitor.errors import Unreadable
from monitor.intake.beats import looks_like_rr, read_rr, rmssd_after_correction
from monitor.values import FileFacts, IntakeOptions

OSLO = IntakeOptions("Europe/Oslo")


def calm(count: int, seed: int = 1) -> list[float]:
    """Intervals of a heart at rest that breathes: a wave of 15 beats and some noise of its own."""
    chance = np.random.default_rng(seed)
    at = np.arange(count)
    return [float(value) for value in np.round(950 + 40 * np.sin(at * 2 * np.pi / 15) + chance.normal(0, 12, count))]


def text_of(intervals: list[float], first: str = "# 2026-10-06", form: str = "{:.0f}") -> str:
    return "\n".join([first, *(form.format(value) for value in intervals)])


def read(text: str, name: str = "x.txt") -> FileFacts:
    return read_rr(name, text, OSLO)


def test_a_file_of_intervals_is_a_mornings_rmssd() -> None:
    intervals = calm(300)
    facts = read(text_of(intervals))
    (morning,) = facts.mornings
    assert morning.date == date(2026, 10, 6)
    assert morning.rmssd_ms == pytest.approx(rmssd_after_correction(intervals), abs=0.001)
    assert (facts.kind, morning.resting_hr) == ("rr", None)


def test_seconds_and_decimal_commas_are_understood() -> None:
    intervals = calm(300)
    expected = read(text_of(intervals)).mornings
    assert read(text_of([value / 1000 for value in intervals], form="{:.3f}")).mornings == expected
    assert read(text_of([value / 1000 for value in intervals], form="{:.3f}").replace(".", ",")).mornings == expected


@pytest.mark.parametrize(
    ("first", "name", "day"),
    [
        ("# 2026-10-06", "x.txt", date(2026, 10, 6)),
        ("2026-10-06 06:45:00", "x.txt", date(2026, 10, 6)),
        ("# began 2026-10-05T23:58:00+02:00", "x.txt", date(2026, 10, 6)),
        ("# began 2026-10-05T21:00:00Z", "x.txt", date(2026, 10, 5)),
        ("# lying down", "2026-10-06 morning.rr", date(2026, 10, 6)),
        ("# lying down", "HRV_20261006_0645.txt", date(2026, 10, 6)),
        ("# 2026-10-06", "2025-01-01.txt", date(2026, 10, 6)),
    ],
)
def test_the_day_comes_from_the_file_or_else_from_its_name(first: str, name: str, day: date) -> None:
    assert read(text_of(calm(300), first), name).mornings[0].date == day


@pytest.mark.parametrize("name", ["rest.txt", "2026-13-40.txt", "1234567890.txt", "0000-01-01.txt"])
def test_without_a_date_it_says_what_to_do(name: str) -> None:
    with pytest.raises(Unreadable, match="no date: put a first line such as '# 2026-10-06'"):
        read(text_of(calm(300), "# rest"), name)


def test_too_few_beats_and_beats_that_are_not_at_rest_are_refused() -> None:
    with pytest.raises(Unreadable, match="40 RR intervals: at least 60"):
        read(text_of(calm(40)))
    with pytest.raises(Unreadable, match="at 143 beats a minute: not at rest"):
        read(text_of([420.0] * 300))


def test_lines_that_are_no_intervals_are_left_out_and_counted() -> None:
    lines = text_of(calm(300)).split("\n")
    lines[20:20] = ["lost contact", "-5"]
    assert read("\n".join(lines)).remarks == ("2 lines left out: no interval",)


@pytest.mark.parametrize(
    ("text", "is_rr"),
    [
        ("812\n786\n801", True),
        ("# x\n812\n786", True),
        ("RR\n812\n786\n801", True),
        ("a,b\n1,2", False),
        ("812", False),
        ("", False),
        ("Dear diary\nI ran\n12", False),
    ],
)
def test_what_looks_like_intervals(text: str, is_rr: bool) -> None:
    assert looks_like_rr(text) == is_rr


@pytest.mark.parametrize("intervals", [[], [900], [900, 910], [0, 0, 0, 0], [float("nan")] * 9, [1e9] * 9])
def test_no_rmssd_from_next_to_nothing(intervals: list[float]) -> None:
    assert rmssd_after_correction(intervals) is None


def test_a_missed_beat_an_extra_beat_and_an_ectopic_one_hardly_change_it() -> None:
    clean = calm(300)
    truth = rmssd_after_correction(clean)
    missed, extra, ectopic = list(clean), list(clean), list(clean)
    missed[100:102] = [clean[100] + clean[101]]
    extra[100:101] = [clean[100] * 0.4, clean[100] * 0.6]
    ectopic[100:102] = [clean[100] - 300, clean[101] + 300]
    for broken in (missed, extra, ectopic):
        raw = float(np.sqrt(np.mean(np.diff(broken) ** 2)))
        assert truth is not None
        assert raw > 1.5 * truth
        assert rmssd_after_correction(broken) == pytest.approx(truth, rel=0.15)


def test_a_lost_contact_of_many_seconds_takes_no_part() -> None:
    clean = calm(300)
    broken = [*clean[:150], 25_000.0, *clean[150:]]
    assert rmssd_after_correction(broken) == pytest.approx(rmssd_after_correction(clean), rel=0.1)
