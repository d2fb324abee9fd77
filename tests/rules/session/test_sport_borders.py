"""What a session was and what tells of running in it, each just below, at and above its border."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from rules.facts import Session
from rules.limits import default_limits
from rules.session import gait as walking
from rules.session import labels
from rules.session import track as sports
from rules.session.gait import Motion, gait
from rules.session.labels import Family
from rules.session.timeline import Floats, Stretch, Timeline, stretches, timeline
from rules.session.track import clean
from tests.rules.people import session

LIMITS = default_limits()
NAN = float("nan")


def rows(*parts: tuple[int, float]) -> Floats:
    """So many seconds of each value."""
    return np.concatenate([np.full(seconds, float(value)) for seconds, value in parts])


def track(gaits: Floats, family: Family = "open", by: str = "cadence and speed", **more: Any) -> Any:
    """Seconds that were run (2), walked (1), carried (3) or stood (0), with what these functions ask for."""
    size = len(gaits)

    def channel(name: str) -> Floats:
        value = more.pop(name, NAN)
        return value if isinstance(value, np.ndarray) else np.full(size, float(value))

    return cast(
        "Any",
        SimpleNamespace(
            size=size,
            family=family,
            gait=SimpleNamespace(running=gaits == 2, walking=gaits == 1, vehicle=gaits == 3, by=by),
            clock=SimpleNamespace(real=np.ones(size, np.bool_), rows_s=more.pop("rows_s", np.arange(float(size)))),
            spm=channel("spm"),
            pace=SimpleNamespace(speed_mps=channel("speed")),
            heart=SimpleNamespace(rows_bpm=channel("bpm")),
            ground=SimpleNamespace(slope=channel("slope")),
            recorded=more.pop("recorded", {}),
            ridden_s=0.0,
        ),
    )


# Signals.


@pytest.mark.parametrize(
    ("spm", "told"),
    [
        (138, ("good", "for")),
        (137, ("weak", "for")),
        (125, ("weak", "for")),
        (124, ("weak", "nothing")),
        (NAN, ("none", "nothing")),
    ],
)
def test_steps_from_138_tell_of_running_and_from_125_a_little(spm: float, told: tuple[str, str]) -> None:
    found = sports._cadence(track(np.full(100, 2), spm=spm), LIMITS)
    assert (found.quality, found.says) == told


@pytest.mark.parametrize(("known", "told"), [(49, False), (50, True)])
def test_steps_and_speed_known_for_half_of_the_running_speak(known: int, *, told: bool) -> None:
    half = rows((known, 3.0), (100 - known, NAN))
    ran = track(np.full(100, 2), spm=half * 55, speed=half)
    assert (sports._cadence(ran, LIMITS).quality != "none") == told
    assert (sports._speed(ran, LIMITS).quality != "none") == told


@pytest.mark.parametrize(
    ("speed", "family", "walked", "by", "quality"),
    [
        (2.5, "open", 0, "speed", "good"),
        (2.49, "open", 0, "speed", "weak"),
        (4.2, "open", 0, "speed", "good"),
        (4.21, "open", 0, "speed", "weak"),
        (3.0, "walk", 0, "speed", "weak"),
        (3.0, "open", 50, "speed", "good"),
        (3.0, "open", 51, "speed", "weak"),
        (3.0, "open", 0, "cadence", "weak"),
    ],
)
def test_a_speed_is_good_where_nearly_all_was_at_a_runners(
    speed: float, family: Family, walked: int, by: str, quality: str
) -> None:
    for other in (1, 3):
        ran = track(rows((100, 2), (walked, other)), family, by, speed=speed)
        assert sports._speed(ran, LIMITS).quality == quality


def test_without_a_single_sample_steps_and_speed_say_nothing() -> None:
    nothing = np.zeros(0)
    empty = clean("running", "generic", 10.0, (), dict.fromkeys(("t_s", "cadence_spm", "speed_mps"), nothing), LIMITS)
    assert [signal.says for signal in sports.running_signals(empty, LIMITS)] == ["for", "nothing", "nothing", "nothing"]


def hearts(
    at_run: float, at_walk: float = NAN, run_s: int = 200, walk_s: int = 60, slope: float = NAN
) -> tuple[str, str]:
    beats = rows((walk_s, at_walk), (run_s, at_run))
    found = sports._heart(track(rows((walk_s, 1), (run_s, 2)), bpm=beats, slope=slope), LIMITS)
    return found.quality, found.says


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        ({"at_run": 150}, ("weak", "for")),
        ({"at_run": 149}, ("none", "nothing")),
        ({"at_run": 150, "run_s": 119}, ("none", "nothing")),  # the first minute is not asked
        ({"at_run": 150, "run_s": 120}, ("weak", "for")),
        ({"at_run": 130, "at_walk": 120}, ("weak", "for")),
        ({"at_run": 129, "at_walk": 120}, ("weak", "nothing")),
        ({"at_run": 121, "at_walk": 120}, ("weak", "nothing")),
        ({"at_run": 120, "at_walk": 120}, ("weak", "against")),
        ({"at_run": 110, "at_walk": 120}, ("weak", "against")),
        ({"at_run": 110, "at_walk": 120, "slope": -0.02}, ("weak", "against")),
        ({"at_run": 110, "at_walk": 120, "slope": -0.021}, ("weak", "nothing")),
        ({"at_run": 130, "at_walk": 120, "walk_s": 59}, ("none", "nothing")),
    ],
)
def test_a_heart_tells_of_running_by_what_no_walk_takes_or_by_ten_beats_more(
    heard: dict[str, float], said: tuple[str, str]
) -> None:
    assert hearts(**heard) == said


def test_a_label_is_a_good_sign_and_another_says_nothing() -> None:
    for family, said in (("run", ("good", "for")), ("open", ("none", "nothing"))):
        label = sports._label(track(np.zeros(1), cast("Family", family)))
        assert (label.quality, label.says) == said


# With breaks.


@pytest.mark.parametrize(("apart", "seconds"), [(599, 799), (600, 200), (601, 200)])
def test_a_break_of_more_than_ten_minutes_ends_a_run(apart: int, seconds: float) -> None:
    """From the last second before to the first one after it."""
    assert sports._with_breaks(track(rows((100, 2), (apart, 0), (100, 2))), LIMITS) == seconds


def test_wheels_within_a_run_are_none_of_it() -> None:
    assert sports._with_breaks(track(rows((10, 3), (100, 2), (50, 3), (100, 2), (70, 3))), LIMITS) == 200
    assert sports._with_breaks(track(rows((100, 1))), LIMITS) == 0
    gap = np.concatenate((np.arange(100.0), 900 + np.arange(100.0)))
    assert sports._with_breaks(track(np.full(200, 2), rows_s=gap), LIMITS) == 200


# Carried or ridden.


@pytest.mark.parametrize(
    ("riding", "afoot", "known", "passive"),
    [(105, 100, 60, True), (106, 100, 60, False), (150, 100, 59, True), (90, 100, 60, True)],
)
def test_a_heart_within_five_beats_of_the_walk_was_carried(
    riding: float, afoot: float, known: int, *, passive: bool
) -> None:
    """Where less than a minute of it is known, the steps around the wheels say so."""
    beats = rows((known, riding), (100 - known, NAN), (known, afoot), (100 - known, NAN))
    assert sports._passive(track(rows((100, 3), (100, 1)), bpm=beats), LIMITS) == passive
    assert sports._passive(track(rows((100, 3), (100, 2)), bpm=beats), LIMITS) == passive


@pytest.mark.parametrize(
    ("family", "by", "passive"), [("walk", "speed", True), ("open", "speed", False), ("open", "cadence", True)]
)
def test_without_a_heart_a_walk_or_its_steps_say_that_the_wheels_carried(
    family: Family, by: str, *, passive: bool
) -> None:
    assert sports._passive(track(rows((100, 3), (100, 1)), family, by), LIMITS) == passive


@pytest.mark.parametrize(("speed", "name"), [(14.0, "cycling"), (14.1, "transport")])
def test_faster_than_fourteen_is_no_bicycle(speed: float, name: str) -> None:
    """By the fastest twentieth."""
    assert sports._vehicle(track(np.full(100, 3), speed=rows((94, 5.0), (6, speed))), LIMITS) == name
    assert sports._vehicle(track(np.full(100, 3), speed=rows((96, 5.0), (4, 30.0))), LIMITS) == "cycling"
    assert sports._vehicle(track(np.full(100, 3)), LIMITS) == "cycling"


def named(
    running: float, walking_s: float, wheels: float, family: Family = "open", *, heart: float = 100.0, **more: Any
) -> str:
    size = 1000
    whole = track(
        rows((500, 3), (500, 1)), family, bpm=rows((500, heart), (500, 100.0)), speed=np.full(size, 6.0), **more
    )
    return sports._name(whole, family, (running, walking_s, wheels), LIMITS)[0]


@pytest.mark.parametrize(
    ("seconds", "heart", "family", "name"),
    [
        ((0, 120, 121), 100, "open", "walking"),
        ((0, 119, 121), 100, "open", "cycling"),
        ((0, 120, 121), 110, "open", "cycling"),
        ((0, 120, 120), 100, "open", "other"),
        ((59, 61, 121), 100, "run", "walking"),
        ((60, 60, 121), 100, "run", "running"),
        ((59, 0, 0), 100, "unlabelled", "unknown"),
        ((0, 501, 0), 100, "unlabelled", "walking"),
        ((0, 500, 0), 100, "unlabelled", "unknown"),
        ((0, 501, 0), 100, "open", "other"),
        ((0, 900, 0), 100, "race_walk", "walking"),
        ((900, 0, 0), 100, "ride", "cycling"),
        ((29, 270, 0), 100, "run", "running"),
        ((30, 271, 0), 100, "run", "walking"),
        ((29, 271, 0), 100, "run", "walking"),
        ((20, 279, 0), 100, "run", "running"),
    ],
)
def test_a_session_is_named_by_what_it_was_most(
    seconds: tuple[float, float, float], heart: float, family: Family, name: str
) -> None:
    """A walk of 300 s with less than a tenth of running is one; 299 s are too few to say so."""
    assert named(*seconds, family, heart=heart) == name


def test_a_speed_alone_does_not_say_that_it_was_walked() -> None:
    assert named(0, 900, 0, "unlabelled", by="speed") == "unknown"
    assert named(0, 900, 0, "unlabelled", by="speed", recorded={"lat_deg": 1}) == "walking"


@pytest.mark.parametrize(
    ("recorded", "running", "timer", "seconds"),
    [
        (100, 50, 200, 100),  # half of it was running: what broke off counts too
        (100, 49, 200, 49),
        (60, 60, 120, 120),
        (59, 59, 120, 59),
        (100, 100, 100, 100),
        (100, 100, 90, 100),
    ],
)
def test_a_labelled_run_that_broke_off_counts_to_the_end_of_its_timer(
    recorded: int, running: int, timer: float, seconds: float
) -> None:
    whole = track(rows((running, 2), (recorded - running, 0)), "run")
    assert sports.judge_sport(whole, "running", "generic", timer, LIMITS).running_s == pytest.approx(seconds)


# What counts.


def made(sport: str, **more: Any) -> Session:
    return session(5, sport, 30, **more)


@pytest.mark.parametrize(
    ("one", "seconds", "training"),
    [
        (made("running"), 1800, True),
        (made("walking"), 0, False),
        (made("walking", running_min=0.99), 0, False),
        (made("walking", running_min=1.0), 60, True),
        (made("unknown", running_min=1.0), 60, True),
        (made("other", running_min=1.0), 1800, True),
        (made("mobility"), 0, False),
        (made("transport"), 0, False),
        (made("cycling"), 1800, True),
    ],
)
def test_a_minute_of_running_counts_in_a_walk_and_all_of_any_sport(
    one: Session, seconds: float, *, training: bool
) -> None:
    assert labels.sport_seconds(one, LIMITS) == seconds
    assert labels.is_training(one, LIMITS) == training


@pytest.mark.parametrize(("seconds", "training"), [(59, False), (60, True)])
def test_what_nobody_can_tell_may_be_training_from_a_minute_on(seconds: float, *, training: bool) -> None:
    assert labels.is_training(replace(made("unknown"), timer_s=seconds), LIMITS) == training


def noted(**notes: float) -> Session:
    one = made("running")
    return replace(one, digest=replace(one.digest, notes=notes))


def test_a_run_counts_without_what_carried_the_watch_or_came_long_after() -> None:
    assert labels.running_seconds(noted()) == 1800
    assert labels.running_seconds(noted(carried_s=300)) == 1500
    assert labels.running_seconds(noted(carried_s=2000)) == 0
    assert labels.running_seconds(noted(run_with_breaks_s=900)) == 900
    assert labels.running_seconds(noted(run_with_breaks_s=1900, carried_s=100)) == 1700
    assert labels.sport_seconds(noted(carried_s=300, ridden_s=200), LIMITS) == 1700


@pytest.mark.parametrize(("metres", "whole"), [(5000.4, 5000), (5000.5, 5001), (NAN, None), (None, None)])
def test_metres_are_whole_ones(metres: float | None, whole: int | None) -> None:
    one = replace(made("running"), distance_m=metres)
    assert labels.running_metres(replace(one, digest=replace(one.digest, running_m=None))) == whole


def test_metres_of_a_run_in_part_are_those_that_were_run() -> None:
    assert labels.running_metres(noted()) == 5000
    ran = noted(carried_s=300)
    assert labels.running_metres(replace(ran, distance_m=9000.0)) == 5000


# The gait second by second.


def moves(spm: Floats, speed: Floats, bpm: Floats | float = NAN, slope: float = 0.0, apart: float = 1.0) -> Motion:
    heart = bpm if isinstance(bpm, np.ndarray) else np.full(len(spm), float(bpm))
    return Motion(spm, speed, heart, np.full(len(spm), slope), np.ones(len(spm), np.bool_), apart, LIMITS)


def ran(kind: Family, spm: Floats | float, speed: Floats | float, **more: Any) -> list[Stretch]:
    size = next((len(one) for one in (spm, speed) if isinstance(one, np.ndarray)), 600)
    steps, pace = (one if isinstance(one, np.ndarray) else np.full(size, float(one)) for one in (spm, speed))
    return stretches(gait(kind, moves(steps, pace, **more), np.zeros(size, np.bool_), LIMITS).running)


def within(seconds: int, inside: float, outside: float) -> Floats:
    return rows((300, outside), (seconds, inside), (300, outside))


@pytest.mark.parametrize(("seconds", "found"), [(11, []), (12, [(300, 312)])])
def test_with_steps_a_dozen_seconds_are_running(seconds: int, found: list[Stretch]) -> None:
    assert ran("run", within(seconds, 165, 100), 2.3) == found


@pytest.mark.parametrize(("gap", "found"), [(3, [(300, 333)]), (4, [(300, 315), (319, 334)])])
def test_three_seconds_without_steps_are_bridged(gap: int, found: list[Stretch]) -> None:
    assert ran("run", rows((300, 100), (15, 165), (gap, 100), (15, 165), (300, 100)), 2.3) == found


@pytest.mark.parametrize(("speed", "seconds", "found"), [(3.19, 18, False), (3.21, 18, True), (3.21, 17, False)])
def test_faster_than_anyone_walks_for_a_dozen_seconds_is_running(speed: float, seconds: int, *, found: bool) -> None:
    """In the mean of seven seconds, which loses three at each end."""
    assert bool(ran("walk", NAN, within(seconds, speed, 1.0))) == found


@pytest.mark.parametrize(("spm", "found"), [(124, False), (125, True)])
def test_where_steps_are_counted_they_must_say_so_too(spm: float, *, found: bool) -> None:
    steps, speed = within(30, spm, 100), within(30, 3.4, 1.4)
    assert bool(ran("walk", steps, speed)) == found


@pytest.mark.parametrize(("apart", "seconds", "found"), [(1.0, 40, True), (10.0, 40, False), (10.0, 60, True)])
def test_by_speed_alone_forty_seconds_and_five_records_are_running(apart: float, seconds: int, *, found: bool) -> None:
    speed = within(seconds, 2.7, 1.4)
    assert bool(ran("open", NAN, speed, apart=apart)) == found


@pytest.mark.parametrize(
    ("speed", "spm", "walks"), [(0.5, NAN, False), (0.51, NAN, True), (NAN, 50, False), (NAN, 51, True)]
)
def test_who_moves_without_running_walks(speed: float, spm: float, *, walks: bool) -> None:
    found = gait("walk", moves(np.full(100, spm), np.full(100, speed)), np.zeros(100, np.bool_), LIMITS)
    assert bool(found.walking.any()) == walks
    assert not found.running.any()


@pytest.mark.parametrize(
    ("bpm", "seconds", "works"), [(129.0, 300, False), (130.0, 300, True), (149.0, 120, False), (150.0, 120, True)]
)
def test_a_heart_works_thirty_beats_over_that_of_a_walk_or_at_150(bpm: float, seconds: int, *, works: bool) -> None:
    """A walk tells after two minutes, and of two minutes more."""
    speed, beats = rows((seconds, 1.4), (400, 2.0)), rows((seconds, 100.0), (400, bpm))
    nothing = np.full(len(speed), NAN)
    assert bool(walking._works(moves(nothing, speed, beats), LIMITS)[-100:].all()) == works


@pytest.mark.parametrize(("speed", "known"), [(1.0, False), (1.01, True), (1.74, True), (1.75, False)])
def test_a_walk_to_compare_with_is_surely_one(speed: float, *, known: bool) -> None:
    """From 1 m/s on and a width below the border: 2.1 - 0.35."""
    walk, beats = rows((300, speed), (400, 2.0)), rows((300, 100.0), (400, 131.0))
    assert bool(walking._works(moves(np.full(700, NAN), walk, beats), LIMITS)[-100:].all()) == known


# The clock.


def clock(*times: float, elapsed: float | None = None, pauses: tuple[tuple[float, float], ...] = ()) -> Timeline:
    return timeline(np.array(times), times[-1] if elapsed is None else elapsed, pauses, LIMITS)


def test_rows_are_whole_seconds_between_gaps_with_empty_ones_at_them() -> None:
    found = clock(0.5, 1.5, 2.5, 30.0, 31.0)
    assert found.rows_s[found.real].tolist() == [1.0, 2.0, 30.0, 31.0]
    assert len(found.rows_s) == 4 + 2 * 16
    assert (np.diff(found.rows_s) > 0).all()
    assert found.broken.tolist() == [False, False, True, False, True]
    assert found.seconds == 2 + 10 + 1


@pytest.mark.parametrize(
    ("elapsed", "seconds"), [(2.0, 2.0), (7.0, 7.0), (12.0, 12.0), (13.0, 12.0), (1.0, 2.0), (NAN, 2.0)]
)
def test_the_last_sample_reaches_to_the_end_or_ten_seconds(elapsed: float, seconds: float) -> None:
    assert clock(0, 1, 2, elapsed=elapsed).seconds == seconds


def test_samples_in_a_pause_and_such_that_fall_back_are_left_out() -> None:
    found = clock(0, 1, 2, 5, 6, 4, 9, 10, pauses=((2.0, 9.0),))
    assert found.time_s.tolist() == [0, 1, 2, 9, 10]
    assert found.broken.tolist() == [False, False, True, False, True]
    assert found.until_s.tolist() == [1, 2, 2, 10, 10]
    inside = clock(0, 1, 2, 4, 5, pauses=((2.4, 3.0),))
    assert inside.until_s.tolist() == [1, 2, 2.4, 5, 5]
    assert clock(0, 1, 2, pauses=((1.5, 1.5),)).broken.tolist() == [False, False, True]


def test_a_known_sample_stands_up_to_the_next_known_one_and_never_over_a_pause() -> None:
    found = clock(0, 1, 2, 3, 4, 30, 31, 32)
    flags = np.array([True, False, False, True, False, True, False, True])
    assert found.weights(flags).tolist() == [3, 0, 0, 10, 0, 2, 0, 0]
    assert found.weights(np.zeros(8, np.bool_)).tolist() == [0] * 8
    pause = clock(0, 1, 2, 3, 10, 11, pauses=((3.0, 10.0),))
    assert pause.weights(np.array([True, True, False, False, True, True])).tolist() == [1, 2, 0, 0, 1, 0]


@pytest.mark.parametrize(("apart", "known"), [(10, True), (11, False)])
def test_between_samples_up_to_ten_seconds_apart_a_value_goes_straight(apart: int, *, known: bool) -> None:
    found = clock(*range(40))
    values = np.full(40, NAN)
    values[5], values[5 + apart] = 100.0, 100.0 + apart
    rows_of = found.on_rows(values)[:40]
    assert rows_of[5 : 6 + apart].tolist() == (
        [100.0 + each for each in range(apart + 1)]
        if known
        else [100.0, *[pytest.approx(NAN, nan_ok=True)] * (apart - 1), 100.0 + apart]
    )
    assert np.isnan(rows_of[:5]).all()
    assert np.isnan(rows_of[6 + apart :]).all()


def test_a_sample_belongs_to_the_row_at_or_after_it() -> None:
    found = clock(0.0, 1.2, 2.0, 3.9)
    assert found.row_of_samples().tolist() == [0, 2, 2, 4]
