"""A season of passes over an athlete's folder: what stands in each table of the store, and what is read from it.

Files come late, again, corrected, damaged, in two formats and in parts; they go; check-ins are answered, holds given,
taken back and answered; the journal is replayed into a store that is begun anew.
"""

from __future__ import annotations

import json
import os
import random
import tempfile
from collections.abc import Callable, Iterable
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from monitor.intake.reading import ReadJob, ReadResult, read_path
from monitor.intake.workers import Workers
from monitor.store import body, decisions, findings, intake, outbox, recordings, samples
from monitor.store.encoding import from_text, to_text
from rules.facts import Hold, Morning
from rules.session.timeline import columns
from tests.fitwriter import Part, activities, activity
from tests.homes import OSLO, run_on
from tests.kept_answers import Line, mark
from tests.monitor.alerts.kept_alerts import dumped
from tests.monitor.store import told
from tests.scenarios.home import ROSTER, Scene
from tests.xmlbytes import gpx, run

BEGIN = datetime(2026, 10, 5, 9, tzinfo=OSLO)
BEATEN = [
    {"date": "2026-10-11", "stairs_unaided": False, "soreness": 5, "pain": 4},
    {"date": "2026-10-12T07:00", "symptoms": ["chest pain"]},
]


class Here(Workers):
    """Files read in this process."""

    def read_many(self, jobs: Iterable[ReadJob]) -> Any:
        return ((job, read_path(job)) for job in jobs)

    def reading(self, jobs: Iterable[ReadJob]) -> Any:
        return _Reading(list(jobs))

    def warm(self) -> None:
        """Nothing to start."""


class _Reading:
    def __init__(self, jobs: list[ReadJob]) -> None:
        self._jobs = jobs

    @property
    def over(self) -> bool:
        return not self._jobs

    def next(self, seconds: float | None) -> tuple[ReadJob, ReadResult]:
        del seconds
        job = self._jobs.pop(0)
        return job, read_path(job)

    def close(self) -> None:
        """Nothing to end."""


def _files() -> list[tuple[int, str, bytes | None]]:
    """Day of the pass, name, bytes; None where the file goes."""
    start = datetime(2026, 10, 9, 16, tzinfo=OSLO)
    samples = {
        "t_s": np.arange(0, 1500, 3.0),
        "hr_bpm": 130 + np.arange(500) % 9,
        "speed_mps": 2.7 + np.arange(500) % 5 / 10,
        "cadence_spm": np.full(500, 164.0),
    }
    two = [
        Part(
            start - timedelta(days=1),
            "cycling",
            "road",
            {"t_s": np.arange(0, 900, 5.0), "speed_mps": np.full(180, 6.0)},
        ),
        Part(
            start - timedelta(days=1, minutes=-16),
            "running",
            "generic",
            {"t_s": np.arange(0, 300, 1.0), "hr_bpm": np.full(300, 140.0), "speed_mps": np.full(300, 2.8)},
        ),
    ]
    first = date(2026, 9, 5)
    nights = "date,total_sleep_min,resting_hr,rmssd_ms\n" + "".join(
        f"{first + timedelta(days=day)},{400 + day * 7 % 60},{47 + day % 3},{58 + day % 5}\n" for day in range(38)
    )
    return [
        (0, "race.fit", run_on(0, 10, 200, speed=3.4, bpm=160)),
        (0, "before.fit", run_on(-9, 8, 50)),
        (0, "long.fit", run_on(-15, 8, 90)),
        (0, "nights.csv", nights.encode()),
        (1, "walk.fit", run_on(1, 12, 30, sport="walking", speed=1.3, bpm=95)),
        (4, "run.fit", activity(start, samples=samples, pauses=((300, 360),), utc_offset_s=7200)),
        (5, "phone.gpx", gpx(run(range(0, 1400, 2), speed_mps=2.7), start=start.astimezone(OSLO))),
        (5, "two.fit", activities(two)),
        (5, "torn.fit", run_on(4, 9, 20)[:-400]),
        (5, "junk.fit", b"no recording"),
        (6, "copy/run.fit", activity(start, samples=samples, pauses=((300, 360),), utc_offset_s=7200)),
        (6, "gym.fit", run_on(6, 7, 45, sport="training", speed=0.0, bpm=110)),
        (7, "a.checkin.json", json.dumps(BEATEN[:1]).encode()),
        (8, "run.fit", activity(start, samples={**samples, "hr_bpm": samples["hr_bpm"] + 12}, utc_offset_s=7200)),
        (8, "b.checkin.json", json.dumps(BEATEN[1]).encode()),
        (9, "phone.gpx", None),
        (10, "nights.csv", nights.replace(",47,", ",53,").encode()),
        (12, "late.fit", run_on(3, 18, 25)),
    ]


def history() -> Any:
    """All tables after each few passes, and what is read from them."""
    told: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        scene = Scene(Path(folder), Here(), ROSTER.replace('quiet_hours = ""', 'quiet_hours = "21:30-06:30"'))
        for day in (0, 1, 4, 5, 6, 7, 8, 9, 10, 12):
            now = BEGIN + timedelta(days=day)
            for when, name, data in _files():
                if when == day and data is None:
                    (scene.exports / name).unlink()
                elif when == day and data is not None:
                    at = int((BEGIN + timedelta(days=day)).timestamp())
                    os.utime(scene.drop(name, data), (at, at))
            report = scene.scan(now)
            told[f"day {day}"] = [report.tally, len(scene.sent.messages)]
            if day == 7:
                _overrides(scene, now)
            if day in (5, 8, 12):
                with scene.scanner(now).store.reading() as con:
                    told[f"tables {day}"] = _marks(con)
        told |= _read(scene, BEGIN + timedelta(days=12))
    return told


def _marks(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Of each table its columns' marks in a line, without what the clock, the machine or the code itself makes."""
    machine = ("mtime_ns ", "device ", "inode ", "digest_by", "fingerpri", "context", "made_from", "packed")
    wall = ("first_try", "next_try", "claimed", "sent_wall", "tried_wal", "awake")
    return {
        name: Line(" ".join(one for one in told if not one.startswith((*machine, *wall))))
        for name, told in dumped(con).items()
    }


def _overrides(scene: Scene, now: datetime) -> None:
    held = Hold("hold", now.date(), now, 2, "sore", "coach")
    with scene.scanner(now).store.writing() as con:
        findings.add_hold(con, "runa", held)
        findings.add_hold(con, "runa", Hold("release", now.date(), now + timedelta(hours=1), None, "", "coach"))
        standing = findings.standing(con, "runa")
        for number, one in enumerate(standing[:3]):
            findings.mark(con, one.id, "coach", f"seen {number}", now + timedelta(minutes=number // 2))
        findings.unmark(con, [standing[0].id], "coach", now)


def _read(scene: Scene, now: datetime) -> dict[str, Any]:
    """What the other rooms ask the store for."""
    soon, first = timedelta(days=3), date(2026, 9, 1)
    with scene.scanner(now).store.reading() as con:
        every = recordings.all_of(con, "runa")
        keys = sorted(session.key for session in recordings.sessions(con, "runa", now - timedelta(days=9), now))
        tables = samples.load_each(con, [one.span.number for one in every[:4]])
        return {
            "recordings": [len(every), mark([one.digest for one in every])],
            "around": [
                len(recordings.around(con, "runa", now - timedelta(days=back), now - timedelta(days=back - 1)))
                for back in range(1, 9)
            ],
            "keys": keys,
            "first": recordings.first_start(con, "runa"),
            "samples": {
                str(number): {name: values for name, values in columns(table).items() if np.isfinite(values).any()}
                for number, table in tables.items()
            },
            "joined": [len(columns(recordings.samples_of(con, "runa", key))["t_s"]) for key in keys],
            "sessions": mark(recordings.sessions(con, "runa")),
            "holds": findings.holds(con, ["runa"])["runa"],
            "standing": [len(findings.standing(con, since=(now - soon).date())), mark(findings.standing(con))],
            "body": mark(
                [
                    told.season(con, "runa", first, now.date()).nights,
                    told.season(con, "runa", first, now.date()).mornings,
                    told.season(con, "runa", first, now.date()).checkins,
                ]
            ),
            "last": body.last_facts_at(con, ["runa"], now)["runa"],
            "marks": findings.marks(con),
            "made": mark(sorted(findings.made_at(con).items())),
            "worse": mark(sorted(findings.worse_at(con).items())),
            "undone": findings.marked_at(con, "runa", "coach", now - timedelta(days=5)),
            "judged": sorted(findings.all_judged(con)),
            "files": [
                len(intake.listing(con)),
                sorted(row["path"] for row in intake.below(con, "runa", ["copy"])),
                sorted(intake.unreadable(con, ["runa"])),
                "runa" in intake.ever_read(con),
            ],
            "arrivals": [
                (look := intake.looks(con, ["runa"]).get("runa", intake.Looks())).last_arrival,
                look.first_read,
                look.last_read is not None and look.last_read > now,
            ],
            "told": [
                decisions.withheld(con, "runa", "coach"),
                sorted(decisions.keys_begun(con, "stage:")),
                decisions.any_told(con, "daily:"),
            ],
            "outbox": [outbox.counts(con), len(outbox.every(con)), len(outbox.unsent(con)), len(outbox.not_sent(con))],
            "found": [[each.rule for each, _ in findings.find(con, one.id[:6])] for one in findings.standing(con)[:4]],
        }


def of_values(seed: int) -> Any:
    """Samples as the store keeps them, and facts as text and back."""
    draw = random.Random(seed)
    size = (1, 5, 60, 400)[seed % 4]
    table = {
        "t_s": np.cumsum([(1, 1, 1, 2, 0.5, 30)[int(draw.random() * 6)] for _ in range(size)]).astype(np.float64),
        "hr_bpm": np.array([120.4 + at % 30 if draw.random() < 0.9 else np.nan for at in range(size)]),
        "speed_mps": np.array([2.7183 + (at % 7) / 7 for at in range(size)]),
        "distance_m": np.cumsum(np.full(size, 2.7183)),
        "altitude_m": np.array([-3.14159 + at / 9 for at in range(size)]),
        "lat_deg": 60 + np.arange(size) * 2.7e-5,
        "lon_deg": np.full(size, -10.123456789),
        "cadence_spm": np.array([160.5 + at % 3 for at in range(size)]),
        "power_w": np.full(size, 211.7),
        "temperature_c": np.full(size, -7.26),
    }
    kept = samples.as_stored({name: values.copy() for name, values in table.items()})
    fact = Morning(date(2026, 10, 4), 47.5, None, "a.csv")
    text = to_text(fact)
    return [
        kept,
        {name: samples.scaled(name, values[:40]).tolist()[:5] for name, values in kept.items()},
        text,
        from_text(Morning, text) == fact,
    ]


ANSWERS: dict[str, Callable[[], Any]] = {
    "season": history,
    **{f"samples {seed}": partial(of_values, seed) for seed in range(4)},
}
