"""What the judge says of real recordings when their devices told less, or told it worse. Run by hand:

python -m tests.bench.real_variants FOLDER [--runner HR_MAX=PACE ...] [--only NAME] [--variant NAME ...]

FOLDER as of `tests.bench.real_recordings`; the labels hold for each variant, since the athlete did the same. Printed
for each variant, on a day without running and on one of test runs, with and without a threshold pace: false and missed
stops, and which recordings are judged otherwise than as they are.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from monitor.intake.reading import ReadJob, read_path
from monitor.intake.sessions import make_digest
from monitor.values import IntakeOptions, Recording
from rules.limits import default_limits
from rules.session.track import Track
from tests.bench.real_recordings import ZONE, Case, Label, disagreement, labels_of, said_of, seconds_of, table

DAYS = (2, 17)
Floats = npt.NDArray[np.float64]
Channels = dict[str, Floats]


def _without(*names: str) -> Callable[[Channels], Channels]:
    return lambda told: {name: values for name, values in told.items() if name not in names}


def _every(seconds: float) -> Callable[[Channels], Channels]:
    """One record in so many seconds, as a device that saves room writes them."""

    def thinned(told: Channels) -> Channels:
        slot = np.floor(told["t_s"] / seconds)
        keep = np.concatenate(([True], np.diff(slot) > 0))
        return {name: values[keep] for name, values in told.items()}

    return thinned


def _only_some(told: Channels) -> Channels:
    """One to nine seconds apart, as a device writes that records where something changes."""
    rng = np.random.default_rng(len(told["t_s"]))
    at = np.cumsum(rng.integers(1, 10, int(told["t_s"][-1]) + 1))
    keep = np.concatenate(([True], np.diff(np.searchsorted(at, told["t_s"])) > 0))
    return {name: values[keep] for name, values in told.items()}


def _wandering(seed_sd: float, memory: float) -> Callable[[Floats], Floats]:
    def walk(values: Floats) -> Floats:
        rng = np.random.default_rng(len(values))
        noise = np.empty(len(values))
        last = 0.0
        for row, step in enumerate(rng.normal(0, seed_sd * np.sqrt(1 - memory**2), len(values))):
            last = memory * last + step
            noise[row] = last
        return values + noise

    return walk


def _on(name: str, change: Callable[[Floats], Floats]) -> Callable[[Channels], Channels]:
    return lambda told: {**told, name: change(told[name])} if name in told else told


def _settling(told: Channels) -> Channels:
    if "altitude_m" not in told:
        return told
    return {**told, "altitude_m": told["altitude_m"] - 120 * np.exp(-told["t_s"] / 40)}


def _late_heart(told: Channels) -> Channels:
    """An optical sensor that follows half a minute behind."""
    if "hr_bpm" not in told:
        return told
    return {**told, "hr_bpm": np.interp(told["t_s"] - 20, told["t_s"], told["hr_bpm"])}


def _part(first: float, last: float) -> Callable[[Channels], Channels]:
    def cut(told: Channels) -> Channels:
        t = told["t_s"]
        keep = (t >= t[0] + first * (t[-1] - t[0])) & (t <= t[0] + last * (t[-1] - t[0]))
        return {name: values[keep] for name, values in told.items()}

    return cut


VARIANTS: dict[str, Callable[[Channels], Channels]] = {
    "as it is": dict,
    "no cadence": _without("cadence_spm"),
    "no heart rate": _without("hr_bpm"),
    "no altitude": _without("altitude_m"),
    "positions alone": _without("speed_mps", "distance_m"),
    "no positions": _without("lat_deg", "lon_deg"),
    "positions and time alone": _without("speed_mps", "distance_m", "hr_bpm", "cadence_spm", "power_w"),
    "each 5 s": _every(5),
    "1 to 9 s apart": _only_some,
    "wandering altitude": _on("altitude_m", _wandering(4.0, 0.98)),
    "altitude settles": _settling,
    "cadence of one leg": _on("cadence_spm", lambda values: np.floor(values / 2)),
    "heart 20 s late": _late_heart,
    "speed 4 % high": lambda told: {
        name: values * 1.04 if name in ("speed_mps", "distance_m") else values for name, values in told.items()
    },
    "heart 6 bpm high": _on("hr_bpm", lambda values: values + 6),
}


@dataclass(frozen=True)
class Told:
    """What was said of each recording in one variant."""

    variant: str
    cases: tuple[Case, ...]


def judged(folder: Path, label: Label, paces: dict[int, float], variants: Sequence[str]) -> list[Told]:
    """Read once, changed and judged once a variant."""
    result = read_path(ReadJob(folder, label.file, IntakeOptions(timezone=ZONE)))
    if result.facts is None or not result.facts.recordings:
        return []
    recordings = [one for one in result.facts.recordings if one.digest is not None]
    pace = paces.get(label.hr_max or 0)
    told = []
    for variant in variants:
        changed = [_changed(one, VARIANTS[variant]) for one in recordings]
        tracks: dict[tuple[str, float | None], Track] = {}
        cases = tuple(
            Case(label, day, known, said_of(label, changed, day, pace if known else None, tracks))
            for known in (False, True)
            for day in DAYS
        )
        told.append(Told(variant, cases))
    return told


def _changed(one: Recording, change: Callable[[Channels], Channels]) -> Recording:
    samples = change(dict(one.samples))
    return replace(one, samples=samples, digest=make_digest(one, samples, default_limits()), track=None)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("--runner", action="append", default=[], metavar="HR_MAX=PACE")
    asked.add_argument("--only", default="", help="only files whose name contains this")
    asked.add_argument("--variant", action="append", choices=list(VARIANTS), help="only this one; repeatable")
    given = asked.parse_args()
    paces = {int(who): seconds_of(pace) for who, _, pace in (one.partition("=") for one in given.runner)}
    labels = [label for label in labels_of(given.folder) if given.only in label.file]
    variants = given.variant or list(VARIANTS)
    with ProcessPoolExecutor() as pool:
        jobs = [pool.submit(judged, given.folder, label, paces, variants) for label in labels]
        told = [one for job in jobs for one in job.result()]
    usual = {_key(case): disagreement(case) for one in told if one.variant == "as it is" for case in one.cases}
    for variant in variants:
        cases = [case for one in told if one.variant == variant for case in one.cases]
        print(f"\n{variant}")
        for case in cases:
            for wrong in disagreement(case):
                if wrong not in usual.get(_key(case), []):
                    words = case.said.get(wrong.split()[1], ("", ""))[1]
                    print(f"  {case.label.file} day {case.day}{'t' if case.threshold else ''} {wrong} | {words}")
        print("\n".join(table(cases, DAYS)))


def _key(case: Case) -> tuple[str, int, bool]:
    return case.label.file, case.day, case.threshold


if __name__ == "__main__":
    main()
