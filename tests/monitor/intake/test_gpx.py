from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake.gpx import read_gpx
from monitor.values import IntakeOptions
from tests.xmlbytes import START, gpx, run

OSLO = IntakeOptions("Europe/Oslo")


def test_a_track_becomes_one_recording_with_time_sport_and_samples() -> None:
    facts = read_gpx(gpx(run(range(601), speed_mps=3.0, cadence=84)), OSLO)
    (recording,) = facts.recordings
    assert (recording.start, recording.end) == (START, START + timedelta(seconds=600))
    assert (recording.sport, recording.sub_sport, recording.format) == ("running", "generic", "gpx")
    assert recording.device == "a watch"
    assert recording.distance_m == pytest.approx(1800, rel=1e-4)
    assert np.nanmedian(recording.samples["speed_mps"]) == pytest.approx(3.0, rel=1e-3)
    assert set(recording.samples["hr_bpm"]) == {140.0}
    assert set(recording.samples["altitude_m"]) == {100.0}
    assert (facts.kind, facts.damaged) == ("gpx", False)


def test_heart_rate_cadence_and_temperature_are_found_whatever_the_extension_is_called() -> None:
    data = gpx([point | {"atemp": 21.5, "power": 250} for point in run(range(60), cadence=86)])
    other = data.replace(b"e:hr>", b"e:heartrate>").replace(b"TrackPointExtension>", b"Anything>")
    for document in (data, other):
        samples = read_gpx(document, OSLO).recordings[0].samples
        assert samples["hr_bpm"][5] == 140
        assert samples["cadence_spm"][5] == 172
        assert samples["temperature_c"][5] == 21.5
        assert samples["power_w"][5] == 250


def test_the_devices_own_speed_stands_before_the_one_from_positions() -> None:
    points = [point | {"speed": 2.5} for point in run(range(60), speed_mps=3.0)]
    assert set(read_gpx(gpx(points), OSLO).recordings[0].samples["speed_mps"]) == {2.5}


def test_cadence_in_steps_already_is_left_as_it_is() -> None:
    facts = read_gpx(gpx(run(range(60), cadence=168)), OSLO)
    assert facts.recordings[0].samples["cadence_spm"][0] == 168
    assert facts.remarks == ()


def test_the_turns_of_an_unlabelled_ride_are_not_doubled_to_steps() -> None:
    facts = read_gpx(gpx(run(range(60), speed_mps=8.0, cadence=85), kind=None), OSLO)
    assert facts.recordings[0].samples["cadence_spm"][0] == 85
    assert facts.recordings[0].sport == "generic"


@pytest.mark.parametrize(
    ("word", "sport", "sub_sport"),
    [
        ("running", "running", "generic"),
        ("Trail_Running", "running", "trail"),
        ("trailRun", "running", "trail"),
        ("Walk", "walking", "generic"),
        ("hiking", "hiking", "generic"),
        ("road_biking", "cycling", "road"),
        ("9", "running", "generic"),
        ("09", "running", "generic"),
        ("010", "walking", "generic"),
        ("1", "cycling", "generic"),
        ("4", "hiking", "generic"),
        ("10", "walking", "generic"),
        ("16", "swimming", "generic"),
        ("17", "cycling", "virtual_activity"),
        ("99", "generic", "generic"),
        ("1998", "generic", "generic"),
        ("underwater basket weaving", "generic", "generic"),
        ("", "generic", "generic"),
    ],
)
def test_words_and_numbers_for_sports_become_fit_words(word: str, sport: str, sub_sport: str) -> None:
    recording = read_gpx(gpx(run(range(60)), kind=word), OSLO).recordings[0]
    assert (recording.sport, recording.sub_sport) == (sport, sub_sport)


def test_a_new_segment_is_a_gap_that_counts_as_moving_when_ground_was_covered() -> None:
    points = run(range(901), speed_mps=3.0)
    (recording,) = read_gpx(gpx(points[:300], points[600:]), OSLO).recordings
    assert recording.timer_s == recording.elapsed_s == 900
    assert recording.pauses == ()
    assert recording.distance_m == pytest.approx(2700, rel=1e-4)
    after_the_gap = recording.samples["speed_mps"][300]
    assert np.isnan(after_the_gap)


def test_standing_still_is_taken_off_the_moving_time() -> None:
    points = run(range(301), speed_mps=3.0)
    stood = [points[-1] | {"t": 300 + second} for second in range(1, 121)]
    (recording,) = read_gpx(gpx([*points, *stood]), OSLO).recordings
    assert recording.elapsed_s == 420
    assert recording.timer_s == pytest.approx(300, abs=2)


def test_a_cafe_stop_is_no_moving_time_however_the_positions_drift_about_the_table() -> None:
    rng = np.random.default_rng(1)
    out = run(range(601), speed_mps=6.0)
    drift = np.cumsum(rng.normal(0, 0.8, (1500, 2)), axis=0)
    drift -= np.outer(np.linspace(0, 1, 1500), drift[-1])  # back where it began
    drift *= 15 / np.abs(drift).max()
    last = float(str(out[-1]["lat"]))
    table = [
        {"t": 601 + at, "lat": last + north / 111_000, "lon": 10 + east / 55_000, "hr": 90}
        for at, (north, east) in enumerate(drift)
    ]
    back = [point | {"t": 2101 + at, "lat": last + 6.0 * at / 111_412.3} for at, point in enumerate(out)]
    (recording,) = read_gpx(gpx([*out, *table, *back], kind="cycling"), OSLO).recordings
    assert recording.elapsed_s == 2701
    assert recording.timer_s == pytest.approx(1200, abs=40)


def test_laps_of_a_track_and_a_slow_climb_are_moving_time() -> None:
    rounds = [
        {"t": at, "lat": 60 + 60 * np.sin(at / 20) / 111_000, "lon": 10 + 60 * np.cos(at / 20) / 55_000}
        for at in range(1200)
    ]
    climb = run(range(1200), speed_mps=0.5)
    for points in (rounds, climb):
        (recording,) = read_gpx(gpx(points, kind="hiking"), OSLO).recordings
        assert recording.timer_s == pytest.approx(1199, abs=2)


def test_a_gap_that_ends_where_it_began_was_a_stop() -> None:
    points = run(range(301), speed_mps=3.0)
    later = [point | {"t": float(str(point["t"])) + 600} for point in points]
    for point in later:
        point["lat"] = float(str(point["lat"])) + (float(str(points[-1]["lat"])) - float(str(points[0]["lat"])))
    (recording,) = read_gpx(gpx(points, later), OSLO).recordings
    assert recording.elapsed_s == 900
    assert recording.timer_s == pytest.approx(600, abs=2)


def test_a_lift_home_between_segments_is_no_distance() -> None:
    points = run(range(301), speed_mps=3.0)
    far = [point | {"t": float(str(point["t"])) + 600, "lat": float(str(point["lat"])) + 0.3} for point in points]
    facts = read_gpx(gpx(points, far), OSLO)
    assert facts.recordings[0].distance_m == pytest.approx(1800, rel=1e-3)
    assert any("only a vehicle" in remark for remark in facts.remarks)


def test_a_hall_with_one_fixed_position_keeps_its_time_and_heart_rate() -> None:
    points = [point | {"lat": 60.0} for point in run(range(1801))]
    facts = read_gpx(gpx(points, kind="strength"), OSLO)
    (recording,) = facts.recordings
    assert recording.timer_s == 1800
    assert recording.distance_m is None
    assert "speed_mps" not in recording.samples
    assert recording.samples["hr_bpm"][0] == 140


def test_points_hours_apart_in_one_track_are_two_outings() -> None:
    morning, evening = run(range(600)), [p | {"t": float(str(p["t"])) + 36000} for p in run(range(600))]
    facts = read_gpx(gpx([*morning, *evening]), OSLO)
    assert [recording.start.hour for recording in facts.recordings] == [8, 18]
    assert [recording.elapsed_s for recording in facts.recordings] == [599, 599]
    assert any("2 recordings" in remark for remark in facts.remarks)


def test_two_tracks_are_two_recordings() -> None:
    second = gpx(run(range(3600, 4200)), kind="walking")
    track = second[second.index(b"<trk>") : second.index(b"</trk>") + 6].decode()
    facts = read_gpx(gpx(run(range(600)), more=track), OSLO)
    assert [recording.sport for recording in facts.recordings] == ["running", "walking"]


def test_points_without_a_time_are_left_out_and_said() -> None:
    points = run(range(60))
    del points[30]["t"]
    facts = read_gpx(gpx(points), OSLO)
    assert len(facts.recordings[0].samples["t_s"]) == 59
    assert facts.remarks == ("1 points without a time left out",)


def test_a_route_is_not_a_recording() -> None:
    points = [{key: value for key, value in point.items() if key != "t"} for point in run(range(60))]
    with pytest.raises(Unreadable, match="no times in it: a route, not a recording"):
        read_gpx(gpx(points), OSLO)
    with pytest.raises(Unreadable, match="a route or waypoints"):
        read_gpx(b'<gpx version="1.1" creator="x"><rte><rtept lat="1" lon="2"/></rte></gpx>', OSLO)


def test_points_out_of_order_are_put_in_order_and_doubles_made_one() -> None:
    points = run(range(100))
    shuffled = [*points[50:], *points[:50], points[20]]
    straight, mixed = read_gpx(gpx(points), OSLO).recordings[0], read_gpx(gpx(shuffled), OSLO).recordings[0]
    assert straight.start == mixed.start
    for name, column in straight.samples.items():
        np.testing.assert_array_equal(column, mixed.samples[name])


def test_an_offset_in_the_times_is_the_devices_clock() -> None:
    points = [
        point | {"time": f"2026-10-04T10:{at // 60:02d}:{at % 60:02d}+02:00"} for at, point in enumerate(run(range(90)))
    ]
    recording = read_gpx(gpx(points), OSLO).recordings[0]
    assert recording.start == datetime(2026, 10, 4, 8, 0, tzinfo=UTC)
    assert recording.utc_offset_s == 7200
    assert read_gpx(gpx(run(range(90))), OSLO).recordings[0].utc_offset_s is None


def test_a_clock_that_was_never_set_costs_its_points() -> None:
    points = run(range(100))
    points[0]["time"] = "1980-01-06T00:00:00Z"
    facts = read_gpx(gpx(points), OSLO)
    assert facts.recordings[0].elapsed_s == 98
    assert "1 points left out: their clock was not set" in facts.remarks


def test_impossible_values_are_taken_out() -> None:
    points = run(range(100))
    points[10] |= {"hr": 0, "ele": 99999, "lat": 0.0, "lon": 0.0}
    points[11] |= {"hr": "nan", "ele": "inf"}
    samples = read_gpx(gpx(points), OSLO).recordings[0].samples
    assert np.isnan(samples["hr_bpm"][10:12]).all()
    assert np.isnan(samples["altitude_m"][10:12]).all()
    assert np.isnan(samples["lat_deg"][10])
    assert samples["distance_m"][-1] == pytest.approx(297, rel=1e-3)


def test_a_file_cut_off_keeps_what_came_before() -> None:
    data = gpx(run(range(600)))
    facts = read_gpx(data[: len(data) // 2], OSLO)
    assert facts.damaged
    assert 250 < facts.recordings[0].elapsed_s < 350
    assert "only a part could be read" in facts.remarks[-1]


def test_gpx_1_0_is_read_with_its_own_speed() -> None:
    body = "".join(
        f'<trkpt lat="{60 + at / 40000}" lon="10"><time>2026-10-04T08:00:{at:02d}Z</time><speed>2.75</speed></trkpt>'
        for at in range(50)
    )
    document = f'<gpx version="1.0" creator="x" xmlns="http://www.topografix.com/GPX/1/0"><trk><trkseg>{body}</trkseg></trk></gpx>'
    recording = read_gpx(document.encode(), OSLO).recordings[0]
    assert recording.samples["speed_mps"][3] == 2.75


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.integers(1, 15), min_size=20, max_size=60),
    st.floats(0.8, 6.0),
    st.integers(60, 200),
)
def test_what_is_written_is_read_back(steps: list[int], speed_mps: float, hr: int) -> None:
    seconds = np.cumsum([0, *steps]).tolist()
    samples = read_gpx(gpx(run(seconds, speed_mps=speed_mps, hr=hr)), OSLO).recordings[0].samples
    assert samples["t_s"].tolist() == seconds
    assert set(samples["hr_bpm"]) == {hr}
    np.testing.assert_allclose(samples["speed_mps"][1:], speed_mps, rtol=2e-3)
    assert (np.diff(samples["distance_m"]) >= 0).all()


@pytest.mark.parametrize(("code", "told"), [("0", "0"), ("19", "19"), ("99", "99"), ("1" * 5000, "1" * 9 + "…")])
def test_a_number_for_a_sport_that_nobody_knows_is_told(code: str, told: str) -> None:
    facts = read_gpx(gpx(run(range(60)), kind=code), OSLO)
    assert facts.recordings[0].sport == "generic"
    assert f"it is not known what sport the number {told} stands for: judged by how it moved" in facts.remarks


@pytest.mark.parametrize("kind", [*map(str, range(1, 19)), "running", "generic", None])
def test_of_words_and_known_numbers_nothing_is_told(kind: str | None) -> None:
    assert not any("number" in remark for remark in read_gpx(gpx(run(range(60)), kind=kind), OSLO).remarks)


def test_the_type_of_a_track_is_its_own_wherever_in_it_that_stands() -> None:
    """A point has a type too, and so has a route."""
    whole = gpx(run(range(60)), kind=None, more="<rte><type>cycling</type></rte>")
    for end in (b"</trkpt>", b"</gpx>"):
        odd = whole.replace(end, b"<type>cycling</type>" + end)
        assert read_gpx(odd, OSLO).recordings[0].sport == "generic"
    behind = whole.replace(b"</trkseg>", b"</trkseg><type>running</type>")
    assert read_gpx(behind, OSLO).recordings[0].sport == "running"


def test_an_element_that_only_holds_others_has_no_value() -> None:
    whole = gpx([point | {"power": 250} for point in run(range(60))])
    nested = whole.replace(b"<e:power>250</e:power>", b"<e:power><e:mean>250</e:mean></e:power>")
    assert "power_w" not in read_gpx(nested, OSLO).recordings[0].samples
    assert "power_w" in read_gpx(whole, OSLO).recordings[0].samples


@pytest.mark.parametrize(("letters", "kept"), [(80, 80), (81, 80)])
def test_the_name_of_a_device_is_kept_up_to_eighty_letters(letters: int, kept: int) -> None:
    document = gpx(run(range(60))).replace(b"a watch", b"w" * letters)
    assert read_gpx(document, OSLO).recordings[0].device == "w" * kept
