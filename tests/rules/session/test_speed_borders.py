"""Speed over ground and the slope under it: what is not believed, and how much must be known, at each border."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules import session_rules
from rules.findings import Said
from rules.limits import default_limits
from rules.session import ground as heights
from rules.session import ground as paces
from rules.session.heart import HeartAnswer
from rules.session.timeline import Floats, Stretch, Timeline, stretches, timeline
from rules.words import said as sentence

LIMITS = default_limits()
NAN = float("nan")
METRES_PER_DEGREE = np.pi * 6371008.8 / 180


def rows(*parts: tuple[int, float]) -> Floats:
    """So many seconds of each value."""
    return np.concatenate([np.full(seconds, float(value)) for seconds, value in parts])


def clock(seconds: int) -> Timeline:
    return timeline(np.arange(float(seconds)), float(seconds), (), LIMITS)


# The line over six seconds.


def test_an_even_way_has_its_speed_up_to_both_ends() -> None:
    way = 3.0 * np.arange(60.0)
    np.testing.assert_allclose(paces._chord(way, None, LIMITS), 3.0)
    np.testing.assert_allclose(paces._chord(way, 4 / 3 * way, LIMITS), 5.0)


def test_over_a_turn_the_line_is_shorter_than_the_way() -> None:
    """Three seconds north and three east: 3 m/s x 3 s x the root of 2, in six seconds."""
    east, north = 3.0 * np.maximum(np.arange(60.0) - 30, 0), 3.0 * np.minimum(np.arange(60.0), 30)
    assert paces._chord(east, north, LIMITS)[30] == pytest.approx(3 / np.sqrt(2))


@pytest.mark.parametrize(("step", "speed"), [(7.5, (5 * 3.0 + 7.5) / 6), (7.6, 3.0)])
def test_a_second_of_four_and_a_half_more_than_usual_is_a_jump_and_left_out(step: float, speed: float) -> None:
    way = np.cumsum(rows((30, 3.0), (1, step), (30, 3.0)))
    assert paces._chord(way, None, LIMITS)[30] == pytest.approx(speed)
    there_and_back = 3.0 * np.arange(61.0)
    there_and_back[30] += 50
    np.testing.assert_allclose(paces._chord(there_and_back, None, LIMITS), 3.0)


@pytest.mark.parametrize(("known", "told"), [(3, 0), (4, 2)])
def test_three_steps_of_the_six_seconds_must_be_known(known: int, told: int) -> None:
    """Four seconds have three steps; around the last of them only those of its own side are near."""
    way = rows((20, NAN), (known, 0.0), (20, NAN))
    way[20 : 20 + known] = 3.0 * np.arange(known)
    speed = paces._chord(way, None, LIMITS)
    assert np.isfinite(speed).sum() >= told
    assert bool(np.isfinite(speed).any()) == bool(told)


@pytest.mark.parametrize("lat", [0.0, 60.0])
@pytest.mark.parametrize("lon", [10.0, 179.999, -180.0])
def test_a_degree_of_longitude_is_shorter_in_the_north_and_goes_on_over_the_date_line(lat: float, lon: float) -> None:
    east = lon + 3.0 * np.arange(60.0) / METRES_PER_DEGREE / np.cos(np.radians(lat))
    columns = {"lat_deg": np.full(60, lat), "lon_deg": (east + 180) % 360 - 180}
    np.testing.assert_allclose(paces._from_positions(columns, clock(60), LIMITS)[:60], 3.0, rtol=1e-5)


def test_without_a_longitude_there_is_no_position() -> None:
    assert np.isnan(paces._from_positions({"lat_deg": np.full(60, 60.0)}, clock(60), LIMITS)).all()


# Which source.


def source(**columns: Floats) -> str:
    return paces._source(columns, clock(100), LIMITS)[1]


@pytest.mark.parametrize(("known", "name"), [(29, "distance"), (30, "device"), (31, "device")])
def test_a_speed_known_for_three_tenths_is_taken(known: int, name: str) -> None:
    speed = rows((known, 3.0), (100 - known, NAN))
    assert source(speed_mps=speed, distance_m=2.9 * np.arange(100.0)) == name


def test_a_speed_that_never_moves_is_none() -> None:
    assert source(speed_mps=np.zeros(100), distance_m=2.9 * np.arange(100.0)) == "distance"
    assert source(speed_mps=np.zeros(100)) == "none"


# Spikes.


def spikes(*parts: tuple[int, float], apart: float = 1.0) -> list[Stretch]:
    return stretches(paces._spikes(rows((60, 3.0), *parts, (60, 3.0)), apart, LIMITS))


@pytest.mark.parametrize(
    ("parts", "apart", "masked"),
    [
        ([(9, 20)], 1.0, [(59, 70)]),
        ([(10, 20)], 1.0, []),
        ([(10, 20)], 4.0, [(59, 71)]),  # two and a half records
        ([(11, 20)], 4.0, []),
        ([(3, 7.5)], 1.0, []),
        ([(3, 7.6)], 1.0, [(59, 64)]),
        ([(4, 20), (2, 3), (4, 20)], 1.0, []),  # one of ten seconds
        ([(4, 20), (3, 3), (4, 20)], 1.0, [(59, 65), (66, 72)]),
    ],
)
def test_up_to_nine_seconds_are_a_spike_and_masked_with_the_second_beside_it(
    parts: list[tuple[int, float]], apart: float, masked: list[Stretch]
) -> None:
    assert spikes(*parts, apart=apart) == masked


@pytest.mark.parametrize(("speed", "found"), [(12.5, False), (12.6, True)])
def test_nobody_runs_faster_than_twelve_and_a_half(speed: float, *, found: bool) -> None:
    assert bool(paces._spikes(rows((60, 9.0), (3, speed), (60, 9.0)), 1.0, LIMITS).any()) == found


def test_a_spike_at_an_end_is_masked_up_to_it() -> None:
    speed = rows((3, 20.0), (60, 3.0), (3, 20.0))
    assert stretches(paces._spikes(speed, 1.0, LIMITS)) == [(0, 4), (62, 66)]


@pytest.mark.parametrize(("seconds", "kept"), [(2, False), (3, True)])
def test_a_devices_speed_is_smoothed_over_five_seconds(seconds: int, *, kept: bool) -> None:
    """A change that lasts for more than half of them is kept."""
    speed = rows((60, 3.0), (seconds, 4.0), (60, 3.0))
    found = paces.pace({"speed_mps": speed}, clock(len(speed)), LIMITS).speed_mps
    assert (np.nanmax(found) == 4.0) == kept


def test_a_speed_from_a_distance_is_smoothed_over_seven_seconds() -> None:
    way = np.cumsum(3.0 + np.random.default_rng(1).normal(0, 0.5, 200))
    line = paces._chord(way, None, LIMITS)
    found = paces.pace({"distance_m": way}, clock(200), LIMITS).speed_mps
    assert found[50:150].tolist() == [float(np.median(line[row - 3 : row + 4])) for row in range(50, 150)]


def test_the_noise_is_that_of_a_mean_of_thirteen_seconds() -> None:
    speed = 3.0 + np.random.default_rng(5).normal(0, 0.5, 40_000)
    assert paces._noise(speed) == pytest.approx(0.5 / np.sqrt(13), rel=0.03)
    assert paces._noise(speed[:26]) == 0
    assert paces._noise(speed - 2.0001 - 0.6) == 0  # who stands has none


@pytest.mark.parametrize(("apart", "known"), [(13, True), (14, True)])
def test_noise_is_measured_where_ten_of_thirteen_seconds_are_known(apart: int, *, known: bool) -> None:
    speed = 3.0 + np.random.default_rng(5).normal(0, 0.5, 40_000)
    speed[np.arange(40_000) % apart < 3] = NAN
    assert (paces._noise(speed) > 0) == known
    speed[np.arange(40_000) % 13 < 4] = NAN
    assert paces._noise(speed) == 0


# The slope.


@pytest.mark.parametrize(
    ("slope", "speed"), [(0.05, 3.0), (-0.1, 3.0), (0.05, 1.2), (0.6, 1.2), (0.05, 0.6), (-0.6, 0.6)]
)
def test_an_even_hill_has_its_slope_up_to_forty_five_in_a_hundred(slope: float, speed: float) -> None:
    """Over ground of 1.2 m/s at least, whoever stands on it; it begins after the first minute."""
    climb = slope * max(speed, 1.2)
    under = heights.ground(climb * np.maximum(np.arange(500.0) - 100, 0), np.full(500, speed), LIMITS)
    on_it = slice(130, -20)
    np.testing.assert_allclose(under.slope[on_it], np.clip(slope, -0.45, 0.45), atol=1e-9)
    np.testing.assert_allclose(under.sure_slope[on_it], np.clip(slope, -0.45, 0.45), atol=1e-6)


@pytest.mark.parametrize("size", [1e-7, 4e-7])
def test_noise_is_how_far_the_altitude_bends_in_ten_seconds(size: float) -> None:
    """A cubic bends by 600 a t in two steps of ten seconds; its robust SD over 2,000 s is 1.4826 x 600 a x 500."""
    seconds = np.arange(2000.0) - 1000
    under = heights.ground(size * seconds**3, np.full(2000, 3.0), LIMITS)
    assert under.noise_m == pytest.approx(1.4826 * 600 * size * 500 / np.sqrt(2), rel=0.03)


@pytest.mark.parametrize(("sd", "window"), [(0.3, 20), (3.0, 30)])
def test_the_sure_slope_is_what_the_noise_over_its_window_leaves(sd: float, window: int) -> None:
    altitude = 0.1 * 3 * np.arange(600.0) + np.random.default_rng(3).normal(0, sd, 600)
    under = heights.ground(altitude, np.full(600, 3.0), LIMITS)
    assert (under.noise_m <= LIMITS.grade.quiet_m) == (window == 20)
    doubt = under.noise_m * np.sqrt(window / 10) / (window * 3.0)
    inner = slice(40, -40)
    expected = np.sign(under.slope) * np.maximum(np.abs(under.slope) - doubt, 0.0)
    np.testing.assert_allclose(under.sure_slope[inner], expected[inner], atol=1e-12)
    assert 0 < doubt < 0.1


@pytest.mark.parametrize(("known", "told"), [(9, False), (10, True)])
def test_half_of_the_window_must_be_known_for_a_slope(known: int, *, told: bool) -> None:
    altitude = rows((40, NAN), (known, 100.0), (40, NAN))
    assert bool(np.isfinite(heights._slope(altitude, np.full(80 + known, 3.0), 20, 1.2)).any()) == told


@pytest.mark.parametrize(("known", "told"), [(5, False), (6, True)])
def test_six_of_eleven_seconds_make_an_altitude(known: int, *, told: bool) -> None:
    altitude = np.where(np.arange(400) % 11 < known, 100.0, NAN)
    assert bool(np.isfinite(heights.ground(altitude, np.full(400, 3.0), LIMITS).altitude_m[20:-20]).any()) == told


@pytest.mark.parametrize(("apart", "masked"), [(98, 2 * 8 + 90 - 8 + 16), (110, 32)])
def test_two_steps_of_the_ground_within_a_minute_and_a_half_mask_what_lies_between(apart: int, masked: int) -> None:
    """Each is seen for eight seconds: 90 s between them are bridged."""
    altitude = rows((300, 100.0), (apart, 120.0), (300, 100.0))
    assert heights.ground(altitude, np.full(600 + apart, 3.0), LIMITS).masked_s == masked


# Whether the altitude is believed.


def out_and_back(
    seconds: int = 600, higher: float = 9.0, waiting: int = 0
) -> tuple[heights.Ground, dict[str, Floats], Timeline]:
    """So many seconds north at 3 m/s, perhaps a wait, and the same way back, where it is so much higher."""
    north = np.concatenate((np.arange(seconds), np.full(waiting, seconds), seconds - 1 - np.arange(seconds))) * 3.0
    altitude = np.where(np.arange(len(north)) < seconds + waiting / 2, 100.0, 100.0 + higher)
    time = clock(len(north))
    beyond = np.full(len(time.rows_s) - len(north), NAN)
    recorded = {"lat_deg": 60 + (north + 1) / METRES_PER_DEGREE, "lon_deg": np.full(len(north), 10.0)}
    level = np.zeros(len(time.rows_s))
    return heights.Ground(np.concatenate((altitude, beyond)), level, level, 0.0, 0.0), recorded, time


def test_places_passed_twice_tell_how_far_apart_their_altitudes_are() -> None:
    assert heights.apart_at_one_place(*_places(600, 9.0)) == 9
    assert heights.apart_at_one_place(*_places(600, -4.0)) == 4


def _places(seconds: int, higher: float, waiting: int = 0) -> tuple[Floats, dict[str, Floats], Timeline, object]:
    under, recorded, time = out_and_back(seconds, higher, waiting)
    return under.altitude_m, recorded, time, LIMITS


@pytest.mark.parametrize(("seconds", "waiting", "told"), [(250, 120, False), (275, 120, True), (275, 0, False)])
def test_forty_places_passed_again_two_minutes_later_are_enough(seconds: int, waiting: int, *, told: bool) -> None:
    """Of 20 m each: 750 m hold 38, 825 m 41; without the wait those near the turn are passed too soon."""
    assert (heights.apart_at_one_place(*_places(seconds, 9.0, waiting)) is not None) == told


@pytest.mark.parametrize(("higher", "why"), [(7.9, ""), (8.0, "the same places lie 8 m apart")])
def test_the_same_places_eight_metres_apart_contradict_it(higher: float, why: str) -> None:
    under, recorded, time = out_and_back(higher=higher)
    speed = np.full(len(time.rows_s), 3.0)
    assert sentence(heights._contradicted(under, speed, speed, recorded, time, LIMITS)) == why


@pytest.mark.parametrize(
    ("effort", "speed", "seconds", "doubt"),
    [
        (6.19, 3.0, 200, False),
        (6.21, 3.0, 200, True),
        (6.3, 6.21, 200, False),
        (6.5, 3.0, 54, False),
        (6.5, 3.0, 62, True),
    ],
)
def test_climbs_that_nobody_could_run_for_a_minute_contradict_it(
    effort: float, speed: float, seconds: int, *, doubt: bool
) -> None:
    """The mean of 61 s: 3 m/s for seven of them is too little."""
    under, recorded, time = out_and_back(higher=0.0)
    size = len(time.rows_s)
    hard, ground = rows((300, 3.0), (seconds, effort), (size - 300 - seconds, 3.0)), np.full(size, speed)
    said = sentence(heights._contradicted(under, hard, ground, recorded, time, LIMITS))
    assert said.startswith("its climbs would be worth 6.") == doubt


@pytest.mark.parametrize(
    ("barometer", "places", "told"),
    [(False, False, True), (False, True, False), (None, False, False), (True, False, False)],
)
def test_without_a_barometer_something_must_confirm_it(barometer: bool | None, *, places: bool, told: bool) -> None:
    under, recorded, time = out_and_back(higher=0.0)
    said = heights._unconfirmed(under, recorded if places else {}, time, LIMITS, barometer=barometer)
    assert (said != "") == told


def doubt_of(monkeypatch: pytest.MonkeyPatch, answer: HeartAnswer | None) -> Said:
    """What is said of an altitude that contradicts itself by 9 m, where a heart answers so to its climbs."""
    under, recorded, time = out_and_back(higher=9.0)
    speed = np.full(len(time.rows_s), 3.0)
    monkeypatch.setattr(heights, "heart_answer", lambda *_: answer)
    return heights.doubted(under, speed, speed, speed, recorded, time, LIMITS)


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (None, "the same places"),
        (HeartAnswer(0.0, 0.05, 15.0, 0.5), "heart rate gives 0 %"),
        (HeartAnswer(-0.4, 0.05, 15.0, 0.5), "heart rate gives 0 %"),
        (HeartAnswer(0.1, 0.075, 15.0, 0.5), "heart rate gives 10 %"),  # 0.25 is two errors away
        (HeartAnswer(0.1, 0.076, 15.0, 0.5), "the same places"),
        (HeartAnswer(0.0, 0.05, 14.9, 0.5), "the same places"),  # too small a swing to be answered
        (HeartAnswer(0.0, 0.05, 15.0, 0.49), "the same places"),  # too little of it known
        (HeartAnswer(1.0, 0.05, 22.4, 0.5), "the same places"),
        (HeartAnswer(1.0, 0.05, 22.5, 0.5), ""),  # a great swing that was answered speaks for the altitude
        (HeartAnswer(0.5, 0.125, 22.5, 0.5), ""),
        (HeartAnswer(0.5, 0.126, 22.5, 0.5), "the same places"),
    ],
)
def test_a_heart_that_answers_climbs_or_does_not_speaks_first(
    monkeypatch: pytest.MonkeyPatch, answer: HeartAnswer | None, said: str
) -> None:
    told = sentence(doubt_of(monkeypatch, answer))
    assert told.startswith(said)
    assert (told == "") == (said == "")


@pytest.mark.parametrize(("seconds", "doubt"), [(60, False), (61, True)])
def test_the_minute_that_nobody_could_run_has_sixty_one_rows(seconds: int, *, doubt: bool) -> None:
    under, recorded, time = out_and_back(higher=0.0)
    size = len(time.rows_s)
    hard = rows((300, 0.0), (seconds, LIMITS.altitude.nobody_mps + 0.01), (size - 300 - seconds, 0.0))
    said = heights._contradicted(under, hard, np.zeros(size), recorded, time, LIMITS)
    assert (said != "") == doubt


@pytest.mark.parametrize(("known", "doubt"), [(29, False), (30, True)])
@pytest.mark.parametrize("which", ["effort", "speed"])
def test_half_of_that_minute_must_be_known(known: int, which: str, *, doubt: bool) -> None:
    under, recorded, time = out_and_back(higher=0.0)
    size = len(time.rows_s)
    few = rows((300, NAN), (known, 7.0 if which == "effort" else 3.0), (size - 300 - known, NAN))
    effort, speed = (few, np.full(size, 3.0)) if which == "effort" else (np.full(size, 7.0), few)
    assert (heights._contradicted(under, effort, speed, recorded, time, LIMITS) != "") == doubt


@pytest.mark.parametrize(("row", "doubt"), [(300 - 31, False), (300 - 30, True), (300 + 30, True), (300 + 31, False)])
def test_the_ground_of_the_same_minute_was_no_runners_either(row: int, *, doubt: bool) -> None:
    """At one row effort is more than anyone's; over ground it was so too, but for one second that stood."""
    under, recorded, time = out_and_back(higher=0.0)
    size, most = len(time.rows_s), LIMITS.altitude.nobody_mps
    effort = rows((270, 0.0), (61, most + 0.01), (size - 331, 0.0))
    speed = np.full(size, most + 0.01)
    speed[row] = 0.0
    assert (heights._contradicted(under, effort, speed, recorded, time, LIMITS) != "") == doubt


@pytest.mark.parametrize(("waiting", "told"), [(100, False), (120, True)])
def test_a_place_is_passed_again_more_than_two_minutes_later(waiting: int, *, told: bool) -> None:
    """Of 41 places the nearest to the turn is passed a little more than the wait later."""
    assert (heights.apart_at_one_place(*_places(275, 9.0, waiting)) is not None) == told


@pytest.mark.parametrize(("seconds", "told"), [(250, False), (275, True)])
def test_places_are_as_large_from_west_to_east_as_from_south_to_north(seconds: int, *, told: bool) -> None:
    under, recorded, time, _ = *out_and_back(seconds, 9.0, 120), None
    east = {"lat_deg": np.full(len(recorded["lat_deg"]), 60.0), "lon_deg": 10 + 2 * (recorded["lat_deg"] - 60)}
    assert (heights.apart_at_one_place(under.altitude_m, east, time, LIMITS) is not None) == told


@pytest.mark.parametrize(("metres", "found"), [(99.0, []), (100.0, [(10, 110)]), (101.0, [(10, 110)])])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_steep_stretch_is_a_hundred_metres_at_its_slope(
    metres: float, found: list[tuple[int, int]], sign: float
) -> None:
    slope = np.full(200, NAN)
    slope[10:110] = sign * 0.1
    track = cast("Any", SimpleNamespace(ground=SimpleNamespace(sure_slope=slope)))
    each = np.full(200, metres / 100)
    assert session_rules._steep_stretches(track, each, 0.1, LIMITS.ground.steep_m) == found
    assert session_rules._steep_stretches(track, each, 0.1001, LIMITS.ground.steep_m) == []
