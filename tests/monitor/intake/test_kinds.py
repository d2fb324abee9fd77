from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import kinds
from monitor.values import FileFacts, IntakeOptions
from tests.xmlbytes import activity, gpx, lap, run, tcx

OSLO = IntakeOptions("Europe/Oslo")
GPX = gpx(run(range(40)))
TCX = tcx(activity(lap(run(range(40)), start_s=0, timer_s=39)))
NIGHTS = b"date,resting_hr\n2026-10-06,47\n"
CHECKIN = b'{"date": "2026-10-06", "pain": 2, "stairs_unaided": "yes"}'
SLEEP = (
    b'{"total_sleep_time": {"value": 420, "unit": "min"}, "effective_time_frame": {"time_interval": '
    b'{"start_date_time": "2026-10-05T23:00:00+02:00", "end_date_time": "2026-10-06T06:30:00+02:00"}}}'
)
RR = b"# 2026-10-06\n" + b"".join(b"%d\n" % (900 + 13 * at % 60) for at in range(120))
SAMPLES = {"a.gpx": GPX, "a.tcx": TCX, "nights.csv": NIGHTS, "a.checkin.json": CHECKIN, "a.json": SLEEP, "a.rr": RR}


@pytest.mark.parametrize(
    ("name", "ending"),
    [
        ("run.fit", ".fit"),
        ("RUN.FIT", ".fit"),
        ("a.b.Tcx", ".tcx"),
        ("run.fit.gz", ".fit.gz"),
        ("2026.checkin.json", ".checkin.json"),
        ("sleep.json", ".json"),
        ("all.zip", ".zip"),
        ("x.rr", ".rr"),
        ("photo.jpg", None),
        ("run.fit.part", None),
        ("archive.gz", None),
        ("fit", None),
    ],
)
def test_endings_that_are_taken_up(name: str, ending: str | None) -> None:
    assert kinds.ending_of(name) == ending


def test_each_ending_has_a_size_it_may_have() -> None:
    assert kinds.size_limit("a.checkin.json") < kinds.size_limit("a.json") < kinds.size_limit("a.fit")
    assert all(0 < kinds.size_limit("a" + ending) <= 1 << 28 for ending in kinds.ENDINGS)


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("a.gpx", "gpx"),
        ("a.tcx", "tcx"),
        ("nights.csv", "csv"),
        ("a.checkin.json", "checkin"),
        ("a.json", "mhealth"),
        ("a.rr", "rr"),
    ],
)
def test_each_kind_is_read_by_its_reader(name: str, kind: str) -> None:
    facts = kinds.read(name, SAMPLES[name], OSLO)
    assert facts.kind == kind
    assert facts.recordings or facts.nights or facts.mornings or facts.checkins


@pytest.mark.parametrize(
    ("name", "data", "kind"),
    [
        ("a.fit", GPX, "gpx"),
        ("a.gpx", TCX, "tcx"),
        ("a.json", CHECKIN, "checkin"),
        ("a.txt", NIGHTS, "csv"),
        ("a.csv", RR, "rr"),
        ("a.txt", RR, "rr"),
        ("a.csv", CHECKIN, "checkin"),
        ("a.gpx", b"\xef\xbb\xbf  \n" + GPX.removeprefix(b'<?xml version="1.0" encoding="UTF-8"?>'), "gpx"),
        ("a.gpx", GPX.decode().replace("UTF-8", "UTF-16").encode("utf-16"), "gpx"),
    ],
)
def test_content_decides_before_the_ending(name: str, data: bytes, kind: str) -> None:
    assert kinds.read(name, data, OSLO).kind == kind


@pytest.mark.parametrize(
    ("name", "data", "reason"),
    [
        ("a.fit", b"", "an empty file"),
        ("a.fit", b"\x89PNG\r\n\x1a\n\x00", r"not a FIT file: begins with '\x89PNG\r\n\x1a\n\x00'"),
        ("a.gpx", b"hello", "not a GPX file: begins with 'hello'"),
        ("a.tcx", b"<!DOCTYPE html><html></html>", "not a TCX file: holds a web page"),
        ("a.gpx", b"<kml/>", "not a GPX file: holds XML of the kind 'kml'"),
        ("a.gpx", b"<k\xc2\xa0l/>", "broken XML: not well-formed (invalid token): line 1, column 2"),
        ("a.txt", b"Dear diary", "neither RR intervals nor a table with known columns: begins with 'Dear diary'"),
        ("a.csv", b"\x00\x01", r"not a text file: begins with '\x00\x01'"),
        ("a.json", b"{", "broken JSON: Expecting property name enclosed in double quotes in line 1"),
        ("a.json", b"[]", "an empty JSON document"),
        ("a.gpx", b"PK\x03\x04", "a damaged ZIP file: File is not a zip file"),
    ],
)
def test_foreign_content_is_unreadable_with_a_reason(name: str, data: bytes, reason: str) -> None:
    with pytest.raises(Unreadable) as caught:
        kinds.read(name, data, OSLO)
    assert str(caught.value) == reason


def test_a_file_of_just_its_size_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    data = b'{"date": "2026-10-06", "pain": 2}'
    monkeypatch.setitem(kinds.LIMIT_OF, ".checkin.json", len(data))
    assert kinds.read("a.checkin.json", data, IntakeOptions("UTC")).checkins
    with pytest.raises(Unreadable, match="MB"):
        kinds.read("a.checkin.json", data + b" ", IntakeOptions("UTC"))


def test_a_file_too_large_is_refused_by_its_size() -> None:
    with pytest.raises(Unreadable, match="2 MB, more than the 1 MB such a file may have"):
        kinds.read("a.checkin.json", b"{" + b" " * 1_600_000, OSLO)


def mutated(data: bytes, seed: int) -> bytes:
    """Bytes changed, cut, doubled or put in, at a few places."""
    chance = random.Random(seed)
    broken = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at, much = chance.randrange(len(broken) + 1), chance.choice((1, 1, 2, 8, 60))
        match chance.randrange(5):
            case 0:
                broken[at : at + much] = chance.randbytes(much)
            case 1:
                del broken[at : at + much]
            case 2:
                broken[at:at] = broken[max(0, at - much) : at] * chance.choice((1, 30))
            case 3:
                broken[at:at] = chance.choice(
                    (b"<", b">", b"&", b'"', b"-", b"9" * 40, b"\0", b"\xff", b"1e999", b"nan", b"\n")
                )
            case _:
                del broken[at:]
        if not broken:
            broken += b" "
    return bytes(broken)


def told(name: str, data: bytes) -> tuple[str, ...]:
    """The remarks on a file, or the reason why there are no facts; any other error goes up."""
    try:
        facts = kinds.read(name, data, OSLO)
    except Unreadable as reason:
        return (str(reason),)
    assert isinstance(facts, FileFacts)
    return facts.remarks


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(sorted(SAMPLES)), st.integers(0, 2**32))
def test_whatever_is_broken_gives_facts_or_one_printable_line(name: str, seed: int) -> None:
    assert all(line.isprintable() and len(line) < 400 for line in told(name, mutated(SAMPLES[name], seed)))


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(kinds.ENDINGS), st.binary(max_size=200))
def test_any_bytes_under_any_ending_give_facts_or_unreadable(ending: str, data: bytes) -> None:
    assert all(line.isprintable() for line in told("x" + ending, data))
