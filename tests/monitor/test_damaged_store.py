"""A store with one bit wrong, or cut off, costs nobody an alert: it is set aside, made anew, and the owner told.

A few places here; tests/bench/damage.py tries hundreds.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from monitor.intake.workers import Workers
from tests.damages import Damage, DamagedHomes, Told, damages


@pytest.fixture(scope="module")
def homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DamagedHomes]:
    with Workers(1) as workers:
        yield DamagedHomes(tmp_path_factory.mktemp("damaged"), workers)


def stops(told: Told) -> list[str]:
    return [message for message in told.messages if "chest pain" in message]


def check(told: Told, homes: DamagedHomes, *, always_found: bool) -> None:
    assert len(stops(told)) == 1, "the new stop arrives, once"
    assert len(told.asides) == 1 or not always_found
    notices = [message for message in told.messages if "store was damaged" in message]
    assert len(notices) == len(told.asides), "the owner is told"
    assert not set(homes.first.messages) & set(told.messages), "what was sent is not sent again"


def test_without_damage_the_alert_arrives_and_nothing_is_set_aside(homes: DamagedHomes) -> None:
    told = homes.tried(homes.store)
    assert len(stops(told)) == 1
    assert told.asides == []


def test_a_flipped_bit_anywhere_costs_no_alert(homes: DamagedHomes) -> None:
    for damage in damages(len(homes.store), flips=3, cuts=2):
        told = homes.tried(damage.done_to(homes.store))
        check(told, homes, always_found=damage.kind == "cut" or damage.place < 4096)


@pytest.mark.parametrize("kind", ["flip", "cut"])
def test_a_damaged_log_costs_no_alert(homes: DamagedHomes, kind: str) -> None:
    store, log = homes.log
    place = random.Random(3).randrange(len(log) // 2, len(log))
    told = homes.tried(store, Damage(kind, place).done_to(log))
    check(told, homes, always_found=False)


@pytest.mark.parametrize("content", [b"", b"not a database" * 1000])
def test_what_is_no_store_at_all_costs_no_alert(homes: DamagedHomes, content: bytes) -> None:
    check(homes.tried(content), homes, always_found=True)
