"""Lives judged: plans, findings, the day and what the program says of it, the week, the race file, the looking back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from functools import partial
from typing import Any

from rules import words
from rules.body.checkins import impact_share
from rules.catalogue import advice_of
from rules.day import decide
from rules.day.decision import Audience, foresee
from rules.findings import Finding
from rules.history import in_order
from rules.judge import Judgement, judge, judgement_of_findings
from rules.limits import default_limits
from rules.plan import Plan
from rules.race_file import looks_like_a_race, race_file
from rules.session.labels import quality
from rules.today import today_by
from tests.kept_answers import Line, mark, plain
from tests.rules.made_lives import days_after, made

LIVES: tuple[int, ...] = (
    1000, 1003, 1004, 1005, 1007, 1010, 1014, 1017, 1022, 1023, 1025, 1029, 1031, 1033, 1036, 1039, 1040, 1044,
    1045, 1047, 1049, 1056, 1057, 1061, 1073, 1076, 1081, 1083, 1087, 1088, 1096, 1098, 1102, 1106, 1112, 1122,
    1125, 1133, 1134, 1139, 1148, 1154, 1155, 1166, 1167, 1169, 1181, 1186, 1188, 1190, 1195, 5000, 5012, 5013,
    5015, 5016, 5021, 5029, 5041, 5045, 5048, 5049, 5050, 5061,
)  # fmt: skip


def judged(seed: int) -> dict[str, Any]:
    """All that comes of a life."""
    life, limits = made(seed), default_limits()
    found = judge(life.facts, life.now, limits, 72, life.judge_one)
    facts = in_order(life.facts, limits)
    decision = decide(found, facts, life.now, limits)
    coach = Audience("coach", life.facts.athlete.coached)
    again = judgement_of_findings(facts, life.now, limits, found.findings)
    ahead = [foresee(found, facts, day, limits) for day in days_after(life.facts)]
    first = life.facts.athlete.races[0]
    file = race_file(life.facts.sessions, first, limits)
    like = looks_like_a_race(life.facts.sessions, life.facts.athlete, life.now, limits)
    spoken = today_by(found, facts, life.now, limits)
    return {
        "plans": [_plan(each) for each in found.plans],
        "findings": [_finding(each, coached=life.facts.athlete.coached) for each in found.findings],
        "judgement": [len(found.thin), found.plan_totals, found.silence_changes_at, again == _without_silence(found)],
        "today": [
            spoken.answer,
            spoken.allowed_min,
            spoken.run_allowed_min,
            spoken.ceiling_bpm,
            spoken.movement,
            *_marks(spoken),
        ],
        "decision": [
            decision.day,
            decision.stage,
            decision.left_min,
            decision.week_left_min,
            *_marks(_decided(decision)),
        ],
        "said": [
            mark(each)
            for each in (
                words.day.now_words(decision, coach),
                words.day.after_words(decision),
                words.day.answer(decision, body=False),
                [words.report.summary(found, each) for each in found.plans],
                words.report.looked_back(found, life.now),
                [
                    words.report.race_words(file, first) if file else None,
                    [[one.session.key, one.reason] for one in like],
                ],
            )
        ],
        "ahead": [
            Line(f"{each.movement} {each.allowed_min} {each.running} {each.run_allowed_min} {each.week_left_min}")
            for each in ahead
        ],
        "race file": [file.distance_m, file.more_days, file.doubt, mark(file)] if file else [],
        "impact": [impact_share(life.now, life.facts.sessions, first.finish, limits)]
        + [quality(each.digest, each.elapsed_s, limits) for each in life.facts.sessions[-3:]],
    }


def _marks(one: Any) -> list[str]:
    """Of each field its beginning and a check sum, so that a difference tells which it is."""
    told = plain(one)
    return [f"{name[:9]} {mark(each)[:5]}" for name, each in told.items() if each is not None]


def _without_silence(found: Judgement) -> Judgement:
    return Judgement(found.plans, found.current, found.findings, found.thin, found.plan_totals)


def _finding(one: Finding, *, coached: bool) -> str:
    """Rule, severity, day and numbers in a line, with check sums of the evidence, of the sentence and of the rest."""
    one = replace(one, advice=advice_of(one, default_limits(), coached=coached))
    numbers = f"{plain(one.observed)} {plain(one.limit)} {plain(one.unit)}"
    return Line(
        f"{one.day} {one.rule} {one.severity} {numbers} "
        + " ".join(mark(each)[:6] for each in (one.evidence, one.summary, one))
    )


def _decided(one: Any) -> dict[str, Any]:
    left_out = ("athlete", "plan", "allowance")
    return {field.name: getattr(one, field.name) for field in fields(one) if field.name not in left_out} | {
        "numbers": [one.day, one.left_min, one.rest, one.sport, one.runs, one.ends_today]
    }


def _plan(one: Plan) -> list[Any]:
    """Its length, its stages in a line each, and a check sum of each field."""
    stages = [
        Line(f"{row.stage} {row.first_day}-{row.last_day} {row.held_days} {row.duration_cap_min} {row.ceiling_bpm}")
        for row in one.stages
    ]
    told = {field.name: getattr(one, field.name) for field in fields(one) if field.name not in ("athlete", "race")}
    return [
        one.length_days,
        one.last_day,
        *stages,
        *_marks(told | {"estimated": one.estimated, "last date": one.last_date}),
    ]


ANSWERS: dict[str, Callable[[], Any]] = {f"life {seed}": partial(judged, seed) for seed in LIVES}
