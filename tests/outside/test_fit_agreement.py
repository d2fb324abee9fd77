"""Recordings of our own making, read by our reader, by fitdecode and by the official package, agree value by value.

fitdecode 0.11 (MIT), garmin-fit-sdk 21 (FIT protocol licence): test dependencies, independent of the decoders in use.
"""

from __future__ import annotations

import io
import math
from datetime import UTC, datetime, timedelta
from typing import Any

import fitdecode
import numpy as np
import pytest
from garmin_fit_sdk import Decoder, Profile, Stream
from garmin_fit_sdk.hr_mesg_utils import expand_heart_rates

from monitor.intake import fit_columns, fit_decoders
from monitor.intake.fit import read_fit
from monitor.values import IntakeOptions, Recording
from tests.fitbytes import crc16
from tests.fitwriter import FitWriter, Part, activities, activity, file_id, monitoring_day, night

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
FIELDS = {
    "hr_bpm": ("heart_rate",),
    "speed_mps": ("speed", "enhanced_speed"),
    "distance_m": ("distance",),
    "altitude_m": ("altitude", "enhanced_altitude"),
    "power_w": ("power",),
    "temperature_c": ("temperature",),
}
"""Columns whose values are the decoder's own; places and steps are held against what was recorded."""


def noisy(seed: int, length: int) -> dict[str, np.ndarray]:
    """Samples that wander, with values missing here and there and uneven times."""
    rng = np.random.default_rng(seed)

    def missing(column: np.ndarray) -> np.ndarray:
        return np.where(rng.random(length) < 0.1, np.nan, column)

    return {
        "t_s": np.cumsum(rng.integers(1, 6, length)) - 1,
        "hr_bpm": missing(rng.integers(90, 190, length).astype(float)),
        "speed_mps": missing(np.round(rng.uniform(0, 6, length), 3)),
        "cadence_spm": missing(np.round(rng.uniform(60, 100, length) * 128) / 64),
        "distance_m": np.round(np.cumsum(rng.uniform(0, 6, length)), 2),
        "altitude_m": missing(np.round(rng.uniform(-20, 3000, length) * 5) / 5),
        "lat_deg": missing(rng.uniform(-80, 80, length)),
        "lon_deg": missing(rng.uniform(-180, 179, length)),
        "power_w": missing(rng.integers(0, 900, length).astype(float)),
        "temperature_c": missing(rng.integers(-20, 40, length).astype(float)),
    }


RECORDINGS = {
    "run": activity(START, "running", "trail", noisy(1, 400), pauses=((50, 90),), utc_offset_s=7200),
    "ride with wide fields": activity(START, "cycling", "road", noisy(2, 400), enhanced=True, utc_offset_s=-16200),
    "walk, summary first": activity(START, "walking", samples=noisy(3, 200), summary_first=True),
    "swim": activity(START, "swimming", "open_water", noisy(4, 200)),
    "two legs": activities(
        [
            Part(START, "cycling", samples=noisy(5, 200), elapsed_s=1500),
            Part(START + timedelta(minutes=30), "running", samples=noisy(6, 200)),
        ]
    ),
}


def fitdecode_messages(data: bytes, name: str) -> list[dict[str, Any]]:
    found = []
    with fitdecode.FitReader(io.BytesIO(data)) as reader:
        for frame in reader:
            if isinstance(frame, fitdecode.FitDataMessage) and frame.name == name:
                fields: dict[str, Any] = {}
                for field in frame.fields:
                    if field.value is not None:
                        fields.setdefault(field.name, field.value)
                found.append(fields)
    return found


def sdk_messages(data: bytes, name: str) -> list[dict[str, Any]]:
    messages, errors = Decoder(Stream.from_byte_array(bytearray(data))).read()
    assert errors == []
    return list(messages.get(f"{name}_mesgs", []))


def theirs_of(record: dict[str, Any], column: str) -> float:
    value = next((record[name] for name in FIELDS[column] if record.get(name) is not None), None)
    return math.nan if value is None else float(value)


def check_against(records: list[dict[str, Any]], recordings: tuple[Recording, ...]) -> None:
    compared = 0
    for recording in recordings:
        first = recording.start.timestamp()
        own = {record["timestamp"].timestamp() - first: record for record in records}
        for column, values in recording.samples.items():
            if column not in FIELDS:
                continue
            theirs = [theirs_of(own[second], column) for second in recording.samples["t_s"].tolist()]
            assert np.allclose(values, theirs, rtol=0, atol=1e-9, equal_nan=True), column
            compared += len(theirs)
    assert sum(len(recording.samples["t_s"]) for recording in recordings) == len(records)
    assert compared >= 6 * len(records)


@pytest.mark.parametrize("fast", [True, False], ids=["fast decoder", "fitparse"])
@pytest.mark.parametrize("others", [fitdecode_messages, sdk_messages])
@pytest.mark.parametrize("name", RECORDINGS)
def test_samples_agree_with_another_decoder_value_by_value(
    name: str, others: Any, fast: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not fast:
        monkeypatch.setattr(fit_decoders, "_fitfast", lambda: None)
    check_against(others(RECORDINGS[name], "record"), read_fit(RECORDINGS[name], OSLO).recordings)


@pytest.mark.parametrize("others", [fitdecode_messages, sdk_messages])
@pytest.mark.parametrize("name", RECORDINGS)
def test_sessions_agree_with_another_decoder(name: str, others: Any) -> None:
    facts = read_fit(RECORDINGS[name], OSLO)
    sessions = others(RECORDINGS[name], "session")
    assert len(sessions) == len(facts.recordings)
    for theirs, ours in zip(sessions, facts.recordings, strict=True):
        assert theirs["start_time"] == ours.start
        assert theirs["total_timer_time"] == ours.timer_s
        assert theirs["total_distance"] == ours.distance_m
        assert (theirs["sport"], theirs["sub_sport"]) == (ours.sport, ours.sub_sport)
        assert (theirs["avg_heart_rate"], theirs["max_heart_rate"]) == (ours.avg_hr_bpm, ours.max_hr_bpm)


@pytest.mark.parametrize("sport", ["running", "walking", "cycling"])
def test_places_and_steps_are_those_that_were_recorded(sport: str) -> None:
    """A place to half of what the format tells; the file holds turns of one leg on foot, of the pedals on wheels."""
    recorded = noisy(9, 300)
    (recording,) = read_fit(activity(START, sport, samples=recorded), OSLO).recordings
    for column in ("lat_deg", "lon_deg"):
        np.testing.assert_allclose(recording.samples[column], recorded[column], rtol=0, atol=5e-8, equal_nan=True)
    steps = recording.samples["cadence_spm"]
    np.testing.assert_allclose(steps, recorded["cadence_spm"], rtol=0, atol=1 / 64, equal_nan=True)


# Running cadence counts one leg: 82 + 64/128 turns are 165 steps a minute (convention of the format).
@pytest.mark.parametrize(("sport", "cadence"), [("running", 165.0), ("cycling", 82.5)])
def test_the_turns_of_one_leg_are_two_steps_of_a_run(sport: str, cadence: float) -> None:
    writer = file_id(FitWriter(), START)
    for second in range(3):
        now = START + timedelta(seconds=second)
        writer.message("record", timestamp=now, cadence=82, fractional_cadence=0.5)
    writer.message("session", start_time=START, total_elapsed_time=2, sport=sport)
    (recording,) = read_fit(writer.to_bytes(), OSLO).recordings
    assert recording.samples["cadence_spm"] == pytest.approx([cadence] * 3)


# FIT protocol: 180 degrees are 2^31 semicircles; the pairs were worked out apart from the code.
@pytest.mark.parametrize(
    ("semicircles", "degrees"),
    [(536870912, 45.0), (-404070523, -33.8688), (1803997218, 151.2093), (-2147483648, -180.0), (0, 0.0)],
)
def test_published_semicircles_are_read_as_degrees(semicircles: int, degrees: float) -> None:
    writer = file_id(FitWriter(), START)
    for second in range(3):
        writer.message(
            "record", timestamp=START + timedelta(seconds=second), position_lat=100, position_long=semicircles
        )
    writer.message("session", start_time=START, total_elapsed_time=2, sport="running")
    (recording,) = read_fit(writer.to_bytes(), OSLO).recordings
    assert recording.samples["lon_deg"] == pytest.approx([degrees] * 3, abs=5e-8)


def test_the_checksum_of_written_files_is_the_published_one() -> None:
    """CRC-16/ARC of the nine digits, and of a whole file with its own behind it."""
    assert crc16(b"123456789") == 0xBB3D
    assert crc16(bytes.fromhex("0e10d907000000002e464954")) == 0x3391
    assert crc16(RECORDINGS["swim"]) == 0


def test_heart_rate_stored_by_a_strap_agrees_with_the_official_merge() -> None:
    rng = np.random.default_rng(8)
    gaps = rng.integers(400, 1400, 240)  # 1/1024 s
    ticks, rates = 9000 + np.cumsum(gaps), rng.integers(60, 180, 241)
    writer = file_id(FitWriter(), START)
    for second in range(200):
        writer.message("record", timestamp=START + timedelta(seconds=second), distance=second * 1.0)
    writer.message(
        "hr", timestamp=START, fractional_timestamp=0.5, event_timestamp=[9000 / 1024], filtered_bpm=[int(rates[0])]
    )
    for i in range(0, 240, 8):
        low = (ticks[i : i + 8] & 0xFFF).tolist()
        packed = [
            b for x, y in zip(low[::2], low[1::2], strict=True) for b in (x & 0xFF, x >> 8 | (y & 15) << 4, y >> 4)
        ]
        writer.message("hr", event_timestamp_12=packed, filtered_bpm=rates[i + 1 : i + 9].tolist())
    writer.message("session", start_time=START, total_elapsed_time=200, sport="swimming")
    theirs = [record.get("heart_rate", math.nan) for record in sdk_messages(writer.to_bytes(), "record")]
    ours = read_fit(writer.to_bytes(), OSLO).recordings[0].samples["hr_bpm"]
    known = ~np.isnan(theirs)
    assert known.sum() > 150
    assert np.array_equal(ours[known], np.array(theirs)[known])


@pytest.mark.parametrize("gap_s", [0.0, 0.25, 0.2510, 0.5, 1.2, 4.99, 5.0, 5.25, 5.26, 20.0])
def test_a_rate_holds_in_steps_for_as_long_as_the_official_package_has_it(gap_s: float) -> None:
    ticks = [5120, 5120 + round(gap_s * 1024), 5120 + round(gap_s * 1024) + 300]
    beats = [
        {"timestamp": 1000 + tick // 1024, "fractional_timestamp": tick % 1024 / 1024}
        | {"event_timestamp": tick / 1024, "filtered_bpm": rate}
        for tick, rate in zip(ticks, (100, 110, 120), strict=True)
    ]
    theirs = [(beat["timestamp"], beat["heart_rate"]) for beat in expand_heart_rates(beats)]
    at, bpm = fit_columns._every_quarter_second(*fit_columns._beats(beats, 0.0))
    assert list(zip(at.tolist(), bpm.tolist(), strict=True)) == theirs


def test_nights_and_mornings_are_written_as_the_official_package_reads_them() -> None:
    stages = sdk_messages(night(START, [(30, "light"), (60.5, "deep")], rmssd_ms=61.5), "sleep_level")
    assert [row["sleep_level"] for row in stages] == ["light", "deep", "awake"]
    assert stages[2]["timestamp"] - stages[0]["timestamp"] == timedelta(minutes=90.5)
    summary = sdk_messages(night(START, [(30, "light")], rmssd_ms=61.5), "hrv_status_summary")
    assert summary[0]["last_night_average"] == 61.5
    (resting,) = sdk_messages(monitoring_day(START, [(3, 61)], resting_hr=48), "monitoring_hr_data")
    assert (resting["current_day_resting_heart_rate"], resting["resting_heart_rate"]) == (48, 50)


def test_the_writer_writes_what_the_official_package_reads() -> None:
    writer = file_id(FitWriter(), START, serial=4242)
    writer.message("sport", name="Løp", sport="running", sub_sport="trail")
    writer.message("device_info", timestamp=START, software_version=2.5, device_index=0, manufacturer="development")
    writer.message("weather_conditions", timestamp=START, temperature=-7, wind_speed=3.5, location="Fjell")
    writer.message("record", timestamp=START, heart_rate=None, altitude=-123.4, speed=12.345)
    (file_told,) = sdk_messages(writer.to_bytes(), "file_id")
    assert (file_told["type"], file_told["serial_number"], file_told["time_created"]) == ("activity", 4242, START)
    (sport,) = sdk_messages(writer.to_bytes(), "sport")
    assert (sport["name"], sport["sport"], sport["sub_sport"]) == ("Løp", "running", "trail")
    assert sdk_messages(writer.to_bytes(), "device_info")[0]["software_version"] == 2.5
    weather = sdk_messages(writer.to_bytes(), "weather_conditions")[0]
    assert (weather["temperature"], weather["wind_speed"], weather["location"]) == (-7, 3.5, "Fjell")
    (record,) = sdk_messages(writer.to_bytes(), "record")
    assert "heart_rate" not in record
    assert record["altitude"] == pytest.approx(-123.4)
    assert record["speed"] == 12.345


def test_words_for_numbers_that_the_free_decoder_lacks_are_those_of_the_official_profile() -> None:
    named = Profile["types"]["sport"]
    assert {number: named[number] for number in fit_decoders._SPORTS} == fit_decoders._SPORTS
