"""The recording of a race suggests conditions, and a run that looks like a race is asked about."""

from __future__ import annotations

import pytest

from rules import words as rule_words
from rules.race_file import looks_like_a_race, race_file
from tests.rules.people import LIMITS, at, athlete, race, session


def test_a_race_is_measured_over_all_its_legs() -> None:
    legs = [
        session(0, "swimming", 30, 9), session(0, "cycling", 150, 9.6, digest={"ascent_m": 900.0}),
        session(0, "running", 96, 12.2, km=21, digest={"ascent_m": 100.0}),
    ]  # fmt: skip
    found = race_file([*legs, session(-1), session(1)], race("tri_half"), LIMITS)
    assert found is not None
    assert (found.moving_s, found.ascent_m, len(found.sources)) == (276 * 60, 1000, 3)
    assert found.elapsed_s > found.moving_s


def test_without_a_recording_there_is_nothing_to_suggest() -> None:
    assert race_file([session(-1), session(1)], race(), LIMITS) is None


@pytest.mark.parametrize(
    ("digest", "conditions"),
    [
        ({"temperature_median_c": 22.0}, ["heat"]),
        ({"temperature_median_c": 21.9}, []),
        ({"temperature_median_c": -1.0}, ["cold"]),
        ({"altitude_median_m": 1600.0}, ["altitude"]),
        ({"ascent_m": 640.0}, ["hills"]),
        ({"ascent_m": 500.0}, []),
        ({"descent_m": 700.0, "temperature_median_c": 28.0}, ["heat", "hills"]),
    ],
)
def test_what_was_measured_suggests_conditions(digest: dict[str, float], conditions: list[str]) -> None:
    own = session(0, minutes=200, hour=10.4, km=42.2, digest=digest)
    found = race_file([own], race(), LIMITS)
    assert found is not None
    assert [each.condition for each in found.suggestions] == conditions
    assert all(each.more_days == 2 for each in found.suggestions)


def test_what_the_roster_names_is_not_suggested_and_seven_days_are_the_most() -> None:
    own = session(0, minutes=200, hour=10.4, km=42.2, digest={"ascent_m": 900.0, "temperature_median_c": 30.0})
    found = race_file([own], race(conditions=("hills", "altitude", "injury")), LIMITS)
    assert found is not None
    assert [(each.condition, each.more_days) for each in found.suggestions] == [("heat", 1)]


def test_a_long_hard_run_without_a_race_is_asked_about() -> None:
    before = [session(-day, minutes=60, km=12) for day in range(10, 60, 4)]
    hard = session(-5, minutes=100, km=21.1, digest={"hr_seconds": {160: 6000.0}})
    easy = session(-3, minutes=120, km=22, digest={"hr_seconds": {130: 7200.0}})
    runner = athlete(race("5k"))
    [found] = looks_like_a_race([*before, hard, easy], runner, at(1), LIMITS)
    assert found.session is hard
    assert found.reason == "21.1 km, the longest of 14 runs, at 84 % of HRmax on average"
    assert looks_like_a_race([*before[:5], hard], runner, at(1), LIMITS) == ()
    assert looks_like_a_race([*before, hard], runner, at(80), LIMITS) == ()
    assert looks_like_a_race([*before, hard], athlete(hr_max=None), at(1), LIMITS) == ()


def test_the_race_in_the_roster_is_not_asked_about() -> None:
    before = [session(-day, minutes=60, km=12) for day in range(10, 60, 4)]
    own = session(0, minutes=200, hour=10.4, km=42.2, digest={"hr_seconds": {165: 12000.0}})
    assert looks_like_a_race([*before, own], athlete(), at(3), LIMITS) == ()


def test_a_recording_that_is_not_the_whole_race_suggests_nothing() -> None:
    part = session(0, minutes=60, hour=12.7, km=12, digest={"ascent_m": 600.0, "temperature_median_c": 30.0})
    found = race_file([part], race(), LIMITS)
    assert found is not None
    assert found.doubt == "12.0 km is less than a race of 42.195 km should be"
    assert found.suggestions == ()
    assert rule_words.report.race_words(found, race())[-1].endswith("so it suggests nothing.")
    long = race_file([session(0, minutes=600, hour=4, km=60)], race(), LIMITS)
    assert long is not None
    assert "more than a race" in long.doubt
    unknown = race_file([session(0, "swimming", 60, 12.7)], race(), LIMITS)
    assert unknown is not None
    assert unknown.doubt == ""


def test_what_was_measured_is_said_and_what_it_suggests_is_asked() -> None:
    digest = {"ascent_m": 900.0, "descent_m": 880.0, "altitude_median_m": 400.0, "temperature_median_c": 26.4}
    own = session(0, minutes=200, hour=10.4, km=42.2, digest=digest)
    result = race(result_seconds=12310)
    found = race_file([own], result, LIMITS)
    assert found is not None
    assert rule_words.report.race_words(found, result) == (
        "The race file has 42.2 km, 3 h 20 min moving, 900 m up and 880 m down, 400 m above the sea, 26 °C.",
        "Moving time 3 h 20 min against the result 3 h 25 min: 5 min 10 s standing.",
        "It suggests the condition heat (26 °C in the middle of the recording, from 22 it counts): 2 days more.",
        "It suggests the condition hills (900 m up or down, 21 m a km, from 15 it counts): 2 days more.",
        'The roster decides: with conditions = ["heat", "hills"] it would be 4 days more in all.',
    )
    assert rule_words.report.race_words(found, race(result_seconds=12000))[1].endswith(": they agree.")
    assert rule_words.report.race_words(found, race(result_seconds=11000))[1].endswith("the result may be wrong.")
    full = race(conditions=("heat", "hills"))
    named = race_file([own], full, LIMITS)
    assert named is not None
    assert rule_words.report.race_words(named, full)[1:] == ("It suggests no condition that the roster does not name.",)


def test_a_race_file_that_does_not_say_how_long_it_took_says_nothing_of_moving_time() -> None:
    own = session(0, minutes=0, hour=13.5, km=42.2)
    result = race(result_seconds=12310)
    found = race_file([own], result, LIMITS)
    assert found is not None
    assert rule_words.report.race_words(found, result)[0] == "The race file has 42.2 km."
    assert not any("moving" in text.lower() for text in rule_words.report.race_words(found, result))


@pytest.mark.parametrize(
    ("digest", "conditions"),
    [
        ({"temperature_median_c": 0.0}, ["cold"]), ({"temperature_median_c": 0.1}, []),
        ({"altitude_median_m": 1499.9}, []), ({"altitude_median_m": 1500.0}, ["altitude"]),
        ({"ascent_m": 599.9}, []), ({"ascent_m": 600.0}, ["hills"]), ({"descent_m": 600.0}, ["hills"]),
    ],
)  # fmt: skip
def test_a_condition_counts_from_its_border_on(digest: dict[str, float], conditions: list[str]) -> None:
    """Hills: 15 m a kilometre, here of 40 km."""
    own = session(0, minutes=200, hour=10.4, km=40, digest=digest)
    found = race_file([own], race("custom", distance_km=40), LIMITS)
    assert found is not None
    assert [each.condition for each in found.suggestions] == conditions


@pytest.mark.parametrize(("km", "said"), [(31.9, "less"), (32.0, ""), (52.0, ""), (52.1, "more")])
def test_a_recording_of_four_fifths_to_thirteen_tenths_of_the_distance_is_the_race(km: float, said: str) -> None:
    found = race_file([session(0, minutes=200, hour=10.4, km=km)], race("custom", distance_km=40), LIMITS)
    assert found is not None
    assert bool(found.doubt) == bool(said)
    assert said in found.doubt


# A run that looks like a race: an hour, at 80 % of HRmax on average, longer than all of ten runs in half a year.


def raced(
    *,
    minutes: float = 60,
    bpm: int = 152,
    km: float = 12.1,
    before: int = 10,
    longest: float = 12.0,
    days_ago: int = 10,
    oldest: int = 100,
) -> bool:
    """Whether a run of no race in the roster is asked about, HRmax 190; `before` runs lie in the half year before."""
    runner = athlete(race(), hr_max=190, born=None)
    days = [days_ago + oldest, *range(days_ago + 3, days_ago + 2 + before)]
    earlier = [session(-day, minutes=70, km=longest - number / 100) for number, day in enumerate(days)]
    own = session(-days_ago, minutes=minutes, km=km, digest={"hr_seconds": {bpm: minutes * 60}})
    return bool(looks_like_a_race([*earlier, own], runner, at(0, 0), LIMITS))


def test_a_long_hard_run_is_asked_about() -> None:
    assert raced()


@pytest.mark.parametrize(("minutes", "asked"), [(59.9, False), (60, True)])
def test_it_takes_an_hour(minutes: float, *, asked: bool) -> None:
    assert raced(minutes=minutes) == asked


@pytest.mark.parametrize(("bpm", "asked"), [(151, False), (152, True)])
def test_it_takes_four_fifths_of_the_highest_heart_rate(bpm: int, *, asked: bool) -> None:
    """152 of 190."""
    assert raced(bpm=bpm) == asked


@pytest.mark.parametrize(("km", "asked"), [(12.0, False), (12.001, True)])
def test_it_is_longer_than_all_before(km: float, *, asked: bool) -> None:
    assert raced(km=km) == asked


@pytest.mark.parametrize(("before", "asked"), [(9, False), (10, True)])
def test_it_takes_ten_runs_before_to_know(before: int, *, asked: bool) -> None:
    assert raced(before=before) == asked


@pytest.mark.parametrize(("oldest", "asked"), [(179, True), (180, True), (181, False)])
def test_they_lie_in_the_half_year_before(oldest: int, *, asked: bool) -> None:
    assert raced(oldest=oldest) == asked


@pytest.mark.parametrize(("days_ago", "asked"), [(59, True), (61, False)])
def test_what_is_long_past_is_not_asked_about(days_ago: int, *, asked: bool) -> None:
    assert raced(days_ago=days_ago) == asked


@pytest.mark.parametrize(
    ("apart", "said"), [(-61, "wrong."), (-60, "agree."), (60, "agree."), (61, "1 min 1 s standing.")]
)
def test_a_minute_of_moving_time_agrees_with_a_result(apart: int, said: str) -> None:
    own = session(0, minutes=200, hour=10.4, km=42.2)
    result = race(result_seconds=12000 + apart)
    found = race_file([own], result, LIMITS)
    assert found is not None
    assert rule_words.report.race_words(found, result)[1].endswith(said)
