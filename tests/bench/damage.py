"""Flips a bit of a store in hundreds of places and cuts it off at others; an alert for a new `stop` always arrives.

Run by hand: python -m tests.bench.damage [FLIPS] [CUTS]
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from pathlib import Path

from monitor.errors import FallowError
from monitor.intake.workers import Workers
from tests.bench import machine
from tests.damages import Damage, DamagedHomes, damages


def main(flips: int = 200, cuts: int = 20) -> int:
    """Print how it went; how many places cost the alert."""
    outcomes: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as folder, Workers(1) as workers:
        homes = DamagedHomes(Path(folder), workers)
        store, (logged, log) = homes.store, homes.log
        tried: list[tuple[str, Damage, bytes, bytes | None]] = [
            ("store", damage, damage.done_to(store), None) for damage in damages(len(store), flips, cuts, pages=8)
        ]
        tried += [
            ("log", damage, logged, damage.done_to(log))
            for damage in damages(len(log), flips // 10, cuts // 2, pages=0)
        ]
        for number, (what, damage, content, beside) in enumerate(tried, 1):
            try:
                told = homes.tried(content, beside)
                arrived = sum("chest pain" in message for message in told.messages) == 1
                again = bool(set(homes.first.messages) & set(told.messages))
                said = sum("store was damaged" in message for message in told.messages) == len(told.asides)
                fine = "arrived" if arrived and said and not again else f"WRONG {arrived=} {said=} {again=}"
                outcome = f"{what} {damage.kind}: {fine}, {'set aside' if told.asides else 'not noticed'}"
            except FallowError as error:
                outcome = f"{what} {damage.kind}: WRONG {error}"
            outcomes[outcome] += 1
            if "WRONG" in outcome:
                print(f"at {damage.place}: {outcome}", flush=True)
            if number % 50 == 0:
                print(f"{number} of {len(tried)}", flush=True)
    print(f"{machine.about()}, a store of {len(store)} bytes, a log of {len(log)}")
    for outcome, count in sorted(outcomes.items()):
        print(f"{count:5} {outcome}")
    return sum(count for outcome, count in outcomes.items() if "WRONG" in outcome)


if __name__ == "__main__":
    sys.exit(min(1, main(*map(int, sys.argv[1:]))))
