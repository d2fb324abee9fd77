"""The contract's tables, case by case, on recordings of known truth: bytes in a folder to findings.

Marathon finished 2026-10-04 13:47 in Oslo, HRmax 190 (ceilings 121 and 146), threshold 4:20/km:
days off 5-11 October, cross-training 12-18 October, test runs 19-25 October.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from monitor.intake.workers import Workers
from tests.scenarios.home import Scene
from tests.scenarios.outings import Stretch, outing, ride, run, walk

OSLO = ZoneInfo("Europe/Oslo")


def at(day: int, hour: int = 18, minute: int = 0) -> datetime:
    return datetime(2026, 10, 4 + day, hour, minute, tzinfo=OSLO)


STRIDES = [*run(12), *[s for _ in range(6) for s in (Stretch(20, 150, 5.0, 186), Stretch(70, 140, 2.5, 160))], *run(5)]
HILLS = [
    *run(10),
    *[s for _ in range(6) for s in (Stretch(90, 170, 3.0, 172, 0.10), Stretch(120, 150, 1.6, 116, -0.10))],
    *run(8),
]
JOG_IN_WALK = [*walk(15), Stretch(360, 130, 2.6, 162), *walk(15)]

CASES = [
    # name, day, hour, sport, sub_sport, stretches, expected {rule: severity}
    ("a quiet walk on day 1", 1, 18, "walking", "generic", walk(40), {}),
    ("a ride within a day of the finish", 1, 10, "cycling", "generic", ride(30, 105), {"rest_hours": "stop"}),
    ("a ride 52 hours after", 2, 18, "cycling", "generic", ride(30, 105), {"rest_hours": "caution"}),
    ("mobility within a day", 1, 10, "training", "flexibility_training", [Stretch(1200, 80)], {}),
    ("a ride 68 hours after", 3, 10, "cycling", "generic", ride(40, 110), {}),
    ("a ride a minute over the cap", 4, 18, "cycling", "generic", ride(46, 110), {}),
    ("a ride of an hour in days off", 4, 18, "cycling", "generic", ride(60, 110), {"duration_cap": "caution"}),
    ("a ride of 70 minutes in days off", 4, 18, "cycling", "generic", ride(70, 110), {"duration_cap": "stop"}),
    (
        "five minutes over the ceiling",
        4, 18, "cycling", "generic", [*ride(15, 110), *ride(5, 127), *ride(15, 108)],
        {"intensity_ceiling": "caution"},
    ),
    (
        "twelve minutes over the ceiling",
        4, 18, "cycling", "generic", [*ride(10, 110), *ride(12, 127), *ride(15, 108)],
        {"intensity_ceiling": "stop"},
    ),
    (
        "far over the ceiling for four minutes",
        4, 18, "cycling", "generic", [*ride(15, 110), *ride(4.5, 138), *ride(15, 108)],
        {"intensity_ceiling": "stop"},
    ),
    ("a minute over the ceiling", 4, 18, "cycling", "generic", [*ride(15, 110), *ride(1, 127), *ride(15, 108)], {}),
    ("an easy run in days off", 5, 18, "running", "generic", run(20, 118), {"no_running": "stop"}),
    ("a walk that turned into a jog", 5, 18, "walking", "generic", JOG_IN_WALK,
     {"no_running": "stop", "intensity_ceiling": "caution"}),
    ("strength in days off", 5, 18, "training", "strength_training", [Stretch(1800, 100)], {"no_strength": "stop"}),
    ("yoga in days off", 5, 18, "training", "yoga", [Stretch(1800, 90)], {"no_strength": "note"}),
    ("strength in cross-training", 10, 18, "training", "strength_training", [Stretch(1800, 120)], {}),
    ("a swim without heart rate", 10, 18, "swimming", "lap_swimming", [Stretch(1800, None, 0.9, 28)],
     {"not_judged": "note"}),
    ("a ride in zone 2 in cross-training", 10, 18, "cycling", "generic", ride(58, 140), {}),
    ("an easy run in the middle of cross-training", 10, 18, "running", "generic", run(15), {"no_running": "stop"}),
    ("one short run at the end of cross-training", 14, 18, "running", "generic", run(18), {"no_running": "note"}),
    ("a longer run at the end of cross-training", 14, 18, "running", "generic", run(26), {"no_running": "stop"}),
    ("an easy test run", 16, 18, "running", "generic", run(26), {}),
    ("a test run of 40 minutes", 16, 18, "running", "generic", run(40), {"duration_cap": "caution"}),
    ("a test run of 50 minutes", 16, 18, "running", "generic", run(50), {"duration_cap": "stop"}),
    ("strides in a test run", 16, 18, "running", "generic", STRIDES, {"no_speed_work": "stop"}),
    (
        "hill repeats in cross-training",
        10, 18, "running", "generic", HILLS,
        {"no_running": "stop", "no_speed_work": "stop", "intensity_ceiling": "stop"},
    ),
    (
        "a tempo run in test runs",
        17, 18, "running", "generic", [*run(8), Stretch(600, 165, 3.9, 178), *run(8)],
        {"no_speed_work": "stop", "intensity_ceiling": "stop"},
    ),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case[0] for case in CASES])
def test_each_case_gives_just_its_findings(case: tuple, tmp_path: Path, workers: Workers) -> None:
    _, day, hour, sport, sub_sport, stretches, expected = case
    scene = Scene(tmp_path, workers)
    scene.drop("anything.fit", outing(at(day, hour), sport, stretches, sub_sport))
    report = scene.scan(at(day, 22))
    found = {finding.rule: str(finding.severity) for finding in scene.findings()}
    context = {"steep_ground"} if "hill" in case[0] else set()
    assert {rule: severity for rule, severity in found.items() if rule not in context} == expected
    assert report.counts()["sessions"] == 1


def test_two_test_runs_on_following_days_are_too_close(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("first.fit", outing(at(16), "running", run(25)))
    scene.drop("second.fit", outing(at(17), "running", run(25)))
    scene.scan(at(17, 22))
    assert [(finding.rule, str(finding.severity), finding.day) for finding in scene.findings()] == [
        ("run_spacing", "caution", 17)
    ]


def test_two_rides_that_share_a_day_share_its_cap(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("morning.fit", outing(at(5, 8), "cycling", ride(30, 110)))
    scene.drop("evening.fit", outing(at(5, 18), "cycling", ride(30, 110)))
    scene.scan(at(5, 22))
    (finding,) = scene.findings()
    assert (finding.rule, str(finding.severity), finding.source) == ("duration_cap", "caution", "evening.fit")


def test_the_same_files_again_change_and_send_nothing(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("a.fit", outing(at(5), "running", run(20)))
    scene.scan(at(5, 22))
    before, sent = scene.findings(), list(scene.sent.messages)
    assert len(sent) == 1
    scene.drop("copy.fit", (scene.exports / "a.fit").read_bytes())
    report = scene.scan(at(5, 23))
    assert report.counts()["duplicate"] == 1
    assert scene.findings() == before
    assert scene.sent.messages == sent


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 1, 0), (1, 0, 2)])
def test_the_order_of_arrival_changes_no_finding(order: tuple[int, ...], tmp_path: Path, workers: Workers) -> None:
    files = [
        ("ride.fit", outing(at(4), "cycling", ride(70, 110))),
        ("run.fit", outing(at(10), "running", STRIDES)),
        ("again.fit", outing(at(16), "running", run(40))),
    ]
    scene = Scene(tmp_path, workers)
    for index in order:
        scene.drop(*files[index])
        scene.scan(at(17, 12))
    together = Scene(tmp_path / "together", workers)
    for file in files:
        together.drop(*file)
    together.scan(at(17, 12))
    assert scene.findings() == together.findings()
