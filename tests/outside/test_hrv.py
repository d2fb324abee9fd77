"""RMSSD against a hand-worked vector, neurokit2, and the recordings and results that pyhrv ships.

pyhrv is not among the test dependencies, because it brings a computer-vision library along; `pip install --no-deps
pyhrv` is enough for its tests here, which read its files by path and never import it.
"""

from __future__ import annotations

import json
import warnings
from importlib import metadata
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

from monitor.intake.beats import artefacts, rmssd, rmssd_after_correction

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # its own imports warn
    import neurokit2 as nk

Floats = npt.NDArray[np.float64]


def intervals(count: int, seed: int, mean_ms: float = 930.0, breath_ms: float = 38.0) -> Floats:
    """Whole milliseconds, because neurokit2 counts beats in samples of one."""
    chance = np.random.default_rng(seed)
    drift = np.zeros(count)
    for at in range(1, count):
        drift[at] = 0.85 * drift[at - 1] + chance.normal(0, 14)
    whole: Floats = np.round(mean_ms + drift + breath_ms * np.sin(np.arange(count) * 2 * np.pi / 14.3))
    return whole


Wrong = dict[str, list[int]]


def by_neurokit(rr_ms: Floats) -> tuple[float, Wrong]:
    """RMSSD after `signal_fixpeaks(method="Kubios")`, and which beats it calls wrong at first."""
    beats = np.concatenate(([0], np.cumsum(rr_ms))).astype(int)
    found, _ = nk.signal_fixpeaks(beats, sampling_rate=1000, iterative=False, method="Kubios")
    _, mended = nk.signal_fixpeaks(beats, sampling_rate=1000, iterative=True, method="Kubios")
    wrong = {kind: sorted({int(at) for at in found[kind]}) for kind in ("ectopic", "missed", "extra", "longshort")}
    return float(np.sqrt(np.mean(np.diff(np.diff(mended)) ** 2))), wrong


def by_us(rr_ms: Floats) -> Wrong:
    found = artefacts(np.concatenate(([0.0], np.cumsum(rr_ms))))
    kinds = {"ectopic": found.ectopic, "missed": found.missed, "extra": found.extra, "longshort": found.shifted}
    return {kind: at.tolist() for kind, at in kinds.items()}


def test_the_hand_worked_vector() -> None:
    """Differences -26 15 44 -55 30 13 -28, squares 7715 in all, over 7 (Task Force 1996, Circulation 93:1043)."""
    assert rmssd_after_correction([812, 786, 801, 845, 790, 820, 833, 805]) == pytest.approx(33.198537, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_clean_intervals_agree_with_neurokit(seed: int) -> None:
    rr_ms = intervals(400, seed, mean_ms=800 + 60 * seed, breath_ms=15 + 10 * seed)
    theirs, wrong = by_neurokit(rr_ms)
    assert by_us(rr_ms) == wrong
    assert rmssd_after_correction(rr_ms.tolist()) == pytest.approx(theirs, abs=0.05)
    beats = np.concatenate(([0], np.cumsum(rr_ms))).astype(int)
    assert rmssd(rr_ms) == pytest.approx(nk.hrv_time(beats, sampling_rate=1000)["HRV_RMSSD"].iloc[0], abs=1e-6)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ["missed", "extra", "ectopic", "short"])
def test_corrected_intervals_agree_with_neurokit(seed: int, kind: str) -> None:
    rr_ms = intervals(400, seed)
    at = 120 + 31 * seed
    match kind:
        case "missed":
            rr_ms = np.concatenate((rr_ms[:at], [rr_ms[at] + rr_ms[at + 1]], rr_ms[at + 2 :]))
        case "extra":
            early = np.round(rr_ms[at] * 0.4)
            rr_ms = np.concatenate((rr_ms[:at], [early, rr_ms[at] - early], rr_ms[at + 1 :]))
        case "ectopic":
            rr_ms[at : at + 2] += (-320, 320)
        case "short":
            rr_ms[at] -= 400
    theirs, wrong = by_neurokit(rr_ms)
    assert any(wrong.values())
    assert by_us(rr_ms) == wrong
    assert rmssd_after_correction(rr_ms.tolist()) == pytest.approx(theirs, abs=0.1)


def test_one_missed_beat_in_300_no_longer_doubles_rmssd() -> None:
    clean = intervals(300, 3)
    truth = float(np.sqrt(np.mean(np.diff(clean) ** 2)))
    merged = np.concatenate((clean[:150], [clean[150] + clean[151]], clean[152:]))
    assert float(np.sqrt(np.mean(np.diff(merged) ** 2))) > 1.8 * truth
    assert rmssd_after_correction(merged.tolist()) == pytest.approx(truth, rel=0.02)


def shipped(name: str) -> Path:
    """A sample file of pyhrv (BSD-3-Clause)."""
    try:
        distribution = metadata.distribution("pyhrv")
    except metadata.PackageNotFoundError:
        pytest.skip("pyhrv is not installed")
    return Path(str(distribution.locate_file(f"pyhrv/files/{name}")))


def test_the_recordings_that_pyhrv_ships_give_the_results_that_it_ships() -> None:
    short, long = (np.load(shipped(f"SampleNNISeries{length}.npy")) for length in ("Short", "Long"))
    stored = json.loads(shipped("SampleExport.json").read_text())["rmssd"]
    assert rmssd(short) == pytest.approx(stored, abs=1e-9) == pytest.approx(101.30063401766522, abs=1e-9)
    assert rmssd(long) == pytest.approx(60.523479806961085, abs=1e-9)


@pytest.mark.parametrize("length", ["Short", "Long"])
def test_the_recordings_that_pyhrv_ships_are_corrected_as_by_neurokit(length: str) -> None:
    rr_ms = np.load(shipped(f"SampleNNISeries{length}.npy"))
    theirs, wrong = by_neurokit(rr_ms)
    assert by_us(rr_ms) == wrong
    assert rmssd_after_correction(rr_ms.tolist()) == pytest.approx(theirs, rel=1e-4)
