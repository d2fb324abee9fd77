"""What the label of a file claims, and what a session counts as once its sport was judged."""

from __future__ import annotations

from datetime import date
from math import isfinite
from typing import Literal

from rules.facts import Athlete, Session
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
