"""Sessions of every kind, clean and not, with what they truly are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.simulator.athletes import Body
from tests.simulator.motion import OTHER, RUN, STILL, WALK, WHEELS, Motion, Truth


@dataclass(frozen=True)
class Scene:
    """One session as it truly was."""

    name: str
    sport: str
    sub_sport: str
    truth: Truth
    fast: bool = False  # speed work in it
    steep: bool | None = False  # None: either answer will do
    judged: str | None = None  # sport that must come out; None: any
    hr_level: float | None = None  # share of reserve for sports not on foot
    turns: float | None = None
    policy: str = "none"
    needs_speed: bool = True
    on_foot: bool = True


Make = Callable[[Body, np.random.Generator], Scene]


def _run(rng: np.random.Generator) -> tuple[str, str]:
    return "running", str(rng.choice(["generic", "street", "trail", "track", "virtual_activity"]))


def easy(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, rng.uniform(1500, 4500), body.easy_mps * rng.uniform(0.93, 1.05))
    return Scene("easy run", *_run(rng), motion.done(rng), judged="running")


def easy_with_stops(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(3, 8))):
        motion.then(RUN, rng.uniform(200, 700), body.easy_mps).then(STILL, rng.uniform(5, 60), 0.0)
    return Scene("easy run with stops", *_run(rng), motion.done(rng), judged="running")


def slightly_faster(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 1200, body.easy_mps).then(RUN, 900, body.easy_mps * 1.05).then(RUN, 600, body.easy_mps)
    return Scene("easy run, a faster flat part", *_run(rng), motion.done(rng), judged="running")


def steady(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 600, body.easy_mps).then(RUN, 1800, max(body.threshold_mps * 0.84, body.easy_mps))
    return Scene("steady run", *_run(rng), motion.done(rng), judged="running")


def rolling(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(5, 12))):
        slope = rng.uniform(0.02, 0.06)
        length = rng.uniform(60, 160)
        motion.then(RUN, length, body.easy_mps * (1 - 3 * slope), slope).then(
            RUN, length * 0.9, body.easy_mps * (1 + slope), -slope
        )
        motion.then(RUN, rng.uniform(60, 240), body.easy_mps)
    return Scene("easy run, rolling", *_run(rng), motion.done(rng), steep=None, judged="running")


def downhill(body: Body, rng: np.random.Generator) -> Scene:
    slope = rng.uniform(0.03, 0.09)
    motion = Motion().then(RUN, 900, body.easy_mps)
    motion.then(
        RUN, rng.uniform(400, 1200), min(body.easy_mps * rng.uniform(1.05, 1.2), body.threshold_mps * 0.9), -slope
    ).then(RUN, 600, body.easy_mps)
    return Scene("easy downhill", "running", "generic", motion.done(rng), steep=None, judged="running")


def easy_trail(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(4, 9))):
        slope = rng.uniform(0.12, 0.2)
        motion.then(WALK, rng.uniform(60, 200), 1.4, slope).then(
            RUN, rng.uniform(60, 200), body.easy_mps * 0.95, -slope * 0.7
        )
        motion.then(RUN, rng.uniform(100, 300), body.easy_mps * 0.9)
    return Scene("easy trail run", "running", "trail", motion.done(rng, 0.05), steep=True, judged="running")


def run_walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(WALK, 300, 1.5)
    run, walk = rng.uniform(45, 300), rng.uniform(30, 120)
    for _ in range(int(rng.integers(6, 12))):
        motion.then(RUN, run, body.easy_mps * rng.uniform(0.95, 1.05)).then(WALK, walk, 1.5)
    return Scene("run-walk", *_run(rng), motion.done(rng), judged="running")


def treadmill(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, rng.uniform(1500, 2700), body.easy_mps)
    return Scene("treadmill", "running", "treadmill", motion.done(rng, 0.01), judged="running")


def car_after_run(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 1500, body.easy_mps).then(WALK, 120, 1.3).then(STILL, 60, 0.0)
    for _ in range(int(rng.integers(3, 8))):
        top = rng.uniform(6, 25)
        motion.then(WHEELS, 12, 0.5, to=top).then(WHEELS, rng.uniform(20, 180), top).then(WHEELS, 8, top, to=0.3)
        motion.then(STILL, rng.uniform(4, 40), 0.0)
    return Scene("run, then a car ride", "running", "generic", motion.done(rng), judged="running", steep=None)


def last_strides(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 1500, body.easy_mps)
    for _ in range(int(rng.integers(4, 7))):
        motion.then(RUN, rng.uniform(14, 21), body.threshold_mps * rng.uniform(1.15, 1.35)).then(
            RUN, 75, body.easy_mps * 0.9
        )
    motion.then(RUN, 300, body.easy_mps)
    return Scene("strides where allowed", "running", "generic", motion.done(rng), judged="running", policy="strides")


def walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(WALK, rng.uniform(900, 5000), rng.uniform(1.1, 1.6))
    return Scene("walk", "walking", "generic", motion.done(rng, 0.05), judged="walking")


def brisk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(WALK, rng.uniform(900, 3600), rng.uniform(1.7, 2.0))
    return Scene("brisk walk", "walking", "generic", motion.done(rng), judged="walking")


def crossing(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(4):
        motion.then(WALK, 400, 1.5).then(RUN, rng.uniform(4, 8), 2.8)
    return Scene(
        "walk, trots over crossings", "walking", "generic", motion.then(WALK, 300, 1.5).done(rng), judged="walking"
    )


def race_walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(OTHER, rng.uniform(1500, 3600), rng.uniform(2.5, 3.4))
    return Scene(
        "race walk",
        "walking",
        "speed_walking",
        motion.done(rng),
        judged="walking",
        turns=rng.uniform(165, 190),
        hr_level=0.6,
    )


def hike(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(6):
        slope = rng.uniform(0.16, 0.25)
        motion.then(WALK, 400, 0.9, slope).then(WALK, 350, 1.1, -slope).then(WALK, 200, 1.4)
    return Scene("hike", "hiking", "generic", motion.done(rng, 0.06), steep=True, judged="walking")


def ride(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(6, 20))):
        motion.then(WHEELS, rng.uniform(60, 400), rng.uniform(4, 11), rng.uniform(-0.04, 0.04))
    label = [("cycling", "road"), ("cycling", "generic"), ("e_biking", "generic"), ("generic", "generic")][
        int(rng.integers(4))
    ]
    return Scene(
        "ride", *label, motion.done(rng), judged="cycling", turns=rng.uniform(60, 95), hr_level=0.5, on_foot=False
    )


def indoor(body: Body, rng: np.random.Generator) -> Scene:
    kinds = [
        ("swimming", "lap_swimming", "swimming", 28),
        ("rowing", "indoor_rowing", "rowing", 24), ("fitness_equipment", "elliptical", "elliptical", 155),
        ("cross_country_skiing", "generic", "skiing", 50),
        ("training", "strength_training", "strength", 0), ("training", "yoga", "yoga", 0),
        ("training", "flexibility_training", "mobility", 0),
        ("training", "pilates", "yoga", 0), ("fitness_equipment", "stair_climbing", "other", 100),
        ("jump_rope", "generic", "other", 130),
        ("cycling", "indoor_cycling", "cycling", 90), ("training", "cardio_training", "other", 60),
    ]  # fmt: skip
    sport, sub, judged, turns = kinds[int(rng.integers(len(kinds)))]
    truth = Motion().then(OTHER, rng.uniform(1200, 3000), 0.0).done(rng)
    return Scene(
        f"indoors: {judged}",
        sport,
        sub,
        truth,
        judged=judged,
        hr_level=0.4,
        turns=turns,
        needs_speed=False,
        on_foot=False,
    )


def slow_ride(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(6, 15))):
        motion.then(WHEELS, rng.uniform(60, 300), rng.uniform(3.2, 6.5)).then(STILL, rng.uniform(0, 20), 0.0)
    truth = motion.done(rng, 0.08)
    return Scene(
        "slow ride",
        "generic",
        "generic",
        truth,
        judged="cycling",
        turns=rng.uniform(60, 90),
        hr_level=0.4,
        on_foot=False,
    )


def long_easy(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, rng.uniform(5400, 9000), body.easy_mps, to=body.easy_mps * rng.uniform(0.85, 1.02))
    return Scene("long easy run", *_run(rng), motion.done(rng), judged="running")


def slow_start(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 500, body.easy_mps * 0.85, to=body.easy_mps * 0.97).then(RUN, 1800, body.easy_mps)
    return Scene("easy run, slow start", *_run(rng), motion.done(rng), judged="running")


def town_walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for _ in range(int(rng.integers(5, 15))):
        slope = rng.uniform(-0.06, 0.06)
        motion.then(WALK, rng.uniform(60, 300), rng.uniform(1.2, 1.7), slope).then(STILL, rng.uniform(1, 60), 0.0)
    label = [("walking", "generic"), ("walking", "casual_walking"), ("generic", "generic")][int(rng.integers(3))]
    return Scene("walk through town", *label, motion.done(rng, 0.06), judged="walking", steep=None)


def bus_in_walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(WALK, 600, 1.5).then(STILL, 90, 0.0)
    for _ in range(int(rng.integers(3, 7))):
        top = rng.uniform(8, 16)
        motion.then(WHEELS, 12, 0.5, to=top).then(WHEELS, rng.uniform(20, 90), top).then(WHEELS, 8, top, to=0.3)
        motion.then(STILL, rng.uniform(8, 40), 0.0)
    return Scene("walk with a bus ride", "walking", "generic", motion.then(WALK, 500, 1.5).done(rng), steep=None)


CLEAN: tuple[Make, ...] = (
    easy, easy_with_stops, slightly_faster, steady, rolling, downhill, easy_trail, run_walk, treadmill, car_after_run,
    last_strides, walk, brisk, crossing, race_walk, hike,
    ride, indoor, slow_ride, long_easy, slow_start, town_walk, bus_in_walk,
)  # fmt: skip
