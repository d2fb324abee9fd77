"""What the judge says of recordings that people's devices wrote, against labels made by eye.

They lie outside of the checkout and stay there: in `shared/recordings` beside it, or where FALLOW_RECORDINGS names.
Paces at threshold are those of two of the runners; of the others none is known, so none stands in their roster.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.bench.real_recordings import NO_RUNNING_DAYS, Case, Told, judged, labels_of

ROOT = Path(__file__).parent.parent.parent
FOLDER = Path(os.environ.get("FALLOW_RECORDINGS", ROOT.parent / "shared/recordings")) / "labelled"
PACES = {214: 240.0, 202: 240.0, 196: 335.0}  # by the highest heart rate of a runner: seconds a kilometre
DAYS = (10, 17)
MOST_FALSE_STOPS, MOST_ASKED, MOST_MISSED = 2, 6, 1  # of 63 ordinary runs and of 10 workouts

pytestmark = [
    pytest.mark.skipif(not (FOLDER / "labels.csv").exists(), reason="no real recordings beside this checkout"),
    pytest.mark.timeout(600),
]


@pytest.fixture(scope="module")
def told() -> list[Told]:
    return [judged(FOLDER, label, DAYS, PACES, None) for label in labels_of(FOLDER)]


@pytest.fixture(scope="module")
def cases(told: list[Told]) -> list[Case]:
    return [case for one in told for case in one.cases]


def said(cases: list[Case], rule: str) -> list[tuple[Case, str]]:
    return [(case, case.said.get(rule, ("none", ""))[0]) for case in cases]


def test_every_labelled_recording_is_read(told: list[Told]) -> None:
    assert len(told) > 100
    assert [(one.label.file, one.unread) for one in told if one.unread] == []


@pytest.mark.parametrize("known", [False, True], ids=["no threshold", "threshold known"])
@pytest.mark.parametrize("day", DAYS)
def test_speed_work_is_told_of_workouts_and_not_of_ordinary_runs(cases: list[Case], day: int, *, known: bool) -> None:
    mine = [(c, word) for c, word in said(cases, "no_speed_work") if c.day == day and c.threshold == known]
    ordinary = [(c.label.file, word) for c, word in mine if c.label.ordinary]
    missed = [c.label.file for c, word in mine if c.label.fast and word == "none"]
    assert len([one for one in ordinary if one[1] == "stop"]) <= MOST_FALSE_STOPS, ordinary
    assert len([one for one in ordinary if one[1] == "caution"]) <= MOST_ASKED, ordinary
    assert len(missed) <= MOST_MISSED, missed


def test_running_is_found_where_it_was_and_nowhere_else(cases: list[Case]) -> None:
    mine = [(case, word) for case, word in said(cases, "no_running") if case.day in NO_RUNNING_DAYS]
    assert [c.label.file for c, word in mine if c.label.running == "yes" and word == "none"] == []
    assert [c.label.file for c, word in mine if c.label.running == "no" and word != "none"] == []
