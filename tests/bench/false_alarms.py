"""How often the rules about the body alarm on healthy athletes, and how soon they find a fall that matters.

Invented athletes whose mornings only wander, over the 28 days after a race, judged by the rules themselves: independent
days and days alike (correlation 0.4 with the day before, AR(1)), with all mornings and with one of four missing, after
14 to 60 mornings of baseline. The fall that matters is 1.5 SD of a morning, from day 4 on.

    python -m tests.bench.false_alarms [ATHLETES]

prints the table of the README and of `fallow rules`, for 2,000 athletes a row in about five minutes of processor time.
`--bound` prints what charts find that know mean and SD for certain, and the most that any could.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from rules.body.mornings import baseline, hrv_down, levels, resting_hr_up, short_sleep
from rules.findings import Breach, Severity
from rules.limits import Limits, default_limits

Floats = npt.NDArray[np.float64]
Days = dict[date, float]

DAY0 = date(2026, 10, 4)
PLAN_DAYS = 28
LN_RMSSD, LN_RMSSD_SD = 4.1, 0.18
RESTING, RESTING_SD = 48.0, 2.5
SLEEP_SD_MIN = 50.0
FALL_SD, FALL_FROM = 1.5, 4


@dataclass(frozen=True, slots=True)
class Healthy:
    """How the mornings of a row wander."""

    baseline: int
    likeness: float = 0.0
    missing: float = 0.0

    @property
    def name(self) -> str:
        days = "alike" if self.likeness else "independent"
        return f"{self.baseline} mornings, {days}{', 1 of 4 missing' if self.missing else ''}"


ROWS = (
    *(Healthy(number, alike) for number in (14, 20, 30, 60) for alike in (0.0, 0.4)),
    Healthy(20, 0.4, 0.25),
    Healthy(60, 0.4, 0.25),
)


def wander(row: Healthy, chance: np.random.Generator) -> Floats:
    """Standard deviations off the usual: the baseline, the race week, the plan; NaN where a morning is missing."""
    number = row.baseline + 8 + PLAN_DAYS
    off = chance.standard_normal(number)
    for at in range(1, number):
        off[at] = row.likeness * off[at - 1] + np.sqrt(1 - row.likeness**2) * off[at]
    gone = chance.random(number) < row.missing
    gone[: row.baseline] = False  # the row says how many mornings stand behind the usual
    off[gone] = np.nan
    return off


def dated(values: Floats) -> Days:
    """The last value is that of the plan's last day."""
    first = DAY0 + timedelta(days=PLAN_DAYS - len(values) + 1)
    return {first + timedelta(days=at): float(value) for at, value in enumerate(values) if np.isfinite(value)}


def fallen(off: Floats) -> Floats:
    down = off.copy()
    down[len(off) - PLAN_DAYS + FALL_FROM - 1 :] -= FALL_SD
    return down


def hrv_of(off: Floats, limits: Limits) -> dict[date, Breach]:
    values = dated(LN_RMSSD + LN_RMSSD_SD * off)
    return hrv_down(values, DAY0, baseline(values, DAY0, (), limits), limits)


def resting_of(off: Floats, limits: Limits) -> dict[date, Breach]:
    values = dated(np.round(RESTING + RESTING_SD * off))
    return resting_hr_up(values, DAY0, baseline(values, DAY0, (), limits), limits)


def sleep_of(usual_h: float) -> Callable[[Floats, Limits], dict[date, Breach]]:
    return lambda off, limits: short_sleep(dated(usual_h * 60 + SLEEP_SD_MIN * off), DAY0, limits)


def alarms(
    judged: Callable[[Floats, Limits], dict[date, Breach]], row: Healthy, athletes: int, seed: int
) -> tuple[float, float]:
    """Shares of healthy plans with at least one finding, and with at least one caution."""
    chance, limits = np.random.default_rng(seed), default_limits()
    told = [judged(wander(row, chance), limits).values() for _ in range(athletes)]
    any_told = sum(bool(each) for each in told)
    cautions = sum(any(breach.severity >= Severity.CAUTION for breach in each) for each in told)
    return any_told / athletes, cautions / athletes


def found(row: Healthy, athletes: int, seed: int, within: int, *, caution: bool = False) -> float:
    """Share of falls that a level under the limit shows on one of the first mornings of the fall."""
    chance, limits = np.random.default_rng(seed), default_limits()
    days = {DAY0 + timedelta(days=FALL_FROM + at) for at in range(within)}
    hits = 0
    for _ in range(athletes):
        values = dated(LN_RMSSD + LN_RMSSD_SD * fallen(wander(row, chance)))
        at = levels(values, DAY0, baseline(values, DAY0, (), limits), limits)
        hits += any(
            day in days and level.mean < (level.caution if caution else level.note) for day, level in at.items()
        )
    return hits / athletes


NOTE_SHARE, FOUND_SHARE, WITHIN = 0.2, 0.9, 4
NORMAL = NormalDist()


def shift_in_errors(likeness: float, mornings: int = WITHIN) -> float:
    """How far a fall moves that many mornings together, in standard errors, where the one before is known too.

    Of days alike only what is new in each tells: the first shows all of the fall over sqrt(1 - r2), the others 1 - r.
    """
    return FALL_SD * sqrt((1 + (mornings - 1) * (1 - likeness) ** 2) / (1 - likeness**2))


def fewest_notes(likeness: float, found: float = FOUND_SHARE) -> float:
    """The fewest healthy plans with a note of any chart that finds so many of the falls within four mornings.

    By Neyman and Pearson for one stretch of four mornings after the other, mean and SD known for certain. Of plans that
    had a note before, a fall counts as found for nothing.
    """
    shift, noted = shift_in_errors(likeness), 0.0
    for _ in range(PLAN_DAYS // WITHIN):
        still = (found - noted) / (1 - noted)
        noted += (1 - noted) * NORMAL.cdf(NORMAL.inv_cdf(still) - shift)
    return noted


def most_found(likeness: float) -> float:
    """The most falls that any chart can find within four mornings at a note in 20 % of healthy plans."""
    low, high = 0.5, 0.999
    while high - low > 1e-6:
        middle = (low + high) / 2
        low, high = (middle, high) if fewest_notes(likeness, middle) <= NOTE_SHARE else (low, middle)
    return low


def charts(down: Floats, likeness: float) -> Iterator[tuple[str, Floats]]:
    """Charts of plans (a row each, SD under a mean that is known for certain), greater where the fall is surer."""
    days = down.shape[1]
    for many in (2, 3, 4, 5, 7):
        sums = np.cumsum(np.pad(down, ((0, 0), (1, 0))), axis=1)
        first = np.maximum(np.arange(days) - many + 1, 0)
        yield f"mean of {many}", (sums[:, 1:] - sums[:, first]) / np.sqrt(np.arange(days) + 1 - first)
    for newest in (0.2, 0.3, 0.4, 0.5):
        weights = (1 - newest) ** np.arange(days)
        levels_of = [down[:, : day + 1] @ weights[day::-1] / sqrt(float(weights[: day + 1] @ weights[: day + 1]))
                     for day in range(days)]  # fmt: skip
        yield f"exponentially weighted, newest {newest}", np.stack(levels_of, axis=1)
    before = np.pad(down, ((0, 0), (1, 0)))[:, :-1]
    fresh = (down - likeness * before) / sqrt(1 - likeness**2)
    first, later = FALL_SD / sqrt(1 - likeness**2), FALL_SD * sqrt((1 - likeness) / (1 + likeness))
    odds, told = np.zeros(len(down)), []
    for day in range(days):
        odds = odds * np.exp(later * fresh[:, day] - later**2 / 2) + np.exp(first * fresh[:, day] - first**2 / 2)
        told.append(np.log(odds))
    yield "Shiryaev and Roberts", np.stack(told, axis=1)


def bound(plans: int = 40_000) -> None:
    """What charts find at a note in 20 % of healthy plans, the first two mornings not judged, and the most possible."""
    for likeness in (0.0, 0.4):
        chance = np.random.default_rng(1)
        off = np.stack([wander(Healthy(0, likeness), chance)[-PLAN_DAYS:] for _ in range(plans)])
        down = -off
        down[:, FALL_FROM - 1 :] += FALL_SD
        print(f"correlation {likeness}: {FOUND_SHARE:.0%} found takes notes in {fewest_notes(likeness):.0%} of plans")
        for (name, healthy), (_, sick) in zip(charts(-off, likeness), charts(down, likeness), strict=True):
            limit = np.quantile(healthy[:, 2:].max(axis=1), 1 - NOTE_SHARE)
            hit = (sick[:, FALL_FROM - 1 : FALL_FROM - 1 + WITHIN].max(axis=1) > limit).mean()
            print(f"  {name:40} {hit:.0%} within {WITHIN} mornings")
        print(f"  {'no chart can find more than':40} {most_found(likeness):.0%}")


def main(athletes: int) -> None:
    print("hrv_down: healthy plans with a note or more, with a caution; falls found in 4, 7 and 10 mornings")
    for row in ROWS:
        note, caution = alarms(hrv_of, row, athletes, 1)
        within = [f"{found(row, athletes, 2, many):.0%}" for many in (4, 7, 10)]
        late = f"{found(row, athletes, 2, 10, caution=True):.0%}"
        print(f"  {row.name:45} {note:6.1%} {caution:6.1%}   {' '.join(within)}; as a caution in 10: {late}")
    print("resting_hr_up: healthy plans with a caution")
    for row in ROWS:
        print(f"  {row.name:45} {alarms(resting_of, row, athletes, 3)[1]:6.1%}")
    print("short_sleep: plans of people who sleep so long, nights of 50 min SD, with a note or more, with a caution")
    for usual in (7.0, 7.5, 8.0, 8.5):
        for likeness in (0.0, 0.4):
            note, caution = alarms(sleep_of(usual), Healthy(14, likeness), athletes, 4)
            print(f"  {usual} h, {'alike' if likeness else 'independent':12} {note:6.1%} {caution:6.1%}")


if __name__ == "__main__":
    if "--bound" in sys.argv:
        bound()
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
