"""One session, one truth: the same outing in several files is judged and told once, by the best recording.

The athlete and the plan are those of test_contract_cases.py; the outing is a run in days off.
"""

from __future__ import annotations

import gzip
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from monitor.intake.workers import Workers
from tests.scenarios.home import Scene
from tests.scenarios.odd_devices import Columns, fit, gpx, recorded
from tests.scenarios.outings import run
from tests.scenarios.test_contract_cases import at

START = at(5)
NIGHT = at(5, 22)


def outing(minutes: float = 24) -> Columns:
    return recorded(run(minutes, 118), position_noise_m=2)


def part(columns: Columns, begin: int, end: int) -> Columns:
    cut = {name: column[begin:end].copy() for name, column in columns.items()}
    cut["t_s"] -= cut["t_s"][0]
    cut["distance_m"] -= cut["distance_m"][0]
    return cut


def rules(scene: Scene) -> list[str]:
    return [finding.rule for finding in scene.findings()]


def states(scene: Scene) -> dict[str, str]:
    with scene.scanner(NIGHT).store.reading() as con:
        return dict(con.execute("SELECT path, state FROM intake").fetchall())


@pytest.mark.parametrize("together", [True, False])
def test_the_same_session_in_two_formats_is_one(together: bool, tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("watch.fit", fit(START, outing()))
    first = None if together else scene.scan(NIGHT)
    scene.drop("phone.gpx", gpx(START, outing(), "walking"))
    second = scene.scan(NIGHT)
    assert sum(report.counts()["sessions"] for report in (first, second) if report) == 1
    assert rules(scene) == ["no_running"]
    assert len(scene.sent.messages) == 1
    assert states(scene) == {"watch.fit": "read", "phone.gpx": "duplicate"}


def test_a_better_recording_that_comes_later_replaces_the_first_and_is_not_told_again(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("phone.gpx", gpx(START + timedelta(seconds=55), outing(), heart=False))
    scene.scan(NIGHT)
    before = scene.findings()
    assert [finding.rule for finding in before] == ["no_running", "not_judged"]
    scene.drop("watch.fit", fit(START, outing()))
    report = scene.scan(NIGHT)
    after = scene.findings()
    assert [(finding.rule, finding.source) for finding in after] == [("no_running", "watch.fit")]
    assert report.counts()["sessions"] == 0
    stops = [body for _, title, body in scene.sent.messages if title.startswith("STOP")]
    assert len(stops) == 1


def test_two_devices_with_clocks_a_minute_apart_are_told_once(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("left.fit", fit(START, outing(24)))
    scene.scan(NIGHT)
    scene.drop("right.fit", fit(START + timedelta(minutes=1), outing(23), without=("hr_bpm",)))
    scene.scan(NIGHT)
    assert rules(scene) == ["no_running"]
    assert len(scene.sent.messages) == 1


def test_halves_that_a_device_cut_are_one_run(tmp_path: Path, workers: Workers) -> None:
    whole = recorded(run(36), position_noise_m=2)
    scene = Scene(tmp_path, workers)
    scene.drop("one.fit", fit(at(16), part(whole, 0, 1100)))
    scene.drop("two.fit", fit(at(16) + timedelta(seconds=1105), part(whole, 1105, 2160)))
    report = scene.scan(at(16, 22))
    assert report.counts()["sessions"] == 1
    (finding,) = scene.findings()
    assert (finding.rule, round(finding.observed or 0)) == ("duration_cap", 36)


def test_a_longer_export_of_the_same_session_worsens_the_finding_once(tmp_path: Path, workers: Workers) -> None:
    whole = recorded(run(50), position_noise_m=2)
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", fit(at(16), part(whole, 0, 2300)))
    scene.scan(at(16, 22))
    assert [str(finding.severity) for finding in scene.findings()] == ["caution"]
    scene.drop("run.fit", fit(at(16), whole))
    scene.scan(at(16, 22))
    assert [str(finding.severity) for finding in scene.findings()] == ["stop"]
    assert len(scene.sent.messages) == 2
    scene.scan(at(16, 22))
    assert len(scene.sent.messages) == 2


def test_a_compressed_copy_adds_nothing(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    data = fit(START, outing())
    scene.drop("run.fit", data)
    scene.drop("run.fit.gz", gzip.compress(data))
    report = scene.scan(NIGHT)
    assert report.counts()["sessions"] == 1
    assert rules(scene) == ["no_running"]


def test_the_watched_folder_is_left_as_it_was(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", fit(START, outing()))
    scene.drop("cut.fit", fit(START, outing())[:60])
    scene.drop("empty.fit", b"")
    scene.drop("letter.fit", b"Dear coach, this is no recording.")
    before = {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in scene.exports.rglob("*")}
    report = scene.scan(NIGHT)
    assert {path: (path.read_bytes(), path.stat().st_mtime_ns) for path in scene.exports.rglob("*")} == before
    assert report.counts()["unreadable"] == 3
    assert states(scene)["run.fit"] == "read"


def test_times_of_masked_seconds_never_count(tmp_path: Path, workers: Workers) -> None:
    columns = recorded(run(26))
    columns["hr_bpm"][400:700] = np.round(columns["cadence_spm"][400:700])
    scene = Scene(tmp_path, workers)
    scene.drop("run.fit", fit(at(16), columns))
    scene.scan(at(16, 22))
    assert rules(scene) == []


@pytest.mark.parametrize("seed", range(4))
def test_a_label_corrected_in_place_wins_and_the_stop_is_taken_back(
    seed: int, tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    ride = recorded(run(24 + seed, 118, 3.1), position_noise_m=2)  # an easy ride on a bicycle without a sensor
    scene.drop("out.gpx", gpx(START, ride, "running"))
    scene.scan(NIGHT)
    assert rules(scene) == ["no_running"]
    scene.drop("out.gpx", gpx(START, ride, "cycling"))
    report = scene.scan(NIGHT)
    assert report.counts()["sessions"] == 0
    assert "no_running" not in rules(scene)
    assert [title for _, title, _ in scene.sent.messages if "taken back" in title.lower()] != [] or any(
        "taken back" in body.lower() for _, _, body in scene.sent.messages
    )
    assert scene.sent.messages[0][0] == scene.sent.messages[-1][0]
    scene.drop("out.gpx", gpx(START, ride, "running"))  # and back again
    scene.scan(NIGHT)
    assert rules(scene) == ["no_running"]


@pytest.mark.parametrize("minutes", [(24, 12), (12, 24)])
def test_a_file_corrected_in_place_says_what_a_new_store_says(
    minutes: tuple[int, int], tmp_path: Path, workers: Workers
) -> None:
    scene, fresh = Scene(tmp_path / "a", workers), Scene(tmp_path / "b", workers)
    for length in minutes:
        scene.drop("out.fit", fit(START, outing(length)))
        scene.scan(NIGHT)
    fresh.drop("out.fit", fit(START, outing(minutes[-1])))
    fresh.scan(NIGHT)
    told = [[(each.rule, each.observed) for each in one.findings()] for one in (scene, fresh)]
    assert told[0] == told[1]


def test_another_session_written_to_the_same_name_leaves_the_first(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("latest.fit", fit(START, outing()))
    scene.scan(NIGHT)
    scene.drop("latest.fit", fit(at(6), outing(20)))
    scene.scan(at(6, 22))
    assert rules(scene) == ["no_running", "no_running"]


def test_the_same_bytes_elsewhere_stand_though_their_first_place_says_otherwise(
    tmp_path: Path, workers: Workers
) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("a.fit", fit(START, outing()))
    scene.scan(NIGHT)
    scene.drop("b.fit", fit(START, outing()))
    scene.scan(NIGHT)
    scene.drop("a.fit", fit(START, outing(14)))
    scene.scan(NIGHT)
    assert [round(each.observed or 0) for each in scene.findings()] == [24]


def test_two_devices_that_overlap_by_less_than_half_are_not_added_up(tmp_path: Path, workers: Workers) -> None:
    whole = recorded(run(29, 118), position_noise_m=2)
    scene = Scene(tmp_path, workers)
    scene.drop("watch.fit", fit(at(16), part(whole, 0, 1080)))
    scene.drop("phone.gpx", gpx(at(16) + timedelta(seconds=660), part(whole, 660, 1740), "none"))
    report = scene.scan(at(16, 22))
    assert report.counts()["sessions"] == 1
    assert "duration_cap" not in rules(scene)
