from __future__ import annotations

from datetime import UTC, datetime

import pytest

from monitor.errors import Unreadable
from monitor.intake import fit
from tests import fitwriter
from tests.fitwriter import FitWriter, activity, file_id

START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)


def whole(**how: object) -> bytes:
    return file_id(FitWriter(), START).to_bytes(**how)


@pytest.mark.parametrize("crc", [fit.crc16, fitwriter.crc16])
def test_the_checksum_is_the_published_one(crc) -> None:
    assert crc(b"123456789") == 0xBB3D  # CRC-16/ARC, check value of the catalogue of parametrised CRC algorithms
    assert crc(bytes.fromhex("0e10d907000000002e464954")) == 0x3391  # the header in the FIT protocol's own example


def test_a_file_is_one_part_and_a_chain_is_cut_where_its_headers_say() -> None:
    first, second = whole(), activity(START, samples={"hr_bpm": [100, 101]})
    parts, left_over = fit.split(first + second, 10)
    assert [part.data for part in parts] == [first, second]
    assert left_over is None


def test_a_chain_longer_than_allowed_is_cut_and_said_so() -> None:
    parts, left_over = fit.split(whole() * 5, 3)
    assert len(parts) == 3
    assert left_over == "only the first 3 recordings of the chain were read"


def test_bytes_after_the_last_part_are_left_out_and_said_so() -> None:
    parts, left_over = fit.split(whole() + b"\0" * 7, 10)
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
        fit.split(data, 10)


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
    part = fit.split(whole(**how), 10)[0][0]
    mended = fit.mend(part)
    assert mended is not None
    assert wrong in mended[1]
    again = fit.split(mended[0], 10)[0][0]
    assert fit.mend(again) is None


def test_a_sound_file_needs_no_mending() -> None:
    for data in (whole(), file_id(FitWriter(header_size=12), START).to_bytes()):
        assert fit.mend(fit.split(data, 10)[0][0]) is None
