from __future__ import annotations

from datetime import UTC, datetime, timedelta
from unittest import mock

import fitfast
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import fit_bytes, fit_decoders
from tests import fitwriter
from tests.fitwriter import Developer, FitWriter, activity, file_id

START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)


def whole(**how: object) -> bytes:
    return file_id(FitWriter(), START).to_bytes(**how)


@pytest.mark.parametrize("crc", [fit_bytes.crc16, fitwriter.crc16])
def test_the_checksum_is_the_published_one(crc) -> None:
    assert crc(b"123456789") == 0xBB3D  # CRC-16/ARC, check value of the catalogue of parametrised CRC algorithms
    assert crc(bytes.fromhex("0e10d907000000002e464954")) == 0x3391  # the header in the FIT protocol's own example


def test_a_file_is_one_part_and_a_chain_is_cut_where_its_headers_say() -> None:
    first, second = whole(), activity(START, samples={"hr_bpm": [100, 101]})
    parts, left_over = fit_bytes.split(first + second, 10)
    assert [part.data for part in parts] == [first, second]
    assert left_over is None


def test_a_chain_longer_than_allowed_is_cut_and_said_so() -> None:
    parts, left_over = fit_bytes.split(whole() * 5, 3)
    assert len(parts) == 3
    assert left_over == "only the first 3 recordings of the chain were read"


def test_bytes_after_the_last_part_are_left_out_and_said_so() -> None:
    parts, left_over = fit_bytes.split(whole() + b"\0" * 7, 10)
    assert [part.data for part in parts] == [whole()]
    assert left_over is not None
    assert left_over.startswith("7 bytes after")


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "the file is empty"),
        (b"PK\x03\x04 something else entirely", "not a FIT file"),
        (b"hi", "not a FIT file"),
        (whole()[:1], "cut off after 1 bytes"),
        (whole()[:11], "cut off after 11 bytes"),
    ],
)
def test_what_does_not_begin_as_fit_is_refused_in_plain_words(data: bytes, reason: str) -> None:
    with pytest.raises(Unreadable, match=reason):
        fit_bytes.split(data, 10)


@pytest.mark.parametrize(
    ("how", "wrong"),
    [
        ({"header_crc": "zero"}, "its header carries no checksum"),
        ({"header_crc": "wrong"}, "the checksum of its header is wrong"),
        ({"file_crc": "wrong"}, "its checksum is wrong"),
        ({"file_crc": "none"}, "its checksum is missing"),
        ({"data_size": 0}, "its header gives no length"),
        ({"data_size": 9999}, "bytes at the end are missing"),
    ],
)
def test_what_is_wrong_with_header_and_checksums_is_named_and_mended(how: dict[str, object], wrong: str) -> None:
    part = fit_bytes.split(whole(**how), 10)[0][0]
    mended = fit_bytes.mend(part)
    assert mended is not None
    assert wrong in mended[1]
    again = fit_bytes.split(mended[0], 10)[0][0]
    assert fit_bytes.mend(again) is None


def test_a_sound_file_needs_no_mending() -> None:
    for data in (whole(), file_id(FitWriter(header_size=12), START).to_bytes()):
        assert fit_bytes.mend(fit_bytes.split(data, 10)[0][0]) is None


SAMPLES = {"hr_bpm": np.arange(100.0, 140.0), "speed_mps": np.full(40, 2.5), "lat_deg": np.linspace(59, 59.1, 40)}


def test_a_file_without_its_records_says_the_rest_as_before() -> None:
    data = activity(START, samples=SAMPLES, pauses=((10, 15),), utc_offset_s=7200)
    rest = fit_bytes.without_records(data)
    assert rest is not None
    told = fitfast.parse(data)
    assert len(told.pop("record")) == 36
    assert fitfast.parse(rest) == told
    assert fit_bytes.mend(fit_bytes.split(rest, 10)[0][0]) is None


@pytest.mark.parametrize(
    "message",
    [
        bytes((0x80, *bytes(8))),  # a compressed time
        bytes((0x4F, 0, 0, 20, 0, 1, 3, 2, 2)),  # two heart rates a record
        bytes((0x4F, 0, 0, 20, 0, 1, 8, 3, 13)),  # speed and distance packed
        bytes((0x0E, 1)),  # a message that was never defined
        bytes((0x4F, 0, 0, 20, 0, 9)),  # a definition that ends early
    ],
)
def test_records_that_need_a_decoder_are_not_taken_apart(message: bytes) -> None:
    assert fit_bytes.without_records(file_id(FitWriter(), START).raw(message).to_bytes()) is None


def decoded(data: bytes) -> fit_decoders.Decoded | str:
    """What the fast decoder makes of a file, or why it makes nothing."""
    try:
        return fit_decoders.FastDecoder().decode(data)
    except fit_decoders.CannotDecodeError as error:
        return str(error)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(14, 400), st.sampled_from([0, 1, 20, 0x40, 0x80, 253, 255])), max_size=3))
def test_columns_hold_what_a_message_a_record_holds(changes: list[tuple[int, int]]) -> None:
    data = bytearray(activity(START, samples=SAMPLES))
    for at, value in changes:
        data[at] = value
    data[-2:] = fit_bytes.crc16(bytes(data[:-2])).to_bytes(2, "little")
    fast = decoded(bytes(data))
    with mock.patch.object(fit_decoders, "without_records", return_value=None):
        slow = decoded(bytes(data))
    if isinstance(fast, str) or isinstance(slow, str):
        assert fast == slow
        return
    assert (fast.messages, fast.records.count) == (slow.messages, slow.records.count)
    for name in fit_decoders.RECORD_FIELDS:
        assert np.array_equal(fast.records.column(name), slow.records.column(name), equal_nan=True)


def test_a_developer_s_field_takes_no_name_of_the_profile() -> None:
    writer = file_id(FitWriter(), START).describe_developer_field(3, "uint8", "heart_rate")
    for second in range(40):
        writer.message("record", Developer(3, "uint8", 7), timestamp=START + timedelta(seconds=second), heart_rate=100)
    told = fitfast.parse(writer.to_bytes())["record"]
    rates = fit_decoders.FastDecoder().decode(writer.to_bytes()).records.column("heart_rate")
    assert rates.tolist() == [record["heart_rate"] for record in told]
