from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import mhealth_json
from monitor.intake.beats import rmssd_after_correction
from monitor.intake.mhealth_json import read_mhealth
from monitor.values import FileFacts, IntakeOptions
from rules.facts import Morning, Night

OSLO = IntakeOptions("Europe/Oslo")
Body = dict[str, Any]


def facts_of(document: object) -> FileFacts:
    return read_mhealth(json.dumps(document).encode(), OSLO)


def frame(start: str, end: str) -> Body:
    return {"time_interval": {"start_date_time": start, "end_date_time": end}}


def sleep(start: str, end: str, asleep_min: float | None = None, **more: object) -> Body:
    told = (
        {"total_sleep_time": {"value": asleep_min, "unit": "min"}}
        if asleep_min is not None
        else {"number_of_awakenings": 2}
    )
    return {**told, "effective_time_frame": frame(start, end), **more}


def pulse(at: str, rate: float, **more: object) -> Body:
    return {"heart_rate": {"value": rate, "unit": "beats/min"}, "effective_time_frame": {"date_time": at}, **more}


def test_documents_about_one_night_are_one_night() -> None:
    bed = {
        "time_in_bed": {"value": 8.5, "unit": "h"},
        "effective_time_frame": frame("2026-10-05T22:30:00+02:00", "2026-10-06T07:00:00+02:00"),
    }
    facts = facts_of([sleep("2026-10-05T22:50:00+02:00", "2026-10-06T06:50:00+02:00", 440), bed])
    assert facts.nights == (
        Night(
            date(2026, 10, 6), datetime(2026, 10, 5, 20, 30, tzinfo=UTC), datetime(2026, 10, 6, 5, 0, tzinfo=UTC), 440.0
        ),
    )
    assert facts.remarks == ()


def test_the_day_is_the_athletes_own_whatever_the_offset() -> None:
    (night,) = facts_of(sleep("2026-10-06T06:00:00+09:00", "2026-10-06T14:00:00+09:00", 420)).nights
    assert night.date == date(2026, 10, 6)
    (night,) = facts_of(sleep("2026-10-05T10:00:00-10:00", "2026-10-05T18:00:00-10:00", 420)).nights
    assert night.date == date(2026, 10, 6)


@pytest.mark.parametrize(
    "nap",
    [
        sleep("2026-10-06T23:00:00+02:00", "2026-10-07T07:00:00+02:00", 400, is_main_sleep=False),
        sleep("2026-10-06T13:00:00+02:00", "2026-10-06T13:40:00+02:00", 35),
    ],
)
def test_a_nap_is_not_a_night(nap: Body) -> None:
    facts = facts_of([sleep("2026-10-05T23:00:00+02:00", "2026-10-06T07:00:00+02:00", 440), nap])
    assert [night.total_sleep_min for night in facts.nights] == [440]
    assert facts.remarks == ("a nap on 2026-10-06 is left out",)
    assert not facts.damaged


@pytest.mark.parametrize(
    ("begins", "minutes", "nights"),
    [("09:00", 179, 0), ("09:00", 180, 1), ("08:59", 60, 1), ("09:00", 60, 0), ("19:59", 60, 0), ("20:00", 60, 1)],
)
def test_a_nap_begins_from_nine_to_twenty_and_ends_within_three_hours(begins: str, minutes: int, nights: int) -> None:
    start = datetime.fromisoformat(f"2026-10-06T{begins}:00+02:00")
    told = sleep(start.isoformat(), (start + timedelta(minutes=minutes)).isoformat(), minutes)
    night_before = sleep("2026-10-04T23:00:00+02:00", "2026-10-05T07:00:00+02:00", 440)
    assert len(facts_of([night_before, told]).nights) == 1 + nights


@pytest.mark.parametrize(("asleep_min", "is_read"), [(480, True), (481, True), (481.1, False)])
def test_nobody_sleeps_longer_than_the_frame_but_for_a_minute(asleep_min: float, *, is_read: bool) -> None:
    night = sleep("2026-10-05T23:00:00+02:00", "2026-10-06T07:00:00+02:00", asleep_min)
    if not is_read:
        with pytest.raises(Unreadable, match="481"):
            facts_of(night)
        return
    assert [one.total_sleep_min for one in facts_of(night).nights] == [asleep_min]


def test_sleep_of_a_calendar_day_has_no_bedtime() -> None:
    (night,) = facts_of(sleep("2026-10-06T00:00:00+02:00", "2026-10-07T00:00:00+02:00", 440)).nights
    assert night == Night(date(2026, 10, 6), None, None, 440.0)


def test_an_average_over_weeks_is_no_night() -> None:
    body = sleep("2026-09-01T00:00:00+02:00", "2026-10-01T00:00:00+02:00", 430, descriptive_statistic="average")
    with pytest.raises(Unreadable, match="sleep told as average of a time"):
        facts_of(body)


def test_a_document_that_is_wrong_costs_itself() -> None:
    facts = facts_of(
        [
            sleep("2026-10-05T23:00:00+02:00", "2026-10-06T07:00:00+02:00", 440),
            sleep("x", "y", 1),
            {"step_count": 3},
            7,
        ][:3]
    )
    assert len(facts.nights) == 1
    assert facts.damaged
    assert facts.remarks == (
        "document 2 left out: 'x' is no date and time",
        "document 3 left out: no sleep, resting heart rate or RR intervals in it, only step_count",
    )


def test_resting_heart_rate_is_the_median_of_the_best_readings_of_the_day() -> None:
    day = "2026-10-06T0{}:00:00+02:00"
    sleeping = [pulse(day.format(hour), 44 + hour, temporal_relationship_to_sleep="during sleep") for hour in range(6)]
    resting = [
        pulse(day.format(8), rate, temporal_relationship_to_physical_activity="at rest") for rate in (52, 50, 60)
    ]
    waking = [pulse(day.format(7), 48, temporal_relationship_to_sleep="on waking")]
    assert facts_of(sleeping).mornings == (Morning(date(2026, 10, 6), 46.5),)
    assert facts_of([*sleeping, *resting]).mornings == (Morning(date(2026, 10, 6), 52.0),)
    assert facts_of([*sleeping, *resting, *waking]).mornings == (Morning(date(2026, 10, 6), 48.0),)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"temporal_relationship_to_physical_activity": "during exercise"},
        {"temporal_relationship_to_sleep": "on waking", "temporal_relationship_to_physical_activity": "active"},
        {"temporal_relationship_to_sleep": "before sleeping"},
        {"temporal_relationship_to_sleep": "on waking", "descriptive_statistic": "maximum"},
        {"temporal_relationship_to_sleep": ["on waking"]},
    ],
)
def test_heart_rates_not_at_rest_are_left_out(more: Body) -> None:
    with pytest.raises(Unreadable, match="not said to be at rest"):
        facts_of(pulse("2026-10-06T07:00:00+02:00", 48, **more))


def test_a_resting_heart_rate_out_of_bounds_is_refused() -> None:
    with pytest.raises(Unreadable, match="a resting heart rate of 300: must be from 25 to 120"):
        facts_of(pulse("2026-10-06T07:00:00+02:00", 300, temporal_relationship_to_sleep="on waking"))


def beats(intervals: list[float], **more: object) -> list[Body]:
    at, documents = datetime(2026, 10, 6, 4, 0, tzinfo=UTC), []
    for rr_ms in intervals:
        at += timedelta(milliseconds=rr_ms)
        documents.append(
            {
                "rr_interval": {"value": rr_ms, "unit": "ms"},
                "effective_time_frame": {"date_time": at.isoformat()},
                **more,
            }
        )
    return documents


def test_a_list_of_beats_is_a_mornings_rmssd_in_whatever_order() -> None:
    intervals = [float(value) for value in np.round(940 + 40 * np.sin(np.arange(200) / 2.2))]
    documents = beats(intervals)
    expected = rmssd_after_correction(intervals)
    for order in (documents, documents[::-1]):
        (morning,) = facts_of(order).mornings
        assert morning.rmssd_ms == pytest.approx(expected, abs=0.001)


def test_a_series_has_one_header_for_many_beats() -> None:
    header = {
        "schema_id": {"namespace": "omh", "name": "rr-interval", "version": "1.0"},
        "source_creation_date_time": "2026-10-06T06:00:00+02:00",
    }
    bodies = [{"rr_interval": {"value": 900 + 7 * at % 50, "unit": "ms"}} for at in range(90)]
    (morning,) = facts_of({"header": header, "body": bodies}).mornings
    assert morning.date == date(2026, 10, 6)
    assert morning.rmssd_ms is not None


def test_too_few_beats_are_said() -> None:
    breathing = [float(value) for value in np.round(940 + 40 * np.sin(np.arange(60) / 2.2))]
    with pytest.raises(Unreadable, match="2026-10-06: 59 RR intervals; at least 60"):
        facts_of(beats(breathing[1:]))
    assert facts_of(beats(breathing)).mornings[0].rmssd_ms is not None


def test_a_heart_that_never_varies_was_not_measured() -> None:
    with pytest.raises(Unreadable):
        facts_of(beats([900.0] * 60))


@pytest.mark.parametrize(
    "more", [{"descriptive_statistic": "average"}, {"temporal_relationship_to_physical_activity": "active"}]
)
def test_intervals_that_are_no_single_beats_at_rest_are_left_out(more: Body) -> None:
    with pytest.raises(Unreadable, match="single beats"):
        facts_of(beats([900.0 + 7 * at % 50 for at in range(60)], **more))


def test_a_pulse_over_a_while_is_of_its_end() -> None:
    told = pulse("", 48, temporal_relationship_to_sleep="during sleep")
    told["effective_time_frame"] = frame("2026-10-05T23:00:00+02:00", "2026-10-06T07:00:00+02:00")
    assert facts_of(told).mornings == (Morning(date(2026, 10, 6), 48.0),)


@pytest.mark.parametrize("frame_told", ["a date_time", None, {}])
def test_a_measurement_without_a_time_is_said(frame_told: object) -> None:
    told = pulse("", 48, temporal_relationship_to_sleep="on waking") | {"effective_time_frame": frame_told}
    with pytest.raises(Unreadable, match="no time interval"):
        facts_of(told)


def hours(begins: str, long: float, **more: object) -> Body:
    start = datetime.fromisoformat(begins)
    return {"effective_time_frame": frame(begins, (start + timedelta(hours=long)).isoformat()), **more}


ASLEEP = {"total_sleep_time": {"value": 400, "unit": "min"}}
IN_BED = {"time_in_bed": {"value": 8, "unit": "h"}}


@pytest.mark.parametrize(("long", "night"), [(16.0, True), (16.01, False)])
def test_a_night_has_sixteen_hours_at_most_and_more_is_the_sum_of_the_day_of_its_middle(
    long: float, *, night: bool
) -> None:
    (told,) = facts_of(hours("2026-10-05T10:00:00+02:00", long, **ASLEEP)).nights
    assert (told.date, told.bedtime is not None) == (date(2026, 10, 6 if night else 5), night)


@pytest.mark.parametrize(("long", "is_read"), [(25.0, True), (25.05, False), (30.0, False)])
def test_a_calendar_day_may_have_twenty_five_hours(long: float, *, is_read: bool) -> None:
    told = hours("2026-10-05T00:00:00+02:00", long, **ASLEEP)
    if is_read:
        assert len(facts_of(told).nights) == 1
        return
    with pytest.raises(Unreadable, match=f"{long:.0f} h"):
        facts_of(told)


@pytest.mark.parametrize(
    ("told", "asleep"),
    [
        ({"total_sleep_time": {"value": 0.5, "unit": "min"}}, 0.5),
        ({"total_sleep_time": {"value": 0, "unit": "min"}}, "0 minutes asleep"),
        ({"sleep_efficiency_percentage": 0.5}, 2.4),
        ({"sleep_efficiency_percentage": 100}, 480.0),
        ({"sleep_efficiency_percentage": 100.1}, "efficiency of 100.1 %"),
        ({"sleep_efficiency_percentage": 90} | IN_BED, None),  # of a frame of which nobody knows the sleep
        ({"number_of_awakenings": 2}, None),
        ({"total_sleep_time": {"value": 1e12, "unit": "ps"}}, 1 / 60),
    ],
)
def test_minutes_asleep_are_told_or_are_the_share_of_the_frame(told: Body, asleep: float | str | None) -> None:
    whole = hours("2026-10-05T23:00:00+02:00", 8, **told)
    if isinstance(asleep, str):
        with pytest.raises(Unreadable, match=asleep):
            facts_of(whole)
        return
    (night,) = facts_of(whole).nights
    assert night.total_sleep_min == (None if asleep is None else pytest.approx(asleep))


@pytest.mark.parametrize(
    ("sleeps", "bedtime", "asleep"),
    [
        # the times of the night, not of the day whose sum it is
        ([hours("2026-10-06T00:00:00+02:00", 24, **ASLEEP), hours("2026-10-05T23:00:00+02:00", 7)], 23, 400),
        # the time in bed, though somebody slept longer elsewhere
        ([hours("2026-10-05T22:00:00+02:00", 8, **IN_BED), hours("2026-10-05T21:00:00+02:00", 9, **ASLEEP)], 22, 400),
        ([hours("2026-10-05T22:00:00+02:00", 8), hours("2026-10-05T23:00:00+02:00", 6)], 22, None),
    ],
)
def test_the_times_of_a_night_are_those_in_bed_or_of_the_longest_sleep(
    sleeps: Sequence[Body], bedtime: int, asleep: float | None
) -> None:
    told = [one if len(one) > 1 else one | {"number_of_awakenings": 2} for one in sleeps]
    (night,) = facts_of(told).nights
    assert night.bedtime == datetime(2026, 10, 5, bedtime - 2, tzinfo=UTC)
    assert night.total_sleep_min == asleep


def test_of_other_measures_five_are_named() -> None:
    with pytest.raises(Unreadable, match=r"only a, b, c, d, e$"):
        facts_of(dict.fromkeys("abcdef", 1))


@pytest.mark.parametrize(("documents", "is_read"), [(2, True), (3, False)])
def test_documents_are_taken_up_to_their_limit(
    documents: int, monkeypatch: pytest.MonkeyPatch, *, is_read: bool
) -> None:
    monkeypatch.setattr(mhealth_json, "MOST", SimpleNamespace(documents=2))
    with pytest.raises(Unreadable, match="only a" if is_read else "more than 2 documents"):
        facts_of([{"a": 1}] * documents)


@pytest.mark.parametrize("document", [{}, {"a": 1}, [], "text", 5, None, [1], {"body": 3}, {"header": 1, "body": []}])
def test_other_json_is_unreadable(document: object) -> None:
    with pytest.raises(Unreadable):
        facts_of(document)


def test_more_documents_than_allowed_are_refused() -> None:
    with pytest.raises(Unreadable, match="more than 250000 documents in one file"):
        read_mhealth(b"[" + b"{}," * 250_000 + b"{}]", OSLO)


keys = st.sampled_from(
    (
        "header", "body", "total_sleep_time", "sleep_duration", "time_in_bed", "effective_time_frame",
        "time_interval", "date_time", "start_date_time", "end_date_time", "duration", "value", "unit", "heart_rate",
        "rr_interval", "is_main_sleep", "sleep_stage_summary", "sleep_efficiency_percentage",
        "temporal_relationship_to_sleep", "descriptive_statistic", "schema_id", "name",
    )
)  # fmt: skip
leaves = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False)
    | st.sampled_from(
        [
            "2026-10-05T23:00:00+02:00",
            "2026-10-06T07:00:00Z",
            "0001-01-01T00:00:00+14:00",
            "9999-12-31T23:59:59-12:00",
            "min",
            "h",
            "on waking",
            "sleep-episode",
            "x\x1b",
        ]
    )
)
documents = st.recursive(
    leaves, lambda inner: st.dictionaries(keys, inner, max_size=5) | st.lists(inner, max_size=3), max_leaves=20
)


@settings(max_examples=100, deadline=None)
@given(documents)
def test_any_document_is_facts_or_unreadable(document: object) -> None:
    try:
        facts = facts_of(document)
        told: object = facts.nights or facts.mornings
    except Unreadable as reason:
        told = str(reason)
    assert told
    assert not isinstance(told, str) or told.isprintable()


start = datetime(2026, 10, 5, 21, 0, tzinfo=UTC)


SECONDS_IN = {"ps": 1e-12, "ms": 1e-3, "sec": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0, "wk": 604800.0}


@settings(max_examples=100, deadline=None)
@given(
    st.one_of(st.floats(-1e12, 1e12), st.floats(-100, 10**6), st.floats(0, 20)),
    st.sampled_from(sorted(SECONDS_IN)),
    st.sampled_from(["start", "end"]),
)
def test_any_duration_up_to_sixteen_hours_is_a_night_up_to_a_day_a_sum_and_others_are_unreadable(
    value: float, unit: str, given_end: str
) -> None:
    interval = {f"{given_end}_date_time": start.isoformat(), "duration": {"value": value, "unit": unit}}
    told = {
        "time_in_bed": {"value": 1, "unit": "h"},
        "is_main_sleep": True,
        "effective_time_frame": {"time_interval": interval},
    }
    hours = value * SECONDS_IN[unit] / 3600
    if 0 < hours <= 1e-9:  # shorter than a clock tells apart
        return
    if not 0 < hours <= 25:
        with pytest.raises(Unreadable):
            facts_of(told)
        return
    (night,) = facts_of(told).nights
    assert (night.bedtime is None) == (night.wake is None) == (hours > 16)
    if night.bedtime is not None and night.wake is not None:
        assert (night.wake - night.bedtime).total_seconds() == pytest.approx(3600 * hours, abs=1e-5)
