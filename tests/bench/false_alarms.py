"""How often the rules about the body alarm on healthy athletes, and how soon they find a fall that matters.

Invented athletes whose mornings only wander, over the 28 days after a race, judged by the rules themselves: independent
days and days alike (correlation 0.4 with the day before, AR(1)), with all mornings and with one of four missing, after
14 to 60 mornings of baseline. The fall that matters is 1.5 SD of a morning, from day 4 on.

    python tests/bench/false_alarms.py [ATHLETES]

prints the table of the README and of `fallow rules`, for 2,000 athletes a row in about five minutes of processor time.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

sys.path.insert(0, str(Path(__file__).parents[2]))

from rules.body.baseline import baseline
from rules.body.chart import levels
from rules.body.mornings import hrv_down, resting_hr_up
from rules.body.sleep import short_sleep
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
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
