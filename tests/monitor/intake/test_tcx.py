from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import tcx as laps_of
from monitor.intake.plausible import Remarks
from monitor.intake.tcx import read_tcx
from monitor.intake.track import Lap
from monitor.values import IntakeOptions, Recording
from tests.xmlbytes import START, Point, activity, lap, run, tcx

OSLO = IntakeOptions("Europe/Oslo")
RATES = (
    "<AverageHeartRateBpm><Value>{mean}</Value></AverageHeartRateBpm>"
    "<MaximumHeartRateBpm><Value>{most}</Value></MaximumHeartRateBpm>"
)


def only(*activities: str) -> Recording:
    (recording,) = read_tcx(tcx(*activities), OSLO).recordings
    return recording


def counted(points: list[Point], speed_mps: float) -> list[Point]:
    """The same with the device's own count of distance, and no position."""
    return [{"t": p["t"], "hr": p["hr"], "dist": round(float(str(p["t"])) * speed_mps, 2)} for p in points]


def test_an_activity_becomes_a_recording() -> None:
    recording = only(activity(lap(run(range(601), cadence=85), start_s=0, timer_s=600, metres=1800.5)))
    assert (recording.start, recording.end) == (START, START + timedelta(seconds=600))
    assert (recording.sport, recording.sub_sport, recording.format) == ("running", "generic", "tcx")
    assert (recording.timer_s, recording.elapsed_s, recording.distance_m) == (600, 600, 1800.5)
    assert recording.pauses == ()
    assert recording.device == "a watch"
    assert recording.samples["cadence_spm"][9] == 170
    assert np.nanmedian(recording.samples["speed_mps"]) == pytest.approx(3.0, rel=1e-3)


@pytest.mark.parametrize(
    ("label", "sport"),
    [("Running", "running"), ("Biking", "cycling"), ("Other", "generic"), ("Walking", "walking"), ("", "generic")],
)
def test_the_three_sports_of_the_format_and_words_beyond_them(label: str, sport: str) -> None:
    assert only(activity(lap(run(range(60)), start_s=0, timer_s=59), sport=label)).sport == sport


def test_a_bicycles_cadence_is_turns_and_stays() -> None:
    recording = only(activity(lap(run(range(60), speed_mps=8, cadence=85), start_s=0, timer_s=59), sport="Biking"))
    assert recording.samples["cadence_spm"][5] == 85


@pytest.mark.parametrize(
    ("cadence", "speed", "sport"), [("runcad", 3.0, "running"), ("cad", 3.0, "cycling"), ("runcad", 8.0, "cycling")]
)
def test_a_ride_with_a_runners_cadence_is_a_run(cadence: str, speed: float, sport: str) -> None:
    points = [point | {cadence: 84} for point in run(range(600), speed_mps=speed)]
    recording = only(activity(lap(points, start_s=0, timer_s=599), sport="Biking"))
    assert recording.sport == sport
    assert recording.samples["cadence_spm"][9] == (168 if sport == "running" else 84)


def test_speed_run_cadence_and_power_come_from_the_extensions() -> None:
    points = [point | {"speed": 2.9, "runcad": 83, "power": 240} for point in run(range(60))]
    samples = only(activity(lap(points, start_s=0, timer_s=59))).samples
    assert samples["speed_mps"][0] == 2.9
    assert samples["cadence_spm"][0] == 166
    assert samples["power_w"][0] == 240


def test_trackpoints_without_a_position_take_speed_from_the_distance_counted() -> None:
    recording = only(activity(lap(counted(run(range(300)), 2.75), start_s=0, timer_s=299)))
    np.testing.assert_allclose(recording.samples["speed_mps"][1:], 2.75, atol=0.02)
    assert recording.distance_m == pytest.approx(822.25)


def test_a_count_in_whole_metres_gives_way_to_positions() -> None:
    points = [point | {"dist": int(float(str(point["t"])) * 2.5)} for point in run(range(300), speed_mps=2.5)]
    np.testing.assert_allclose(
        only(activity(lap(points, start_s=0, timer_s=299))).samples["speed_mps"][1:], 2.5, rtol=1e-3
    )


def test_a_count_that_starts_again_with_each_lap_goes_on() -> None:
    first, second = counted(run(range(300)), 2.5), counted(run(range(300)), 2.5)
    second = [point | {"t": float(str(point["t"])) + 300} for point in second]
    recording = only(activity(lap(first, start_s=0, timer_s=300), lap(second, start_s=300, timer_s=299)))
    assert np.nanmax(recording.samples["distance_m"]) == pytest.approx(1495, abs=3)
    assert np.nanmax(recording.samples["speed_mps"]) == pytest.approx(2.5, abs=0.02)


def test_a_stopped_watch_between_two_tracks_is_a_pause() -> None:
    points = run(range(901))
    recording = only(activity(lap(points[:301], points[600:], start_s=0, timer_s=601)))
    assert recording.elapsed_s == 900
    assert recording.timer_s == 601
    assert recording.pauses == ((300, 600),)


def test_a_stopped_watch_between_two_laps_is_a_pause() -> None:
    points = run(range(901))
    recording = only(activity(lap(points[:301], start_s=0, timer_s=300), lap(points[600:], start_s=600, timer_s=300)))
    assert recording.timer_s == 600
    assert recording.pauses == ((300, 600),)


def test_missing_timer_time_is_looked_for_in_the_longest_gap_within_a_track() -> None:
    points = run(range(901))
    recording = only(activity(lap([*points[:301], *points[340:600], *points[700:]], start_s=0, timer_s=800)))
    assert recording.timer_s == 800
    assert recording.pauses == ((599, 700),)


def test_a_lost_signal_is_no_pause_when_the_timer_ran_on() -> None:
    points = run(range(901))
    recording = only(activity(lap(points[:301], points[600:], start_s=0, timer_s=900)))
    assert recording.timer_s == 900
    assert recording.pauses == ()


def test_without_lap_times_breaks_between_tracks_are_pauses() -> None:
    points = run(range(901))
    recording = only(activity(lap(points[:301], points[600:], start_s=0, timer_s=None)))
    assert recording.timer_s == 600
    assert recording.pauses == ((300, 600),)


def test_lap_times_longer_than_the_recording_are_not_believed() -> None:
    facts = read_tcx(tcx(activity(lap(run(range(301)), start_s=0, timer_s=9000))), OSLO)
    assert facts.recordings[0].timer_s == 300
    assert any("more than the recording lasted" in remark for remark in facts.remarks)


def test_the_lap_begins_before_its_first_point() -> None:
    recording = only(activity(lap(run(range(8, 301)), start_s=0, timer_s=300)))
    assert recording.start == START
    assert recording.samples["t_s"][0] == 8


def test_laps_without_trackpoints_are_known_by_their_summary() -> None:
    laps = [
        lap(start_s=600 * i, timer_s=600, metres=1500, summary=RATES.format(mean=120 + 20 * i, most=150 + i))
        for i in range(2)
    ]
    recording = only(activity(*laps))
    assert (recording.timer_s, recording.elapsed_s, recording.distance_m) == (1200, 1200, 3000)
    assert (recording.avg_hr_bpm, recording.max_hr_bpm) == (130, 151)
    assert len(recording.samples["t_s"]) == 0


def test_each_activity_is_a_recording_and_transitions_are_none() -> None:
    first = activity(lap(run(range(60)), start_s=0, timer_s=59), sport="Biking")
    second = activity(lap(run(range(120, 300)), start_s=120, timer_s=179))
    transition = (
        f'<NextSport><Transition StartTime="{START.isoformat()}"><TotalTimeSeconds>60</TotalTimeSeconds></Transition>'
    )
    document = tcx(
        f"<MultiSportSession><FirstSport>{first}</FirstSport>{transition}{second}</NextSport></MultiSportSession>"
    )
    facts = read_tcx(document, OSLO)
    assert [recording.sport for recording in facts.recordings] == ["cycling", "running"]
    assert [recording.timer_s for recording in facts.recordings] == [59, 179]


def test_a_planned_course_is_not_a_recording() -> None:
    course = b"<TrainingCenterDatabase><Courses><Course><Name>a</Name></Course></Courses></TrainingCenterDatabase>"
    with pytest.raises(Unreadable, match="planned course"):
        read_tcx(course, OSLO)


def test_a_file_cut_off_keeps_what_came_before() -> None:
    data = tcx(activity(lap(run(range(600)), start_s=0, timer_s=599)))
    facts = read_tcx(data[: len(data) // 2], OSLO)
    assert facts.damaged
    assert facts.recordings[0].timer_s == facts.recordings[0].elapsed_s
    assert 250 < facts.recordings[0].elapsed_s < 350


@pytest.mark.parametrize(("points", "samples"), [(1, False), (2, True)])
def test_one_point_is_no_track_and_the_lap_tells_of_it(points: int, samples: bool) -> None:
    recording = only(activity(lap(run([600 * at for at in range(points)]), start_s=0, timer_s=600, metres=1800)))
    assert (recording.timer_s, bool(len(recording.samples["t_s"]))) == (600, samples)


def test_local_times_with_an_offset_tell_the_devices_clock() -> None:
    points = [point | {"time": f"2026-10-04T13:30:{at:02d}+05:30"} for at, point in enumerate(run(range(60)))]
    recording = only(activity(lap(points, start_s=0, timer_s=59)))
    assert recording.start == START
    assert recording.utc_offset_s == 19800


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(st.integers(30, 300), st.integers(12, 400)), min_size=1, max_size=5))
def test_timer_and_pauses_always_come_to_the_elapsed_time(pieces: list[tuple[int, int]]) -> None:
    tracks, at = [], 0
    for moving_s, pause_s in pieces:
        tracks.append(run([*range(at, at + moving_s, 5), at + moving_s]))
        at += moving_s + pause_s
    timer_s = sum(moving_s for moving_s, _ in pieces)
    recording = only(activity(lap(*tracks, start_s=0, timer_s=timer_s)))
    paused = sum(to - since for since, to in recording.pauses)
    assert recording.timer_s == timer_s
    assert recording.timer_s + paused == pytest.approx(recording.elapsed_s, abs=0.01)


# Each step at its border.


@pytest.mark.parametrize(
    ("at", "pieces", "timer_s", "pauses"),
    [
        ([0, 100, 110, 200], [0, 0, 1, 1], None, ()),  # without a timer a break is one of more than ten seconds
        ([0, 100, 111, 200], [0, 0, 1, 1], None, ((100, 111),)),
        ([0, 100, 190, 200], [0, 0, 0, 0], None, ()),  # nor is a gap within a track
        ([0, 100, 102, 111], [0, 0, 1, 1], 11, ((0, 100),)),  # what a device rounds is no break
        ([0, 9, 12, 21], [0, 0, 1, 1], 15, ((9, 12),)),
        ([0, 9, 11, 20], [0, 0, 1, 1], 15, ()),
        ([0, 9, 19, 28], [0, 0, 0, 0], 16, ()),  # a gap within a track is one of more than ten seconds
        ([0, 9, 20, 29], [0, 0, 0, 0], 16, ((9, 20),)),
        ([0, 9, 20, 29], [0, 0, 0, 0], 20, ((9, 20),)),  # nine are missing, and two may be rounded off
        ([0, 9, 20, 29], [0, 0, 0, 0], 20.5, ()),
        ([0, 9, 59, 68, 168], [0, 0, 1, 1, 1], 68, ((9, 59),)),  # a break before a longer gap
        ([0, 9, 59, 68, 168], [0, 0, 0, 0, 0], 68, ((68, 168),)),  # the longest gap first
        ([0, 20, 29, 49], [0, 0, 0, 0], 29, ((0, 20),)),  # of equal ones the first
        ([0, 20, 29, 49], [0, 0, 0, 0], 9, ((0, 20), (29, 49))),
    ],
)
def test_pauses_are_breaks_and_then_gaps_up_to_the_time_that_is_missing(
    at: list[float], pieces: list[int], timer_s: float | None, pauses: tuple[tuple[float, float], ...]
) -> None:
    points: Any = SimpleNamespace(piece=np.array(pieces))
    assert laps_of._pauses(points, np.array(at, dtype=float), float(at[-1]), timer_s) == pauses


@pytest.mark.parametrize(
    ("laps_s", "timer_s"),
    [
        ([], None),
        ([0.0], None),
        ([0.5], 0.5),
        ([float("nan"), 60.0], None),
        ([-1.0], None),
        ([52.0, 60.0], 112.0),  # 2 % and ten seconds more than the recording lasted
        ([52.5, 60.0], None),
        ([float("inf")], None),
    ],
)
def test_timer_time_is_that_of_all_laps_unless_it_cannot_be(laps_s: list[float], timer_s: float | None) -> None:
    assert laps_of._timer([Lap(0.0, timer_s=lap_s) for lap_s in laps_s], 100.0, Remarks()) == timer_s


@pytest.mark.parametrize(
    ("laps_m", "distance_m"),
    [
        ([], 300.0),
        ([0.0], 300.0),
        ([0.5], 0.5),
        ([float("nan"), 5.0], 300.0),
        ([float("inf")], 300.0),
        ([100.0, 150.0], 250.0),
    ],
)
def test_the_laps_own_distance_stands_before_the_way_between_points(laps_m: list[float], distance_m: float) -> None:
    laps = [Lap(0.0, distance_m=metres) for metres in laps_m]
    assert laps_of._distance(laps, {"distance_m": np.array([0.0, np.nan, 300.0])}) == distance_m
    assert laps_of._distance(laps, {}) == (None if distance_m == 300 else distance_m)


@pytest.mark.parametrize(
    ("laps", "mean", "highest"),
    [
        ([], None, None),
        ([(120.0, 600.0), (150.0, 300.0)], 130.0, 150.0),
        ([(120.0, 600.0), (float("nan"), 600.0)], 120.0, 120.0),
        ([(120.0, 600.0), (150.0, 0.0)], 120.0, 150.0),
        ([(150.0, 0.0)], None, 150.0),
        ([(150.0, 0.5)], 150.0, 150.0),
    ],
)
def test_heart_rates_of_laps_count_by_their_time(
    laps: list[tuple[float, float]], mean: float | None, highest: float | None
) -> None:
    told = [Lap(0.0, timer_s=timer_s, avg_hr_bpm=rate, max_hr_bpm=rate) for rate, timer_s in laps]
    assert (laps_of._mean_rate(told), laps_of._highest_rate(told)) == (mean, highest)


@pytest.mark.parametrize(("strides", "sport"), [(29, "cycling"), (30, "running")])
def test_strides_at_half_of_the_points_make_a_ride_a_run(strides: int, sport: str) -> None:
    points = [point | ({"runcad": 84} if at < strides else {}) for at, point in enumerate(run(range(60)))]
    assert only(activity(lap(points, start_s=0, timer_s=59), sport="Biking")).sport == sport


def test_what_lies_outside_of_an_activity_is_passed_over() -> None:
    outside = lap(run(range(600, 700)), start_s=600, timer_s=99) + "<Creator><Name>another</Name></Creator>"
    whole = activity(lap(run(range(60)), start_s=0, timer_s=59))
    document = tcx(whole).replace(b"</Activities>", f"</Activities>{outside}".encode())
    (recording,) = read_tcx(document.replace(b"<Activities>", f"{outside}<Activities>".encode()), OSLO).recordings
    assert (recording.timer_s, recording.device, len(recording.samples["t_s"])) == (59, "a watch", 60)


@pytest.mark.parametrize(("letters", "kept"), [(80, 80), (81, 80)])
def test_the_name_of_a_device_is_kept_up_to_eighty_letters(letters: int, kept: int) -> None:
    document = tcx(activity(lap(run(range(60)), start_s=0, timer_s=59))).replace(b"a watch", b"w" * letters)
    (recording,) = read_tcx(document, OSLO).recordings
    assert recording.device == "w" * kept
