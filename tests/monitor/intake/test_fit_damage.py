"""What is kept of broken files, and that nothing but Unreadable ever comes out of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.errors import Unreadable
from monitor.intake import fit_decoders
from monitor.intake.fit import read_fit
from monitor.values import FileFacts, IntakeOptions, Recording
from tests.fitwriter import Developer, FitWriter, Raw, activity, file_id, write_activities
from tests.fitwriter import Part as Leg

OSLO = IntakeOptions("Europe/Oslo")
START = datetime(2026, 10, 6, 7, 0, tzinfo=UTC)
N = 300
SAMPLES = {
    "hr_bpm": 120 + np.arange(N) % 20,
    "speed_mps": 2.5 + (np.arange(N) % 7) / 10,
    "cadence_spm": np.full(N, 165.0),
    "distance_m": np.arange(N) * 2.75,
    "altitude_m": 100 + np.arange(N) / 10,
    "lat_deg": 59.9 + np.arange(N) * 1e-5,
    "lon_deg": np.full(N, 10.7),
}
SOUND = activity(START, samples=SAMPLES, pauses=((100, 160),), utc_offset_s=7200)


@pytest.fixture
def no_fast_decoder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fit_decoders, "_fitfast", lambda: None)


def only(facts: FileFacts) -> Recording:
    assert len(facts.recordings) == 1
    return facts.recordings[0]


def same(one: Recording, other: Recording) -> bool:
    plain = [name for name in Recording.__dataclass_fields__ if name != "samples"]
    return (
        all(getattr(one, name) == getattr(other, name) for name in plain)
        and one.samples.keys() == other.samples.keys()
        and all(np.allclose(one.samples[k], other.samples[k], atol=1e-9, equal_nan=True) for k in one.samples)
    )


@pytest.mark.usefixtures("no_fast_decoder")
@pytest.mark.parametrize("how", [{}, {"data_size": 0}, {"file_crc": "none"}])
def test_without_the_fast_decoder_the_same_facts_come_out_and_it_is_said(how: dict[str, str]) -> None:
    writer = write_activities([Leg(START, samples=SAMPLES, pauses=((100, 160),))], utc_offset_s=7200)
    facts = read_fit(writer.to_bytes(**how), OSLO)
    assert facts.remarks == ("read with fitparse: the fast decoder is not installed",)
    assert not facts.damaged
    assert len(only(facts).samples["t_s"]) == N - 59
    assert only(facts).timer_s == 239


def test_both_decoders_give_the_same_recording(monkeypatch: pytest.MonkeyPatch) -> None:
    fast = only(read_fit(SOUND, OSLO))
    monkeypatch.setattr(fit_decoders, "_fitfast", lambda: None)
    assert same(fast, only(read_fit(SOUND, OSLO)))


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"header_crc": "zero"}, "its header carries no checksum; read all the same"),
        ({"header_crc": "wrong"}, "the checksum of its header is wrong; read all the same"),
        ({"file_crc": "wrong"}, "its checksum is wrong; read all the same"),
        ({"file_crc": "none"}, "its checksum is missing; read all the same"),
        ({"data_size": 0}, "its header gives no length; read all the same"),
    ],
)
def test_a_wrong_checksum_is_not_a_wrong_file(how: dict[str, str], said: str) -> None:
    writer = write_activities([Leg(START, samples=SAMPLES, pauses=((100, 160),))], utc_offset_s=7200)
    facts = read_fit(writer.to_bytes(**how), OSLO)
    assert facts.remarks == (said,)
    assert not facts.damaged
    assert same(only(facts), only(read_fit(SOUND, OSLO)))


def test_a_file_cut_off_while_syncing_keeps_what_came_before() -> None:
    facts = read_fit(SOUND[: len(SOUND) // 2], OSLO)
    assert facts.damaged
    assert facts.remarks[0].startswith("cut off after ")
    assert facts.remarks[0].endswith("records: the file ends in the middle of a message")
    recording = only(facts)
    assert recording.sport == "generic"  # the summary that says so is gone
    kept = len(recording.samples["t_s"])
    assert 80 < kept < N
    assert np.array_equal(recording.samples["hr_bpm"], only(read_fit(SOUND, OSLO)).samples["hr_bpm"][:kept])


def test_thousands_of_records_are_counted_so_that_they_can_be_read() -> None:
    long = activity(START, samples={"hr_bpm": np.full(12_400, 100)})
    facts = read_fit(long[: len(long) - 400], OSLO)
    assert facts.remarks[0].startswith("cut off after 12 ")


def test_a_file_cut_off_between_two_messages_is_read_and_called_damaged() -> None:
    writer = file_id(FitWriter(), START)
    for second in range(30):
        writer.message("record", timestamp=START + timedelta(seconds=second), heart_rate=100)
    facts = read_fit(writer.to_bytes(file_crc="none", data_size=5000), OSLO)
    assert facts.damaged
    assert "bytes at the end are missing; what is there was read" in facts.remarks[0]
    assert only(facts).elapsed_s == 29


def test_a_damaged_later_part_of_a_chain_keeps_the_earlier_ones() -> None:
    facts = read_fit(SOUND + SOUND[:20], OSLO)
    assert facts.damaged
    assert same(only(facts), only(read_fit(SOUND, OSLO)))
    assert facts.remarks[0].startswith("part 2 of 2: ")


def test_a_damaged_first_part_does_not_take_a_sound_second_one_along() -> None:
    broken = file_id(FitWriter(), START).raw(b"\x0b" * 30).to_bytes()
    facts = read_fit(broken + SOUND, OSLO)
    assert facts.damaged
    assert only(facts).sport == "running"


def test_a_chain_of_two_sound_files_gives_the_recordings_of_both() -> None:
    later = activity(START + timedelta(days=1), "cycling", samples=SAMPLES)
    facts = read_fit(SOUND + later, OSLO)
    assert [recording.sport for recording in facts.recordings] == ["running", "cycling"]
    assert facts.remarks == ()


def test_a_panic_of_the_fast_decoder_costs_nothing_but_time() -> None:
    writer = write_activities([Leg(START, samples=SAMPLES)])
    writer.raw(bytes([0x4F, 0, 0, 20, 0, 2, 253, 4, 0x86, 200, 1, 0x3F]))  # an unknown field of a type that is none
    writer.raw(bytes([0x0F]) + bytes(5))
    with pytest.raises(fit_decoders.CannotDecodeError):
        fit_decoders.FastDecoder().decode(writer.to_bytes())
    facts = read_fit(writer.to_bytes(), OSLO)
    assert len(only(facts).samples["t_s"]) >= N
    assert facts.remarks[0].startswith(("read with fitparse: ", "cut off after "))


class Failing:
    """A fast decoder that can do nothing but fail."""

    def __init__(self, error: BaseException) -> None:
        self.error = error

    def parse(self, data: bytes, **_: object) -> None:
        raise self.error

    records = parse


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit, MemoryError])
def test_an_interrupt_is_never_taken_for_a_panic(error: type[BaseException], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fit_decoders, "_fitfast", lambda: Failing(error()))
    with pytest.raises(error):
        read_fit(SOUND, OSLO)


def test_a_panic_for_want_of_memory_is_want_of_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fit_decoders, "_fitfast", lambda: Failing(BaseException("Python API call failed")))
    with pytest.raises(MemoryError):
        read_fit(SOUND, OSLO)


def test_a_slow_read_stops_in_time_and_keeps_what_it_has() -> None:
    long = activity(START, samples={"hr_bpm": np.full(2000, 100)})
    by_time = fit_decoders.FitparseDecoder(most_seconds=0.0, most_records=10_000).decode(long)
    by_count = fit_decoders.FitparseDecoder(most_seconds=100.0, most_records=500).decode(long)
    for decoded in (by_time, by_count):
        assert decoded.damaged
        assert decoded.remark is not None
        assert decoded.remark.endswith("records: too long to be read on")
    assert by_count.records.count == 500


@pytest.mark.parametrize(("took_s", "whole"), [(39.9, True), (40.0, True), (40.1, False)])
def test_decoding_stream_seconds_of_the_processor_are_enough_for_the_slow_decoder(
    no_fast_decoder: None, monkeypatch: pytest.MonkeyPatch, took_s: float, *, whole: bool
) -> None:
    clock = iter((0.0, took_s))
    monkeypatch.setattr(fit_decoders, "time", SimpleNamespace(process_time=lambda: next(clock)))
    found = read_fit(activity(START, samples={"hr_bpm": np.full(1500, 100)}), OSLO)
    assert (len(only(found).samples["t_s"]) == 1500) is whole
    assert found.damaged is not whole


def test_developer_fields_of_one_file_are_forgotten_before_the_next(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fit_decoders, "_fitfast", lambda: None)
    described = file_id(FitWriter(), START).describe_developer_field(3, "uint8", "Shoe")
    described.message("record", Developer(3, "uint8", 9), timestamp=START, heart_rate=100)
    described.message("record", Developer(3, "uint8", 9), timestamp=START + timedelta(seconds=5), heart_rate=101)
    alone = file_id(FitWriter(), START)
    alone.message("record", timestamp=START, heart_rate=100)
    alone.message("record", Developer(3, "uint8", 9), timestamp=START + timedelta(seconds=5), heart_rate=101)
    before = read_fit(alone.to_bytes(), OSLO)
    assert len(only(read_fit(described.to_bytes(), OSLO)).samples["t_s"]) == 2
    after = read_fit(alone.to_bytes(), OSLO)
    assert before.remarks == after.remarks
    assert same(only(before), only(after))


def test_big_endian_files_twelve_byte_headers_and_fields_of_no_known_kind_are_read() -> None:
    for writer in (FitWriter(big_endian=True), FitWriter(header_size=12), FitWriter(header_size=20)):
        facts = read_fit(write_activities([Leg(START, samples=SAMPLES)], writer=writer).to_bytes(), OSLO)
        assert len(only(facts).samples["t_s"]) == N
    odd = file_id(FitWriter(), START)
    for second in range(9):
        odd.message(
            "record",
            Raw(200, "uint16", [1, 2, 3]),
            Raw(201, "string", "hei"),
            Raw(3, "uint8", [111, 255]),  # two heart rates in a field made for one
            timestamp=START + timedelta(seconds=second),
        )
    odd.message(0xFF00, Raw(1, "uint32", 7))
    assert only(read_fit(odd.to_bytes(), OSLO)).samples["hr_bpm"].tolist() == [111.0] * 9


@pytest.mark.parametrize("length", [12, 13, 14])
def test_a_file_that_ends_with_its_header_is_refused_in_plain_words(length: int) -> None:
    with pytest.raises(Unreadable, match="before anything was recorded"):
        read_fit(SOUND[:length], OSLO)


def test_a_file_damaged_before_anything_was_recorded_is_refused() -> None:
    with pytest.raises(Unreadable, match="damaged before anything was recorded"):
        read_fit(SOUND[:60], OSLO)


def check_facts(facts: FileFacts) -> None:
    for recording in facts.recordings:
        seconds = recording.samples["t_s"]
        assert (np.diff(seconds) > 0).all()
        assert recording.end >= recording.start
        assert recording.elapsed_s >= 0
        assert all(column.dtype == np.float64 and len(column) == len(seconds) for column in recording.samples.values())
        assert all(0 <= since < to <= recording.elapsed_s for since, to in recording.pauses)
        assert not len(seconds) or 0 <= seconds[0] <= seconds[-1] <= recording.elapsed_s + 1e-6


def facts_or_reason(data: bytes) -> FileFacts | str:
    try:
        return read_fit(data, OSLO)
    except Unreadable as reason:
        return str(reason)


SMALL = activity(START, samples={name: column[:40] for name, column in SAMPLES.items()}, utc_offset_s=7200)


@example([(87, 8)], 0)  # a packed speed and distance of four bytes
@settings(max_examples=120, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, len(SMALL) - 1), st.integers(0, 255)), min_size=1, max_size=6),
    st.integers(0, 200),
)
@example([(14, 0xFF)], 0)
def test_no_damage_brings_out_anything_but_facts_that_hold_or_a_reason(hits: list[tuple[int, int]], cut: int) -> None:
    data = bytearray(SMALL)
    for at, value in hits:
        data[at] = value
    outcome = facts_or_reason(bytes(data[: len(data) - cut]))
    if isinstance(outcome, str):
        assert outcome
        assert "\n" not in outcome
    else:
        check_facts(outcome)
