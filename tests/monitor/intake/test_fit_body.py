from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from monitor.intake import fit, fit_decoders
from monitor.intake.fit import read_fit, rolled_monitoring
from monitor.intake.fit_decoders import FIT_EPOCH
from monitor.values import IntakeOptions
from rules.facts import Morning, Night
from tests.fitwriter import FitWriter, activity, file_id, fit_time, monitoring_day, night

OSLO = IntakeOptions("Europe/Oslo")
BEDTIME = datetime(2026, 10, 6, 21, 10, tzinfo=UTC)  # ten past eleven at night in Oslo
STAGES = [(20.0, "awake"), (50.0, "light"), (80.0, "deep"), (100.5, "rem"), (10.0, "awake"), (150.0, "light")]


@pytest.fixture(params=["fast", "fitparse"])
def decoder(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "fitparse":
        monkeypatch.setattr(fit_decoders, "_fitfast", lambda: None)
    return str(request.param)


@pytest.mark.usefixtures("decoder")
def test_a_night_is_told_by_bedtime_waking_and_sleep_without_the_time_awake() -> None:
    facts = read_fit(night(BEDTIME, STAGES), OSLO)
    wake = BEDTIME + timedelta(minutes=410.5)
    assert facts.nights == (Night(date(2026, 10, 7), BEDTIME + timedelta(minutes=20), wake, 380.5),)
    assert facts.recordings == ()


@pytest.mark.usefixtures("decoder")
def test_a_night_carries_its_heart_rate_variability_to_the_morning() -> None:
    facts = read_fit(night(BEDTIME, STAGES, rmssd_ms=55.5), OSLO)
    assert facts.mornings == (Morning(date(2026, 10, 7), None, 55.5),)


@pytest.mark.usefixtures("decoder")
def test_rows_after_an_event_that_begins_sleep_tell_the_stage_up_to_their_moment() -> None:
    writer = file_id(FitWriter(), BEDTIME, kind=49)
    writer.message("event", timestamp=BEDTIME, event=74, event_type="start")
    for minutes, stage in ((60, "light"), (150, "deep"), (180, "awake"), (300, "rem")):
        writer.message("sleep_level", timestamp=BEDTIME + timedelta(minutes=minutes), sleep_level=stage)
    facts = read_fit(writer.to_bytes(), OSLO)
    wake = BEDTIME + timedelta(minutes=300)
    assert facts.nights == (Night(date(2026, 10, 7), BEDTIME, wake, 270.0),)


def test_rows_that_end_asleep_tell_the_stage_up_to_their_moment() -> None:
    writer = file_id(FitWriter(), BEDTIME, kind=49)
    for minutes, stage in ((0, "light"), (150, "deep"), (180, "awake"), (300, "rem")):
        writer.message("sleep_level", timestamp=BEDTIME + timedelta(minutes=minutes), sleep_level=stage)
    assert read_fit(writer.to_bytes(), OSLO).nights[0].total_sleep_min == 270


def test_a_nap_is_no_night_and_of_two_sleeps_on_a_day_the_longer_stands() -> None:
    def sleeps(*given: tuple[float, float]) -> tuple[Night, ...]:
        writer = file_id(FitWriter(), BEDTIME, kind=49)
        for begin, minutes in given:
            at = BEDTIME + timedelta(hours=begin)
            writer.message("sleep_level", timestamp=at, sleep_level="light")
            writer.message("sleep_level", timestamp=at + timedelta(minutes=minutes), sleep_level="awake")
        return read_fit(writer.to_bytes(), OSLO).nights

    assert sleeps((0, 30)) == sleeps((0, 59)) == ()
    assert [n.total_sleep_min for n in sleeps((0, 60))] == [60]
    assert [n.total_sleep_min for n in sleeps((0, 200), (12, 90))] == [200]
    assert [n.date.day for n in sleeps((0, 200), (24, 200))] == [7, 8]


def test_a_sleep_file_cut_off_keeps_the_night_that_came_before() -> None:
    data = night(BEDTIME, STAGES, rmssd_ms=50.0)
    facts = read_fit(data[:-12], OSLO)
    assert facts.damaged
    assert facts.remarks == ("cut off after 9 messages: the file ends in the middle of a message",)
    assert facts.nights == read_fit(data, OSLO).nights


def test_scores_of_a_sleep_are_not_facts() -> None:
    writer = file_id(FitWriter(), BEDTIME, kind=49)
    writer.message("sleep_assessment", overall_sleep_score=81, awakenings_count=3)
    facts = read_fit(writer.to_bytes(), OSLO)
    assert (facts.nights, facts.mornings) == ((), ())


@pytest.mark.usefixtures("decoder")
def test_resting_heart_rate_is_that_of_the_day_not_the_weekly_mean_on_the_local_date() -> None:
    begin = datetime(2026, 10, 6, 11, 30, tzinfo=UTC)  # the message comes twelve hours later: half past one in Oslo
    facts = read_fit(monitoring_day(begin, resting_hr=47), OSLO)
    assert facts.mornings == (Morning(date(2026, 10, 7), 47.0, None),)


def test_the_latest_resting_heart_rate_of_a_day_stands_and_impossible_ones_are_left_out() -> None:
    writer = file_id(FitWriter(), BEDTIME, kind="monitoring_b")
    for minutes, rate in ((60, 49), (0, 55), (30, 200), (90, None)):
        at = BEDTIME + timedelta(minutes=minutes)
        writer.message("monitoring_hr_data", timestamp=at, resting_heart_rate=50, current_day_resting_heart_rate=rate)
    assert [m.resting_hr for m in read_fit(writer.to_bytes(), OSLO).mornings] == [55, 49]


@pytest.mark.usefixtures("decoder")
def test_five_minute_values_of_a_night_give_their_mean_where_there_is_no_summary() -> None:
    writer = file_id(FitWriter(), BEDTIME, kind=68)
    for index, value in enumerate((50.0, 60.0, 70.0, None)):
        writer.message("hrv_value", timestamp=BEDTIME + timedelta(hours=index), value=value)
    assert read_fit(writer.to_bytes(), OSLO).mornings == (Morning(date(2026, 10, 7), None, 60.0),)
    writer.message("hrv_status_summary", timestamp=BEDTIME + timedelta(hours=7), last_night_average=58.0)
    assert read_fit(writer.to_bytes(), OSLO).mornings == (Morning(date(2026, 10, 7), None, 58.0),)


@pytest.mark.usefixtures("decoder")
def test_a_monitoring_file_without_a_fact_is_read_and_says_what_it_holds() -> None:
    begin = datetime(2026, 10, 5, 22, 0, tzinfo=UTC)
    facts = read_fit(monitoring_day(begin, [(5, 50), (70, 52), (1300, 60)]), OSLO)
    assert (facts.recordings, facts.nights, facts.mornings) == ((), (), ())
    assert facts.remarks[-1] == "all-day monitoring of 2026-10-06, 3 heart rates, no resting heart rate in it"


def test_sixteen_bit_timestamps_roll_on_the_last_full_one() -> None:
    begin = datetime(2021, 9, 8, 1, 46, 40, tzinfo=UTC)
    assert fit_time(begin) == 1_000_000_000
    minutes = [0.5, 200.0, 1000.0, 2000.0, 3000.0]  # 65536 s are 1092 minutes
    messages = fit_decoders.FastDecoder().decode(monitoring_day(begin, [(m, 60) for m in minutes])).messages
    rolled = [at - begin.timestamp() for at, _ in rolled_monitoring(messages)]
    assert rolled == [0.0, *(m * 60 for m in minutes)]
    published = {"monitoring_info": [{"timestamp": begin.timestamp()}], "monitoring": [{"timestamp_16": 16}]}
    assert rolled_monitoring(published)[0][0] - begin.timestamp() == 13840  # the protocol's rule, by hand


def resting(start: datetime, sport: str = "training", **more: object) -> bytes:
    rng = np.random.default_rng(7)
    rr = np.round(1000 + rng.normal(0, 40, 300))
    return activity(start, sport, samples={"hr_bpm": np.full(300, 60)}, rr_ms=rr.tolist(), **more)


def test_a_measurement_at_rest_in_the_morning_is_a_morning_value_and_no_session() -> None:
    facts = read_fit(resting(datetime(2026, 10, 7, 4, 30, tzinfo=UTC)), OSLO)
    assert facts.recordings == ()
    assert facts.remarks == ("a measurement of the heartbeat at rest, not a session",)
    (morning,) = facts.mornings
    assert morning.date == date(2026, 10, 7)
    assert morning.rmssd_ms == pytest.approx(40 * 2**0.5, rel=0.15)


@pytest.mark.parametrize(("local", "mornings"), [((11, 59), 1), ((12, 0), 0), ((16, 30), 0)])
def test_a_measurement_at_rest_from_noon_on_is_neither(local: tuple[int, int], mornings: int) -> None:
    """morning.before_hour, in Oslo two hours ahead"""
    facts = read_fit(resting(datetime(2026, 10, 7, local[0] - 2, local[1], tzinfo=UTC)), OSLO)
    assert (len(facts.recordings), len(facts.mornings)) == (0, mornings)


@pytest.mark.parametrize("how", [{"sport": "walking"}, {"distance_m": 400.0}, {"elapsed_s": 3600.0}])
def test_beats_of_somebody_who_moves_or_trains_are_no_morning_value(how: dict[str, object]) -> None:
    facts = read_fit(resting(datetime(2026, 10, 7, 4, 30, tzinfo=UTC), **how), OSLO)
    assert len(facts.recordings) == 1
    assert facts.mornings == ()


@pytest.mark.parametrize(
    ("begun", "bedtime", "asleep_s"),
    [
        ([], 100_000, 3600),  # from its moment on: light until it is awake
        ([100_000], 100_000, 3600),
        ([99_940], 99_940, 60),  # up to its moment: light for a minute, and awake then
        ([99_000, 99_940], 99_940, 60),
        ([100_000 - 14_400], 100_000 - 14_400, 14_400),
        ([100_000 - 14_401], 100_000, 3600),  # of another night
        ([100_001], 100_000, 3600),
    ],
)
def test_a_stage_is_told_up_to_its_moment_where_sleep_is_said_to_have_begun_before_it(
    begun: list[float], bedtime: float, asleep_s: float
) -> None:
    found = fit._sleep([(100_000, "light"), (103_600, "awake")], begun)
    assert found is not None
    assert (found.bedtime, found.asleep_s) == (bedtime, asleep_s)


@pytest.mark.parametrize(
    ("hour", "minute", "count", "day"),
    [(15, 59, 3, 6), (16, 0, 3, 7), (23, 30, 3, 7), (4, 0, 3, 6), (4, 0, 2, None)],
)
def test_values_from_the_afternoon_on_are_of_the_night_to_the_next_morning(
    hour: int, minute: int, count: int, day: int | None
) -> None:
    """morning.evening_hour and morning.least_values, in Oslo two hours ahead"""
    at = fit_time(datetime(2026, 10, 6, hour, minute, tzinfo=UTC) - timedelta(hours=2))
    found = fit._nightly_means([{"timestamp": at + FIT_EPOCH, "value": 50.0 + one} for one in range(count)], OSLO)
    assert found == ({} if day is None else {date(2026, 10, day): 50.0 + (count - 1) / 2})
