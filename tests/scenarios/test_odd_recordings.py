"""What a session was, whatever the device, the label or the faults: bytes in a folder to findings.

The athlete and the plan are those of test_contract_cases.py.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from monitor.intake.workers import Workers
from tests.scenarios.home import Scene
from tests.scenarios.odd_devices import NO_GROUND, Columns, fit, gpx, now_and_then, recorded
from tests.scenarios.outings import Stretch, run, walk
from tests.scenarios.test_contract_cases import JOG_IN_WALK, STRIDES, at

NO_SPEED = (*NO_GROUND, "speed_mps", "distance_m")
SPEED = {"no_speed_work": "stop"}
RUNNING = {"no_running": "stop"}


def locked(columns: Columns) -> Columns:
    columns["hr_bpm"][600:1000] = np.round(columns["cadence_spm"][600:1000])
    return columns


def spiky(columns: Columns) -> Columns:
    columns["speed_mps"][700:703] = 14
    columns["hr_bpm"][300:304] = 220
    return columns


def phone(stretches: list[Stretch]) -> Columns:
    return recorded(stretches, position_noise_m=3)


STRIDES_IN_WALK = [
    *walk(10, 100),
    *[s for _ in range(4) for s in (Stretch(18, 118, 5.0, 186), Stretch(60, 108, 1.4, 112))],
    *walk(10, 100),
]
RUN_WALK = [s for _ in range(8) for s in (Stretch(120, 138, 2.9, 166), Stretch(60, 120, 1.5, 114))]
PROGRESSION = [Stretch(240, 114 + 5 * k, 2.6 + 0.2 * k, 164 + 2 * k) for k in range(7)]

CASES: list[tuple[str, int, Callable[[], tuple[str, bytes]], dict[str, str]]] = [
    ("an easy run from a phone", 16, lambda: ("a.gpx", gpx(at(16), phone(run(26)))), {}),
    ("strides from a phone", 16, lambda: ("a.gpx", gpx(at(16), phone(STRIDES))), SPEED),
    ("strides from a phone without a strap", 16, lambda: ("a.gpx", gpx(at(16), phone(STRIDES), heart=False)),
     {**SPEED, "not_judged": "note"}),
    ("a walk from a phone", 5, lambda: ("a.gpx", gpx(at(5), phone(walk(40)), "walking")), {}),
    ("a jog in an unlabelled walk", 5, lambda: ("a.gpx", gpx(at(5), phone(JOG_IN_WALK), "")),
     {**RUNNING, "intensity_ceiling": "caution"}),
    ("strides told now and then", 16, lambda: ("a.fit", fit(at(16), now_and_then(recorded(STRIDES)))), SPEED),
    ("an easy run told now and then", 16, lambda: ("a.fit", fit(at(16), now_and_then(recorded(run(26))))), {}),
    ("a treadmill run called cardio", 10,
     lambda: ("a.fit", fit(at(10), recorded(run(20)), "training", "cardio_training", NO_SPEED)),
     {**RUNNING, "not_judged": "note"}),
    ("an easy treadmill run", 16,
     lambda: ("a.fit", fit(at(16), recorded(run(26)), "running", "treadmill", NO_GROUND)), {}),
    ("run and walk in turns", 16, lambda: ("a.fit", fit(at(16), recorded(RUN_WALK))), {}),
    ("an easy run down a gentle slope", 16,
     lambda: ("a.fit", fit(at(16), recorded([*run(5), Stretch(600, 128, 3.1, 170, -0.06), *run(5)]))), {}),
    ("a car ride left on", 16, lambda: ("a.fit", fit(at(16), recorded([*run(15), Stretch(600, 95, 18.0, 0)]))), {}),
    ("a brisk walk", 5, lambda: ("a.fit", fit(at(5), recorded([Stretch(2400, 110, 1.95, 132)]), "walking")), {}),
    ("race walking", 5,
     lambda: ("a.fit", fit(at(5), recorded([Stretch(1800, 115, 2.9, 182)]), "walking", "speed_walking")), {}),
    ("an electric bike to work", 5,
     lambda: ("a.fit", fit(at(5), recorded([Stretch(1800, 100, 7.5, 70)]), "cycling", "e_bike_fitness")), {}),
    ("an unlabelled ride", 5, lambda: ("a.fit", fit(at(5), recorded([Stretch(1800, 110, 6.5)]), "generic")), {}),
    ("the elliptical", 10,
     lambda: ("a.fit", fit(at(10), recorded([Stretch(1800, 135, None, 150)]), "fitness_equipment", "elliptical",
                           NO_SPEED)),
     {}),
    ("a progression", 16, lambda: ("a.fit", fit(at(16), recorded(PROGRESSION))), SPEED),
    ("a fast finish", 16, lambda: ("a.fit", fit(at(16), recorded([*run(20), Stretch(90, 150, 4.4, 180)]))), SPEED),
    ("a heart rate that follows the feet", 16, lambda: ("a.fit", fit(at(16), locked(recorded(run(26))))), {}),
    ("spikes of speed and heart rate", 16, lambda: ("a.fit", fit(at(16), spiky(recorded(run(26))))), {}),
    ("strides labelled a walk", 5, lambda: ("a.fit", fit(at(5), recorded(STRIDES_IN_WALK), "walking")),
     {**SPEED, **RUNNING}),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_a_session_is_judged_by_what_it_was(
    case: tuple[str, int, Callable[[], tuple[str, bytes]], dict[str, str]], tmp_path: Path, workers: Workers
) -> None:
    _, day, made, expected = case
    scene = Scene(tmp_path, workers)
    scene.drop(*made())
    report = scene.scan(at(day, 22))
    assert {finding.rule: str(finding.severity) for finding in scene.findings()} == expected
    assert report.counts()["sessions"] == 1


@pytest.mark.parametrize("seconds", [8, 15, 30])
def test_a_record_every_so_often_still_tells_a_run(seconds: int, tmp_path: Path, workers: Workers) -> None:
    columns = {name: column[::seconds] for name, column in recorded(run(26, 118)).items()}
    scene = Scene(tmp_path, workers)
    scene.drop("a.fit", fit(at(5), columns))
    scene.scan(at(5, 22))
    assert {finding.rule: str(finding.severity) for finding in scene.findings()} == RUNNING


@pytest.mark.parametrize("seconds", [8, 15])
def test_a_record_every_so_often_holds_no_running_where_there_is_none(
    seconds: int, tmp_path: Path, workers: Workers
) -> None:
    columns = {name: column[::seconds] for name, column in recorded(walk(40)).items()}
    scene = Scene(tmp_path, workers)
    scene.drop("a.fit", fit(at(5), columns, "walking"))
    scene.scan(at(5, 22))
    assert scene.findings() == []
