"""Invented athletes with everything about them known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Body:
    """How an athlete's heart, legs and steps answer to speed."""

    hr_max: int
    hr_rest: int
    threshold_mps: float
    easy_share: float  # easy running speed over threshold speed
    threshold_share: float  # heart rate at threshold over the greatest
    gain: float  # bpm per m/s of running
    tau_s: float
    spm_easy: float
    spm_per_mps: float
    hr_noise: float
    timezone: str

    @property
    def easy_mps(self) -> float:
        return self.threshold_mps * self.easy_share

    def running_hr(self, effort_mps: np.ndarray) -> np.ndarray:
        """Heart rate that running so fast on level ground tends to."""
        top = self.hr_max * self.threshold_share
        return np.clip(top - self.gain * (self.threshold_mps - effort_mps), self.hr_rest + 30, self.hr_max + 2)

    def walking_hr(self, effort_mps: np.ndarray) -> np.ndarray:
        return self.hr_rest + 22 + 17 * effort_mps

    def spm(self, speed_mps: np.ndarray) -> np.ndarray:
        return self.spm_easy + self.spm_per_mps * (speed_mps - self.easy_mps)


def invent(rng: np.random.Generator) -> Body:
    """Anyone from a beginner to a fast club runner."""
    return Body(
        hr_max=int(rng.integers(165, 206)),
        hr_rest=int(rng.integers(38, 62)),
        threshold_mps=float(rng.uniform(2.8, 5.2)),
        easy_share=float(rng.uniform(0.70, 0.82)),
        threshold_share=float(rng.uniform(0.87, 0.93)),
        gain=float(rng.normal(24, 2)),
        tau_s=float(rng.uniform(45, 65)),
        spm_easy=float(rng.uniform(154, 176)),
        spm_per_mps=float(rng.choice([0.0, rng.uniform(5, 12)], p=[0.15, 0.85])),
        hr_noise=float(rng.choice([0.0, 0.15, rng.uniform(0.4, 1.5)], p=[0.1, 0.1, 0.8])),
        timezone=str(rng.choice(["Europe/Oslo", "America/Denver", "Pacific/Auckland", "Asia/Kolkata", "UTC"])),
    )
