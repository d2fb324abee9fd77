from __future__ import annotations

import gzip
import io
import zipfile
import zlib
from contextlib import nullcontext

import pytest

from monitor.errors import Unreadable
from monitor.intake import kinds
from monitor.intake.plausible import MOST
from monitor.values import FileFacts, IntakeOptions
from tests.xmlbytes import gpx, run

OSLO = IntakeOptions("Europe/Oslo")
RUN = gpx(run(range(60)))
CHECKIN = b'{"date": "2026-10-06", "pain": 2}'
NIGHTS = b"date,resting_hr\n2026-10-06,47\n"


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", method) as archive:
        for name, content in members.items():
            archive.writestr(zipfile.ZipInfo(name), content, method)
    return packed.getvalue()


def read(name: str, data: bytes) -> FileFacts:
    return kinds.read(name, data, OSLO)


def test_a_gzip_file_is_read_as_what_is_in_it() -> None:
    facts = read("run.gpx.gz", gzip.compress(RUN))
    assert (facts.kind, len(facts.recordings), facts.damaged) == ("gpx", 1, False)


def test_several_gzip_files_in_a_row_with_padding_are_one() -> None:
    half = len(RUN) // 2
    assert len(read("run.gpx.gz", gzip.compress(RUN[:half]) + gzip.compress(RUN[half:]) + b"\0" * 99).recordings) == 1


def test_a_gzip_file_cut_off_keeps_what_came_before() -> None:
    long = gpx(run(range(2000)))
    packed = gzip.compress(long)
    facts = read("run.gpx.gz", packed[: len(packed) * 2 // 3])
    assert facts.damaged
    assert "the gzip file is cut off" in facts.remarks
    assert 600 < facts.recordings[0].elapsed_s < 1999


def test_what_unpacks_to_more_than_is_taken_at_once_is_whole() -> None:
    """Two digits pack to less than a byte: a piece that is read gives more than a piece to unpack."""
    digits = "".join(f"{at * at % 9973:04d}" for at in range(200_000)).encode()
    packed = gzip.compress(digits)
    assert len(packed) > 2 * kinds.CHUNK_BYTES
    assert kinds._gunzipped(packed, len(digits)) == (digits, None)


@pytest.mark.parametrize("cut", ["inner", "outer"])
def test_a_file_packed_twice_is_damaged_where_either_was_cut_off(cut: str) -> None:
    inner = gzip.compress(gpx(run(range(2000))))
    packed = gzip.compress(inner[: len(inner) * 2 // 3]) if cut == "inner" else gzip.compress(inner)[: len(inner) // 2]
    facts = read("run.gpx.gz", packed)
    assert facts.damaged
    assert "the gzip file is cut off" in facts.remarks


def test_an_empty_file_in_a_gzip_file_is_said() -> None:
    with pytest.raises(Unreadable, match="empty"):
        read("run.gpx.gz", gzip.compress(b""))


@pytest.mark.parametrize(("points", "taken"), [(60, True), (59, False)])
def test_an_archive_holds_points_up_to_a_number(points: int, *, taken: bool) -> None:
    gathered = kinds._Gathered(points_left=points)
    with nullcontext() if taken else pytest.raises(Unreadable):
        gathered.take("run.gpx", read("run.gpx", RUN), None)
    assert len(gathered.facts) == taken


def test_members_are_counted_up_to_their_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kinds, "MOST", MOST._replace(archive_members=2))
    members = {f"{at}.checkin.json": CHECKIN for at in range(3)}
    assert len(read("a.zip", zipped(dict(list(members.items())[:2]))).checkins) == 2
    with pytest.raises(Unreadable, match="2"):
        read("a.zip", zipped(members))


def test_a_gzip_bomb_never_unfolds() -> None:
    bomb = gzip.compress(b"<gpx>" + b" " * 20_000_000)
    with pytest.raises(Unreadable, match="more than 200 times its size"):
        read("run.gpx.gz", bomb)


def test_a_gzip_bomb_within_the_ratio_stops_at_the_limit() -> None:
    packer = zlib.compressobj(1, wbits=31)
    block = bytes(range(256)) * 4096
    packed = b"".join(packer.compress(block[at % 251 :]) for at in range(70)) + packer.flush()
    padded = packed + b"\0" * (len(block) * 70 // 150)
    with pytest.raises(Unreadable, match="unpacks to more than 67 MB"):
        read("run.fit.gz", padded)


def test_a_file_packed_twice_is_read() -> None:
    (twice,), (plain,) = (
        read("run.gpx.gz", gzip.compress(gzip.compress(RUN))).recordings,
        read("run.gpx", RUN).recordings,
    )
    assert twice.start == plain.start
    assert twice.samples["t_s"].tolist() == plain.samples["t_s"].tolist()


def test_gzip_in_gzip_in_gzip_and_zip_in_gzip_are_refused() -> None:
    for inner in (gzip.compress(gzip.compress(RUN)), zipped({"run.gpx": RUN})):
        with pytest.raises(Unreadable, match="an archive within an archive"):
            read("run.gpx.gz", gzip.compress(inner))


def test_a_zip_of_several_gives_the_facts_of_all() -> None:
    facts = read(
        "export.zip",
        zipped(
            {
                "a/run.gpx": RUN,
                "a/run2.gpx.gz": gzip.compress(gpx(run(range(9000, 9060)))),
                "x.checkin.json": CHECKIN,
                "nights.csv": NIGHTS,
            }
        ),
    )
    assert (facts.kind, len(facts.recordings), len(facts.checkins), len(facts.mornings)) == ("zip", 2, 1, 1)
    assert (facts.remarks, facts.damaged) == ((), False)


def test_the_order_of_members_makes_no_difference() -> None:
    members = {"b.gpx": RUN, "a.csv": NIGHTS, "c.checkin.json": CHECKIN}
    forward, backward = read("x.zip", zipped(members)), read("x.zip", zipped(dict(reversed(members.items()))))
    assert forward.checkins == backward.checkins
    assert forward.mornings == backward.mornings
    assert forward.remarks == backward.remarks


@pytest.mark.parametrize(
    "name",
    [
        "../run.gpx",
        "a/../../run.gpx",
        "/run.gpx",
        "\\run.gpx",
        "..\\run.gpx",
        "C:run.gpx",
        "c:\\run.gpx",
        "con.gpx",
        "a/NUL.gpx",
        "COM1.gpx",
        "lpt9/run.gpx",
        "a\nb.gpx",
        "a\x1bb.gpx",
    ],
)
def test_a_member_with_an_unsafe_name_costs_that_member(name: str) -> None:
    facts = read("x.zip", zipped({name: RUN, "good.csv": NIGHTS}))
    assert (len(facts.recordings), len(facts.mornings)) == (0, 1)
    assert facts.damaged
    (remark,) = facts.remarks
    assert "left out: its name" in remark
    assert remark.isprintable()


def test_members_that_are_no_files_of_ours_are_counted_and_litter_is_not() -> None:
    facts = read(
        "x.zip",
        zipped(
            {"a.csv": NIGHTS, "b.jpg": b"x", "c.pdf": b"y", "__MACOSX/a.csv": b"z", ".hidden.gpx": b"", "~a.csv": b""}
        ),
    )
    assert facts.remarks == ("2 files of other kinds in the archive were not looked at",)
    assert not facts.damaged


def test_a_member_that_cannot_be_read_costs_that_member() -> None:
    facts = read("x.zip", zipped({"a.csv": NIGHTS, "bad.gpx": b"<gpx><trk>", "empty.gpx": b""}))
    assert len(facts.mornings) == 1
    assert facts.damaged
    assert [remark.partition(" left out: ")[0] for remark in facts.remarks] == ["'bad.gpx'", "'empty.gpx'"]


def test_a_member_whose_bytes_were_changed_costs_that_member() -> None:
    data = bytearray(zipped({"a.csv": NIGHTS, "b.gpx": RUN}, zipfile.ZIP_STORED))
    at = data.index(b"<trkpt")
    data[at + 12] ^= 1
    facts = read("x.zip", bytes(data))
    assert (len(facts.recordings), len(facts.mornings)) == (0, 1)
    assert "'b.gpx' left out: damaged: Bad CRC-32" in facts.remarks[0]


def test_an_encrypted_member_and_a_link_cost_that_member() -> None:
    link = zipfile.ZipInfo("link.gpx")
    link.external_attr = 0o120777 << 16
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(link, "/etc/passwd")
        archive.writestr("locked.gpx", RUN)
        archive.writestr("a.csv", NIGHTS)
    data = bytearray(packed.getvalue())
    entry = data.rindex(b"PK\x01\x02", 0, data.rindex(b"locked.gpx"))
    data[entry + 8] |= 1
    facts = read("x.zip", bytes(data))
    assert facts.remarks == ("'link.gpx' left out: it is a link", "'locked.gpx' left out: it is encrypted")
    assert len(facts.mornings) == 1


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_packing_that_cannot_be_bounded_is_refused(method: int) -> None:
    with pytest.raises(Unreadable, match="packed by a method that is not read"):
        read("x.zip", zipped({"a.gpx": RUN}, method))


def test_a_zip_in_a_zip_is_refused_and_the_rest_is_read() -> None:
    facts = read(
        "x.zip",
        zipped({"inner.zip": zipped({"a.gpx": RUN}), "a.csv": NIGHTS, "b.gpx.gz": gzip.compress(gzip.compress(RUN))}),
    )
    assert len(facts.mornings) == 1
    assert [remark.partition(": ")[2] for remark in facts.remarks] == [
        "an archive within an archive; unpack it once"
    ] * 2


def test_a_zip_bomb_never_unfolds_and_the_rest_is_read() -> None:
    facts = read("x.zip", zipped({"bomb.gpx": b"<gpx>" + b" " * 20_000_000, "a.csv": NIGHTS}))
    assert len(facts.mornings) == 1
    assert facts.remarks == ("'bomb.gpx' left out: unpacks to more than 200 times its size: no recording does",)


def test_a_member_that_lies_about_its_size_is_found_out() -> None:
    data = bytearray(zipped({"a.csv": NIGHTS * 50, "b.csv": NIGHTS}))
    entry = data.index(b"PK\x01\x02")
    data[entry + 24 : entry + 28] = (10).to_bytes(4, "little")
    facts = read("x.zip", bytes(data))
    assert facts.damaged
    assert "'a.csv' left out" in facts.remarks[0]


def test_more_members_than_allowed_are_refused_before_they_are_listed() -> None:
    many = zipped({f"{number}.csv": NIGHTS for number in range(MOST.archive_members + 1)}, zipfile.ZIP_STORED)
    with pytest.raises(Unreadable, match="more than 2000 files in the archive; unpack it into the folder"):
        read("x.zip", many)


@pytest.mark.parametrize(
    "data",
    [b"PK\x03\x04", b"PK\x05\x06" + b"\0" * 18, b"PK\x03\x04" + b"\xff" * 200, zipped({"a.pdf": b"x"}), zipped({})],
)
def test_an_archive_with_nothing_to_read_is_unreadable(data: bytes) -> None:
    with pytest.raises(Unreadable, match=r"ZIP|nothing in the archive"):
        read("x.zip", data)


def test_every_cut_of_an_archive_is_facts_or_unreadable() -> None:
    data = zipped({"a.csv": NIGHTS, "b.gpx": RUN})
    for end in range(1, len(data), 97):
        with pytest.raises(Unreadable):
            read("x.zip", data[:end])
