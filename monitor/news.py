"""What is told beside findings, and to whom: values, before they are words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from pydantic import Field

from monitor.values import ClockFace, Units
from rules.limits import default_limits
from rules.plan import GateRecord, Plan, PlannedStage

MOST_FILES_SHOWN = 10


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads it, and about whom."""

    role: Literal["athlete", "coach"]
    athlete: str  # id
    name: str
    called: str  # short name, where no other athlete has the same
    zone: ZoneInfo
    coach: str = ""  # whom an athlete can ask, by name
    units: Units = "metric"
    face: ClockFace = "24h"
    url: str = ""  # where the reader's own pages are

    @property
    def coached(self) -> bool:
        """Whether there is a coach whom the athlete can ask."""
        return self.role == "coach" or bool(self.coach)

    @property
    def who(self) -> str:
        """Before what a coach reads of an athlete; an athlete knows."""
        return f"{self.called}: " if self.role == "coach" and self.called else ""


# What is told and is no finding, as values: words are made of them when they are sent or shown, never read back.


@dataclass(frozen=True, slots=True)
class FilesUnreadable:
    """`paths` are those named, relative and with the athlete's id before them; `count` is how many there are."""

    paths: tuple[str, ...]
    count: int
    what: Literal["files_unreadable"] = "files_unreadable"


@dataclass(frozen=True, slots=True)
class PastRead:
    """What a first look at an athlete's folder put on record and did not send."""

    sessions: int
    late: int
    late_after_days: float
    what: Literal["past_read"] = "past_read"


@dataclass(frozen=True, slots=True)
class FolderNews:
    """A folder that cannot be looked into, and why as `reasons.stored`; without a reason one that is back."""

    why: str = ""
    what: Literal["folder"] = "folder"


@dataclass(frozen=True, slots=True)
class Trouble:
    """A trouble of the program itself for its owner, as `reasons.stored`."""

    says: str
    what: Literal["trouble"] = "trouble"


@dataclass(frozen=True, slots=True)
class StageBegins:
    """A stage with its limits; None where it has none."""

    stage: str
    first_date: date
    last_date: date
    noted_on: date  # the day on which it was noticed
    day: int  # of the plan, on that day
    plan_days: int
    running: str
    day_min: int | None
    run_min: int | None
    ceiling_bpm: int | None
    strength: str
    speed_work: str
    what: Literal["stage_begins"] = "stage_begins"


@dataclass(frozen=True, slots=True)
class StageHeld:
    """A stage that must wait: why, and what opens the gate before it."""

    before: str
    reasons: tuple[str, ...]
    asks: tuple[str, ...]
    what: Literal["stage_held"] = "stage_held"


@dataclass(frozen=True, slots=True)
class PlanDone:
    """The end of a plan, and what became of it."""

    looked_back: tuple[str, ...]
    what: Literal["plan_done"] = "plan_done"


@dataclass(frozen=True, slots=True)
class Daily:
    """What one day of a plan allows: by `rules.day` an answer and its words, and what goes with them.

    Good for that day only. None where a limit does not exist or is not known.
    """

    day: int
    stage: str
    answer: str
    words: tuple[str, ...] = ()
    stage_ends: date | None = None
    sport: bool = True  # whether anything but walking has a place
    walks: bool = True
    ceiling_bpm: int | None = None
    effort: str = ""
    pace_s_per_km: float | None = None  # of a run, not faster than this
    waits: tuple[str, ...] = ()  # why the next stage waits
    opens_with: tuple[str, ...] = ()
    also: tuple[str, ...] = ()  # mornings, notes, a caution; the last to be left out
    what: Literal["daily"] = "daily"


@dataclass(frozen=True, slots=True)
class DigestRow:
    """One athlete in a coach's morning. `why` is empty where there is nothing to talk about."""

    name: str
    day: int
    stage: str
    answer: str  # what the day allows
    why: str = ""
    call: str = ""  # where somebody must act at once: "phone now"
    silent_since: date | None = None  # no file since
    never_came: bool = False
    begins: str = ""  # the stage that begins on this day
    waits: str = ""  # the stage that waits, and with what it opens
    opens_with: str = ""


@dataclass(frozen=True, slots=True)
class MorningDigest:
    """A coach's morning: all athletes in active plans, whoever needs a word first."""

    rows: tuple[DigestRow, ...]
    what: Literal["digest"] = "digest"


News = Annotated[
    FilesUnreadable | PastRead | FolderNews | Trouble | StageBegins | StageHeld | PlanDone | Daily | MorningDigest,
    Field(discriminator="what"),
]


# A stage that begins or is held, or a plan that is done: what of it is news on a day.

TOLD_FOR = timedelta(days=default_limits().alerts.news_days)


@dataclass(frozen=True, slots=True)
class StageNews:
    """One piece of news of a plan; None where it is only noted."""

    key: str
    news: StageBegins | StageHeld | PlanDone | None


def stage_news(plan: Plan, today: date, looked_back: Callable[[], Sequence[str]] = tuple) -> list[StageNews]:
    """Where the plan stands on a day, and what keeps it there; `looked_back` sums a finished plan up."""
    stage = plan.stage_on(today) if today >= plan.day0 else "before"
    row = plan.planned_stage(today) if stage not in ("before", "done") else None
    if row is None:
        fresh = stage == "done" and today - (plan.last_date + timedelta(days=1)) <= TOLD_FOR
        return [StageNews(stage, PlanDone(tuple(looked_back())) if fresh else None)]
    held = [_held(gate, today) for gate in plan.gates if gate.until is None and gate.reasons]
    return [_begins(row, plan, today), *held]


def _begins(row: PlannedStage, plan: Plan, today: date) -> StageNews:
    news = StageBegins(
        stage=row.stage,
        first_date=row.first_date,
        last_date=row.last_date,
        noted_on=today,
        day=plan.day_of(today),
        plan_days=plan.last_day,
        running=row.running,
        day_min=row.duration_cap_min,
        run_min=row.run_cap_min,
        ceiling_bpm=row.ceiling_bpm,
        strength=row.strength,
        speed_work=row.speed_work,
    )
    return StageNews(f"begins:{row.stage}", news if today - row.first_date <= TOLD_FOR else None)


def _held(gate: GateRecord, today: date) -> StageNews:
    news = StageHeld(gate.before, tuple(shut.reason for shut in gate.reasons), gate.asks)
    return StageNews(f"held:{gate.before}:{gate.since}", news if today - gate.since <= TOLD_FOR else None)
