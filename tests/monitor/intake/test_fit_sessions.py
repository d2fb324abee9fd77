from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.errors import Unreadable
from monitor.intake.fit import read_fit
from monitor.values import FileFacts, IntakeOptions, Recording
from tests.fitwriter import FIT_EPOCH, FitWriter, Part, activities, activity, file_id, fit_time, write_activities

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)


def only(data: bytes) -> Recording:
    facts = read_fit(data, OSLO)
    assert len(facts.recordings) == 1
    return facts.recordings[0]


def leg(minute: int, sport: str, seconds: int, *, speed: float = 3.0, before_m: float = 0.0, **more: object) -> Part:
    metres = before_m + np.arange(seconds) * speed
    samples = {"distance_m": metres, "speed_mps": np.full(seconds, speed), "hr_bpm": np.full(seconds, 140.0)}
    start = START + timedelta(minutes=minute)
    return Part(start, sport, samples=samples, elapsed_s=seconds, distance_m=(seconds - 1) * speed, **more)


def test_a_session_tells_sport_times_distance_and_offset() -> None:
    samples = {"hr_bpm": [100.0, 101, 102], "distance_m": [0.0, 3, 6]}
    recording = only(
        activity(
            START,
            "walking",
            "speed_walking",
            samples,
            utc_offset_s=7200,
            elapsed_s=1800.5,
            timer_s=1700.25,
            distance_m=2500.0,
            ascent_m=40,
            descent_m=35,
            serial=777,
        )
    )
    assert (recording.start, recording.end) == (START, START + timedelta(seconds=1800.5))
    assert (recording.sport, recording.sub_sport) == ("walking", "speed_walking")
    assert (recording.timer_s, recording.elapsed_s, recording.distance_m) == (1700.25, 1800.5, 2500.0)
    assert (recording.ascent_m, recording.descent_m) == (40, 35)
    assert (recording.avg_hr_bpm, recording.max_hr_bpm) == (101, 102)
    assert recording.utc_offset_s == 7200
    assert recording.device == "development 1 777"
    assert recording.samples["t_s"].tolist() == [0, 1, 2]


@pytest.mark.parametrize(("offset", "expected"), [(None, None), (0, 0), (-16200, -16200), (20700, 20700), (7203, 7200)])
def test_the_offset_is_what_the_device_says_to_the_quarter_of_an_hour(offset: int | None, expected: int | None) -> None:
    assert only(activity(START, samples={"hr_bpm": [99, 99]}, utc_offset_s=offset)).utc_offset_s == expected


def test_pauses_come_from_timer_events_and_the_timer_counts_them_out() -> None:
    recording = only(activity(START, samples={"hr_bpm": np.full(600, 120)}, pauses=((60, 120), (300, 450))))
    assert recording.pauses == ((60, 120), (300, 450))
    assert recording.timer_s == 599 - 60 - 150


def test_a_stop_at_the_end_is_no_pause_and_one_before_the_end_is() -> None:
    samples = {"hr_bpm": np.full(100, 120)}
    assert only(activity(START, samples=samples)).pauses == ()
    writer = file_id(FitWriter(), START)
    writer.message("event", timestamp=START, event="timer", event_type="start")
    writer.message("event", timestamp=START + timedelta(seconds=50), event="timer", event_type="stop_all")
    for second in range(51):
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=100)
    writer.message("session", timestamp=START, start_time=START, total_elapsed_time=90, sport="running")
    recording = only(writer.to_bytes())
    assert recording.pauses == ((50, 90),)
    assert recording.timer_s == 50


def test_records_that_go_on_after_a_stop_end_the_pause_whose_start_was_lost() -> None:
    writer = file_id(FitWriter(), START)
    writer.message("event", timestamp=START + timedelta(seconds=10), event="timer", event_type="stop_all")
    for second in [*range(11), *range(40, 200)]:
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=100)
    assert only(writer.to_bytes()).pauses == ((10, 40),)


@pytest.mark.parametrize("summary_first", [True, False])
def test_a_triathlon_is_three_sessions_and_what_was_walked_between_them_none(*, summary_first: bool) -> None:
    parts = [
        leg(0, "swimming", 600, speed=1.0),
        leg(10, "transition", 120, speed=0.5, before_m=600),
        leg(12, "cycling", 1800, speed=8.0, before_m=660),
        leg(42, "transition", 60, speed=0.5, before_m=15055),
        leg(43, "running", 1200, before_m=15085),
    ]
    facts = read_fit(activities(parts, summary_first=summary_first, utc_offset_s=7200), OSLO)
    assert [recording.sport for recording in facts.recordings] == ["swimming", "cycling", "running"]
    for recording, part in zip(facts.recordings, parts[::2], strict=True):
        assert recording.start == part.start
        assert len(recording.samples["t_s"]) == len(part.samples["hr_bpm"])
        assert recording.samples["t_s"][0] == 0
        assert recording.samples["speed_mps"].tolist() == part.samples["speed_mps"].tolist()
        assert recording.samples["distance_m"][-1] == pytest.approx(part.distance_m, abs=1)
        assert recording.utc_offset_s == 7200
        assert recording.pauses == ()


@pytest.mark.parametrize(("seconds", "speed", "counts"), [(59, 3.0, False), (60, 3.0, True), (300, 0.5, False)])
def test_a_transition_that_is_run_through_counts(*, seconds: int, speed: float, counts: bool) -> None:
    parts = [leg(0, "cycling", 600, speed=8.0), leg(10, "transition", seconds, speed=speed)]
    found = [recording.sport for recording in read_fit(activities(parts), OSLO).recordings]
    assert found == ["cycling", *(["transition"] if counts else [])]


@pytest.mark.parametrize(("form", "speed", "sport"), [(2, 3.0, "running"), (3, 3.0, "cycling"), (2, 8.0, "cycling")])
def test_a_ride_that_holds_what_only_running_has_is_a_run(form: int, speed: float, sport: str) -> None:
    writer = file_id(FitWriter(), START)
    for second in range(600):
        told = {"vertical_oscillation": 82.5, "stance_time": 245.0} if second % form == 0 else {}
        at = fit_time(START) + second
        writer.message("record", timestamp=at, speed=speed, cadence=84, heart_rate=150, **told)
    end = fit_time(START) + 600
    times = {"total_elapsed_time": 600.0, "total_timer_time": 600.0}
    writer.message("session", timestamp=end, start_time=START, sport="cycling", sub_sport="road", **times)
    facts = read_fit(writer.to_bytes(), OSLO)
    assert facts.recordings[0].sport == sport
    assert facts.recordings[0].samples["cadence_spm"][0] == (168 if sport == "running" else 84)
    assert any("taken as a run" in remark for remark in facts.remarks) == (sport == "running")


def test_legs_that_count_their_distance_anew_keep_it() -> None:
    facts = read_fit(activities([leg(0, "cycling", 600, speed=8.0), leg(15, "running", 600)]), OSLO)
    assert [recording.samples["distance_m"][-1] for recording in facts.recordings] == [599 * 8, 599 * 3]


def test_the_sum_of_a_multisport_event_is_not_a_session_of_its_own() -> None:
    whole = Part(START, "multisport", elapsed_s=1500)
    facts = read_fit(activities([leg(0, "cycling", 600), leg(15, "running", 600), whole]), OSLO)
    assert [recording.sport for recording in facts.recordings] == ["cycling", "running"]


def test_a_summary_told_twice_is_one_session() -> None:
    assert len(read_fit(activities([leg(0, "running", 60), leg(0, "running", 60)]), OSLO).recordings) == 1


def test_a_session_without_records_is_its_summary() -> None:
    recording = only(activity(START, "training", "strength_training", elapsed_s=1800, avg_hr_bpm=101, max_hr_bpm=140))
    assert (recording.sport, recording.sub_sport, recording.timer_s) == ("training", "strength_training", 1800)
    assert (recording.avg_hr_bpm, recording.max_hr_bpm) == (101, 140)
    assert len(recording.samples["t_s"]) == 0


def laps(*given: tuple[int, int, str], records: int = 0) -> bytes:
    writer = file_id(FitWriter(), START)
    for second in range(records):
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=100)
    for begin, seconds, sport in given:
        writer.message(
            "lap",
            start_time=START + timedelta(seconds=begin),
            timestamp=START + timedelta(seconds=begin + seconds),
            total_elapsed_time=seconds,
            total_timer_time=seconds - 5,
            total_distance=seconds * 2.5,
            avg_heart_rate=100 + begin // 10,
            max_heart_rate=150,
            sport=sport,
        )
    return writer.to_bytes()


def test_laps_alone_make_one_session() -> None:
    recording = only(laps((0, 600, "running"), (600, 300, "running")))
    assert (recording.start, recording.elapsed_s, recording.timer_s) == (START, 900, 890)
    assert (recording.distance_m, recording.sport, recording.max_hr_bpm) == (2250, "running", 150)
    assert recording.avg_hr_bpm == pytest.approx((100 * 595 + 160 * 295) / 890)


def test_laps_of_another_sport_begin_another_session() -> None:
    facts = read_fit(laps((0, 600, "cycling"), (600, 300, "running"), records=900), OSLO)
    assert [(r.sport, r.elapsed_s, len(r.samples["t_s"])) for r in facts.recordings] == [
        ("cycling", 600, 600),
        ("running", 300, 300),
    ]


def test_records_that_go_on_after_the_last_lap_belong_to_the_session() -> None:
    recording = only(laps((0, 100, "running"), records=400))
    assert (recording.elapsed_s, recording.timer_s, recording.distance_m) == (399, 399, None)


def test_records_alone_make_a_session_of_the_sport_the_device_was_set_to() -> None:
    writer = file_id(FitWriter(), START).message("sport", sport="walking", sub_sport="generic", name="Walk")
    for second in range(0, 100, 4):
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=100)
    recording = only(writer.to_bytes())
    assert (recording.sport, recording.start, recording.elapsed_s) == ("walking", START, 96)
    assert recording.samples["t_s"].tolist() == list(range(0, 100, 4))


def test_compressed_timestamps_roll_on() -> None:
    begin = START.replace(second=30)
    writer = file_id(FitWriter(), begin).message("record", timestamp=begin, heart_rate=90)
    for second in range(1, 100):
        writer.message("record", heart_rate=100, time_offset=(fit_time(begin) + second) & 31)
    assert only(writer.to_bytes()).samples["t_s"].tolist() == list(range(100))


def relative(shown: int | None, *, correlation: bool = False) -> bytes:
    """A recording of ten minutes by a device that counts from its own start; `shown` is its local clock at the end."""
    writer = file_id(FitWriter(), datetime.fromtimestamp(FIT_EPOCH + 1000, UTC))
    for second in range(600):
        writer.message("record", timestamp=1000 + second, heart_rate=100)
    writer.message("session", timestamp=1600, start_time=1000, total_elapsed_time=600, sport="running")
    if correlation:
        writer.message("timestamp_correlation", timestamp=fit_time(START), system_timestamp=1000)
    local = {} if shown is None else {"local_timestamp": shown}
    return writer.message("activity", timestamp=1600, num_sessions=1, **local).to_bytes()


def test_a_device_without_a_date_is_placed_by_the_local_time_at_its_end() -> None:
    shown = fit_time(START) + 2 * 3600 + 600  # ten past nine in Oslo, summer time
    facts = read_fit(relative(shown), OSLO)
    assert facts.recordings[0].start == START
    assert facts.recordings[0].samples["t_s"][-1] == 599
    assert facts.recordings[0].utc_offset_s is None
    assert "the device had no date" in facts.remarks[0]


def test_a_device_without_a_date_is_placed_by_its_own_correlation_first() -> None:
    assert only(relative(fit_time(START) + 99_999, correlation=True)).start == START


@pytest.mark.parametrize("shown", [None, 1600])
def test_a_recording_that_belongs_to_no_day_is_unreadable(shown: int | None) -> None:
    with pytest.raises(Unreadable, match="no date when it recorded this"):
        read_fit(relative(shown), OSLO)


def test_a_start_that_no_record_is_near_gives_way_to_the_records() -> None:
    writer = file_id(FitWriter(), START)
    for second in range(60):
        writer.message("record", timestamp=START + timedelta(hours=5, seconds=second), heart_rate=100)
    writer.message("session", timestamp=START, start_time=START, total_elapsed_time=60, sport="running")
    assert only(writer.to_bytes()).start == START + timedelta(hours=5)


@pytest.mark.parametrize("kind", ["course", "workout", "settings", "weight"])
def test_a_file_of_another_kind_is_read_and_says_that_there_is_nothing_to_judge(kind: str) -> None:
    writer = file_id(FitWriter(), START, kind=kind)
    writer.message("record", timestamp=START, distance=10.0).message("lap", start_time=START, total_elapsed_time=60)
    facts = read_fit(writer.to_bytes(), OSLO)
    assert facts == FileFacts("fit", remarks=(f"a FIT file of the kind '{kind}', nothing to judge in it",))


def test_an_activity_file_with_nothing_in_it_is_read_with_no_fact() -> None:
    facts = read_fit(file_id(FitWriter(), START).to_bytes(), OSLO)
    assert facts == FileFacts("fit", remarks=("nothing recorded in it that is judged",))


def test_a_session_without_a_start_takes_it_from_its_end() -> None:
    writer = file_id(FitWriter(), START)
    writer.message("session", timestamp=START + timedelta(seconds=600), total_elapsed_time=600, sport="running")
    assert only(writer.to_bytes()).start == START


def test_intervals_between_beats_within_an_activity_leave_it_as_it_is() -> None:
    with_beats = write_activities([leg(0, "running", 300)], rr_ms=[500.0] * 600).to_bytes()
    facts = read_fit(with_beats, OSLO)
    assert len(facts.recordings) == 1
    assert facts.mornings == ()
