"""Athletes with their race, sessions, mornings, nights, check-ins and overrides, each made of a seed.

Numbers are drawn at, beside and far from usual borders; a third of the lives are quiet. By plain arithmetic on one
stream of random numbers, so that they are the same on every machine.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from rules.facts import HEALTH, Athlete, CheckIn, Digest, History, Hold, Morning, Night, Race, SampleContext, Session
from rules.findings import RUNNING_SIGNALS, Breach, Severity
from tests.rules.people import FINISH, at, athlete, checkin, history, hold, on, race, release

EVENTS = (
    "5k", "10k", "half", "marathon", "marathon", "marathon", "marathon", "ultra_50k", "ultra_100k", "ultra_100mi",
    "tri_sprint", "tri_olympic", "tri_half", "tri_full", "custom",
)  # fmt: skip
ZONES = ("Europe/Oslo", "Europe/Oslo", "America/Denver", "Pacific/Auckland", "Asia/Kolkata")
CONDITIONS = ("heat", "cold", "altitude", "hills", "unprepared_ground", "injury", "stage_race")
SPORTS = (
    "running", "running", "running", "running", "walking", "cycling", "swimming", "rowing", "elliptical", "strength",
    "yoga", "mobility", "other", "unknown", "transport",
)  # fmt: skip
MINUTES = (
    0.9,
    1,
    5,
    10,
    18,
    19.9,
    20,
    21,
    21.1,
    30,
    31.5,
    32,
    33,
    44,
    45,
    47.2,
    47.3,
    60,
    62,
    63,
    63.1,
    67.6,
    90,
    90.1,
    91,
)
SYMPTOMS = (
    "chest pain", "fever", "dark urine", "hit my head", "heat stroke", "stress fracture", "no fever", "tired",
    "calf hurts at night",
    "numb foot", "sore throat", "dizzy when I stand up", "my mother has chest pain", "blood in my urine",
    "chest tight last year",
)  # fmt: skip
BREACHES = (
    ("no_speed_work", Severity.STOP), ("no_speed_work", Severity.CAUTION), ("intensity_ceiling", Severity.STOP),
    ("intensity_ceiling", Severity.CAUTION), ("steep_ground", Severity.CAUTION), ("not_judged", Severity.NOTE),
)  # fmt: skip


LATE = 5000


@dataclass(frozen=True)
class Made:
    """A life up to a moment, and the breaches that its samples are said to show."""

    facts: History
    now: datetime
    breaches: dict[str, tuple[str, Severity]]

    def judge_one(self, session: Session, context: SampleContext) -> tuple[Breach, ...]:
        """What the samples of a session show under a plan: speed work is none where it is free."""
        found = self.breaches.get(session.key)
        if found is None or (found[0] == "no_speed_work" and context.speed_work == "free"):
            return ()
        bpm = context.ceiling.bpm if context.ceiling else None
        evidence = {
            "ceiling_bpm": bpm,
            "threshold": context.threshold,
            "easy": context.easy_ground,
            "highest": context.highest_bpm,
        }
        return (Breach(found[0], found[1], f"A breach of {found[0]}", 1.0, bpm, "", evidence),)


def made(seed: int) -> Made:
    """The life of a seed; from LATE on one that is going well, in the last weeks of a long plan."""
    return _Life(random.Random(seed), late=seed >= LATE).made()


class _Life:
    def __init__(self, draw: random.Random, *, late: bool) -> None:
        self.draw, self.late = draw, late
        self.zone = self.of(ZONES)
        self.breaches: dict[str, tuple[str, Severity]] = {}

    def of(self, choices: Any) -> Any:
        return choices[int(self.draw.random() * len(choices))]

    def maybe(self, share: float, value: Any) -> Any:
        return value if self.draw.random() < share else None

    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self.draw.random()

    def made(self) -> Made:
        quiet = self.draw.random() < 0.35 or self.late
        runner = self._athlete()
        last = self.of(
            (0, 1, 2, 3, 4, 6, 7, 8, 9, 12, 13, 14, 15, 16, 18, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 35, 45)
        )
        last = self.of((21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 33)) if self.late else last
        now = at(last, self.of((0.5, 6, 7, 9, 11.5, 12, 15, 18, 21, 23.5)), self.zone)
        finish = runner.races[0].finish
        facts: list[Any] = self._before(runner)
        facts += self._mornings(last)
        if self.draw.random() < 0.6 or self.late:
            facts += [
                checkin(
                    day, stairs_unaided=True, squat_unaided=True, pain=0.0, order=at(day, 7.2, self.zone).timestamp()
                )
                for day in range(2, last, 2)
            ]
        if self.draw.random() < 0.7:
            facts += self._race_files(finish)
        for _ in range(int(self.draw.random() * (4 if quiet else 11))):
            one = self._session(max(0, last - self.of((0, 0, 0, 1, 1, 2, 3, 4, 5, 7, 10))), late=self.late)
            if one.end <= now:
                facts.append(one)
                if not quiet and self.draw.random() < 0.35:
                    self.breaches[one.key] = self.of(BREACHES)
        for _ in range(self.of((0, 0, 1, 2, 3, 5))):
            one = self._checkin(max(0, last - self.of((0, 0, 0, 1, 1, 2, 3, 5, 8))), calm=quiet)
            if one.order <= now.timestamp():
                facts.append(one)
        if not quiet:
            facts += [one for one in self._overrides(last) if one.at <= now]
        seen = self.of(
            (now, now, now - timedelta(hours=47), now - timedelta(hours=72), now - timedelta(hours=73), None)
        )
        whole = history(*facts, runner=runner, last_file_at=seen)
        since = self.maybe(0.3, now - timedelta(hours=self.of((24, 72, 100))))
        return Made(replace(whole, watched_since=since), now, self.breaches)

    def _athlete(self) -> Athlete:
        event = self.of(EVENTS[7:10]) if self.late else self.of(EVENTS)
        races = [self._race(event, FINISH)]
        if self.draw.random() < 0.2:
            races.append(self._race(self.of(EVENTS[:9]), FINISH + timedelta(days=self.of((5, 9, 10, 14, 20)))))
        if self.draw.random() < 0.25:
            races.insert(0, self._race(self.of(EVENTS[:4]), FINISH - timedelta(days=self.of((13, 14, 15, 21, 60)))))
        return athlete(
            *races,
            zone=self.zone,
            hr_max=self.maybe(0.6, self.of((172, 185, 190, 201))),
            hr_rest=self.maybe(0.4, self.of((41, 50, 55))),
            threshold_hr=self.maybe(0.3, self.of((160, 171))),
            threshold_pace_s_per_km=self.maybe(0.3, self.of((230.0, 262.5, 300.0))),
            born=self.maybe(0.7, self.of((1951, 1985, 1986, 1987, 1996, 2008, 2009, 2012))),
            sex=self.of((None, "female", "male")),
            intensity_model=self.of(("hrmax", "hrmax", "hrr", "threshold", "fixed")),
            ceiling_zone1=self.maybe(0.5, 125),
            ceiling_zone2=self.maybe(0.5, 143),
            coached=self.draw.random() < 0.6,
            health=tuple(one for one in HEALTH if self.draw.random() < 0.12),
            gave_birth=self.maybe(0.1, on(-self.of((100, 160, 175, 181, 182, 183, 300)))),
        )

    def _race(self, event: str, finish: datetime) -> Race:
        return race(
            event,
            finish,
            self.zone,
            distance_km=self.of((4.9, 5.0, 12.0, 21.1, 30.0, 42.2, 50.0, 72.0, 100.0))
            if event == "custom"
            else self.maybe(0.1, 42.0),
            result_seconds=self.maybe(0.5, self.of((1200, 2700, 5400, 10800, 12600, 14400))),
            taper_days=self.maybe(0.2, self.of((5, 10, 14, 20))),
            conditions=tuple(one for one in CONDITIONS if self.draw.random() < 0.08),
            effort="controlled" if self.draw.random() < 0.2 else "all_out",
        )

    def _before(self, runner: Athlete) -> list[Session]:
        """Runs of the weeks before the race, of few weeks or many."""
        weeks = (
            self.of((8, 10, 14)) if self.late and self.draw.random() < 0.7 else self.of((0, 1, 2, 3, 5, 8, 9, 10, 14))
        )
        best, easy = self.of((3.0, 3.4, 3.9)), self.of((2.6, 2.9, 3.1))
        runs = []
        for week in range(weeks):
            for back in (1, 3, 5)[: self.of((1, 2, 3, 3))]:
                minutes = self.of((20, 30, 45, 60, 110))
                shown = {seconds: best for seconds in (720, 1200, 2400) if seconds <= minutes * 60}
                walked = self.of((0.0, 0.0, 0.05, 0.1, 0.3))
                runs.append(self._whole(
                    -7 * week - back, "running", minutes, 8.0, ran=1 - walked, speed=easy, best_speed_mps=shown,
                    easy_hr_per_mps=self.maybe(0.6, round(self.between(44, 50), 3)),
                ))  # fmt: skip
        return runs

    def _race_files(self, finish: datetime) -> list[Session]:
        """The race as recorded: one file, or legs; at its finish, or apart by the slack of clocks."""
        end = finish.astimezone(at(0).tzinfo) + timedelta(minutes=self.of((-31, -30, -5, 0, 0, 0, 4, 20)))
        legs, files = self.of((1, 1, 1, 2, 3)), []
        for _ in range(legs):
            minutes = self.of((25, 60, 100, 180, 240))
            start = end - timedelta(minutes=minutes)
            one = self._whole(
                0, self.of(("running", "running", "cycling", "swimming")), minutes, start=start, ran=1.0, speed=3.3
            )
            files.append(one)
            end = start - timedelta(minutes=self.of((0, 3, 19, 20, 21, 90)))
        return files

    def _session(self, day: int, *, late: bool) -> Session:
        sport = "running" if late and self.draw.random() < 0.6 else self.of(SPORTS)
        minutes = self.of(MINUTES)
        ran = 1.0 if sport == "running" else self.of((0.0, 0.0, 0.0, 0.05, 0.5))
        return self._whole(
            day,
            sport,
            minutes,
            self.of((0.2, 6.0, 7.0, 9.0, 11.5, 13.9, 14.0, 17.0, 22.5)),
            ran=ran,
            speed=self.of((2.4, 2.8, 3.1, 3.6)),
        )

    def _whole(
        self, day: int, sport: str, minutes: float, hour: float = 10, *, ran: float, speed: float,
        start: datetime | None = None, **more: Any,
    ) -> Session:  # fmt: skip
        start = start or at(day, hour, self.zone) + timedelta(minutes=int(self.draw.random() * 30))
        seconds = minutes * 60
        running = round(seconds * ran * self.of((1.0, 1.0, 0.95)), 1)
        bpm = self.of((96, 110, 121, 122, 128, 140, 146, 152, 163))
        spent = {
            bpm + step: round(seconds * share, 1)
            for step, share in ((-6, 0.2), (0, 0.5), (7, 0.25), (31, self.of((0.0, 0.05))))
        }
        climbed = self.of((None, 40.0, 150.0, 151.0, 320.0, 900.0))
        notes: dict[str, Any] = {}
        if running and self.draw.random() < 0.5:
            kinds = (("steps", "good", "yes"), ("speed", "weak", "yes"), ("heart rate", "good", "no"))
            notes[RUNNING_SIGNALS] = [
                {"signal": a, "quality": b, "says": c} for a, b, c in kinds if self.draw.random() < 0.5
            ]
        if running and self.draw.random() < 0.15:
            notes["run_with_breaks_s"] = running + 120
        if self.draw.random() < 0.08:
            notes["ridden_s" if sport == "running" else "carried_s"] = 700.0
        known = self.of((0.0, 0.5, 0.9, 1.0, 1.0))
        digest = Digest(
            sport, f"labelled {sport}", running_s=running,
            running_m=self.of((round(running * speed, 1), round(running * speed, 1), None)) if running else None,
            walking_s=round(seconds * (1 - ran), 1) if sport in ("running", "walking") else 0.0,
            hr_known_s=seconds * known, hr_seconds=spent if known else {},
            steps=round(running * 2.7, 1), impact_load=round(running * 2.7 * 2.4, 1), ascent_m=climbed,
            descent_m=self.of((climbed, None, 700.0)), altitude_median_m=self.of((None, 80.0, 1499.0, 1500.0, 2200.0)),
            temperature_median_c=self.of((None, -1.0, 0.0, 1.0, 15.0, 21.9, 22.0, 30.0)), notes=notes,
            **{"easy_hr_per_mps": self.maybe(0.4, round(self.between(44, 52), 3)) if running else None, **more},
        )  # fmt: skip
        stopped = self.of((0, 0, 0, 300))
        return Session(
            key=start.isoformat(), start=start, end=start + timedelta(seconds=seconds + stopped), sport=sport,
            sub_sport="generic", timer_s=self.of((seconds,) * 24 + (0.0,)), elapsed_s=seconds + stopped,
            distance_m=round(running * speed, 1) or None, source=f"{start:%Y%m%d%H%M}.fit", digest=digest,
        )  # fmt: skip

    def _mornings(self, last: int) -> list[Any]:
        """Quiet or wandering mornings before the race, and what comes after it; nights beside them."""
        found: list[Any] = []
        beats, spread, rmssd = self.of((44, 48, 55)), self.of((0.0, 0.5, 1.5, 3.0)), self.of((35.0, 60.0, 90.0))
        calm = self.late and self.draw.random() < 0.8
        up, down = (
            self.of((0,) if calm else (0, 0, 0, 2, 4, 5, 8)),
            self.of((1.0,) if calm else (1.0, 1.0, 1.0, 0.95, 0.85, 0.7, 0.5)),
        )
        kept = self.of((0.3, 0.9, 1.0))
        many = self.of((0, 8, 13, 14, 20, 21, 22, 30, 60, 100))
        slept = self.of((5.5, 5.99, 6.0, 6.5, 6.99, 7.0, 8.0))
        for day in range(-many, last + 1):
            if self.draw.random() > kept:
                continue
            after = day > 0 and self.draw.random() < 0.8
            resting = round(beats + self.between(-spread, spread) + (up if after else 0), 1)
            vary = round(rmssd * (1 + self.between(-0.15, 0.15)) * (down if after else 1.0), 1)
            source = f"m{day}.csv"
            found.append(Morning(on(day), self.maybe(0.93, resting), self.maybe(0.9, vary), source))
            if day > -4 and self.draw.random() < 0.8:
                minutes = round(60 * (slept if after else 7.6) + self.of((0, 0, 0, 20, -20)), 1)
                wake = at(day, 6.5, self.zone)
                found.append(Night(on(day), wake - timedelta(minutes=minutes + 20), wake, minutes, f"n{day}.csv"))
        return found

    def _checkin(self, day: int, *, calm: bool) -> CheckIn:
        hour = self.of((6.0, 7.5, 12.0, 14.0, 20.0, 23.0))
        often = 0.06 if calm else 0.25
        return checkin(
            day,
            order=at(day, hour, self.zone).timestamp(),
            stairs_unaided=self.of((None, True, True, calm)),
            squat_unaided=self.of((None, True, True, calm)),
            soreness=self.of((None, 0.0, 2.0, 2.1, 5.0)),
            pain=self.of((None, 0.0, 2.0, 3.0, *(() if calm else (3.9, 4.0, 5.0, 7.0)))),
            pain_where=self.of((None, "left calf", "knee")),
            energy=self.of((None, 6.9, 7.0, 9.0)),
            mood=self.of((None, 6.9, 7.0, 9.0)),
            symptoms=tuple(self.of(SYMPTOMS) for _ in range(self.of((1, 2))) if self.draw.random() < often),
            note=self.maybe(
                0.15,
                self.of(
                    ("legs fine", "no chest pain today", "felt a stab in the chest", "took ibuprofen", "xyzzy gnarf")
                ),
            ),
            gone=tuple(self.of(("all", "fever", "chest pain")) for _ in (1,) if self.draw.random() < 0.15),
            seen_doctor=self.maybe(0.1, "Dr Berg"),
            source=f"checkin{day}.json",
        )

    def _overrides(self, last: int) -> list[Hold]:
        found = []
        for _ in range(self.of((0, 0, 0, 1, 2))):
            day, hour = max(0, last - self.of((0, 1, 2, 4, 8))), self.of((8.0, 12.0, 19.0))
            found.append(self.of((hold(day, 2, hour), hold(day, None, hour), hold(day, 9, hour), release(day, hour))))
        return found


def days_after(facts: History) -> tuple[date, ...]:
    """A few days around the race, to be foreseen."""
    return tuple(on(day) for day in (1, 5, 8, 15, 22, 27) if facts.athlete.races)
