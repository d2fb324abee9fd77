"""The list of stages says what the program does: a real file is followed through it."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import CodeType, FrameType

import pytest

from monitor.intake.reading import ReadJob, read_path
from monitor.intake.workers import Workers
from monitor.pipeline import STAGES, Stage
from monitor.values import IntakeOptions
from tests.process.daemons import run_file
from tests.scenarios.home import ROSTER, Scene


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.name)
def test_a_stage_takes_and_gives_what_its_function_is_annotated_with(stage: Stage) -> None:
    annotations = dict(stage.done_by.__annotations__)
    assert stage.gives in annotations.pop("return")
    assert any(stage.takes in annotation for annotation in annotations.values())


def test_a_file_goes_through_the_stages_in_their_order(tmp_path: Path) -> None:
    now = datetime.now(UTC).replace(microsecond=0)
    finish = (now - timedelta(hours=60)).astimezone().replace(tzinfo=None)
    stages: dict[CodeType, str] = {stage.done_by.__code__: stage.name for stage in STAGES}
    begun: list[str] = []

    def see(frame: FrameType, event: str, _: object) -> None:
        if event == "call" and (name := stages.get(frame.f_code)) and name not in begun:
            begun.append(name)

    with Workers(1) as workers:
        scene = Scene(tmp_path, workers, ROSTER.replace("2026-10-04T13:47:00", finish.isoformat()))
        scene.drop("run.fit", run_file(2))
        sys.setprofile(see)
        try:
            scene.scan(now)
            in_pass, begun = begun, []
            read_path(ReadJob(scene.exports, "run.fit", IntakeOptions("Europe/Oslo")))
        finally:
            sys.setprofile(None)
    assert scene.sent.messages
    assert begun == ["decode"], "what a worker does in its own process is followed in this one"
    names = [stage.name for stage in STAGES]
    outside = [name for name in names if name != "decode"]
    assert sorted(in_pass, key=outside.index) == outside
    assert in_pass == ["stabilise", "watch", *outside[2:]], "settling is what looks"
