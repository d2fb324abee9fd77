"""Small rules of measuring in files of watches, each through its own function, at its border."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from monitor.intake import (
    checkin,
    fit,
    fit_bytes,
    fit_columns,
    fit_decoders,
    fit_sessions,
    sessions,
    storing,
    tcx,
    worker_limits,
)
from monitor.intake.plausible import Remarks
from monitor.intake.storing import BATCH_FILES, BATCH_SAMPLES, FileBatch
from monitor.store.intake import LedgerRow
from monitor.values import Recording

START = datetime(2026, 10, 7, 6, tzinfo=UTC)
AT = START.timestamp()


# FIT.


def test_fields_have_the_bytes_of_their_base_types() -> None:
    """FIT protocol, table of base types."""
    sizes = {
        "enum": 1, "sint8": 1, "uint8": 1, "sint16": 2, "uint16": 2, "sint32": 4, "uint32": 4, "string": 1,
        "float32": 4, "float64": 8, "uint8z": 1, "uint16z": 2, "uint32z": 4, "byte": 1, "sint64": 8, "uint64": 8,
        "uint64z": 8,
    }  # fmt: skip
    assert tuple(sizes.values()) == fit_bytes._FIELD_BYTES


def still(**more: Any) -> Recording:
    """Five minutes lying."""
    made: dict[str, Any] = {"sport": "generic", "sub_sport": "generic", "timer_s": 300.0, "elapsed_s": 300.0,
                            "distance_m": None, "samples": {"t_s": np.arange(100.0)}}  # fmt: skip
    return Recording(START, START, **{**made, **more})


def steps(count: int) -> dict[str, Any]:
    return {"samples": {"t_s": np.arange(100.0), "cadence_spm": np.where(np.arange(100) < count, 60.0, 0.0)}}


@pytest.mark.parametrize(
    ("more", "beats", "rests"),
    [
        ({}, 300, True),
        ({"elapsed_s": 30.0}, 60, True),
        ({"elapsed_s": 30.0}, 59, False),
        ({}, 150, True),  # 1 s each: half of the time
        ({}, 149, False),
        ({"sport": "running"}, 300, False),
        (steps(10), 300, True),
        (steps(11), 300, False),
    ],
)
def test_a_heartbeat_is_measured_at_rest_for_a_minute_of_beats_and_half_of_the_time(
    more: dict[str, Any], beats: int, *, rests: bool
) -> None:
    assert fit.is_rest(still(**more), [1000.0] * beats) is rests


def test_only_the_first_name_of_a_device_is_its_name() -> None:
    def named(*ids: dict[str, Any]) -> str | None:
        return fit_sessions._device({"file_id": list(ids)})

    assert named({"manufacturer": "maker", "product_name": "Watch", "serial_number": 7}) == "maker Watch 7"
    assert named({"manufacturer": "maker", "product": 12.0}) == "maker 12"
    assert named({}, {"manufacturer": "other"}) is None
    assert named() is None


def test_ticks_of_a_strap_go_on_from_the_last_of_each_message() -> None:
    """1/1024 s each; two moments in three bytes, the low twelve bits of a clock that only goes on."""
    first = {"event_timestamp": 10.0, "timestamp": 1000.0, "filtered_bpm": [60]}
    packed = bytes([0x00, 0x2C, 0x30])  # 0xC00 = 3072, 0x302 = 770: a second after 10.0 s, and a wrap of 4096 further
    at, bpm = fit_columns._beats(
        [first, {"event_timestamp_12": packed, "filtered_bpm": [61, 62]}, {"event_timestamp_12": packed,
         "filtered_bpm": [63, 0]}], 0.0,
    )  # fmt: skip
    ticks = fit_columns._unpack_12(packed, 10 * 1024)
    assert [one % 4096 for one in ticks] == [0xC00, 0x302]
    assert 10 * 1024 < ticks[0] < ticks[1] < 10 * 1024 + 2 * 4096
    again = fit_columns._unpack_12(packed, ticks[-1])
    expected = [1000.0, *(990.0 + tick / 1024 for tick in (*ticks, again[0]))]
    np.testing.assert_allclose(at, expected)
    assert bpm.tolist() == [60, 61, 62, 63]
    assert [len(part) for part in fit_columns._beats([{"event_timestamp_12": packed, "filtered_bpm": 60}], 0.0)] == [
        0,
        0,
    ]


# TCX without points.


def lap(start: float | None, timer_s: float, rate: float = 120.0) -> Any:
    return SimpleNamespace(start=start, timer_s=timer_s, avg_hr_bpm=rate, max_hr_bpm=rate, distance_m=1000.0)


def summed(monkeypatch: pytest.MonkeyPatch, *laps: Any) -> tuple[float, float, float] | None:
    monkeypatch.setattr(tcx, "_distance", lambda *_: None)
    made = tcx._from_summaries("Running", list(laps), Remarks())
    assert made is None or (made.end - made.start).total_seconds() == made.elapsed_s
    return None if made is None else (made.start.timestamp() - AT, made.timer_s, made.elapsed_s)


@pytest.mark.parametrize(
    ("laps", "told"),
    [
        ([lap(AT, 600)], (0, 600, 600)),
        ([lap(AT, 600), lap(AT + 700, 300)], (0, 900, 1000)),
        ([lap(AT + 700, 300), lap(AT, 600)], (0, 900, 1000)),
        ([lap(AT, 600), lap(AT + 500, 300)], (0, 900, 900)),  # never shorter than its timer
        ([lap(AT, 0), lap(AT + 700, 300)], (700, 300, 300)),
        ([lap(AT, 0.5)], (0, 0.5, 0.5)),
        ([lap(AT, 604800)], None),
        ([lap(AT, 604799)], (0, 604799, 604799)),
        ([lap(None, 600)], None),
        ([lap(0.0, 600), lap(AT, 600)], (0, 600, 600)),  # of a clock that was not set
        ([], None),
    ],
)
def test_laps_without_points_are_a_recording_from_the_first_to_the_end_of_the_last(
    monkeypatch: pytest.MonkeyPatch, laps: list[Any], told: tuple[float, float, float] | None
) -> None:
    assert summed(monkeypatch, *laps) == told


# Check-ins.


@pytest.mark.parametrize(("letters", "kept"), [(99, 99), (100, 100), (101, 100)])
def test_who_looked_at_it_is_kept_up_to_a_hundred_letters(letters: int, kept: int) -> None:
    said = checkin._seen_doctor("x" * letters)
    assert said is not None
    assert len(said.rstrip("…")) in (kept, kept - 1)
    assert len(said) <= 100


@pytest.mark.parametrize(
    ("value", "who"),
    [
        (None, None),
        ("", None),
        ("no", None),
        (False, None),
        (True, "a doctor"),
        ("yes", "a doctor"),
        ("Dr Berg", "Dr Berg"),
    ],
)
def test_a_plain_yes_is_a_doctor_without_a_name(value: object, who: str | None) -> None:
    assert checkin._seen_doctor(value) == who


@pytest.mark.parametrize(
    ("value", "gone"),
    [(None, ()), (True, ("all",)), (False, ()), ("yes", ("all",)), ("no", ()), ("fever; cough", ("fever", "cough")),
     (["fever", None, "fever"], ("fever",)), ("fever, none", ("fever",))],
)  # fmt: skip
def test_what_is_gone_is_named_or_is_all(value: object, gone: tuple[str, ...]) -> None:
    assert checkin._gone(value) == gone


# The ledger, and what is stored together.

ROW = LedgerRow("runa", "a.fit", "1", 1, 1, "read", sessions=2, arrived_at=START)


@pytest.mark.parametrize(
    ("row", "standing", "state", "sessions_left"),
    [
        ({}, 2, "read", 2),
        ({}, 1, "read", 1),
        ({}, 0, "duplicate", 0),
        ({"nights": 1}, 0, "read", 0),
        ({"mornings": 1}, 0, "read", 0),
        ({"checkins": 1}, 0, "read", 0),
        ({"sessions": 0}, 0, "read", 0),
        ({"state": "unreadable"}, 1, "unreadable", 0),
    ],
)
def test_a_file_whose_every_recording_is_told_better_is_a_duplicate(
    row: dict[str, Any], standing: int, state: str, sessions_left: int
) -> None:
    now = sessions.noted(replace(ROW, **row), standing, None)
    assert (now.state, now.sessions) == (state, sessions_left)
    assert (now.arrived_at is None) == (state == "duplicate")
    assert (now.reason != "") == (state == "duplicate")


@pytest.mark.parametrize(
    ("files", "samples", "full"),
    [
        (0, 0, False),
        (BATCH_FILES - 1, 0, False),
        (BATCH_FILES, 0, True),
        (1, BATCH_SAMPLES - 1, False),
        (1, BATCH_SAMPLES, True),
    ],
)
def test_files_are_stored_together_up_to_a_number_of_them_or_of_samples(
    files: int, samples: int, *, full: bool
) -> None:
    held: Any = SimpleNamespace(held={"a": [None] * (files // 2), "b": [None] * (files - files // 2)}, samples=samples)
    assert FileBatch._full.fget(held) is full


class Readings:
    """In the place of workers: a letter for each file that they bring, a space for each look that brings none."""

    def __init__(self, brought: str) -> None:
        self.brought, self.looks = brought, 0

    @property
    def over(self) -> bool:
        return not self.brought[self.looks :].strip()

    def next(self, _: float) -> Any:
        name, self.looks = self.brought[self.looks], self.looks + 1
        result = SimpleNamespace(sha256=name, facts=None, reason="why")
        return None if name == " " else (SimpleNamespace(root=Path(), relative=name), result)


@pytest.mark.parametrize(
    ("brought", "patient", "first", "looks", "due"),
    [
        ("ab", True, "", 2, ["judge ab"]),
        ("a b", True, "", 3, ["judge a, more", "judge b"]),
        ("abcde", True, "", 5, ["store abc, more", "judge de"]),
        ("a" + 6 * " " + "b", True, "", 8, ["judge a, more", "judge b"]),  # 1.8 s
        ("a" + 7 * " " + "b", True, "", 8, ["judge a, more", "judge "]),  # 2.1 s: it is left
        ("a" + 7 * " " + "b", False, "", 9, ["judge a, more", "judge b"]),
        ("a" + 16 * " " + "b", True, "b", 18, ["judge a but b, more", "judge b"]),  # 4.8 s
        ("a" + 17 * " " + "b", True, "b", 18, ["judge a but b, more", "judge "]),
    ],
)
def test_a_slow_file_is_waited_for_two_seconds_by_the_daemon_and_five_in_a_first_import(
    brought: str, patient: bool, first: str, looks: int, due: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storing, "BATCH_FILES", 3)
    names, done = brought.replace(" ", ""), []
    reading: Any = Readings(brought)
    batch = FileBatch({(Path(), name): (name, cast("Any", name)) for name in names}, set(first), reading)
    told = []
    for one in batch.due(patient, done.append):
        but = "".join([" but ", *sorted(one.but)]) if one.but else ""
        held = "".join(file.sha256 for files in batch.held.values() for file in files)
        told.append(f"{'judge' if one.judge else 'store'} {held}{but}{', more' if one.more else ''}")
        batch.stored()
    assert (told, reading.looks) == (due, looks)
    assert done == [1] * len(brought[:looks].replace(" ", ""))


def test_what_has_come_of_slow_files_meanwhile_is_taken_until_none_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storing, "BATCH_FILES", 3)
    reading: Any = Readings(" ab cdefgh")
    batch = FileBatch({(Path(), name): (name, cast("Any", name)) for name in "abcdefgh"}, set(), reading)
    looks = [(batch.look_in(), len(batch.held), len(batch.items)) for _ in range(3)]
    assert looks == [(False, 0, 8), (True, 2, 8), (True, 3, 8)]


@pytest.mark.parametrize(("told", "is_date"), [(0x0FFFFFFF, False), (0x10000000, True)])
def test_small_moments_count_from_the_start_of_the_device(told: int, *, is_date: bool) -> None:
    """FIT profile, type date_time: below 0x10000000 it is system time."""
    found = fit_decoders.date_moment({"timestamp": fit_decoders.FIT_EPOCH + told}, "timestamp")
    assert (found is not None) is is_date


@pytest.mark.parametrize(
    ("length", "swum"),
    [
        ({}, [(10.0, 40.0, 1.25)]),
        ({"start_time": None}, []),
        ({"total_elapsed_time": None}, []),
        ({"length_type": "idle"}, []),
        ({"avg_speed": None}, [(10.0, 40.0, None)]),
    ],
)
def test_a_length_is_swum_where_its_beginning_and_its_time_are_told_and_nobody_rested(
    length: dict[str, Any], swum: list[tuple[float, float, float | None]]
) -> None:
    whole = {"start_time": 7.0, "total_elapsed_time": 30.0, "length_type": "active", "avg_speed": 1.25} | length
    found = fit_columns._active([whole], 3.0)
    assert [(begin, end, None if np.isnan(speed) else speed) for begin, end, speed in found] == swum


@pytest.mark.parametrize(("told", "kept"), [(15 * 86400, True), (15 * 86400 + 1, False), (0, False), (None, False)])
def test_no_session_is_longer_than_fifteen_days(told: float | None, *, kept: bool) -> None:
    assert fit_sessions._seconds({"total_timer_time": told}, "total_timer_time") == (told if kept else None)


# What a worker measures of itself, against what the system says of it elsewhere.


def of_status(name: str) -> int:
    """Bytes, from the lines of `/proc/self/status` that are made for people."""
    found = re.search(rf"^{name}:\s+(\d+) kB", Path("/proc/self/status").read_text("ascii"), re.MULTILINE)
    assert found is not None
    return int(found[1]) * 1024


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux tells it")
def test_memory_is_measured_in_bytes_and_in_megabytes() -> None:
    data = worker_limits.data_bytes()
    assert data is not None
    assert data == pytest.approx(of_status("VmData") + of_status("VmStk"), rel=0.2)
    assert worker_limits.resident_mb(os.getpid()) == pytest.approx(of_status("VmRSS") / 2**20, rel=0.2)
    assert worker_limits.resident_mb(2**22 + 1) is None
