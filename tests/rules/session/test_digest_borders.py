"""What a session comes to and which recordings are one session: each step just below, at and above its limit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules.facts import Digest
from rules.limits import default_limits
from rules.session import digest as easy
from rules.session import digest as measures
from rules.session import labels as one_truth
from rules.session.digest import SteadyPart
from rules.session.labels import RecordingSpan, deduplicate
from rules.session.timeline import Floats
from rules.session.track import Sport

LIMITS = default_limits()
NAN = float("nan")


def rows(*parts: tuple[int, float]) -> Floats:
    """So many seconds of each value."""
    return np.concatenate([np.full(seconds, float(value)) for seconds, value in parts])


def stub(size: int = 1200, **more: Any) -> Any:
    """What these functions ask of a track, all of it running; `more` replaces channels."""
    running = more.pop("running", np.ones(size, np.bool_))
    channels = {
        "size": size,
        "family": "run",
        "gait": SimpleNamespace(running=running, walking=~running, vehicle=np.zeros(size, np.bool_), by="speed"),
        "clock": SimpleNamespace(real=np.ones(size, np.bool_), rows_s=np.arange(float(size))),
        "spm": more.pop("spm", np.full(size, 160.0)),
        "effort_mps": more.pop("speed", np.full(size, 3.0)),
        "ground": SimpleNamespace(
            altitude_m=more.pop("altitude", np.full(size, 100.0)), noise_m=more.pop("noise", 0.0),
            slope=more.pop("slope", np.zeros(size)), masked_s=0.0, doubt="",
        ),
        "heart": SimpleNamespace(rows_bpm=more.pop("bpm", np.full(size, 140.0)), reasons={}, masked_times=[]),
    }  # fmt: skip
    channels["pace"] = SimpleNamespace(speed_mps=channels["effort_mps"], source="device")
    return cast("Any", SimpleNamespace(**channels, **more))


# Climbs.


@pytest.mark.parametrize(
    ("altitude", "points"),
    [
        ([0, 3, 0], [0, 1, 2]),
        ([0, -3, 0], [0, 1, 2]),
        ([0, 2.9, 0], [0]),
        ([0, 2, 4, 1.1, 5], [0, 4]),
        ([0, 2, 4, 1, 5], [0, 2, 3, 4]),
        ([0, 4, 4, 1], [0, 1, 3]),
        ([5, 3, 1, 1, 3.9], [0, 2]),
        ([5, 3, 1, 2, 4, 8], [0, 2, 5]),
        ([1], [0]),
    ],
)
def test_an_altitude_turns_where_it_was_left_by_three_metres(altitude: list[float], points: list[int]) -> None:
    assert measures._extremes(altitude, 3.0) == points


@pytest.mark.parametrize(("noise", "up"), [(0.5, 4.0), (1.0, 4.0), (1.01, 0.0)])
def test_a_turn_is_four_times_the_noise_where_that_is_more(noise: float, up: float) -> None:
    altitude = rows((100, 100.0), (100, 104.0))
    assert measures.climb(stub(200, altitude=altitude, noise=noise), LIMITS) == (up, 0.0)


def test_what_goes_up_and_down_is_summed_by_itself() -> None:
    altitude = rows((100, 100.0), (100, 110.0), (100, 104.0), (100, 109.0))
    assert measures.climb(stub(400, altitude=altitude), LIMITS) == (15.0, 6.0)


@pytest.mark.parametrize(
    ("within", "up", "down"), [(100, 5.0, 5.0), (101, 10.0, 5.0), (300, 10.0, 5.0), (301, 15.0, 5.0)]
)
def test_the_most_climb_within_a_way_is_that_between_two_of_its_places(within: float, up: float, down: float) -> None:
    """A metre a second: up by 5 in second 100, by 5 in 200, down by 5 in 300 and up by 5 in 400."""
    altitude = rows((100, 100.0), (100, 105.0), (100, 110.0), (100, 105.0), (100, 110.0))
    track = stub(500, altitude=altitude)
    assert measures.most_within(track, np.ones(500), within, LIMITS) == (up, down)


def test_without_an_altitude_that_turns_nothing_is_climbed() -> None:
    assert measures.most_within(stub(500), np.ones(500), 250, LIMITS) == (0.0, 0.0)
    assert measures.climb(stub(500, altitude=np.full(500, NAN)), LIMITS) == (None, None)


# Steps and impact.


@pytest.mark.parametrize(
    ("speed", "weights"), [(3.0, 2.5), (4.0, 2.65), (1.2, 2.23), (1.0, 2.2), (0.0, 2.2), (NAN, 2.2)]
)
def test_a_step_weighs_more_the_faster_it_is_run(speed: float, weights: float) -> None:
    flags = np.array([True, False])
    found = measures.peak_force_bw(np.array([speed, speed]), flags, LIMITS)
    assert found.tolist() == pytest.approx([weights, 1.2])


@pytest.mark.parametrize(("spm", "runs", "walks"), [(NAN, 165, 112), (30, 165, 112), (31, 31, 31), (160, 160, 160)])
def test_steps_that_were_not_counted_are_guessed(spm: float, runs: float, walks: float) -> None:
    ran = stub(60, spm=np.full(60, float(spm)))
    walked = stub(60, spm=np.full(60, float(spm)), running=np.zeros(60, np.bool_))
    assert measures.steps_and_impact(ran, LIMITS) == pytest.approx((runs, 2.5 * runs))
    assert measures.steps_and_impact(walked, LIMITS) == pytest.approx((walks, 1.2 * walks))


def test_seconds_of_no_length_and_beats_that_are_not_believed_count_for_no_heart_rate() -> None:
    heart = SimpleNamespace(
        bpm=np.array([140.0, 141.0, 141.0, 150.0]),
        weight_s=np.array([1.0, 2.0004, 0.0, 5.0]),
        believed=np.array([True, True, True, False]),
    )
    assert measures.hr_seconds(cast("Any", SimpleNamespace(heart=heart))) == {140: 1.0, 141: 2.0}
    heart.believed[:] = False
    assert measures.hr_seconds(cast("Any", SimpleNamespace(heart=heart))) == {}


@pytest.mark.parametrize(
    ("seconds", "durations"),
    [(719, []), (720, [720]), (1199, [720]), (1200, [720, 1200]), (3600, [720, 1200, 1800, 2400, 3600])],
)
def test_best_speeds_are_of_twelve_minutes_to_an_hour(seconds: int, durations: list[int]) -> None:
    assert list(measures.best_speeds(stub(seconds), LIMITS)) == durations


@pytest.mark.parametrize(("missing", "told"), [(36, True), (37, False)])
def test_a_best_speed_is_known_for_nineteen_twentieths(missing: int, *, told: bool) -> None:
    speed = rows((300, 3.0), (missing, NAN), (420 - missing, 3.0))
    assert bool(measures.best_speeds(stub(720, speed=speed), LIMITS)) == told


@pytest.mark.parametrize(("known", "metres"), [(99, None), (100, 600.0), (200, 600.0)])
def test_the_way_is_known_where_half_of_the_running_has_a_speed(known: int, metres: float | None) -> None:
    track = stub(200, speed=rows((known, 3.0), (200 - known, NAN)))
    assert measures._metres(track, Sport("running", "", 200.0, 0.0, 0.0, 0.0, 200.0)) == metres


def test_a_median_is_of_what_is_known_with_one_decimal() -> None:
    assert measures._median(np.array([10.04, NAN, 20.0, 12.26])) == 12.3
    assert measures._median(np.array([NAN])) is None
    assert measures._median(None) is None


@pytest.mark.parametrize(
    ("with_breaks", "carried", "name", "noted"),
    [
        (1399, 0, "running", True),
        (1400, 0, "running", False),
        (1299, 100, "running", True),
        (1300, 100, "running", False),
        (0, 0, "running", False),
        (1000, 0, "walking", False),
    ],
)
def test_what_came_ten_minutes_after_a_run_was_over_is_noted(
    with_breaks: float, carried: float, name: str, *, noted: bool
) -> None:
    was = Sport(name, "", 900.0, 0.0, carried, 0.0, with_breaks)
    assert ("run_with_breaks_s" in measures._notes(stub(), was, 2000.0, LIMITS)) == noted


# Heart rate for its speed.


def settled(**more: Any) -> SteadyPart:
    return easy.settled(stub(1200, **more), LIMITS)


def test_running_is_settled_after_eight_minutes() -> None:
    assert settled().time_s[[0, -1]].tolist() == [480, 1180]  # a mean of a minute, fifty seconds of it known
    assert settled().hr_per_mps[0] == pytest.approx(140 / 3)


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"speed": np.full(1200, 1.49)}, False),
        ({"speed": np.full(1200, 1.51)}, True),
        ({"slope": np.full(1200, 0.02)}, True),
        ({"slope": np.full(1200, 0.021)}, False),
        ({"slope": np.full(1200, -0.021)}, False),
        ({"bpm": np.where(np.arange(1200) % 31 < 20, 140.0, NAN)}, True),
        ({"bpm": np.where(np.arange(1200) % 31 < 19, 140.0, NAN)}, False),
        ({"speed": np.where(np.arange(1200) % 61 < 50, 3.0, NAN)}, True),
        ({"speed": np.where(np.arange(1200) % 61 < 49, 3.0, NAN)}, False),
        ({"running": np.zeros(1200, np.bool_)}, False),
    ],
)
def test_only_level_running_with_a_heart_and_a_speed_is_settled(more: dict[str, Any], *, told: bool) -> None:
    middle = settled(**more).time_s
    assert bool(((middle > 600) & (middle < 1000)).any()) == told


@pytest.mark.parametrize(("share", "kept"), [(0.099, True), (0.101, False)])
def test_even_is_within_a_tenth_of_most_of_it(share: float, *, kept: bool) -> None:
    for off in (1 + share, 1 - share):
        run = SteadyPart(np.arange(100.0), rows((90, 3.0), (10, 3.0 * off)), np.full(100, 140.0))
        assert len(run.even(LIMITS.measures.even_share).time_s) == (100 if kept else 90)


def fades(early: int = 600, late: int = 300, ratio: float = 1.061) -> bool:
    time = np.arange(2700.0 - early, 2700 + late)
    run = SteadyPart(time, np.full(early + late, 3.0), np.where(time < 2700, 140.0, 140.0 * ratio))
    return "fades_after_45_min" in easy.remarks(stub(), run, LIMITS)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({}, True),
        ({"early": 599}, False),
        ({"late": 299}, False),
        ({"ratio": 1.0599}, False),
        ({"ratio": 1.0601}, True),
    ],
)
def test_a_run_fades_by_six_in_a_hundred_after_three_quarters_of_an_hour(
    changed: dict[str, Any], *, told: bool
) -> None:
    assert fades(**changed) == told


@pytest.mark.parametrize(("seconds", "ratio"), [(1319, None), (1320, 1.05)])
def test_drift_takes_half_an_hour_with_its_eight_minutes(seconds: int, ratio: float | None) -> None:
    first = seconds // 2
    run = SteadyPart(
        480 + np.arange(float(seconds)), np.full(seconds, 2.8), rows((first, 140.0), (seconds - first, 147.0))
    )
    assert easy.drift(run, LIMITS) == (None if ratio is None else pytest.approx(ratio))


@pytest.mark.parametrize(("seconds", "told"), [(239, None), (240, 50.0)])
def test_four_minutes_have_an_easy_heart_rate(seconds: int, told: float | None) -> None:
    assert (
        easy.easy_hr_per_mps(
            SteadyPart(np.arange(480.0, 480 + seconds), np.full(seconds, 2.8), np.full(seconds, 140.0)), LIMITS
        )
        == told
    )


def scatter(wide: float = 16.0, *, size: int = 1800, uneven: float = 0.0) -> dict[str, Any]:
    """A heart that goes so far to each side of its usual rate and back every minute, at a speed that leaps."""
    at = np.arange(size)
    wave = 4 * np.abs(at / 60 - np.floor(at / 60 + 0.5)) - 1
    track = stub(size, bpm=140 + wide * wave, speed=3.0 + uneven * np.where(at // 30 % 2 == 0, 1.0, -1.0))
    run = SteadyPart(np.arange(480.0, size), np.full(size - 480, 3.0), np.full(size - 480, 140.0))
    return easy.remarks(track, run, LIMITS)


def test_a_heart_scatters_by_its_robust_sd_about_five_minutes() -> None:
    """Half of it lies more than half of the way from the mean: 1.4826 x 8 for sixteen to each side."""
    assert scatter(16.0)["hr_scatter_bpm"] == pytest.approx(1.4826 * 8, abs=0.3)
    assert "hr_erratic_for_speed" in scatter(9.8)
    assert "hr_erratic_for_speed" not in scatter(9.2)
    assert scatter(0.0) == {"hr_scatter_bpm": 0.0}


@pytest.mark.parametrize(("size", "told"), [(798, False), (799, True)])
def test_five_minutes_of_even_running_tell_a_scatter(size: int, *, told: bool) -> None:
    """After the first eight, and without the last nineteen seconds, which have no mean of a minute."""
    assert ("hr_scatter_bpm" in scatter(size=size)) == told


def test_where_the_speed_leaps_nothing_is_told_of_the_heart() -> None:
    assert "hr_scatter_bpm" not in scatter(uneven=1.0)
    assert "hr_scatter_bpm" in scatter(uneven=0.2)


# One session, one truth.

START = datetime(2026, 10, 10, 8, tzinfo=UTC)


def span(
    number: int, begin: float, end: float, *, quality: float = 100.0, sport: str = "running", **more: Any
) -> RecordingSpan:
    """A recording from one second to another."""
    told = {"format": "fit", "sha256": f"{number}", "part": 0, "judged": "running"} | more
    at = [START + timedelta(seconds=each) for each in (begin, end)]
    return RecordingSpan(number, at[0], at[1], sport, quality, **told)


def told(*spans: RecordingSpan) -> list[list[int]]:
    return [[part.number for part in one.parts] for one in deduplicate(spans, LIMITS)]


@pytest.mark.parametrize(("begin", "sessions"), [(499, [[1]]), (500, [[1]]), (501, [[1], [2]])])
def test_recordings_that_share_half_of_the_shorter_one_are_one(begin: float, sessions: list[list[int]]) -> None:
    other = span(2, begin, begin + 1000, quality=50, sport="cycling", judged="cycling")
    assert told(span(1, 0, 1000), other) == sessions
    assert told(other, span(1, 0, 1000)) == sessions


@pytest.mark.parametrize(("gap", "joined"), [(119, True), (120, True), (121, False)])
def test_a_recording_goes_on_in_another_file_within_two_minutes(gap: float, *, joined: bool) -> None:
    assert told(span(1, 0, 1000), span(2, 1000 + gap, 2000)) == ([[1, 2]] if joined else [[1], [2]])


@pytest.mark.parametrize(
    ("more", "joined"),
    [
        ({"sport": "cycling"}, False),
        ({"sha256": "1"}, False),
        ({"sport": "cycling", "begin": 950}, True),  # judged alike, and it took over before the other ended
        ({"sport": "cycling", "begin": 950, "judged": "cycling"}, False),
        ({"sport": "cycling", "begin": 1000}, False),
    ],
)
def test_only_the_same_sport_goes_on(more: dict[str, Any], *, joined: bool) -> None:
    begin = more.pop("begin", 1060)
    assert told(span(1, 0, 1000), span(2, begin, 2000, **more)) == ([[1, 2]] if joined else [[1], [2]])


def test_what_nobody_can_tell_does_not_go_on_in_another() -> None:
    one, other = (
        span(n, b, b + 1000, sport=s, judged="unknown") for n, b, s in ((1, 0, "generic"), (2, 950, "running"))
    )
    assert told(one, other) == [[1], [2]]
    one, other = (span(n, b, b + 1000, sport=s, judged="") for n, b, s in ((1, 0, "generic"), (2, 950, "running")))
    assert told(one, other) == [[1], [2]]


@pytest.mark.parametrize(("quality", "stands"), [(99, 1), (101, 2)])
def test_the_recording_with_more_evidence_stands(quality: float, stands: int) -> None:
    assert told(span(1, 0, 1000), span(2, 0, 1000, quality=quality)) == [[stands]]


@pytest.mark.parametrize(("quality", "stands"), [(30, 1), (29, 2)])
def test_what_nobody_can_tell_yields_to_what_tells_more_of_each_minute(quality: float, stands: int) -> None:
    """An hour on the table with 100 s of evidence; twenty minutes of a class with 33.3 are as much a minute."""
    table = span(2, 0, 3600, quality=90, judged="unknown", sport="generic")
    assert told(table, span(1, 0, 1200, quality=quality + 0.5)) == [[stands]]


@pytest.mark.parametrize(("begins", "stands"), [(600, [[1]]), (601, [[2], [1]])])
def test_it_yields_where_half_of_the_shorter_is_common(begins: int, stands: list[list[int]]) -> None:
    table = span(2, 0, 1200, quality=99, judged="unknown", sport="generic")
    assert told(table, span(1, begins, begins + 1200, quality=100)) == stands


def test_a_file_with_more_to_say_stands_where_all_else_is_alike() -> None:
    for formats, stands in ((("fit", "tcx"), 1), (("gpx", "tcx"), 2), (("json", "gpx"), 2)):
        assert told(*(span(n, 0, 1000, format=one) for n, one in zip((1, 2), formats, strict=True))) == [[stands]]


@pytest.mark.parametrize(
    ("other", "share"),
    [
        ((500, 1500), 0.5),
        ((900, 1000), 1.0),
        ((1000, 1500), 0.0),
        ((1200, 1500), -0.6666667),
        ((400, 400), 1.0),
        ((1200, 1200), 0.0),
        ((999.5, 1000.5), 0.5),  # also of a second and less
        ((999.75, 1000.25), 0.5),
    ],
)
def test_an_overlap_is_a_share_of_the_shorter_one(other: tuple[float, float], share: float) -> None:
    assert one_truth.overlap(span(1, 0, 1000), span(2, *other)) == pytest.approx(share)


def test_evidence_is_the_heart_twice_the_speed_and_a_tenth_of_bare_time() -> None:
    digest = Digest("running", hr_known_s=100, speed_known_s=50)
    assert one_truth.quality(digest, 1000, LIMITS) == 350
