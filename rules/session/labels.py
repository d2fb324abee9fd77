"""What a session is: by its label, by which of its recordings stands for it, and as what it counts once judged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from math import isfinite
from typing import Literal

from rules.facts import Athlete, Digest, Session
from rules.limits import Limits

# The words of file formats, grouped by what they let us expect.
Family = Literal[
    "run", "walk", "race_walk", "ride", "swim", "row", "elliptical", "ski", "strength", "mobility", "yoga", "game",
    "glide", "vehicle", "gym", "open", "unlabelled",
]  # fmt: skip

_WORDS: dict[Family, str] = {
    "race_walk": "speed_walking race_walking racewalking race_walk",
    "run": "running run jogging trail_running treadmill_running track_running street_running"
    " virtual_run virtual_running indoor_running ultra_run obstacle_run",
    "walk": "walking walk hiking hike mountaineering snowshoeing casual_walking indoor_walking nordic_walking trekking",
    "ride": "cycling ride biking bike e_biking virtual_ride mountain_biking gravel_cycling indoor_cycling spin"
    " hand_cycling bmx cyclocross wheelchair_push_walk wheelchair_push_run spinning",
    "swim": "swimming swim lap_swimming open_water snorkeling diving",
    "row": "rowing row indoor_rowing kayaking paddling rafting stand_up_paddleboarding canoeing",
    "elliptical": "elliptical",
    "ski": "cross_country_skiing alpine_skiing skiing ski snowboarding skate_skiing backcountry_skiing indoor_skiing"
    " roller_skiing",
    "strength": "strength_training strength weight_training weights functional_strength_training",
    "mobility": "flexibility_training breathing breathwork meditation physiotherapy mobility stretching core"
    " core_training recovery rehabilitation",
    "yoga": "yoga pilates",
    "game": "soccer football basketball tennis american_football rugby hockey lacrosse volleyball racket baseball"
    " cricket badminton squash padel pickleball handball ultimate floorball disc_golf golf match",
    "glide": "inline_skating ice_skating horseback_riding sailing surfing windsurfing kitesurfing wakeboarding"
    " water_skiing hang_gliding sky_diving rock_climbing indoor_climbing bouldering fishing hunting"
    " wakesurfing water_tubing jump_rope rope_skipping dance boxing mixed_martial_arts stair_climbing"
    " floor_climbing stair_stepper",
    "vehicle": "driving motorcycling flying boating snowmobiling",
    "gym": "training fitness_equipment cardio_training cardio hiit exercise workout gymnastics crossfit tactical"
    " amrap emom tabata warm_up",
    "open": "multisport transition other",
    "unlabelled": "generic unknown all invalid",
}
_BY_WORD: dict[str, Family] = {word: family for family, words in _WORDS.items() for word in words.split()}
_PARTS: tuple[tuple[str, Family], ...] = (
    ("run", "run"), ("jog", "run"), ("walk", "walk"), ("hik", "walk"), ("bik", "ride"), ("cycl", "ride"),
    ("swim", "swim"), ("rowing", "row"), ("skiing", "ski"), ("yoga", "yoga"), ("pilates", "yoga"),
    ("strength", "strength"),
)  # fmt: skip
_BY_SUB_SPORT: frozenset[Family] = frozenset({"gym", "open", "unlabelled", "walk", "game", "glide"})
"""Families that a more telling sub-sport replaces."""


def family(sport: str, sub_sport: str) -> Family:
    """What to expect of a session, by its label alone."""
    label, sub = _word(sport), _word(sub_sport)
    main = _of(label) or "open"
    detail = _BY_WORD.get(sub)
    if detail == "race_walk" and main in ("walk", "unlabelled", "open", "gym"):
        return "race_walk"
    if detail and main in _BY_SUB_SPORT and detail not in ("open", "unlabelled"):
        return main if main == "walk" else detail
    if main in ("gym", "open", "unlabelled") and sub in ("treadmill", "track", "street", "trail"):
        return "unlabelled"
    return main


def indoors(sport: str, sub_sport: str) -> bool:
    """Whether it was done in a hall or on a machine: its altitude, where there is one, is that of no ground."""
    words = f"{_word(sport)} {_word(sub_sport)}"
    return any(part in words for part in ("treadmill", "indoor", "virtual", "spin", "elliptical", "stair"))


def _word(text: str) -> str:
    return "_".join(text.strip().lower().replace("-", " ").replace("_", " ").split())


def _of(label: str) -> Family | None:
    if not label:
        return "unlabelled"
    if label in _BY_WORD:
        return _BY_WORD[label]
    return next((kind for part, kind in _PARTS if part in label), None)


# What a session counts as: a run, a walk, care of the body, or sport.

WALKING = "walking"
RUNNING = "running"
CARE = frozenset({"mobility"})  # stretching, core, physiotherapy, breathing
NO_EXERCISE = frozenset({"transport"})
MAY_HIDE_RUNNING = frozenset({WALKING, "other", "unknown"})
"""Sports as judged in which seconds of running count; a ride or a swim is never a run."""


def running_seconds(session: Session) -> float:
    """Time of running: all of a run with its breaks, the running part of what is not one; none where unknown."""
    if session.digest.sport == RUNNING:
        if not known_duration(session):
            return 0.0
        whole = max(session.timer_s - carried_seconds(session), 0.0)
        return min(whole, float(session.digest.notes.get("run_with_breaks_s", whole)))
    return session.digest.running_s if session.digest.sport in MAY_HIDE_RUNNING else 0.0


def carried_seconds(session: Session) -> float:
    """Time in which a vehicle carried the watch."""
    return float(session.digest.notes.get("carried_s", 0.0))


def has_running(session: Session, limits: Limits) -> bool:
    """Whether there is running in it, whatever the label; a minute at least."""
    return running_seconds(session) >= limits.no_running.least_seconds


def running_metres(session: Session) -> int | None:
    """Whole metres covered running; None where no distance is known."""
    whole = session.digest.sport == RUNNING and running_seconds(session) == session.timer_s
    metres = session.distance_m if whole else None
    metres = metres if metres is not None else session.digest.running_m
    return None if metres is None or not isfinite(metres) else int(metres + 0.5)


def sport_seconds(session: Session, limits: Limits) -> float:
    """Time that counts to a day's cap: all sport, of a walk only its running, none of the care of the body."""
    sport = session.digest.sport
    if not known_duration(session) or sport in CARE or sport in NO_EXERCISE:
        return 0.0
    if sport in {WALKING, "unknown"}:
        return running_seconds(session) if has_running(session, limits) else 0.0
    if sport == RUNNING:
        return running_seconds(session) + float(session.digest.notes.get("ridden_s", 0.0))
    return session.timer_s


def known_duration(session: Session) -> bool:
    return isfinite(session.timer_s) and session.timer_s > 0


def is_training(session: Session, limits: Limits) -> bool:
    """More than a walk or care of the body; what nobody can tell may be."""
    sport = session.digest.sport
    if sport in {WALKING, RUNNING}:
        return has_running(session, limits)
    if sport == "unknown":
        return session.timer_s >= limits.not_judged.least_seconds
    return sport not in CARE and sport not in NO_EXERCISE


def local_day(session: Session, athlete: Athlete) -> date:
    """A session belongs to the local date of its start."""
    return athlete.local_date(session.start)


# One session, one truth: which of the recordings that overlap in time stand for what the body did. An athlete does
# one thing at a time, so recordings that overlap are the same activity, whatever device, format or label told it. The
# best one stands; parts that a device cut off one another are joined.

FORMAT_ORDER = ("fit", "tcx", "gpx")


@dataclass(frozen=True, slots=True)
class RecordingSpan:
    """A recording as far as telling sessions apart needs it. `quality` is seconds of evidence."""

    number: int
    start: datetime
    end: datetime
    sport: str
    quality: float
    format: str
    sha256: str
    part: int
    judged: str = ""  # the sport as judged

    @property
    def seconds(self) -> float:
        return (self.end - self.start).total_seconds()

    @property
    def untold(self) -> bool:
        """Whether nobody can tell from it what was done."""
        return self.judged in ("unknown", "transport")


@dataclass(frozen=True, slots=True)
class Truth:
    """One session: the recordings that stand for it in order of time, and the key made of its earliest telling.

    Where two of them overlap, the common minutes are the earlier one's.
    """

    key: str
    parts: tuple[RecordingSpan, ...]


def quality(digest: Digest, timer_s: float, limits: Limits) -> float:
    """Seconds of evidence in a recording: heart rate counts twice, speed full, bare time a little."""
    bare, heart = limits.one_truth.bare_time_weight, limits.one_truth.heart_weight
    return round(heart * digest.hr_known_s + digest.speed_known_s + bare * timer_s, 3)


Span = tuple[datetime, datetime]


def stretches(spans: Iterable[Span], apart: timedelta) -> list[Span]:
    """Times that lie so far apart at the most become one, in their order.

    What overlaps or goes on after a moment may be one session, or keep another from being one: a race of a week is
    known only with all its days. So sessions are told apart a whole stretch at a time.
    """
    found: list[Span] = []
    for start, end in sorted(spans):
        if found and start - apart <= found[-1][1]:
            found[-1] = (found[-1][0], max(end, found[-1][1]))
        else:
            found.append((start, end))
    return found


def deduplicate(spans: Iterable[RecordingSpan], limits: Limits) -> tuple[Truth, ...]:
    """Sessions from recordings, the same for any order of them."""
    share = limits.one_truth.overlap_share
    every = list(spans)
    ranked = sorted(every, key=lambda span: (_knows_less(span, every, share), *_rank(span)))
    chosen: list[RecordingSpan] = []
    told: dict[int, list[RecordingSpan]] = {}
    for span in ranked:
        same = [index for index, best in enumerate(chosen) if overlap(span, best) >= share]
        if same:
            told[same[0]].append(span)
        else:
            told[len(chosen)] = [span]
            chosen.append(span)
    order = sorted(range(len(chosen)), key=lambda index: (chosen[index].start, chosen[index].number))
    groups: list[list[int]] = []
    gap = limits.one_truth.join_gap_seconds
    for index in order:
        if groups and _joins(chosen[groups[-1][-1]], chosen[index], gap):
            groups[-1].append(index)
        else:
            groups.append([index])
    return tuple(
        Truth(_key([span for index in group for span in told[index]]), tuple(chosen[index] for index in group))
        for group in groups
    )


def _knows_less(span: RecordingSpan, others: Sequence[RecordingSpan], share: float) -> bool:
    """Whether another tells what was done in the common minutes, and more of each of them: a phone on the table tells
    less than the watch of the spin class beside it, however long it lay there.
    """
    return span.untold and any(
        overlap(span, other) >= share and other.quality * span.seconds > span.quality * other.seconds
        for other in others
        if not other.untold
    )


def _rank(span: RecordingSpan) -> tuple[float, int, datetime, str, int]:
    order = FORMAT_ORDER.index(span.format) if span.format in FORMAT_ORDER else len(FORMAT_ORDER)
    return (-span.quality, order, span.start, span.sha256, span.part)


def overlap(one: RecordingSpan, other: RecordingSpan) -> float:
    """Share of the shorter recording that lies within the other."""
    common = (min(one.end, other.end) - max(one.start, other.start)).total_seconds()
    shorter = min((span.end - span.start).total_seconds() for span in (one, other))
    if shorter <= 0:
        return 1.0 if common >= 0 else 0.0
    return common / shorter


def _joins(before: RecordingSpan, after: RecordingSpan, gap_seconds: float) -> bool:
    """Cut in two by the device, or taken over by another: the same sport goes on in another file after a moment."""
    gap = (after.start - before.end).total_seconds()
    overlapping = gap < 0 and before.judged == after.judged != "" and not before.untold
    same = before.sport == after.sport or overlapping
    return same and before.sha256 != after.sha256 and gap <= gap_seconds


def _key(spans: Sequence[RecordingSpan]) -> str:
    return min(span.start for span in spans).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
