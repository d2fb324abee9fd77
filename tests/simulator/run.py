"""By hand: `python -m tests.simulator.run 1000` judges invented sessions and prints what was missed or made up."""

from __future__ import annotations

import sys
from collections import Counter

from rules import words
from tests.simulator.cases import Case, judge, make
from tests.simulator.devices import WEAK

RANK = ["none", "caution", "stop"]


def wrong(case: Case) -> list[str]:
    """How the findings differ from the truth. A question is none of both; where the evidence is good it is `asked`."""
    said: list[str] = []
    speed, untold = case.severity("no_speed_work"), case.severity("not_judged")
    if case.scene.fast and speed == "none" and untold == "none":
        said.append("missed no_speed_work")
    if case.scene.fast and speed == "caution" and case.device.name not in WEAK:
        said.append("asked no_speed_work")
    if not case.scene.fast and speed != "none":
        said.append(f"{'false' if speed == 'stop' else 'asked'} no_speed_work_when_easy")
    ceiling = case.severity("intensity_ceiling")
    if ceiling not in case.ceiling and untold == "none":
        worst = max(case.ceiling, key=RANK.index)
        kind = "missed" if RANK.index(ceiling) < RANK.index(worst) else "false"
        said.append(f"{kind} intensity_ceiling {worst}->{ceiling}")
    steep = case.severity("steep_ground") != "none"
    if case.scene.steep is not None and steep != case.scene.steep and case.device.altitude != "none":
        said.append("missed steep_ground" if case.scene.steep else "false steep_ground")
    ran, says = case.scene.truth.running_s, case.running_s
    if ran > 150 and says < 60:
        said.append(f"missed running {ran:.0f}->{says:.0f}")
    if ran < 60 and says >= 60:
        said.append(f"false running {ran:.0f}->{says:.0f}")
    if case.scene.judged and case.sport != case.scene.judged:
        said.append(f"sport {case.sport} not {case.scene.judged}")
    return said


def main(count: int, first: int, *, by_file: bool) -> None:
    """Judge half clean and half hard sessions and print the differences."""
    totals: Counter[str] = Counter()
    for seed in range(first, first + count):
        hard = seed % 2 == 1
        case = judge(make(seed // 2 + (50_000 if hard else 0), hard), by_file=by_file)
        totals["hard" if hard else "clean"] += 1
        said = wrong(case)
        for line in said:
            key = line.split(" ")[0] + " " + line.split(" ")[1]
            totals[key] += 1
            threshold = case.context.threshold
            print(
                f"{case.seed:6d} {case.scene.name:26s} {case.scene.sport}/{case.scene.sub_sport}"
                f" [{case.device.name}] {case.faults}"
                f" thr={threshold.basis if threshold else None}: {line}"
            )
            if line.endswith("no_speed_work_when_easy"):
                print("        ", next(words.said(b.summary) for b in case.found if b.rule == "no_speed_work"))
        if any(line.startswith("false") for line in said) and not hard:
            totals["clean with a false finding"] += 1
    print(dict(totals))


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    main(*(numbers + [600, 0][len(numbers) :]), by_file="--files" in sys.argv)
