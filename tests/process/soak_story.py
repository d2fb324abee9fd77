"""What the athletes of the soak run do and record: outings that keep and break rules, nights, check-ins, bad files."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

import numpy as np

from tests.fitwriter import activity
from tests.process.soak_roster import PEOPLE, Person
from tests.scenarios import odd_devices
from tests.scenarios.outings import Stretch, ride, run, walk
from tests.xmlbytes import START, lap, tcx
from tests.xmlbytes import activity as tcx_activity

Outing = tuple[str, str, list[Stretch]]
REPEATS = [Stretch(480, 120, 2.6, 162), *[Stretch(30, 165, 5.2, 184), Stretch(90, 140, 2.2, 158)] * 6]
CLEAN: tuple[Outing, ...] = (
    ("walking", "generic", walk(25)),
    ("cycling", "generic", ride(22, 104)),
    ("cycling", "generic", ride(35, 100)),
)
BREAKING: tuple[Outing, ...] = (
    ("running", "generic", run(18)),
    ("walking", "generic", [*walk(6), *run(9), *walk(4)]),
    ("cycling", "generic", ride(18, 166)),
    ("cycling", "generic", ride(75, 108)),
    ("training", "strength_training", [Stretch(1500, 110)]),
    ("running", "generic", REPEATS),
    ("cycling", "generic", ride(20, None)),
)


@dataclass(frozen=True)
class Arrival:
    """A file that is due at a moment of the soak's clock, in all its states; the last one stays."""

    person: str
    name: str
    states: tuple[bytes, ...]
    due: datetime
    late: bool = False  # about days so long past that nothing of it may be sent
    bad: bool = False


@dataclass
class Story:
    """Draws everything from one seed."""

    rng: random.Random
    begins: datetime
    days: int
    number: int = 0
    nights: dict[str, dict[date, str]] = field(default_factory=dict)

    def past(self) -> Iterator[Arrival]:
        """What lies there before the daemon first starts."""
        for person in PEOPLE:
            finish = self.begins - timedelta(days=person.finished_days)
            for weeks in range(1, 6):
                yield self._session(
                    person, finish - timedelta(days=7 * weeks), ("running", "generic", run(30)), late=True
                )
            first = (self.begins - timedelta(days=40)).date()
            rows = self.nights.setdefault(person.id, {})
            for day in range(40):
                rows[first + timedelta(days=day)] = self._night(0)
            yield Arrival(person.id, "nights.csv", (self._csv(person.id),), self.begins)

    def arrivals(self) -> list[Arrival]:
        """What comes while it runs, by the moment it is due."""
        found = [one for person in PEOPLE for one in self._of(person)]
        return sorted(found, key=lambda one: (one.due, one.person, one.name))

    def _of(self, person: Person) -> Iterator[Arrival]:
        if person.finished_days > 11:
            for back in (11.2, 11.8):
                moment = self.begins - timedelta(days=back)
                yield self._session(person, moment, ("running", "generic", run(25)), late=True, due=self._anytime())
        ill = self.rng.randrange(2, 6)
        for day in range(self.days):
            midnight = self.begins.astimezone(person.zone).replace(hour=0, minute=0) + timedelta(days=day)
            yield self._morning(person, midnight, 9 if ill <= day < ill + 3 else 0)
            for hour in (8, 17)[: 1 + (self.rng.random() < 0.4)]:
                outing = self.rng.choice(BREAKING if self.rng.random() < 0.5 else CLEAN)
                start = midnight + timedelta(hours=hour, minutes=self.rng.randrange(90))
                session = self._session(person, start, outing)
                yield session
                yield from self._more(session)
            if self.rng.random() < 0.35:
                yield self._checkin(person, midnight + timedelta(hours=12))
            if self.rng.random() < 0.2:
                yield self._bad(person, midnight + timedelta(hours=13))

    def _more(self, one: Arrival) -> Iterator[Arrival]:
        if self.rng.random() < 0.2:
            due = one.due + timedelta(hours=self.rng.uniform(0, 20))
            yield Arrival(one.person, f"copies/{one.name.rsplit('/')[-1]}", one.states[-1:], due)

    def _anytime(self) -> datetime:
        return self.begins + timedelta(days=self.rng.uniform(0, self.days * 0.8))

    def _session(
        self, person: Person, start: datetime, outing: Outing, *, late: bool = False, due: datetime | None = None
    ) -> Arrival:
        sport, sub_sport, stretches = outing
        self.number += 1
        start = start.replace(second=self.rng.randrange(60), microsecond=0)
        columns = _columns(stretches, self.number)
        offset = int((start.astimezone(person.zone).utcoffset() or timedelta()).total_seconds())
        whole = activity(start, sport, sub_sport, columns, utc_offset_s=offset, serial=1000 + self.number)
        end = start + timedelta(seconds=len(columns["t_s"]))
        name = f"{start:%m-%d}_{sport}_{self.number}.fit"
        states: tuple[bytes, ...] = (whole,)
        luck = self.rng.random()
        if luck < 0.15:  # truncated first
            states = (whole[: int(len(whole) * self.rng.uniform(0.3, 0.95))], whole)
        elif luck < 0.3:  # rewritten: the same session in other bytes
            other = activity(start, sport, sub_sport, columns, utc_offset_s=offset, serial=5000 + self.number)
            states = (whole, other)
        return Arrival(person.id, name, states, due or end.astimezone(start.tzinfo) + timedelta(minutes=5), late)

    def twin(self, person: Person, start: datetime, *, xml: str) -> list[Arrival]:
        """One outing from two devices in two formats, which begin some seconds apart."""
        self.number += 1
        stretches = self.rng.choice([run(15), walk(20), REPEATS])
        columns = odd_devices.recorded(stretches, position_noise_m=2.0, seed=self.number)
        kind = "walking" if stretches[0].cadence == 112 else "running"
        start = start.replace(second=7, microsecond=0)
        begun = start + timedelta(seconds=4)
        text = _tcx(begun, columns, kind) if xml == "tcx" else odd_devices.gpx(begun, columns, kind)
        due = start + timedelta(seconds=len(columns["t_s"]), minutes=10)
        later = due + timedelta(hours=self.rng.uniform(0, 10))
        pair = [
            (f"twin_{self.number}.fit", odd_devices.fit(start, columns, kind)),
            (f"phone/twin_{self.number}.{xml}", text),
        ]
        self.rng.shuffle(pair)
        return [Arrival(person.id, name, (data,), at) for (name, data), at in zip(pair, (due, later), strict=True)]

    def twins(self) -> Iterator[Arrival]:
        """One twin an athlete every few days, at an hour at which nothing else is recorded."""
        for person in PEOPLE:
            for day in range(self.rng.randrange(3), self.days, 3):
                midnight = self.begins.astimezone(person.zone).replace(hour=0, minute=0) + timedelta(days=day)
                start = midnight + timedelta(hours=13, minutes=self.rng.randrange(60))
                yield from self.twin(person, start, xml=self.rng.choice(["tcx", "gpx"]))

    def _night(self, more: int) -> str:
        asleep = self.rng.randrange(400, 490)
        return f"{asleep},{47 + self.rng.randrange(3) + more},{round(62 + self.rng.gauss(0, 3) - 2 * more)}"

    def _morning(self, person: Person, midnight: datetime, more: int) -> Arrival:
        """The CSV grows by a row; now and then an older row is corrected, or corrected back."""
        rows = self.nights[person.id]
        before = self._csv(person.id)
        today = midnight.date()
        if self.rng.random() < 0.3:
            rows[today - timedelta(days=self.rng.randrange(1, 5))] = self._night(more)
        rows[today] = self._night(more)
        states = [self._csv(person.id)]
        if self.rng.random() < 0.2:  # changed, and changed back
            kept = rows[today]
            rows[today] = self._night(0)
            states = [states[0], self._csv(person.id), states[0]]
            rows[today] = kept
        elif self.rng.random() < 0.2:
            states = [before, *states]
        return Arrival(person.id, "nights.csv", tuple(states), midnight + timedelta(hours=7))

    def _csv(self, person: str) -> bytes:
        rows = self.nights[person]
        lines = [f"{day},{rows[day]}" for day in sorted(rows)]
        return "\n".join(["date,total_sleep_min,resting_hr,rmssd_ms", *lines, ""]).encode()

    def _checkin(self, person: Person, moment: datetime) -> Arrival:
        said = {
            "date": str(moment.date()),
            "stairs_unaided": self.rng.random() > 0.2,
            "squat_unaided": True,
            "soreness": self.rng.randrange(7),
            "pain": self.rng.choice([0, 0, 1, 2, 5]),
            "energy": self.rng.randrange(3, 9),
            "mood": self.rng.randrange(3, 9),
            "symptoms": ["chest pain"] if self.rng.random() < 0.08 else [],
        }
        self.number += 1
        return Arrival(person.id, f"checkins/{self.number}.checkin.json", (json.dumps(said).encode(),), moment)

    def _bad(self, person: Person, moment: datetime) -> Arrival:
        self.number += 1
        kinds = {
            "fit": self.rng.choice([b"", b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT", self.rng.randbytes(4000)]),
            "gpx": b"<?xml version='1.0'?><!DOCTYPE a [<!ENTITY b 'c'>]><gpx>&b;</gpx>",
            "tcx": b"<TrainingCenterDatabase><Activities>",
            "zip": b"PK\x03\x04 no archive",
            "csv": b"who,what\nme,that\n",
            "docx": b"not ours",
        }
        ending = self.rng.choice(sorted(kinds))
        return Arrival(person.id, f"bad/{self.number}.{ending}", (kinds[ending],), moment, bad=True)


def _columns(stretches: list[Stretch], seed: int) -> dict[str, np.ndarray]:
    """A record a second; columns of which a stretch knows nothing are left out."""
    rng = np.random.default_rng(seed)
    columns: dict[str, np.ndarray] = {"t_s": np.arange(sum(one.seconds for one in stretches), dtype=float)}
    noise = {"hr": 0.6, "speed": 0.08, "cadence": 1.0}
    names = {"hr": "hr_bpm", "speed": "speed_mps", "cadence": "cadence_spm"}
    for word, name in names.items():
        values = [getattr(one, word) for one in stretches]
        if None not in values:
            steady = np.concatenate([np.full(one.seconds, float(v)) for one, v in zip(stretches, values, strict=True)])
            columns[name] = np.maximum(0, steady + rng.normal(0, noise[word], len(steady)))
    if "speed_mps" in columns:
        columns["distance_m"] = np.cumsum(columns["speed_mps"])
    return columns


def _tcx(start: datetime, columns: dict[str, np.ndarray], kind: str) -> bytes:
    shift = (start - START).total_seconds()
    points = [
        {
            "t": shift + float(second),
            "lat": columns["lat_deg"][index],
            "lon": columns["lon_deg"][index],
            "hr": round(float(columns["hr_bpm"][index])),
            "dist": round(float(columns["distance_m"][index]), 1),
        }
        for index, second in enumerate(columns["t_s"])
    ]
    whole = lap(points, start_s=shift, timer_s=len(points), metres=float(columns["distance_m"][-1]))
    return tcx(tcx_activity(whole, sport="Running" if kind == "running" else "Other"))
