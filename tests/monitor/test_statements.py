"""Statements: what findings carry in the place of sentences, through the store and back, and how they read."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import numpy as np
import pytest

from monitor.store import encoding
from monitor.values import difference
from rules.findings import Finding, Severity, say
from rules.judge import judge
from rules.limits import default_limits
from rules.words import rendered, said
from tests.rules.kept_lives import LIVES
from tests.rules.made_lives import made
from tests.rules.people import quiet


def _found(seed: int) -> tuple[Finding, ...]:
    life = made(seed)
    return judge(life.facts, life.now, default_limits(), 72, quiet).findings


LIVED = [_found(seed) for seed in LIVES[:12]]
FOUND = [finding for found in LIVED for finding in found]


def _as_older_versions_kept_it(finding: Finding) -> Finding:
    summary, unit, evidence = said(finding.summary), said(finding.unit), rendered(finding.evidence)
    return replace(finding, summary=summary, unit=unit, evidence=evidence, advice=("Rest.",))


def _through_the_store(finding: Finding) -> Finding:
    return encoding.from_text(Finding, encoding.to_text(finding))


def test_no_finding_carries_a_sentence() -> None:
    assert len({finding.rule for finding in FOUND}) > 8
    assert [finding.summary for finding in FOUND if isinstance(finding.summary, str)] == []


def test_a_finding_reads_the_same_before_and_after_the_store() -> None:
    for finding in FOUND:
        kept = _through_the_store(finding)
        assert said(kept.summary) == said(finding.summary)
        assert json.dumps(rendered(kept.evidence)) == json.dumps(rendered(finding.evidence))


def test_what_an_older_version_kept_as_text_reads_as_it_did() -> None:
    for finding in FOUND:
        old = _through_the_store(_as_older_versions_kept_it(finding))
        assert (said(old.summary), old.advice) == (said(finding.summary), ("Rest.",))
        assert rendered(old.evidence) == old.evidence


def test_a_finding_kept_as_text_has_not_changed_by_being_a_statement_now() -> None:
    for found in LIVED:
        old = [_through_the_store(_as_older_versions_kept_it(finding)) for finding in found]
        assert not difference("a", old, found)
        assert not difference("a", [_through_the_store(finding) for finding in found], found)


def test_a_finding_whose_numbers_read_otherwise_has_changed_and_one_that_reads_alike_has_not() -> None:
    one = replace(FOUND[0], summary=say("run_too_long", ran=2820.0, cap=45))
    assert not difference("a", [one], [replace(one, summary=say("run_too_long", ran=2821.0, cap=45))])
    other = replace(one, summary=say("run_too_long", ran=2880.0, cap=45))
    assert difference("a", [one], [other]).changed == ((one, other),)
    noted = replace(one, evidence={**one.evidence, "assumed": [say("hr_taken_to_be_low")]})
    assert difference("a", [one], [noted]).changed == ((one, noted),)
    worse = replace(one, severity=Severity.NOTE)
    assert difference("a", [worse], [replace(one, severity=Severity.STOP)]).worse


@pytest.mark.parametrize(
    ("told", "reads"),
    [
        (say("run_too_long", ran=2820.0, cap=45), "A run of 47 min, where 45 min a run are allowed"),
        (say("unknown_to_this_version", much=3), "unknown to this version"),
        ({"statement": "run_too_long", "cap": 45}, "run too long"),
        ({"statement": "run_too_long", "ran": None, "cap": 45}, "run too long"),
        ({"statement": "flags_told", "flags": ["no_such_flag"]}, "flags told"),
        ("as {it} was: written %s", "as {it} was: written %s"),
        ("", ""),
        (say("pain", pain=4.0, where=say("pain_where", where="{knee} %d"), grown="", changes=""),
         "Pain 4 of 10 ({knee} %d)"),
        (say("gentle", took=say("unknown_time")),
         "An unknown time of yoga or pilates in the days off: fine as long as nothing is held hard"),
    ],
)  # fmt: skip
def test_a_statement_reads_as_a_sentence_and_never_fails(told: object, reads: str) -> None:
    assert said(told) == reads


def test_values_are_plain_so_that_any_store_can_hold_them() -> None:
    told = say("x", a=np.float64(1.5), b=np.int64(2), c=dt.date(2026, 10, 4), d=True, e=None, f=["a"])
    assert json.loads(json.dumps(told)) == told
    assert told["c"] == "2026-10-04"
