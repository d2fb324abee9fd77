"""Sessions of the simulator and of pieces: their cleaned tracks, digests and verdicts under several plans."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import Any

import numpy as np

from rules.facts import Ceiling, SampleContext, Session, Threshold
from rules.findings import Breach
from rules.limits import default_limits
from rules.session.digest import digest_of
from rules.session.labels import has_running, is_training, running_metres, running_seconds, sport_seconds
from rules.session.track import Track, clean
from rules.session_rules import judge_track
from tests.kept_answers import Line, mark, plain
from tests.rules.session.pieces import Made, made
from tests.simulator.cases import make

START = datetime(2026, 10, 9, 16, tzinfo=UTC)
CLEAN: tuple[int, ...] = (
    707, 708, 709, 719,
)  # fmt: skip
HARD: tuple[int, ...] = (
    708, 710, 713, 722,
)  # fmt: skip
PIECES: tuple[int, ...] = (
    1000, 1003, 1007, 1011, 1020, 1024, 1028, 1029, 1036, 1042, 1047, 1048, 1050, 1054, 1056, 1062, 1068, 1069,
    1074, 1076, 1095, 1116, 1130, 1137, 1149, 1157, 1161, 1162, 1165, 1175, 1176, 1184, 1200, 1201, 1204, 1208,
    1214, 1215, 1222, 1224, 1239, 1242, 1254, 1257, 1259, 1266, 1268, 1276, 1287, 1290, 1293, 1296, 2019, 2030,
    2035, 2044, 2100,
)  # fmt: skip


def simulated(seed: int, *, hard: bool) -> Any:
    """A session of the simulator."""
    case = make(seed, hard, 0.7)
    size = max(float(case.scene.truth.size), float(case.table["t_s"][-1]) if len(case.table["t_s"]) else 0.0)
    label = (case.scene.sport, case.scene.sub_sport)
    return judged(Made(label, case.table, case.pauses, (), size, None), case.context.threshold)


def of_pieces(seed: int) -> Any:
    """A session of pieces."""
    speed = (3.2, 3.6, 4.0, 4.4)[seed % 4]
    return judged(made(seed), Threshold(speed, "history", ("high", "medium", "low")[seed % 3]))


def of_few(records: int) -> Any:
    """A session of a few records, some seconds apart."""
    apart = 9.0 + records
    steady = {"hr_bpm": 131.0, "speed_mps": 2.8, "cadence_spm": 162.0, "altitude_m": 200.0}
    table = {"t_s": np.arange(records) * apart} | {name: np.full(records, value) for name, value in steady.items()}
    return judged(Made(("running", "generic"), table, (), (), records * apart + 3, None), None)


def judged(one: Made, threshold: Threshold | None) -> dict[str, Any]:
    """All that comes of a session."""
    limits = default_limits()
    track = clean(*one.label, one.elapsed_s, one.pauses, one.table, limits, barometer=one.barometer)
    timer = one.elapsed_s - sum(end - begin for begin, end in one.pauses)
    digest = digest_of(track, *one.label, timer, limits)
    end = START + timedelta(seconds=one.elapsed_s)
    session = Session(
        START.isoformat(), START, end, *one.label, timer, one.elapsed_s, None, None, digest,
        pauses=one.pauses, lap_marks_s=one.laps, barometer=one.barometer,
    )  # fmt: skip
    counts = {
        "sport_s": sport_seconds(session, limits), "running_s": running_seconds(session),
        "running_m": running_metres(session), "runs": has_running(session, limits),
        "trains": is_training(session, limits),
    }  # fmt: skip
    return {"track": _track(track), "digest": digest, "counts": counts} | {
        name: [
            (_said if name == "strict" else _in_short)(each) for each in judge_track(session, track, context, limits)
        ]
        for name, context in _contexts(track, threshold)
    }


def _said(breach: Breach) -> dict[str, Any]:
    told = {name: getattr(breach, name) for name in ("rule", "severity", "observed", "limit", "unit", "evidence")}
    return told | {"said": mark(breach.summary)[:6]}


def _in_short(breach: Breach) -> str:
    """The same in a line, with a check sum of the rest."""
    return Line(f"{breach.rule} {breach.severity} {plain(breach.observed)} {mark(_said(breach))}")


def _contexts(track: Track, threshold: Threshold | None) -> list[tuple[str, SampleContext]]:
    """A strict plan that knows the threshold, one of strides that does not, and ceilings at this heart's own levels."""
    bpm = track.heart.rows_bpm[np.isfinite(track.heart.rows_bpm)]
    low, high = (int(np.percentile(bpm, share)) for share in (40, 85)) if len(bpm) else (130, 150)
    return [
        ("strict", SampleContext(Ceiling(low, 1, "kept"), "none", True, threshold)),
        ("strides", SampleContext(Ceiling(high, 2, "kept", True), "strides", False, None)),
        ("free", SampleContext(Ceiling(high - 10, 2, "kept"), "free", True, None)),
    ]


def _track(track: Track) -> dict[str, Any]:
    """What is believed of each second, as figures."""
    heart, pace, ground, gait = track.heart, track.pace, track.ground, track.gait
    return {
        "kind": [track.family, track.indoors, gait.by, pace.source, ground.doubt],
        "seconds": [track.clock.seconds, track.ridden_s, ground.masked_s, heart.known_s, heart.masked_s],
        "noise": [pace.noise_mps, ground.noise_m],
        "kept": track.clock.kept, "real": track.clock.real, "broken": track.clock.broken,
        "heart": [heart.rows_bpm, heart.weight_s], "heart_masked": heart.masked,
        "speed": pace.speed_mps, "speed_masked": pace.masked,
        "ground": [ground.altitude_m, ground.slope, ground.sure_slope],
        "running": gait.running, "walking": gait.walking, "vehicle": gait.vehicle,
        "spm": track.spm, "effort": track.effort_mps,
    }  # fmt: skip


ANSWERS: dict[str, Callable[[], Any]] = {
    **{f"clean {seed}": partial(simulated, seed, hard=False) for seed in CLEAN},
    **{f"hard {seed}": partial(simulated, seed, hard=True) for seed in HARD},
    **{f"{records} records": partial(of_few, records) for records in (1, 2, 3, 19, 20, 21, 22)},
    **{f"pieces {seed}": partial(of_pieces, seed) for seed in PIECES},
}
