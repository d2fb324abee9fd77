"""What a worker cleans for a digest serves the verdict too, and gives the same one as the samples of the store."""

import pickle
from pathlib import Path

import pytest

from monitor.intake.reading import ReadJob, read_path
from monitor.store.samples import as_stored
from monitor.values import IntakeOptions, Recording
from rules.facts import Ceiling, SampleContext, Session, Threshold
from rules.limits import default_limits
from rules.session_rules import judge_samples, judge_track

EXPORTS = Path(__file__).parents[3] / "sample_exports" / "exports"
ACTIVITIES = sorted(one for one in EXPORTS.rglob("*") if one.suffix in {".fit", ".tcx", ".gpx"})[::4]
THRESHOLD = Threshold(3.85, "roster", "high")
CONTEXTS = [
    SampleContext(Ceiling(121, 1, "zone 1"), "none", True, THRESHOLD, 200.0),
    SampleContext(Ceiling(146, 2, "zone 2"), "strides", False, None, None),
    SampleContext(None, "none", True, THRESHOLD, 150.0),
]


def read(path: Path, *, keep_track: bool = True) -> tuple[Recording, ...]:
    facts = read_path(ReadJob(path.parent, path.name, IntakeOptions("Europe/Oslo"), keep_track)).facts
    assert facts is not None
    recordings: tuple[Recording, ...] = pickle.loads(pickle.dumps(facts.recordings))  # as they cross from the worker
    return recordings


def session(one: Recording) -> Session:
    assert one.digest is not None
    return Session(
        "key", one.start, one.end, one.sport, one.sub_sport, one.timer_s, one.elapsed_s, one.distance_m, "a.fit",
        one.digest, pauses=one.pauses, barometer=one.barometer,
    )  # fmt: skip


@pytest.mark.parametrize("path", ACTIVITIES, ids=lambda path: path.name)
def test_the_verdict_on_cleaned_samples_is_that_on_the_stored_ones(path: Path) -> None:
    limits, compared = default_limits(), 0
    for one in read(path):
        assert one.track is not None
        stored = as_stored(one.samples)
        for context in CONTEXTS:
            if one.track.is_of_a_heart_up_to(context.highest_bpm):
                compared += 1
                whole = judge_samples(session(one), stored, context, limits)
                assert judge_track(session(one), one.track, context, limits) == whole
    assert compared or not read(path)


def test_samples_of_a_heart_beyond_the_athlete_s_are_cleaned_again() -> None:
    tracks = [one.track for path in ACTIVITIES for one in read(path) if one.track is not None]
    highest = max(track.recorded["hr_bpm"].max() for track in tracks if "hr_bpm" in track.recorded)
    track = next(one for one in tracks if "hr_bpm" in one.recorded and one.recorded["hr_bpm"].max() == highest)
    assert track.is_of_a_heart_up_to(float(highest))
    assert not track.is_of_a_heart_up_to(float(highest) - 1)
    assert track.is_of_a_heart_up_to(None)


def test_cleaned_samples_are_handed_on_only_where_they_are_asked_for() -> None:
    assert {one.track for path in ACTIVITIES[:3] for one in read(path, keep_track=False)} == {None}
