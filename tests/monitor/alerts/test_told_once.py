"""Whatever happens in whatever order, each reader is told of each finding what stands, and nothing twice."""

from collections import defaultdict
from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.findings import Severity
from tests.monitor.alerts.dying import Killed, die_and_restart, kill_at
from tests.monitor.alerts.scene import NOON, Scene, contact, finding, roster

NOTE, CAUTION, STOP = Severity
RUN = NOON - timedelta(hours=3)
FINDINGS = (
    finding("no_running", CAUTION, start=RUN),
    finding("intensity_ceiling", CAUTION, start=RUN),
    finding("duration_cap", CAUTION, start=RUN - timedelta(hours=20)),
)

STEPS = st.one_of(
    st.tuples(st.just("judge"), st.integers(0, 2), st.sampled_from([None, NOTE, CAUTION, STOP])),
    st.tuples(st.just("deliver"), st.booleans(), st.booleans()),
    st.tuples(st.just("kill"), st.sampled_from(["after claim", "after send", "before mark"]), st.integers(1, 2)),
    st.tuples(st.just("wait"), st.sampled_from([0.1, 1, 30, 120]), st.none()),
)


class World:
    """The findings that stand, and the scene in which they are told."""

    def __init__(self, path: Path) -> None:
        self.scene = Scene(
            path,
            roster(
                contact("coach", "json://a/", "json://b/"),
                contact("runa", "json://c/", role="athlete", receives=NOTE),
                quiet=(time(15), time(17)),
            ),
        )
        self.standing: dict[int, Severity] = {}

    def judge(self, index: int, severity: Severity | None) -> None:
        """The rules now find this, worse or milder, or no longer."""
        old = self.standing.pop(index, None)
        before = replace(FINDINGS[index], severity=old or CAUTION)
        if severity is None:
            if old is not None:
                self.scene.queue(withdrawn=(before,))
            return
        self.standing[index] = severity
        after = replace(FINDINGS[index], severity=severity)
        if old is None:
            self.scene.queue(after)
        elif severity > old:
            self.scene.queue(worse=((before, after),))
        elif severity < old:
            self.scene.queue(changed=((before, after),))

    def kill(self, step: str, time_round: int) -> None:
        try:
            self.scene.deliver(step=kill_at(step, time_round))
        except Killed:
            die_and_restart(self.scene)

    def come_to_rest(self) -> None:
        self.scene.channel.answer = True
        for _ in range(3):
            self.scene.pass_time(hours=3)
            self.scene.deliver()

    def told(self) -> dict[tuple[str, int, str], list[int]]:
        """(contact, channel, finding) -> the severities told in order, 0 where taken back."""
        found: dict[tuple[str, int, str], list[int]] = defaultdict(list)
        for entry in self.scene.journal.entries():
            for one in entry["told"]:
                found[(entry["contact"], entry["channel"], one["finding"])].append(one["told"])
        return found


@settings(max_examples=25, deadline=None)
@given(st.lists(STEPS, min_size=1, max_size=12))
def test_each_reader_is_told_what_stands_and_nothing_twice(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, object, object]]
) -> None:
    world = World(tmp_path_factory.mktemp("home"))
    for act, first, second in steps:
        if act == "judge":
            world.judge(first, second)
        elif act == "deliver":
            world.scene.channel.answer = bool(first)
            world.scene.deliver(gather_now=bool(second))
        elif act == "kill":
            world.kill(first, second)
        else:
            world.scene.pass_time(minutes=first)
    world.come_to_rest()
    assert set(world.scene.states()) <= {"sent"}
    told = world.told()
    for who, severities in told.items():
        for before, after in zip([0, *severities], severities, strict=False):
            assert after > before or (after == 0 and before > 0), (who, severities)
    for index, one in enumerate(FINDINGS):
        stands = world.standing.get(index)
        for name, channel, receives in (("coach", 1, CAUTION), ("coach", 2, CAUTION), ("runa", 1, NOTE)):
            last = told.get((name, channel, one.id), [0])[-1]
            if stands is not None and stands >= receives:
                assert last >= stands, (name, channel, one.rule, told)
            else:
                assert last == 0, (name, channel, one.rule, told)
