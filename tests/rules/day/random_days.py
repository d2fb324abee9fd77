"""Random athletes, days and findings, for properties that must hold on every day of anybody."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from hypothesis import strategies as st

from rules.facts import HEALTH, Athlete, History, SampleContext, Session
from rules.findings import Breach, Severity
from rules.judge import Judgement, judge
from tests.rules.people import LIMITS, at, athlete, checkin, history, hold, mornings, nights, race, release, session

LAST_DAY = 40
EVENTS = ("10k", "marathon", "tri_full", "ultra_100k", "ultra_100mi")
SPORTS = ("running", "running", "running", "walking", "cycling", "swimming", "strength", "mobility", "other", "unknown")
SYMPTOMS = ("chest pain", "fever", "dark urine", "hit my head", "heat stroke", "stress fracture", "no fever", "tired")
BREACHES = (
    None,
    ("no_speed_work", Severity.STOP),
    ("no_speed_work", Severity.CAUTION),
    ("intensity_ceiling", Severity.STOP),
    ("intensity_ceiling", Severity.CAUTION),
    ("steep_ground", Severity.CAUTION),
)


@dataclass(frozen=True, repr=False)
class Life:
    """One athlete at one moment, with the judgement of it."""

    runner: Athlete
    facts: History
    now: datetime
    judgement: Judgement

    def __repr__(self) -> str:
        """What made it, in short: samples and plans would fill a screen."""
        facts = self.facts
        said = [f"{each.start:%d %H:%M} {each.digest.sport} {each.timer_s / 60:.0f}" for each in facts.sessions]
        found = [f"{each.date:%d} {each.rule} {each.severity!s}" for each in self.judgement.findings]
        race = self.runner.races[0].event
        return f"Life({race}, {self.now:%d %H:%M}, {said[12:]}, {facts.checkins}, {facts.holds}, {found})"

    def _repr_pretty_(self, printer: Any, cycle: bool) -> None:
        del cycle
        printer.text(repr(self))


def _moments(last: int) -> st.SearchStrategy[tuple[int, float]]:
    return st.tuples(st.integers(0, last), st.sampled_from([0.5, 6.0, 7.0, 11.5, 12.0, 18.0, 23.0]))


def _lately(last: int) -> st.SearchStrategy[tuple[int, float]]:
    """Days and hours, of late more often than long ago."""
    back = st.sampled_from([0, 0, 0, 1, 1, 2, 3, 5, 9, 14, 30])
    return st.tuples(
        back.map(lambda days: max(0, last - days)), st.sampled_from([0.5, 6.0, 7.0, 11.5, 12.0, 18.0, 23.0])
    )


@st.composite
def lives(draw: st.DrawFn) -> Life:
    """An athlete some time after a race, with whatever came in up to then; a quiet life as often as a bad one."""
    last, hour = draw(_moments(LAST_DAY))
    kinds = draw(st.sets(st.sampled_from(["outings", "checkins", "signs", "mornings", "nights", "overrides"])))
    now = at(last, max(hour, 14.0) if last == 0 else hour)
    races = [race(draw(st.sampled_from(EVENTS)), effort=draw(st.sampled_from(["all_out", "controlled"])))]
    runner = athlete(
        *races,
        hr_max=draw(st.sampled_from([None, 190])),
        born=draw(st.sampled_from([None, 1975, 2010])),
        coached=draw(st.booleans()),
        health=tuple(draw(st.lists(st.sampled_from(HEALTH), max_size=2, unique=True))),
    )
    found: dict[str, Any] = {}
    facts: list[Any] = []
    for day, time in draw(st.lists(_lately(last), max_size=8, unique=True)) if "outings" in kinds else ():
        one = session(
            day,
            draw(st.sampled_from(SPORTS)),
            draw(st.sampled_from([5, 18, 20, 30, 45, 60, 61, 90, 150])),
            time,
            running_min=draw(st.sampled_from([0, 0, 0, 15])),
        )
        if one.start >= runner.races[0].finish and one.end <= now:
            facts.append(_whole_run(one))
            found[one.key] = draw(st.sampled_from(BREACHES))
    facts += [session(-35 - 7 * week - back, minutes=30) for week in range(6) for back in (2, 4)]
    for day, time in draw(st.lists(_lately(last), max_size=5)) if "checkins" in kinds else ():
        if at(day, time) <= now:
            facts.append(_checkin(draw, day, time, signs="signs" in kinds))
    since = range(max(1, last - 7), last + 1) if "mornings" in kinds else range(0)
    beats = st.just(60.0) if draw(st.booleans()) else st.sampled_from([47.0, 48.0, 60.0])
    facts += mornings(
        {day: draw(beats) for day in since},
        dict.fromkeys(since, draw(st.sampled_from([20.0, 60.0, 60.0, 60.0]))),
    )
    slept = range(max(1, last - 4), last + 1) if "nights" in kinds else range(0)
    facts += nights({day: draw(st.sampled_from([5.0, 8.0])) for day in slept})
    for day, time in draw(st.lists(_lately(last), max_size=3)) if "overrides" in kinds else ():
        if at(day, time) <= now:
            facts.append(draw(st.sampled_from([hold(day, 2, time), hold(day, None, time), release(day, time)])))

    def judge_one(one: Session, context: SampleContext) -> tuple[Breach, ...]:
        breach = found.get(one.key)
        if breach is None or (breach[0] == "no_speed_work" and context.speed_work == "free"):
            return ()
        return (Breach(breach[0], breach[1], f"A breach of {breach[0]}"),)

    known = history(*facts, runner=runner, last_file_at=now)
    return Life(runner, known, now, judge(known, now, LIMITS, 72, judge_one))


def _whole_run(one: Session) -> Session:
    """A run is running all through, whatever was drawn."""
    return replace(one, digest=replace(one.digest, running_s=one.timer_s)) if one.digest.sport == "running" else one


def _checkin(draw: st.DrawFn, day: int, time: float, *, signs: bool) -> Any:
    return checkin(
        day,
        order=at(day, time).timestamp(),
        stairs_unaided=draw(st.sampled_from([None, True, False])),
        squat_unaided=draw(st.sampled_from([None, True])),
        pain=draw(st.sampled_from([None, 0.0, 3.0, 4.0, 7.0])),
        mood=draw(st.sampled_from([None, 9.0])),
        symptoms=tuple(draw(st.lists(st.sampled_from(SYMPTOMS), max_size=2))) if signs else (),
        gone=tuple(draw(st.lists(st.sampled_from(["all", "fever", "chest pain"]), max_size=1))),
        seen_doctor=draw(st.sampled_from([None, None, None, "Dr Berg"])),
    )
