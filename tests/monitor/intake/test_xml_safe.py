from __future__ import annotations

import pytest

from monitor.errors import Unreadable
from monitor.intake.kinds import read
from monitor.intake.untrusted import CHUNK_BYTES, XmlStream, mended, root_name, shown
from monitor.values import IntakeOptions
from tests.xmlbytes import activity, gpx, lap, run, tcx

LAUGHS = b"""<?xml version="1.0"?>
<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]>
<gpx><trk><name>&c;</name></trk></gpx>"""


def test_the_root_is_named_without_its_namespace() -> None:
    assert root_name(b'<gpx xmlns="http://www.topografix.com/GPX/1/1"/>') == "gpx"


@pytest.mark.parametrize(
    "data",
    [
        LAUGHS,
        LAUGHS.decode().encode("utf-16"),
        b'<!DOCTYPE gpx SYSTEM "file:///etc/passwd"><gpx/>',
        b'<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]><gpx>&x;</gpx>',
        b"<!DOCTYPE gpx><gpx/>",
    ],
)
def test_a_document_type_is_refused_with_a_reason(data: bytes) -> None:
    with pytest.raises(Unreadable, match="document type or entities is refused"):
        root_name(data)


def test_a_document_type_after_the_root_is_broken_xml() -> None:
    stream = XmlStream(b"<gpx><!DOCTYPE a [<!ENTITY b 'c'>]><x>&b;</x></gpx>")
    names = [element.tag for event, element in stream if event == "end"]
    assert names == []
    assert stream.broken is not None


def test_an_entity_that_was_never_declared_is_broken_xml() -> None:
    stream = XmlStream(b"<gpx><x>&file;</x></gpx>")
    assert list(stream)[-1][0] == "start"
    assert stream.broken is not None
    assert "undefined entity" in stream.broken


@pytest.mark.parametrize("data", [b"<", b"<gpx", b"<<gpx/>", b"", b"<?xml version='1.0' encoding='no-such'?><gpx/>"])
def test_what_is_no_xml_is_unreadable(data: bytes) -> None:
    with pytest.raises(Unreadable, match="broken XML"):
        root_name(data)


def test_a_document_nested_beyond_reason_is_refused() -> None:
    with pytest.raises(Unreadable, match="nested too deep"):
        list(XmlStream(b"<gpx>" + b"<a>" * 5000))


def test_what_is_closed_again_counts_as_one_level() -> None:
    """Two are opened and one is closed, over and over."""
    with pytest.raises(Unreadable, match="nested too deep"):
        list(XmlStream(b"<gpx>" + b"<a><b></b>" * 5000))
    assert len(list(XmlStream(b"<gpx>" + b"<a><b></b></a>" * 5000 + b"</gpx>"))) == 20002


@pytest.mark.parametrize("before", [b"", b"<!--" + b"." * (CHUNK_BYTES + 9) + b"-->"])
def test_the_root_is_found_however_much_is_said_before_it(before: bytes) -> None:
    assert root_name(before + b"<gpx/>") == "gpx"
    assert mended(before + b"<gpx><a:b/></gpx>") == before + b'<gpx xmlns:a="undeclared:a"><a:b/></gpx>'


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("x" * 80, "x" * 80),
        ("x" * 81, "x" * 80 + "…"),
        ("x" * 79 + "\n", "x" * 79 + "\\…"),
        ("x" * 78 + "\n", "x" * 78 + "\\n"),
        (b"\xfc", "\\xfc"),
        ("ü", "ü"),
    ],
)
def test_of_a_strangers_text_eighty_letters_are_shown(text: str | bytes, line: str) -> None:
    assert shown(text) == line


def test_elements_come_as_a_stream_and_the_end_of_a_cut_is_told() -> None:
    stream = XmlStream(b"<gpx><a>1</a><a>2</a><b")
    assert [element.text for event, element in stream if event == "end"] == ["1", "2"]
    assert stream.broken is not None


DOCUMENTS = {
    "a.gpx": gpx(run(range(90))),
    "a.tcx": tcx(activity(lap(run(range(90)), start_s=0, timer_s=89))),
}


@pytest.mark.parametrize("name", DOCUMENTS)
@pytest.mark.parametrize("before", [b" ", b"\n\n   ", b"\xef\xbb\xbf\n"])
def test_white_space_before_the_declaration_costs_nothing(name: str, before: bytes) -> None:
    (recording,) = read(name, before + DOCUMENTS[name], IntakeOptions("UTC")).recordings
    assert len(recording.samples["t_s"]) == 90


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_prefix_that_was_never_declared_costs_nothing(name: str) -> None:
    for declaration in (b' xmlns:e="http://example.org/TrackPointExtension/v2"', b" xmlns:x="):
        assert declaration in b"".join(DOCUMENTS.values())
    bare = DOCUMENTS[name].replace(b' xmlns:e="http://example.org/TrackPointExtension/v2"', b"")
    bare = bare.replace(b' xmlns:x="http://www.garmin.com/xmlschemas/ActivityExtension/v2"', b"")
    bare = bare.replace(b"</Trackpoint>", b"<x:Odd x:kind='1'>1</x:Odd></Trackpoint>")
    facts = read(name, bare, IntakeOptions("UTC"))
    assert len(facts.recordings[0].samples["hr_bpm"]) == 90
    assert not facts.damaged


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_prefix_that_is_first_used_after_a_megabyte_costs_nothing(name: str) -> None:
    end = {"a.gpx": b"</trkpt>", "a.tcx": b"</Trackpoint>"}[name]
    head, _, last = DOCUMENTS[name].rpartition(end)
    late = head + b"<!--" + b"." * (CHUNK_BYTES + 9) + b"--><zz:Odd zz:kind='1'>1</zz:Odd>" + end + last
    facts = read(name, late, IntakeOptions("UTC"))
    assert len(facts.recordings[0].samples["t_s"]) == 90
    assert not facts.damaged


def test_a_document_that_needs_no_mending_stays_as_it_is() -> None:
    assert mended(DOCUMENTS["a.gpx"]) is DOCUMENTS["a.gpx"]


def test_a_document_type_behind_white_space_is_refused_all_the_same() -> None:
    with pytest.raises(Unreadable, match="document type or entities is refused"):
        XmlStream(b"  \n" + LAUGHS)


@pytest.mark.parametrize("name", DOCUMENTS)
def test_times_of_1901_are_those_of_a_device_without_a_date(name: str) -> None:
    with pytest.raises(Unreadable, match="the device had no date when it recorded this"):
        read(name, DOCUMENTS[name].replace(b"2026-10-04T", b"1901-12-13T"), IntakeOptions("UTC"))


def test_comments_before_a_root_that_never_comes_are_gone_through_once() -> None:
    """They can be parted in 2^39 ways."""
    assert mended(b"<!---->" * 40 + b"<! a:b='1'>") == b"<!---->" * 40 + b"<! a:b='1'>"
