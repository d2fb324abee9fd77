"""Pictures of one session: what climbing is worth beside its speed, plain ground folded away, miles for some."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from monitor.board.session_view import SessionView, session_view
from monitor.drawing import Drawing
from rules.facts import SAMPLE_COLUMNS, Digest, Session
from rules.limits import default_limits
from rules.session.ground import cost_of_running
from rules.session.timeline import Samples

SECONDS = 1800
START = datetime(2026, 10, 17, 16, tzinfo=UTC)


def _view(altitude_m: np.ndarray, *, units: str = "metric") -> SessionView:
    t = np.arange(SECONDS, dtype=float)
    told = {
        "t_s": t,
        "hr_bpm": _heart(altitude_m),
        "speed_mps": np.full_like(t, 2.5) + 0.05 * np.sin(t / 9),
        "distance_m": 2.5 * t,
        "altitude_m": altitude_m,
        "cadence_spm": np.full_like(t, 165.0),
    }
    samples = {name: told.get(name, np.full_like(t, np.nan)) for name in SAMPLE_COLUMNS}
    digest = Digest("running", running_s=SECONDS, running_m=2.5 * SECONDS, ascent_m=120.0, descent_m=120.0)
    session = Session(
        "k", START, START + timedelta(seconds=SECONDS), "running", "generic", SECONDS, SECONDS, 2.5 * SECONDS, "a.fit",
        digest,
    )  # fmt: skip
    return _drawn(session, samples, units=units)


def _drawn(
    session: Session, samples: Samples, *, units: str = "metric", highest_bpm: float | None = None
) -> SessionView:
    lines = Drawing(session, (), None, highest_bpm).of_samples(samples, default_limits())
    return session_view(session, lines, (), None, units)


def test_beats_that_this_heart_does_not_do_are_shown_no_more_than_they_are_judged() -> None:
    t = np.arange(float(SECONDS))
    beats = np.where((t > 600) & (t < 700), 215.0, 130.0)
    steady = {"t_s": t, "hr_bpm": beats, "speed_mps": np.full(SECONDS, 7.0)}
    samples = {name: steady.get(name, np.full(SECONDS, np.nan)) for name in SAMPLE_COLUMNS}
    end = START + timedelta(seconds=SECONDS)
    ride = Session("k", START, end, "cycling", "generic", SECONDS, SECONDS, None, "a.fit", Digest("cycling"))
    of_anyone = _drawn(ride, samples)
    of_this_one = _drawn(ride, samples, highest_bpm=178)
    assert all("215" not in row[3] for row in of_this_one.minutes)
    assert of_anyone != of_this_one


def _heart(altitude_m: np.ndarray) -> np.ndarray:
    """A heart that answers the climbs as hearts do; one that does not would make the altitude doubtful."""
    asked = 130 + 24 * 2.5 * (cost_of_running(np.gradient(altitude_m) / 2.5) / cost_of_running(np.zeros(1)) - 1)
    beats = [float(asked[0])]
    for goal in asked[1:].tolist():
        beats.append(beats[-1] + (goal - beats[-1]) / 57)
    return np.rint(np.array(beats))


def _hills() -> np.ndarray:
    return np.asarray(100 + 30 * (1 - np.cos(np.arange(SECONDS) * 2 * np.pi / 600)) * 1.0)


def test_climbing_shows_what_it_is_worth_on_the_level_beside_its_speed() -> None:
    hilly, level = _view(_hills()), _view(np.full(SECONDS, 100.0))
    by_title = {figure.title: figure for figure in hilly.figures}
    speed = by_title["Speed, min:s a km"]
    assert 'class="worth"' in speed.chart
    assert any(key.mark == "worth" for key in speed.keys)
    assert not any('class="worth"' in figure.chart for figure in level.figures)
    on_the_level = [row[5] for row in hilly.minutes]
    assert any(words.endswith("/km") for words in on_the_level)
    assert {row[5] for row in level.minutes} == {"–"}


def test_plain_ground_folds_away() -> None:
    hilly, level = _view(_hills()), _view(np.full(SECONDS, 100.0) + np.sin(np.arange(SECONDS) / 60))
    assert [figure.title for figure in hilly.figures][-1] == "Ground, m"
    assert hilly.folded == ()
    assert [figure.title for figure in level.folded] == ["Ground, m"]


@pytest.mark.parametrize(
    ("units", "speed", "ground", "distance"),
    [
        ("metric", "Speed, min:s a km", "Ground, m", "4.50 km"),
        ("imperial", "Speed, min:s a mile", "Ground, ft", "2.80 miles"),
    ],
)
def test_units_are_those_of_the_reader(units: str, speed: str, ground: str, distance: str) -> None:
    view = _view(_hills(), units=units)
    assert {speed, ground} <= {figure.title for figure in view.figures}
    drawn = next(figure.chart for figure in view.figures if figure.title == ground)
    unit = ground.removeprefix("Ground, ")
    assert len(re.findall(rf">[\d.]+ {unit}</text>", drawn)) == 2, "the unit stands at both ends of the scale"
    assert dict(view.facts)["distance"] == distance
    said = next(figure.said for figure in view.figures if figure.title == speed)
    assert ("/mile" if units == "imperial" else "/km") in said
