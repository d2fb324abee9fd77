from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from monitor import words

OSLO = ZoneInfo("Europe/Oslo")
EVENING = datetime(2026, 10, 9, 15, 42, tzinfo=UTC)


def test_moments_stand_on_the_clock_of_the_reader() -> None:
    assert words.shared.day_and_time(EVENING, OSLO) == "Fri 9 Oct, 17:42"
    assert words.shared.day_and_time(EVENING, OSLO, "12h") == "Fri 9 Oct, 5:42 pm"
    assert words.shared.short_moment("12h")(EVENING.astimezone(OSLO)) == "Fri 5:42 pm"
    assert words.shared.short_moment("24h")(EVENING.astimezone(OSLO)) == "Fri 17:42"


def test_measures_stand_in_the_units_of_the_reader() -> None:
    assert (words.shared.speed_words(6.7), words.shared.speed_words(6.7, "imperial")) == ("24.1 km/h", "15.0 mph")
    assert (words.shared.distance_words(5000), words.shared.distance_words(5000, "imperial")) == ("5.0 km", "3.1 miles")
    assert (words.shared.height_words(120), words.shared.height_words(120, "imperial")) == ("120 m", "394 feet")


def test_stages_of_several_days_wait_as_several() -> None:
    assert words.shared.wait_words("test_runs") == "test runs wait"
    assert words.shared.wait_words("on_ramp") == "on-ramp waits"
    assert words.shared.wait_words("done") == "the end of the plan waits"
