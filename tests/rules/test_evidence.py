"""What severity the signals of a session carry together."""

from __future__ import annotations

import pytest

from rules.day_rules import no_running
from rules.findings import RUNNING_SIGNALS, Severity, Signal, severity_of, shown, signals_from_store
from rules.limits import default_limits
from rules.words import said
from tests.rules.people import plan, session

GOOD_FOR = Signal("cadence", "good", "for", "164 steps a minute")
GOOD_AGAINST = Signal("heart rate", "good", "against", "flat at 92 bpm")
WEAK_FOR = Signal("speed", "weak", "for")
OTHER_WEAK_FOR = Signal("label", "weak", "for")
WEAK_AGAINST = Signal("heart rate", "weak", "against")
SILENT = Signal("laps", "good", "nothing")
UNHEARD = Signal("altitude", "none", "for")


@pytest.mark.parametrize(
    ("heard", "severity"),
    [
        ([], None),
        ([SILENT, UNHEARD], None),
        ([GOOD_FOR], Severity.STOP),
        ([GOOD_FOR, WEAK_AGAINST], Severity.CAUTION),
        ([GOOD_FOR, WEAK_FOR, WEAK_AGAINST], Severity.STOP),
        ([WEAK_FOR, WEAK_AGAINST], None),
        ([GOOD_FOR, GOOD_AGAINST], Severity.CAUTION),
        ([WEAK_FOR, OTHER_WEAK_FOR], Severity.STOP),
        ([WEAK_FOR, OTHER_WEAK_FOR, WEAK_AGAINST], Severity.CAUTION),
        ([WEAK_FOR, WEAK_FOR], Severity.CAUTION),
        ([WEAK_FOR], Severity.CAUTION),
        ([WEAK_FOR, GOOD_AGAINST], None),
        ([WEAK_FOR, OTHER_WEAK_FOR, GOOD_AGAINST], None),
        ([GOOD_AGAINST], None),
        ([WEAK_AGAINST], None),
    ],
)
def test_a_finding_is_as_grave_as_its_evidence(heard: list[Signal], severity: Severity | None) -> None:
    assert severity_of(heard) == severity


def test_what_is_stored_is_heard_again_and_what_is_not_of_that_shape_is_left_out() -> None:
    assert signals_from_store([*shown([SILENT, GOOD_FOR]), "cadence", {"signal": "speed"}]) == (GOOD_FOR, SILENT)


@pytest.mark.parametrize(
    ("heard", "severity"),
    [
        (None, Severity.STOP),
        ([GOOD_FOR], Severity.STOP),
        ([WEAK_FOR], Severity.CAUTION),
        ([WEAK_FOR, GOOD_AGAINST], None),
    ],
)
def test_running_is_told_as_gravely_as_its_signals_allow(heard: list[Signal] | None, severity: Severity | None) -> None:
    notes = {} if heard is None else {RUNNING_SIGNALS: shown(heard)}
    run = session(3, "running", 30, digest={"notes": notes})
    found = no_running(
        run, plan().allowance_on(run.start.date()), ceiling_broken=False, run_before=False, limits=default_limits()
    )
    assert (found and found.severity) == severity
    assert found is None or said(found.summary).endswith("?") == (severity == Severity.CAUTION)
    assert found is None or ("signals" in found.evidence) == (heard is not None)
