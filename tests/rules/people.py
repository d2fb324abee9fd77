"""Invented athletes, races and facts, built by day after the race."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from rules.facts import Athlete, CheckIn, Digest, History, Hold, Morning, Night, Race, SampleContext, Session
from rules.findings import Breach, Finding
from rules.judge import Judgement, judge
from rules.limits import default_limits
from rules.plan import Plan, build_plan

LIMITS = default_limits()
OSLO = "Europe/Oslo"
FINISH = datetime(2026, 10, 4, 13, 47)  # noqa: DTZ001 - local time, a zone is added


def race(event: str = "marathon", finish: datetime = FINISH, zone: str = OSLO, **more: Any) -> Race:
    return Race(event, finish.replace(tzinfo=ZoneInfo(zone)), **more)


def athlete(*races: Race, zone: str = OSLO, **more: Any) -> Athlete:
    return Athlete("runa", zone, **{"hr_max": 190, **more}, races=races or (race(zone=zone),))


def plan(one: Race | None = None, runner: Athlete | None = None, *, as_of_day: int = 100, **facts: Any) -> Plan:
    runner = runner or athlete(one or race())
    one = one or runner.races[0]
    day0 = one.finish.date()
    return build_plan(one, runner, LIMITS, as_of=day0 + timedelta(days=as_of_day), **facts)


def on(day: int, finish: datetime = FINISH) -> date:
    return finish.date() + timedelta(days=day)


def at(day: int, hour: float = 10, zone: str = OSLO, finish: datetime = FINISH) -> datetime:
    """UTC moment of a local hour of a day after the race."""
    midnight = datetime.combine(on(day, finish), datetime.min.time(), ZoneInfo(zone))
    return midnight.replace(hour=int(hour), minute=int(hour % 1 * 60)).astimezone(UTC)


def session(day: int, sport: str = "running", minutes: float = 30, hour: float = 10, **more: Any) -> Session:
    """A session of a day; `running_min` puts running into what is not a run, `km` is the distance."""
    start = more.pop("start", None) or at(day, hour, more.pop("zone", OSLO))
    running_min = more.pop("running_min", minutes if sport == "running" else 0)
    km = more.pop("km", running_min / 6 if running_min else None)
    running_m = more.pop("running_m", km * 1000 if km and running_min else None)
    seconds = minutes * 60
    digest = Digest(
        sport, running_s=running_min * 60, running_m=running_m, hr_known_s=seconds, **more.pop("digest", {})
    )
    whole = Session(
        key=start.isoformat(),
        start=start,
        end=start + timedelta(seconds=seconds),
        sport=more.pop("label", sport),
        sub_sport="generic",
        timer_s=seconds,
        elapsed_s=more.pop("elapsed_s", seconds),
        distance_m=None if km is None else km * 1000,
        source=f"{start:%Y%m%d%H%M}.fit",
        digest=digest,
    )
    assert not more, more
    return whole


def checkin(day: int, **answers: Any) -> CheckIn:
    return CheckIn(on(day), order=answers.pop("order", at(day, 20).timestamp()), **answers)


def mornings(resting: dict[int, float] | None = None, rmssd: dict[int, float] | None = None) -> list[Morning]:
    """A month of quiet mornings before the race around 48 bpm and 60 ms, and those given by day after it."""
    quiet = [Morning(on(-day), 47.0 + day % 3, 56.0 + 4 * (day % 3)) for day in range(1, 31)]
    days = sorted({*(resting or {}), *(rmssd or {})})
    return quiet + [Morning(on(day), (resting or {}).get(day), (rmssd or {}).get(day)) for day in days]


def nights(hours: dict[int, float]) -> list[Night]:
    return [Night(on(day), total_sleep_min=each * 60) for day, each in hours.items()]


def hold(day: int, days: int | None = None, hour: float = 8) -> Hold:
    return Hold("hold", on(day), at(day, hour), days, "sore")


def release(day: int, hour: float = 9) -> Hold:
    return Hold("release", on(day), at(day, hour))


def quiet(session: Session, context: SampleContext) -> tuple[Breach, ...]:
    """A verdict on samples that never finds anything."""
    del session, context
    return ()


def judged(
    *facts: Any, runner: Athlete | None = None, day: float = 60, now: datetime | None = None, judge_one: Any = quiet
) -> Judgement:
    """The judgement of facts of any kind, at noon of a day after the race; files come in up to then."""
    now = now or at(int(day), 12)
    return judge(history(*facts, runner=runner, last_file_at=now), now, LIMITS, 72, judge_one)


def history(*facts: Any, runner: Athlete | None = None, last_file_at: datetime | None = None) -> History:
    flat: list[Any] = []
    for fact in facts:
        flat.extend(fact if isinstance(fact, Iterable) else [fact])
    kinds = {
        kind: tuple(each for each in flat if isinstance(each, kind))
        for kind in (Session, Night, Morning, CheckIn, Hold)
    }
    return History(
        runner or athlete(),
        kinds[Session],
        kinds[Night],
        kinds[Morning],
        kinds[CheckIn],
        kinds[Hold],
        last_file_at,
    )


def told(judgement: Judgement) -> list[tuple[int, str, str]]:
    """Findings as (day, rule, severity)."""
    return [(each.day, each.rule, str(each.severity)) for each in judgement.findings]


def only(judgement: Judgement, rule: str) -> list[Finding]:
    return [each for each in judgement.findings if each.rule == rule]


def spans(one: Plan) -> list[tuple[str, int, int]]:
    """Stages as (name, first day, last day)."""
    return [(row.stage, row.first_day, row.last_day) for row in one.stages]
