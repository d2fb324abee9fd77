"""The first look at a folder: old files are no silence, and what a rebuild looks at first is not one either."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from monitor.intake.workers import Workers
from monitor.rebuilding import rebuild
from tests.scenarios.home import Scene
from tests.scenarios.outings import outing, walk
from tests.scenarios.test_contract_cases import at


def rules(scene: Scene) -> list[str]:
    return [finding.rule for finding in scene.findings()]


def test_an_old_folder_is_no_silence_when_it_is_looked_at_first(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("walk.fit", outing(at(1), "walking", walk(20)))
    begun = at(9, 12)
    scene.scan(begun)
    assert "gone_quiet" not in rules(scene)
    scene.scan(begun + timedelta(hours=71))
    assert "gone_quiet" not in rules(scene)
    scene.scan(begun + timedelta(hours=73))
    assert "gone_quiet" in rules(scene), "counted from the first look on"


def test_a_rebuilt_store_counts_a_silence_on(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("walk.fit", outing(at(1), "walking", walk(20)))
    scene.scan(at(2, 12))
    scene.scan(at(4, 12))
    rebuild(scene.home, at(4, 12))
    scene.scan(at(6, 12))
    assert "gone_quiet" in rules(scene)


def silences(scene: Scene) -> list[str]:
    return [title for _, title, _ in scene.sent.messages if "nothing came" in title]


@pytest.mark.parametrize("damaged", [False, True])
def test_a_silence_that_was_told_is_not_told_again_by_a_rebuilt_store(
    tmp_path: Path, workers: Workers, damaged: bool
) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("early.fit", outing(at(0, 20), "walking", walk(20)))
    scene.scan(at(1, 7))
    scene.drop("walk.fit", outing(at(1), "walking", walk(20)))
    scene.scan(at(3, 12))  # it came two days after it was recorded
    scene.scan(at(6, 14))
    assert len(silences(scene)) == 1
    before = scene.findings()
    if damaged:
        scene.home.store.write_bytes(b"no store" * 1000)
    rebuild(scene.home, at(6, 15))
    scene.scan(at(6, 15))
    assert len(silences(scene)) == 1
    assert damaged or scene.findings() == before
    scene.drop("ride.fit", outing(at(6), "walking", walk(20)))
    scene.scan(at(6, 16))
    assert "files arrive again" in scene.sent.messages[-1][1]
    scene.scan(at(10, 12))
    assert len(silences(scene)) == 2, "another silence is told"


def test_a_file_that_came_late_is_no_silence_for_a_rebuilt_store_either(tmp_path: Path, workers: Workers) -> None:
    scene = Scene(tmp_path, workers)
    scene.drop("early.fit", outing(at(0, 20), "walking", walk(20)))
    scene.scan(at(1, 7))
    scene.drop("walk.fit", outing(at(1), "walking", walk(20)))
    scene.scan(at(6, 12))
    rebuild(scene.home, at(6, 13))
    scene.scan(at(6, 13))
    assert "gone_quiet" not in rules(scene)
