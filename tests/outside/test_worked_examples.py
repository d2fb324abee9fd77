"""Trials as files: what their athletes did, written as exports, read and judged as anybody's, held against the paper.

Where a paper found no harm in what the plan forbids, the plan says so and still forbids it; what is checked is that the
program reads the trial's doses out of the files and judges them by the hours, minutes and beats that the paper gives.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from math import exp
from typing import Any

import numpy as np
import pytest

from rules.catalogue import rule
from tests.fitwriter import activity
from tests.homes import FINISH, fallow, make_home, put

HR_MAX = 190
CONTACT = '[alerts]\nquiet_hours = ""\n\n[[contact]]\nid = "coach"\nurls = ["json://127.0.0.1:9/nobody"]\n'
ATHLETE = """
[[athlete]]
id = "{id}"
folder = "exports/{id}"
timezone = "Europe/Oslo"
hr_max = 190
contacts = ["coach"]

[[athlete.race]]
event = "{event}"
finish = 2026-10-04T13:47:00
"""


def run(hours: float, minutes: float, bpm: float, km: float | None = None) -> bytes:
    """A run that begins so many hours after the finish; the heart climbs in its first minutes."""
    t = np.arange(0, round(minutes * 60) + 1, 1.0)
    metres = 1000 * (km or minutes / 6)
    samples = {
        "t_s": t,
        "hr_bpm": np.rint(bpm + (80 - bpm) * np.exp(-t / 57) + 2 * np.sin(t / 17) + np.sin(t / 5.3)),
        "speed_mps": metres / t[-1] + 0.05 * np.sin(t / 11),
        "distance_m": metres * t / t[-1],
        "cadence_spm": 164 + 2 * np.sin(t / 23),
    }
    return activity(FINISH + timedelta(hours=hours), "running", samples=samples, utc_offset_s=7200)


def mornings(slope_a_week: float, wave: float) -> bytes:
    """A month before the race and four weeks after it of RMSSD, whose logarithm falls by so much a week after it."""
    rows = ["date,rmssd_ms"]
    for day in range(-40, 29):
        level = 4.1 + slope_a_week * max(day, 0) / 7 + wave * (-1.0, 0.6, -0.2, 1.0, -0.7, 0.3, 0.0)[day % 7]
        rows.append(f"{(FINISH + timedelta(days=day)).date()},{exp(level):.1f}")
    return "\n".join(rows).encode()


# Martinez-Navarro et al. 2021, Eur J Sport Sci 21:1668: 40 min at 95 to 105 % of the rate at the first ventilatory
# threshold, 48, 96 and 144 h after a marathon, against rest. That threshold lies at 85.1 % of the highest heart rate
# (Esteve-Lanao et al. 2026, 1,411 runners).
VT1 = 0.851 * HR_MAX
MARTINEZ = {48: 0.95 * VT1, 96: VT1, 144: 1.05 * VT1}

# Sherman et al. 1984, J Appl Physiol 57:1668: 20 to 45 min a day at 50 to 60 % of VO2max on the seven days after a
# marathon, against rest; 46 to 63 % of VO2max are 64 to 76 % of the highest heart rate (Garber et al. 2011, table 5).
SHERMAN = {1: 20, 2: 25, 3: 30, 4: 35, 5: 40, 6: 45, 7: 45}

# Frandsen et al. 2025, Br J Sports Med 59:1203: a run over the longest of the 30 days before, here 10.0 km.
FRANDSEN = {"up to 10 %": 11.0, "10 to 30 %": 11.1, "30 to 100 %": 13.1, "over 100 %": 20.1}

# Plews et al. 2012, Eur J Appl Physiol 112:3729: two triathletes over 77 days. In the one who overreached the mean of
# seven days of ln RMSSD fell by 0.17 a week and scattered less and less; in the other it changed by 0.01.
PLEWS = {"overreached": -0.17, "healthy": 0.01}

EXPORTS: dict[str, tuple[str, dict[str, bytes]]] = {
    "martinez-run": ("marathon", {f"{hour}.fit": run(hour + 0.05, 40, bpm) for hour, bpm in MARTINEZ.items()}),
    "martinez-rest": ("marathon", {}),
    "sherman-run": (
        "marathon", {f"{day}.fit": run(24 * day, minutes, 0.70 * HR_MAX) for day, minutes in SHERMAN.items()},
    ),
    "sherman-rest": ("marathon", {}),
    **{
        f"frandsen-{number}": (
            "ultra_100k", {"before.fit": run(24 * 22, 60, 130, 10.0), "after.fit": run(24 * 24, 6 * km, 130, km)},
        )
        for number, km in enumerate(FRANDSEN.values())
    },
    **{f"plews-{name}": ("marathon", {"mornings.csv": mornings(slope, 0.1)}) for name, slope in PLEWS.items()},
}  # fmt: skip


@dataclass(frozen=True)
class Found:
    """All findings, by athlete."""

    findings: list[dict[str, Any]]

    def of(self, athlete: str, rule_id: str | None = None) -> list[dict[str, Any]]:
        mine = [one for one in self.findings if one["athlete"] == athlete and rule_id in (None, one["rule"])]
        return sorted(mine, key=lambda one: (one["session_start"] or "", one["day"]))


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Found:
    roster = CONTACT + "".join(ATHLETE.format(id=name, event=event) for name, (event, _) in EXPORTS.items())
    home = make_home(tmp_path_factory.mktemp("papers") / "home", roster, files={})
    for name, (_, files) in EXPORTS.items():
        (home / "exports" / name).mkdir()
        for file, content in files.items():
            put(home / "exports" / name / file, content)
    assert fallow("scan", "--as-of", "2026-11-02T12:00", home=home).status == 0
    return Found(fallow("findings", "--json", home=home).json())


@pytest.mark.parametrize("arm", ["martinez-rest", "sherman-rest"])
def test_the_arms_that_rested_are_told_nothing(found: Found, arm: str) -> None:
    assert [one["rule"] for one in found.of(arm) if one["rule"] != "sync_gap"] == []


def test_forty_minutes_at_the_first_threshold_are_read_as_that(found: Found) -> None:
    over = found.of("martinez-run", "intensity_ceiling")
    assert [str(one["severity"]) for one in over] == ["stop"] * 3
    for one, bpm in zip(over, MARTINEZ.values(), strict=True):
        told = one["evidence"]
        assert told["ceiling_bpm"] == 121  # light ends below 64 % of 190 (Garber 2011)
        assert told["ceiling_bpm"] + told["mean_excess_bpm"] == pytest.approx(bpm, abs=3)
        assert 36 * 60 <= told["above_s"] <= 40 * 60


def test_the_runs_of_the_trial_that_did_no_harm_are_still_runs_in_the_days_off_and_the_trial_is_named(
    found: Found,
) -> None:
    runs = found.of("martinez-run", "no_running")
    assert [(one["day"], one["severity"]) for one in runs] == [(2, "stop"), (4, "stop"), (6, "stop")]
    assert [one["observed"] for one in runs] == pytest.approx([40, 40, 40], abs=0.5)
    (early,) = found.of("martinez-run", "rest_hours")  # 48 h are over, 65 are not
    assert (early["severity"], early["observed"]) == ("caution", pytest.approx(48.05, abs=0.02))
    for name in ("no_running", "rest_hours"):
        assert "Martinez-Navarro 2021" in rule(name).evidence
        assert "Sherman 1984" in rule(name).evidence


def test_the_daily_runs_after_which_work_capacity_stayed_down_are_all_stopped(found: Found) -> None:
    runs = found.of("sherman-run", "no_running")
    assert [(one["day"], one["severity"]) for one in runs] == [(day, "stop") for day in SHERMAN]
    assert [one["observed"] for one in runs] == pytest.approx(list(SHERMAN.values()), abs=0.5)
    early = found.of("sherman-run", "rest_hours")
    assert [(one["day"], one["severity"]) for one in early] == [(1, "stop"), (2, "caution")]
    moderate = found.of("sherman-run", "intensity_ceiling")  # 50 to 60 % of VO2max is no light work
    assert [one["day"] for one in moderate] == list(SHERMAN)


@pytest.mark.parametrize("number", range(len(FRANDSEN)), ids=list(FRANDSEN))
def test_a_run_far_over_the_longest_is_a_jump_from_a_tenth_on(found: Found, number: int) -> None:
    jumps = found.of(f"frandsen-{number}", "long_run_jump")
    km = list(FRANDSEN.values())[number]
    assert [(one["observed"], one["limit"]) for one in jumps] == ([] if km == 11.0 else [(1000 * km, 11000)])


def test_mornings_of_an_athlete_who_overreached_are_told_within_a_fortnight_and_grow_worse(found: Found) -> None:
    told = found.of("plews-overreached", "hrv_down")
    assert told[0]["severity"] == "note"
    assert 5 <= told[0]["day"] <= 14
    assert "caution" in {one["severity"] for one in told}
    fallen = [one["evidence"]["sd_under"] for one in told]
    assert fallen == sorted(fallen)


def test_mornings_of_the_athlete_who_stayed_well_are_told_nothing_of(found: Found) -> None:
    assert found.of("plews-healthy", "hrv_down") == []
