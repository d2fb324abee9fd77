from __future__ import annotations

from typing import Any

import pytest

from monitor import words
from monitor.views.findings import measured_words, number_name, number_words, said_by, signal_words


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("above_s", "above, s"),
        ("threshold_mps", "threshold, m/s"),
        ("steps_per_min", "steps per min"),
        ("bouts", "bouts"),
    ],
)
def test_a_unit_stands_beside_its_name(key: str, name: str) -> None:
    assert number_name(key) == name


@pytest.mark.parametrize(
    ("key", "value", "units", "words"),
    [
        ("threshold_mps", 3.846, "metric", "3.85 (4:20/km)"),
        ("threshold_mps", 3.846, "imperial", "3.85 (6:58/mile)"),
        ("bout_speed_mps", [4.0, 5.0], "metric", "4 (4:10/km), 5 (3:20/km)"),
        ("easy_mps", 0.0, "metric", "0"),
        ("bouts", 8, "metric", "8"),
        ("known", True, "metric", "yes"),
        ("parts", [{"a": 1}], "metric", ""),
        ("nights_min", {"2026-10-05": 310.0}, "metric", "2026-10-05 310"),
    ],
)
def test_a_speed_has_its_pace_beside_it(key: str, value: Any, units: str, words: str) -> None:
    assert number_words(key, value, units) == words


def test_what_was_measured_has_its_unit() -> None:
    assert measured_words(4.205, "m/s") == "4.21 m/s (3:58/km)"
    assert measured_words(48.2, "min") == "48.2 min"
    assert measured_words(3, "") == "3"


def test_a_mile_is_longer_than_a_kilometre() -> None:
    assert (words.shared.pace_words(300), words.shared.pace_words(300, "imperial")) == ("5:00/km", "8:03/mile")


def test_signals_say_how_good_they_are_and_what_they_say() -> None:
    heard = {"signal": "speed", "quality": "good", "says": "for", "why": "3:32/km for 20 s"}
    deaf = {"signal": "altitude", "quality": "none", "says": "nothing", "why": ""}
    assert said_by(heard) == "good, says yes: 3:32/km for 20 s"
    assert signal_words({"signals": [heard, deaf]}) == [
        "speed: good, says yes: 3:32/km for 20 s",
        "altitude: not heard, says nothing",
    ]
    assert signal_words({}) == []
