"""What the judge says of real recordings, against labels. Run by hand: python -m tests.bench.real_recordings FOLDER

FOLDER holds recordings and `labels.csv` with the columns file, running (yes, no, ?), running_min, speed_work (yes, no,
doubtful or empty), workout and hr_max. Each recording becomes the only session of an athlete of its own, on the days
asked for of a plan after a marathon, with and without a threshold pace in the roster. Nothing is written anywhere.
"""

from __future__ import annotations

import argparse
import csv
import pickle
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from monitor.intake.reading import ReadJob, read_path
from monitor.values import IntakeOptions, Recording
from rules.facts import SAMPLE_COLUMNS, Athlete, History, Race, SampleContext, Session
from rules.findings import Breach
from rules.judge import judge
from rules.limits import default_limits
from rules.session.timeline import Samples
from rules.session.track import Track
from rules.session_rules import cleaned, judge_track
from rules.words import said

DAYS = (2, 10, 17)  # days off, cross-training, test runs of a marathon's plan
ZONE = "UTC"
RULES = ("no_running", "no_speed_work")
NO_RUNNING_DAYS = frozenset({2, 10})


@dataclass(frozen=True)
class Label:
    """What a person saw in the recording."""

    file: str
    running: str
    speed_work: str
    workout: str
    hr_max: int | None

    @property
    def ordinary(self) -> bool:
        return self.running == "yes" and self.speed_work == "no"

    @property
    def fast(self) -> bool:
        return self.speed_work == "yes"


@dataclass(frozen=True)
class Case:
    """One recording on one day, with or without a threshold: rule -> (severity, summary)."""

    label: Label
    day: int
    threshold: bool
    said: Mapping[str, tuple[str, str]]


@dataclass(frozen=True)
class Told:
    """All of one recording: its cases, how it was read, seconds masked by reason."""

    label: Label
    cases: tuple[Case, ...]
    unread: str | None
    sports: tuple[str, ...]
    running_min: float
    masked_s: Mapping[str, float]


def labels_of(folder: Path) -> list[Label]:
    """The labels of a folder, in its order."""
    with (folder / "labels.csv").open(encoding="utf-8", newline="") as file:
        return [
            Label(
                row["file"],
                row["running"],
                row["speed_work"] or "none",
                row.get("workout") or "",
                int(row["hr_max"]) if row.get("hr_max") else None,
            )
            for row in csv.DictReader(file)
        ]


def judged(folder: Path, label: Label, days: Sequence[int], paces: Mapping[int, float], other: float | None) -> Told:
    """Read once, judged on each of the days with and without the threshold pace, in seconds a kilometre."""
    result = read_path(ReadJob(folder, label.file, IntakeOptions(timezone=ZONE)))
    if result.facts is None or not result.facts.recordings:
        return Told(label, (), result.reason or "no activity in it", (), 0.0, {})
    recordings = [one for one in result.facts.recordings if one.digest is not None]
    pace = paces.get(label.hr_max or 0, other)
    tracks: dict[tuple[str, float | None], Track] = {}
    cases = tuple(
        Case(label, day, known, said_of(label, recordings, day, pace if known else None, tracks))
        for known in (False, True)
        for day in days
    )
    masked: Counter[str] = Counter()
    for one in recordings:
        assert one.digest is not None
        masked.update(one.digest.notes.get("hr_masked", {}))
        masked["speed"] += one.digest.speed_masked_s
        masked["altitude"] += one.digest.notes.get("altitude_masked_s", 0.0)
    running = sum(one.digest.running_s for one in recordings if one.digest)
    sports = tuple(one.digest.sport for one in recordings if one.digest)
    return Told(label, cases, None, sports, running / 60, masked)


def said_of(
    label: Label,
    recordings: Sequence[Recording],
    day: int,
    pace_s_per_km: float | None,
    tracks: dict[tuple[str, float | None], Track],
) -> dict[str, tuple[str, str]]:
    """`tracks`: what was cleaned on another day of the same recording, by its key and the highest heart rate."""
    first = min(one.start for one in recordings)
    race = Race("marathon", datetime.combine(first.date() - timedelta(days=day), time(0, 1), ZoneInfo(ZONE)))
    athlete = Athlete("one", ZONE, hr_max=label.hr_max, threshold_pace_s_per_km=pace_s_per_km, races=(race,))
    samples = {_key(one, part): one for part, one in enumerate(recordings)}
    sessions = tuple(_session(one, part) for part, one in enumerate(recordings))
    limits = default_limits()

    def judge_one(session: Session, context: SampleContext) -> tuple[Breach, ...]:
        key = (session.key, context.highest_bpm)
        if key not in tracks:
            tracks[key] = cleaned(session, _table(samples[session.key]), limits, context.highest_bpm)
        return judge_track(session, tracks[key], context, limits)

    until = max(one.end for one in sessions) + timedelta(minutes=1)
    found = judge(History(athlete, sessions=sessions), until, limits, 72, judge_one).findings
    worst: dict[str, tuple[str, str]] = {}
    for one in sorted(found, key=lambda each: each.severity):
        worst[one.rule] = (str(one.severity), said(one.summary))
    return worst


def _key(one: Recording, part: int) -> str:
    return f"{one.start.isoformat()} {part}"


def _session(one: Recording, part: int) -> Session:
    assert one.digest is not None
    return Session(
        _key(one, part), one.start, one.end, one.sport, one.sub_sport, one.timer_s, one.elapsed_s, one.distance_m,
        "file", one.digest, pauses=one.pauses, lap_marks_s=one.lap_marks_s, barometer=one.barometer,
    )  # fmt: skip


def _table(one: Recording) -> Samples:
    missing = np.full(len(one.samples["t_s"]), np.nan)
    return {name: one.samples.get(name, missing) for name in SAMPLE_COLUMNS}


def disagreement(case: Case) -> list[str]:
    """How the findings differ from the label, in a few words each."""
    label, wrong = case.label, []
    running = case.said.get("no_running", ("none", ""))[0]
    if case.day in NO_RUNNING_DAYS and label.running != "?":
        if label.running == "no" and running != "none":
            wrong.append(f"false no_running {running}")
        if label.running == "yes" and running == "none":
            wrong.append("missed no_running")
        if label.running == "yes" and running == "caution":
            wrong.append("asked no_running")
    speed = case.said.get("no_speed_work", ("none", ""))[0]
    if speed != "none" and (label.ordinary or label.running == "no"):
        wrong.append(f"{'false' if speed == 'stop' else 'asked'} no_speed_work {speed}")
    if label.fast and speed == "none":
        wrong.append("missed no_speed_work")
    return wrong


def table(cases: Sequence[Case], days: Sequence[int]) -> Iterator[str]:
    """Counts by day and threshold, as a Markdown table."""
    yield "| day | threshold | false stops | ordinary runs asked about | workouts missed | workouts stopped |"
    yield "|---|---|---|---|---|---|"
    for known in (False, True):
        for day in days:
            mine = [case for case in cases if case.day == day and case.threshold == known]
            said = [(case.label, case.said.get("no_speed_work", ("none", ""))[0]) for case in mine]
            ordinary = [severity for label, severity in said if label.ordinary]
            fast = [severity for label, severity in said if label.fast]
            yield (
                f"| {day} | {'known' if known else 'none'} | {ordinary.count('stop')} of {len(ordinary)}"
                f" | {ordinary.count('caution')} of {len(ordinary)} | {fast.count('none')} of {len(fast)}"
                f" | {fast.count('stop')} of {len(fast)} |"
            )
    for day in sorted(NO_RUNNING_DAYS & set(days)):
        mine = [case for case in cases if case.day == day and not case.threshold]
        ran = [c.said.get("no_running", ("none", ""))[0] for c in mine if c.label.running == "yes"]
        not_ran = [c.said.get("no_running", ("none", ""))[0] for c in mine if c.label.running == "no"]
        yield (
            f"no_running on day {day}: missed {ran.count('none')}, asked {ran.count('caution')} of {len(ran)};"
            f" false stop {not_ran.count('stop')}, false question {not_ran.count('caution')} of {len(not_ran)}"
        )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--days", type=int, nargs="+", default=DAYS)
    asked.add_argument(
        "--runner", action="append", default=[], metavar="HR_MAX=PACE", help="threshold pace of a runner, 214=4:00"
    )
    asked.add_argument("--threshold", help="threshold pace of everybody else, min:s per km; else theirs stays unknown")
    asked.add_argument("--only", default="", help="only files whose name contains this")
    asked.add_argument("--save", type=Path, help="also pickle what was said, for comparing two trees")
    given = asked.parse_args()
    labels = [label for label in labels_of(given.folder) if given.only in label.file]
    paces = {int(who): seconds_of(pace) for who, _, pace in (one.partition("=") for one in given.runner)}
    other = seconds_of(given.threshold) if given.threshold else None
    with ProcessPoolExecutor() as pool:
        jobs = [pool.submit(judged, given.folder, label, tuple(given.days), paces, other) for label in labels]
        told = [job.result() for job in jobs]
    if given.save:
        given.save.write_bytes(pickle.dumps(told))
    cases = [case for one in told for case in one.cases]
    for one in told:
        if one.unread:
            print(f"{one.label.file}: not read: {one.unread}")
    lines: dict[tuple[str, str], list[str]] = defaultdict(list)
    words: dict[tuple[str, str], str] = {}
    for case in cases:
        for wrong in disagreement(case):
            key = (case.label.file, wrong)
            lines[key].append(f"{case.day}{'t' if case.threshold else ''}")
            words[key] = case.said.get(wrong.split()[1], ("", ""))[1]
    sports = {one.label.file: f"{'+'.join(one.sports)}, {one.running_min:.0f} min run" for one in told}
    for (file, wrong), days in lines.items():
        print(f"{file} {wrong} (days {' '.join(days)}; t: threshold known) [{sports[file]}] {words[file, wrong]}")
    masked: Counter[str] = Counter()
    for one in told:
        masked.update(one.masked_s)
    print("masked, minutes:", {why: round(seconds / 60, 1) for why, seconds in sorted(masked.items()) if seconds})
    print("\n".join(table(cases, given.days)))


def seconds_of(pace: str) -> float:
    minutes, _, seconds = pace.partition(":")
    return int(minutes) * 60 + int(seconds or 0)


if __name__ == "__main__":
    main()
