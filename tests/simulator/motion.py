"""What truly happened: speed, gait and slope, second by second."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from rules.session.ground import cost_of_running

COST_OF_WALKING = np.polynomial.Polynomial([2.5, 19.6, 51.9, -76.8, -58.7, 280.5])
"""J/kg/m by rise over run, |slope| <= 0.45 (Minetti et al. 2002, J Appl Physiol 93:1039)."""
RUN, WALK, STILL, WHEELS, OTHER = 0, 1, 2, 3, 4


@dataclass
class Motion:
    """A session in the making; `then` adds pieces to its end."""

    speed: list[np.ndarray] = field(default_factory=list)
    gait: list[np.ndarray] = field(default_factory=list)
    slope: list[np.ndarray] = field(default_factory=list)

    def then(self, gait: int, seconds: float, speed: float, slope: float = 0.0, to: float | None = None) -> Motion:
        size = max(int(seconds), 1)
        self.speed.append(np.linspace(speed, speed if to is None else to, size))
        self.gait.append(np.full(size, gait))
        self.slope.append(np.full(size, slope))
        return self

    def done(self, rng: np.random.Generator, wobble: float = 0.025) -> Truth:
        """Round the corners as legs do, and let the pace wander by a few per cent."""
        raw, gait, slope = (np.concatenate(part) for part in (self.speed, self.gait, self.slope))
        wander = smooth_noise(rng, len(raw), 45.0) * wobble
        kernel = np.ones(5) / 5
        padded = np.concatenate((np.full(2, raw[0]), raw, np.full(2, raw[-1])))
        speed = np.convolve(padded, kernel, "valid") * (1 + wander)
        speed = np.where(gait == STILL, np.minimum(speed, raw), speed)
        soft = np.convolve(
            np.concatenate((np.full(7, slope[0]), slope, np.full(7, slope[-1]))), np.ones(15) / 15, "valid"
        )
        return Truth(np.maximum(speed, 0.0), gait, soft)


@dataclass
class Truth:
    speed: np.ndarray
    gait: np.ndarray
    slope: np.ndarray

    @property
    def size(self) -> int:
        return len(self.speed)

    @property
    def effort(self) -> np.ndarray:
        run = self.speed * cost_of_running(self.slope) / 3.6
        walk = self.speed * COST_OF_WALKING(np.clip(self.slope, -0.45, 0.45)) / 2.5
        return np.where(self.gait == RUN, run, np.where(self.gait == WALK, walk, 0.0))

    @property
    def running_s(self) -> float:
        return float((self.gait == RUN).sum())

    @property
    def altitude(self) -> np.ndarray:
        return 200.0 + np.cumsum(self.speed * self.slope)


def smooth_noise(rng: np.random.Generator, size: int, tau_s: float) -> np.ndarray:
    """First-order autoregressive noise of unit variance."""
    phi = float(np.exp(-1 / tau_s))
    shocks = rng.normal(0, np.sqrt(1 - phi**2), size)
    shocks[0] = rng.normal()
    out = np.empty(size)
    value = 0.0
    for i, shock in enumerate(shocks.tolist()):
        value = phi * value + shock
        out[i] = value
    return out
