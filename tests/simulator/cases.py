"""A recording with its stage's limits and the findings that must come of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from rules.facts import Ceiling, SampleContext, Session, Threshold
from rules.findings import Breach
from rules.limits import default_limits
from rules.session.digest import digest
from rules.session.timeline import stretches
from rules.session_rules import judge_samples
from tests.simulator import devices, faults
from tests.simulator.athletes import Body, invent
from tests.simulator.files import recording_of
from tests.simulator.hard_scenarios import HARD
from tests.simulator.motion import STILL, Truth
from tests.simulator.scenarios import CLEAN, Scene

LIMITS = default_limits()
START = datetime(2026, 10, 9, 16, tzinfo=UTC)
NEEDS_ALTITUDE = ("hill repeats", "steep run", "long descent", "hike", "easy trail run", "hill sprints")


@dataclass
class Case:
    """What went in, what is true, what came out."""

    seed: int
    scene: Scene
    body: Body
    device: devices.Device
    table: dict[str, np.ndarray]
    context: SampleContext
    ceiling: frozenset[str]  # none, caution, stop: what is true with and without the seconds that a fault took
    faults: tuple[str, ...]
    pauses: tuple[tuple[float, float], ...] = ()
    found: tuple[Breach, ...] = ()
    running_s: float = 0.0
    sport: str = ""

    def severity(self, rule: str) -> str:
        return next((str(breach.severity) for breach in self.found if breach.rule == rule), "none")


def make(seed: int, hard: bool, faulty: float = 0.4) -> Case:
    """A random session; the same seed gives the same one."""
    rng = np.random.default_rng(seed)
    body = invent(rng)
    kinds = HARD if hard else CLEAN
    scene = kinds[seed % len(kinds)](body, rng)
    device = _device(scene, rng)
    truth = scene.truth
    reserve = body.hr_max - body.hr_rest
    target = None if scene.hr_level is None else np.full(truth.size, body.hr_rest + scene.hr_level * reserve)
    hr = devices.heart(truth, body, rng, target)
    table = devices.record(truth, body, device, hr, devices.steps(truth, body, rng, scene.turns), rng)
    status = str(rng.choice(["none", "caution", "stop"], p=[0.5, 0.2, 0.3])) if hard else "none"
    pauses = _pause(table, truth, rng)
    ceiling = _ceiling(table["hr_bpm"], _seconds(table["t_s"]), status, rng)
    true_hr, seconds = table["hr_bpm"].copy(), _seconds(table["t_s"])
    before = {"t_s": table["t_s"].copy(), "hr_bpm": true_hr}
    broken = _break(table, rng, faulty, scene)
    sound = np.isin(before["t_s"], table["t_s"][_same(table, before)])
    allowed = {_status(true_hr, seconds, ceiling.bpm), _status(true_hr[sound], seconds[sound], ceiling.bpm)}
    context = SampleContext(ceiling, scene.policy, True, _threshold(body, scene, rng))
    return Case(seed, scene, body, device, table, context, frozenset(allowed), broken, pauses)


def judge(case: Case, *, by_file: bool = False) -> Case:
    """Digest and verdict, as intake and judging do it; `by_file` writes and reads a real file on the way."""
    label, table, pauses = (case.scene.sport, case.scene.sub_sport), case.table, case.pauses
    size = max(float(case.scene.truth.size), float(table["t_s"][-1]) if len(table["t_s"]) else 0.0)
    timer = size - sum(end - begin for begin, end in pauses)
    if by_file:
        read = recording_of(case.scene, case.device.name, table, pauses, START)
        label, table, pauses = (read.sport, read.sub_sport), dict(read.samples), read.pauses
        size, timer = read.elapsed_s, read.timer_s
    made = digest(*label, timer, size, pauses, table, LIMITS)
    end = START + timedelta(seconds=size)
    session = Session(START.isoformat(), START, end, *label, timer, size, None, None, made, pauses=pauses)
    found = judge_samples(session, table, case.context, LIMITS)
    return replace(case, found=found, running_s=made.running_s, sport=made.sport)


def _device(scene: Scene, rng: np.random.Generator) -> devices.Device:
    if not scene.needs_speed:
        return devices.Device("no speed", speed="none", altitude="none")
    if scene.sub_sport == "treadmill":
        return devices.Device("treadmill with a pod", altitude="none", speed_sd=0.08)
    choice = devices.SENSORS[int(rng.integers(len(devices.SENSORS)))]
    if scene.name in NEEDS_ALTITUDE and choice.altitude != "barometer":
        return replace(choice, altitude="barometer")
    if scene.turns is not None and choice.one_leg and not scene.on_foot:
        return replace(choice, one_leg=False)
    return choice


def _threshold(body: Body, scene: Scene, rng: np.random.Generator) -> Threshold | None:
    draw = rng.random()
    if draw < 0.5:
        return Threshold(body.threshold_mps, "roster", "high")
    if draw < 0.8:
        return Threshold(
            body.threshold_mps * float(np.clip(rng.normal(1.0, 0.03), 0.94, 1.06)), "race result", "medium"
        )
    if scene.name in ("time trial", "hill repeats", "repeats", "cruise repeats") or draw < 0.85:
        return Threshold(body.threshold_mps, "history", "medium")
    return None


def _seconds(t: np.ndarray) -> np.ndarray:
    return np.minimum(np.diff(t, append=t[-1]), 10.0)


def _status(hr: np.ndarray, seconds: np.ndarray, bpm: int) -> str:
    over, far = seconds[hr > bpm].sum(), seconds[hr >= bpm + 10].sum()
    if over < 120:
        return "none"
    return "stop" if over >= 600 or far >= 180 else "caution"


def _ceiling(hr: np.ndarray, seconds: np.ndarray, status: str, rng: np.random.Generator) -> Ceiling:
    """A ceiling that makes the truth what was asked for, as far as this heart allows."""
    order = np.argsort(-hr)
    ordered, time = hr[order], np.cumsum(seconds[order])
    if status == "caution" and time[-1] > 900:
        for bpm in range(int(ordered[0]), int(ordered[-1]), -1):
            over, far = seconds[hr > bpm].sum(), seconds[hr >= bpm + 10].sum()
            if 180 <= over <= 500 and far <= 140:
                return Ceiling(bpm, 2, "test")
    if status == "stop" and time[-1] > 900:
        return Ceiling(int(ordered[np.searchsorted(time, 800)]) - 1, 2, "test")
    top = ordered[min(int(np.searchsorted(time, 60)), len(ordered) - 1)]
    return Ceiling(int(top + rng.integers(1, 8)), 2, "test")


def _break(table: dict[str, np.ndarray], rng: np.random.Generator, chance: float, scene: Scene) -> tuple[str, ...]:
    done = []
    for kinds in (faults.HEART_FAULTS, faults.PLACE_FAULTS):
        if rng.random() < chance and len(table["t_s"]) > 100 and table["t_s"][-1] > 900:
            fault = kinds[int(rng.integers(len(kinds)))]
            if fault is faults.cadence_lock and not (scene.on_foot and scene.turns is None):
                continue
            fault(table, rng)
            done.append(fault.__name__)
    return tuple(done)


def _same(table: dict[str, np.ndarray], before: dict[str, np.ndarray]) -> np.ndarray:
    """Which samples still tell the heart rate that was."""
    was = before["hr_bpm"][np.searchsorted(before["t_s"], table["t_s"])]
    return table["hr_bpm"] == was


def _pause(table: dict[str, np.ndarray], truth: Truth, rng: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """Some watches stop their clock when the athlete stands."""
    if rng.random() < 0.5:
        return ()
    spans = [(float(a), float(b)) for a, b in stretches(truth.gait == STILL, least=6)]
    for begin, end in spans:
        keep = ~((table["t_s"] > begin) & (table["t_s"] < end))
        for name in list(table):
            table[name] = table[name][keep]
    return tuple(spans)
