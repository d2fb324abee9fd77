"""Sessions that must be found out."""

from __future__ import annotations

import numpy as np

from tests.simulator.athletes import Body
from tests.simulator.motion import RUN, STILL, WALK, Motion
from tests.simulator.scenarios import Make, Scene

LABELS = (
    ("running", "generic"),
    ("running", "street"),
    ("walking", "generic"),
    ("training", "cardio_training"),
    ("generic", "generic"),
    ("other", "generic"),
)


def _label(rng: np.random.Generator) -> tuple[str, str]:
    return LABELS[int(rng.choice(len(LABELS), p=[0.5, 0.1, 0.1, 0.1, 0.1, 0.1]))]


def strides(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 900, body.easy_mps)
    for _ in range(int(rng.integers(4, 9))):
        motion.then(RUN, rng.uniform(15, 21), body.threshold_mps * rng.uniform(1.15, 1.4))
        motion.then(*((WALK, 60, 1.4) if rng.random() < 0.4 else (RUN, 60, body.easy_mps * 0.9)))
    motion.then(RUN, 300, body.easy_mps)
    return Scene("strides", *_label(rng), motion.done(rng), fast=True)


def repeats(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, rng.uniform(500, 1000), body.easy_mps)
    seconds = rng.choice([30, 45, 60, 90, 120, 180, 240])
    fast = body.threshold_mps * (1.25 - 0.05 * np.log(seconds / 30)) * rng.uniform(0.97, 1.03)
    for _ in range(int(rng.integers(4, 9))):
        motion.then(RUN, seconds, fast)
        rest = rng.random()
        if rest < 0.3:
            motion.then(STILL, seconds * 0.5, 0.0)
        elif rest < 0.6:
            motion.then(WALK, seconds * 0.6, 1.4)
        else:
            motion.then(RUN, seconds * 0.7, body.easy_mps * 0.85)
    motion.then(RUN, 400, body.easy_mps)
    return Scene("repeats", *_label(rng), motion.done(rng), fast=True)


def time_trial(body: Body, rng: np.random.Generator) -> Scene:
    motion = (
        Motion()
        .then(RUN, 600, body.easy_mps)
        .then(RUN, rng.uniform(900, 2400), body.threshold_mps * rng.uniform(0.99, 1.08))
    )
    return Scene("time trial", *_label(rng), motion.then(RUN, 400, body.easy_mps).done(rng), fast=True)


def progression(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion()
    for share in np.linspace(0, 1, 6):
        motion.then(RUN, 420, body.easy_mps + share * (body.threshold_mps * 1.04 - body.easy_mps))
    return Scene("progression", *_label(rng), motion.done(rng), fast=True)


def fast_finish(body: Body, rng: np.random.Generator) -> Scene:
    motion = (
        Motion()
        .then(RUN, 1800, body.easy_mps)
        .then(RUN, rng.uniform(300, 600), body.threshold_mps * rng.uniform(1.02, 1.12))
    )
    return Scene("fast finish", *_label(rng), motion.done(rng), fast=True)


def fartlek(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 600, body.easy_mps)
    for _ in range(int(rng.integers(6, 12))):
        motion.then(RUN, rng.uniform(20, 120), body.threshold_mps * rng.uniform(1.06, 1.3)).then(
            RUN, rng.uniform(30, 150), body.easy_mps
        )
    return Scene("fartlek", *_label(rng), motion.then(RUN, 300, body.easy_mps).done(rng), fast=True)


def hill_repeats(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 900, body.easy_mps)
    slope, seconds = rng.uniform(0.06, 0.12), rng.uniform(40, 120)
    cost = (155.4 * slope**5 - 30.4 * slope**4 - 43.3 * slope**3 + 46.3 * slope**2 + 19.5 * slope + 3.6) / 3.6
    up = body.threshold_mps * rng.uniform(1.15, 1.3) / cost
    for _ in range(int(rng.integers(5, 10))):
        motion.then(RUN, seconds, up, slope).then(
            RUN, seconds * up / (body.easy_mps * 0.95), body.easy_mps * 0.95, -slope
        )
    return Scene(
        "hill repeats",
        "running",
        str(rng.choice(["generic", "trail"])),
        motion.then(RUN, 400, body.easy_mps).done(rng),
        fast=True,
        steep=None,
    )


def treadmill_repeats(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 600, body.easy_mps)
    for _ in range(6):
        motion.then(RUN, 60, body.threshold_mps * 1.15).then(RUN, 60, body.easy_mps)
    return Scene("treadmill repeats", "running", "treadmill", motion.done(rng, 0.01), fast=True)


def jog_in_walk(body: Body, rng: np.random.Generator) -> Scene:
    jog = float(np.clip(body.easy_mps, 2.35, 3.4))
    motion = Motion().then(WALK, rng.uniform(300, 1500), 1.5).then(RUN, rng.uniform(180, 600), jog).then(WALK, 900, 1.5)
    label = [("walking", "generic"), ("hiking", "generic"), ("other", "generic"), ("training", "generic")][
        int(rng.integers(4))
    ]
    return Scene("jog in a walk", *label, motion.done(rng))


def hidden_run(body: Body, rng: np.random.Generator) -> Scene:
    jog = float(np.clip(body.easy_mps, 2.35, 4.0))
    label = LABELS[2:][int(rng.integers(4))]
    return Scene(
        "run under another label", *label, Motion().then(RUN, rng.uniform(900, 2700), jog).done(rng), judged="running"
    )


def steep_run(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 600, body.easy_mps)
    for _ in range(4):
        slope = rng.uniform(0.13, 0.2)
        motion.then(WALK, 300, 1.2, slope).then(RUN, 160, body.easy_mps * 0.95, -slope).then(RUN, 200, body.easy_mps)
    return Scene("steep run", "running", "trail", motion.done(rng), steep=True, judged="running")


def long_descent(body: Body, rng: np.random.Generator) -> Scene:
    slope = rng.uniform(0.05, 0.08)
    metres = rng.uniform(220, 400) / slope
    motion = Motion().then(RUN, 600, body.easy_mps).then(RUN, metres / body.easy_mps, body.easy_mps, -slope)
    return Scene("long descent", "running", "generic", motion.done(rng), steep=True, judged="running")


def cruise_repeats(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 900, body.easy_mps)
    for _ in range(int(rng.integers(4, 7))):
        motion.then(RUN, rng.uniform(150, 300), body.threshold_mps * rng.uniform(0.97, 1.0)).then(
            RUN, 90, body.easy_mps * 0.9
        )
    return Scene("cruise repeats", *_label(rng), motion.then(RUN, 400, body.easy_mps).done(rng), fast=True)


def hill_sprints(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 900, body.easy_mps)
    for _ in range(int(rng.integers(5, 9))):
        up = body.threshold_mps * rng.uniform(1.0, 1.1)
        motion.then(RUN, rng.uniform(15, 25), up, 0.08).then(WALK, 60, 1.3, -0.08 * up * 20 / 78)
    return Scene(
        "hill sprints", "running", "generic", motion.then(RUN, 400, body.easy_mps).done(rng), fast=True, steep=None
    )


def sprints_in_a_walk(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(WALK, 600, 1.5)
    for _ in range(int(rng.integers(4, 8))):
        motion.then(RUN, rng.uniform(15, 30), max(body.threshold_mps * 1.25, 4.5)).then(WALK, 75, 1.4)
    return Scene("sprints in a walk", "walking", "generic", motion.then(WALK, 300, 1.5).done(rng), fast=True)


def paused_repeats(body: Body, rng: np.random.Generator) -> Scene:
    motion = Motion().then(RUN, 900, body.easy_mps)
    for _ in range(6):
        motion.then(RUN, 90, body.threshold_mps * 1.12).then(STILL, 60, 0.0)
    return Scene("paused repeats", "running", "generic", motion.then(RUN, 300, body.easy_mps).done(rng), fast=True)


def run_without_speed(body: Body, rng: np.random.Generator) -> Scene:
    truth = Motion().then(RUN, rng.uniform(1200, 2400), body.easy_mps).done(rng)
    return Scene(
        "treadmill run called cardio", "training", "cardio_training", truth, judged="running", needs_speed=False
    )


HARD: tuple[Make, ...] = (
    strides, repeats, time_trial, progression, fast_finish,
    fartlek, hill_repeats, treadmill_repeats, jog_in_walk, hidden_run,
    steep_run, long_descent, cruise_repeats, hill_sprints, sprints_in_a_walk, paused_repeats, run_without_speed,
)  # fmt: skip
