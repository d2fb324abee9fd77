"""The first look at a folder: old files are no silence, and what a rebuild looks at first is not one either."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

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
