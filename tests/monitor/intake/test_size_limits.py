"""How large a file may be to be opened at all: each limit at its border, of files that hold nothing but their size.

The numbers are those of `rules/limits.toml`, written down once more: a limit that is changed is changed here too.
"""

from __future__ import annotations

import math
import os
import re
from contextlib import nullcontext
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from monitor.intake import gpx as gpx_reader
from monitor.intake import kinds, plausible, reading, untrusted
from monitor.intake import tcx as tcx_reader
from monitor.intake.reading import ReadJob
from monitor.intake.untrusted import Unreadable, XmlStream
from monitor.intake.worker_limits import WorkerLimits
from monitor.values import IntakeOptions
from tests import xmlbytes

MB = 1 << 20


@pytest.mark.parametrize(
    ("limit", "name", "most"),
    [
        ("intake.fit_bytes", "a.fit", 64 * MB),
        ("intake.xml_bytes", "a.tcx", 128 * MB),
        ("intake.xml_bytes", "a.GPX", 128 * MB),
        ("intake.text_bytes", "a.csv", 16 * MB),
        ("intake.text_bytes", "a.json", 16 * MB),
        ("intake.checkin_bytes", "a.checkin.json", MB),
        ("intake.archive_bytes", "a.zip", 128 * MB),
        ("intake.archive_bytes", "a.fit.gz", 128 * MB),
    ],
)
def test_a_file_is_opened_up_to_its_size_and_no_further(limit: str, name: str, most: int, tmp_path: Path) -> None:
    del limit
    path = tmp_path / name
    path.touch()
    for size, opened in ((most - 1, True), (most, True), (most + 1, False)):
        os.truncate(path, size)  # sparse: it takes no room
        job = ReadJob(tmp_path, name, IntakeOptions("UTC"))
        if opened:
            reading._opened(job).close()
        else:
            with pytest.raises(Unreadable, match="MB"):
                reading._opened(job)


@pytest.mark.parametrize(("size", "limit", "packed", "taken"), [
    (10, 10, 10, True), (11, 10, 10, False),
    (MB, 1 << 30, 1, True), (MB + 1, 1 << 30, 1, False),  # a short file may pack as tightly as it likes
    (200 * MB, 1 << 30, MB, True), (200 * MB + 1, 1 << 30, MB, False),  # intake.archive_ratio
])  # fmt: skip
def test_what_unpacks_to_too_much_or_was_packed_too_tight_is_refused(
    size: int, limit: int, packed: int, *, taken: bool
) -> None:
    with nullcontext() if taken else pytest.raises(Unreadable):
        kinds._check_size(size, limit, packed)


def test_what_an_archive_may_unpack_to_goes_down_with_each_member() -> None:
    """intake.archive_unpacked_bytes, intake.archive_points"""
    gathered = kinds._Gathered()
    assert (gathered.bytes_left, gathered.points_left) == (512 * MB, 1_000_000)
    assert gathered.limit_for("a.fit") == 64 * MB
    gathered.bytes_left = MB
    assert gathered.limit_for("a.fit") == MB
    gathered.leave_out("a.fit", "damaged")
    assert (gathered.bad, gathered.ignored, len(gathered.remarks.all())) == (1, 0, 1)


@pytest.mark.parametrize(
    ("name", "size_mb", "allowed"),
    [
        ("a.fit", 0, 64), ("a.fit", 0.5, 104), ("a.fit", 3.575, 350), ("a.fit", 3.6, 350), ("a.FIT", 64, 350),
        ("a.zip", 0, 64), ("a.zip", 0.125, 164), ("a.fit.gz", 0.125, 164), ("a.zip", 0.4, 350),
    ],
)  # fmt: skip
def test_decoding_may_take_a_fixed_part_and_what_each_byte_unfolds_to(name: str, size_mb: float, allowed: int) -> None:
    """decoding.memory_base_mb, decoding.memory_per_byte, decoding.memory_per_packed_byte, decoding.memory_mb"""
    assert WorkerLimits.default().allowance_mb(name, round(size_mb * MB)) == allowed


def test_what_decoding_one_file_and_all_of_them_may_cost() -> None:
    """decoding.cpu_seconds, decoding.wall_seconds, decoding.together_mb, decoding.rows and the others"""
    assert WorkerLimits.default() == WorkerLimits(60, 90, 350, 350, 1_500_000, 1000, 160)


def test_how_much_one_file_may_hold() -> None:
    """intake.points, intake.rows and the others."""
    most = plausible.MOST
    assert (most.points, most.archive_points, most.rows) == (500_000, 1_000_000, 100_000)
    assert (most.documents, most.beats, most.recordings) == (250_000, 200_000, 1000)
    assert (most.archive_members, most.xml_elements) == (2000, 12_000_000)


@pytest.mark.parametrize(("depth", "read"), [(63, True), (64, True), (65, False)])
def test_elements_lie_within_each_other_up_to_intake_xml_depth(depth: int, *, read: bool) -> None:
    document = b"<a>" * depth + b"</a>" * depth
    if read:
        assert len(list(XmlStream(document))) == 2 * depth
    else:
        with pytest.raises(Unreadable, match="nested too deep"):
            list(XmlStream(document))


def test_elements_are_counted_up_to_a_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(untrusted, "MOST", SimpleNamespace(xml_depth=64, xml_elements=5))
    assert len(list(XmlStream(b"<a>" + b"<b/>" * 4 + b"</a>"))) == 10
    with pytest.raises(Unreadable, match="nested too deep"):
        list(XmlStream(b"<a>" + b"<b/>" * 5 + b"</a>"))


@pytest.mark.parametrize(("recordings", "read"), [(1, True), (2, True), (3, False)])
@pytest.mark.parametrize("kind", ["tcx", "gpx"])
def test_one_file_holds_recordings_up_to_a_number(
    kind: str, recordings: int, *, read: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    reader = gpx_reader if kind == "gpx" else tcx_reader
    monkeypatch.setattr(reader, "MOST", reader.MOST._replace(recordings=2))
    tracks = [xmlbytes.run([at * 100_000, at * 100_000 + 30]) for at in range(recordings)]
    if kind == "gpx":
        whole = xmlbytes.gpx(tracks[0])
        body = b"".join(re.findall(rb"<trk>.*</trk>", xmlbytes.gpx(track))[0] for track in tracks)
        data = re.sub(rb"<trk>.*</trk>", body, whole)
    else:
        laps = [xmlbytes.lap(track, start_s=at * 100_000, timer_s=30) for at, track in enumerate(tracks)]
        data = xmlbytes.tcx(*map(xmlbytes.activity, laps))
    take = partial(gpx_reader.read_gpx if kind == "gpx" else tcx_reader.read_tcx, data, IntakeOptions("UTC"))
    if read:
        assert len(take().recordings) == recordings
    else:
        with pytest.raises(Unreadable, match="2 recordings"):
            take()


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("hr_bpm", 1, 255), ("speed_mps", 0, 60), ("cadence_spm", 0, 300), ("distance_m", 0, 2_000_000),
        ("altitude_m", -500, 9000), ("lat_deg", -90, 90), ("lon_deg", -180, 180), ("power_w", 0, 3000),
        ("temperature_c", -50, 60),
    ],
)  # fmt: skip
def test_a_value_is_taken_in_between_its_plausible_samples(name: str, least: float, most: float) -> None:
    column = np.array([least - 0.1, least, most, most + 0.1])
    found = plausible.mask_samples({"t_s": np.arange(4.0), name: column})[name]
    np.testing.assert_array_equal(found, [np.nan, least, most, np.nan])


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("resting_hr", 25, 120), ("rmssd", 1, 400), ("sleep", 0, 1440), ("night", 60, 960), ("scale", 0, 10),
        ("rr", 300, 2000), ("year", 2000, 2200),
    ],
)  # fmt: skip
def test_what_is_measured_of_a_body_is_plausible_from_one_number_to_another(
    name: str, least: float, most: float
) -> None:
    bounds = getattr(plausible.BOUNDS, name)
    found = [plausible.is_plausible(bounds, value) for value in (least - 0.1, least, most, most + 0.1, math.inf)]
    assert found == [False, True, True, False, False]


def test_a_clock_was_set_between_the_years_2000_and_2200() -> None:
    first, last = (datetime.fromtimestamp(moment, UTC) for moment in plausible.dated())
    assert abs(first - datetime(2000, 1, 1, tzinfo=UTC)) < timedelta(days=1)
    assert abs(last - datetime(2200, 1, 1, tzinfo=UTC)) < timedelta(days=1)
