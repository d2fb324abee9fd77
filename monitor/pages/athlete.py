"""The athlete's pages: what today allows and why, the check-in on one screen, own findings with their evidence."""

from __future__ import annotations

import re
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor import logs, words
from monitor.board.athlete_view import shown
from monitor.board.findings import Group, groups, tally
from monitor.checkins import SUBFOLDER, checkin_document, warnings_of, write_checkin
from monitor.errors import FallowError, WorkFailed, WrongUse
from monitor.pages import rendering
from monitor.pages.context import PageContext, nothing_here, pages_of, reading_page, writing
from monitor.pages.guard import Visit, once
from monitor.pages.links import hashed
from monitor.pages.page_facts import PageFacts, sent_names
from monitor.plain_text import number, sentence
from monitor.roster import RosterAthlete
from monitor.views.findings import times_view
from rules import catalogue
from rules.day.reasons import standing_flags
from rules.facts import CheckIn
from rules.findings import Finding
from rules.limits import Limits
from rules.today import today_by
from rules.words import amounts

ONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")
KEPT_ON_THE_PHONE = timedelta(days=3)
"""Answers that a phone could not send count as of when they were given, so long after at most."""
LATEST = 12
"""Findings on the first page."""


async def home(request: Request, visit: Visit) -> Response:
    """What today allows, and why; the way to the check-in; what was found."""
    pages = pages_of(request)
    look = await run_in_threadpool(pages.look, visit.reader.id)
    return rendering.page("today.jinja", **await run_in_threadpool(today_values, look, pages, visit))


@reading_page("athlete")
async def checkin_form(request: Request, visit: Visit) -> Response:
    pages = pages_of(request)
    look = await run_in_threadpool(pages.look, visit.reader.id)
    return _form(look, pages, visit)


@writing("athlete")
async def checkin_sent(request: Request, visit: Visit, form: FormData) -> Response:
    """Written as the command writes it; a second sending of the same is told that the first has arrived."""
    pages = pages_of(request)
    name = str(form.get("once", ""))
    if not ONCE.fullmatch(name):
        return rendering.said(words.pages.NOT_SENT, words.pages.FORM_USED, status=400, back="/checkin")
    async with pages.turn(visit.reader):
        try:
            new = await run_in_threadpool(_write, pages, visit.reader.id, form, hashed(name)[:12])
        except WrongUse as error:
            look = await run_in_threadpool(pages.look, visit.reader.id)
            return _form(look, pages, visit, wrong=_in_page_words(str(error)), told=form, status=400)
        except FallowError as error:
            logs.failure("page_checkin", error)
            return rendering.said(words.pages.NOT_WRITTEN, words.pages.WHY_NOT_WRITTEN, status=503, back="/checkin")
    logs.event("page_checkin", new=new)
    return RedirectResponse("/?noted", 303)


def _write(pages: PageContext, athlete_id: str, form: FormData, name: str) -> bool:
    """False where the very same was sent before."""
    athlete = pages.athlete(athlete_id)
    if any(f"-{name}." in sent for sent in sent_names(athlete.folder)):
        return False
    now = pages.clock.now()
    document = checkin_document(answers_of(form), None, _said_at(form, now), athlete)
    folder = athlete.folder / SUBFOLDER
    if folder.is_symlink() or not athlete.folder.is_dir():
        raise WorkFailed(words.pages.NO_CHECK_IN_FOLDER)
    try:
        folder.mkdir(mode=0o700, exist_ok=True)
    except OSError as error:
        raise WorkFailed(words.pages.CHECK_IN_FOLDER_NOT_MADE.format(why=error.strerror)) from None
    write_checkin(athlete.folder, document, name)
    return True


def answers_of(form: FormData) -> dict[str, Any]:
    """The answers of the form, as the command's flags give them."""
    answers: dict[str, Any] = {
        name: {"yes": True, "no": False}.get(str(form.get(name, ""))) for name, _ in words.pages.YES_NO
    } | {name: _scale(name, form.get(name)) for name, *_ in words.pages.SCALES}
    more = [part.strip() for part in re.split(r"[,;\n]", str(form.get("symptom_more", ""))) if part.strip()]
    answers["pain_where"] = str(form.get("pain_where", "")).strip()
    answers["symptoms"] = [
        *(str(answer) for answer in form.getlist("symptom") if answer in words.interview.SYMPTOMS),
        *more,
    ]
    answers["note"] = str(form.get("note", "")).strip()
    answers["gone"] = [str(answer) for answer in form.getlist("gone")]
    answers["seen_doctor"] = str(form.get("doctor", "")).strip() or ("a doctor" if form.get("seen_doctor") else None)
    return answers


def _scale(name: str, told: object) -> float | None:
    text = str(told or "").strip()
    if not text:
        return None
    if not re.fullmatch(r"10|\d", text):
        raise WrongUse(words.pages.MUST_BE_NUMBER.format(name=name))
    return float(text)


def _said_at(form: FormData, now: datetime) -> datetime:
    """When it was answered: now, unless a phone had to keep it for a while."""
    try:
        at = datetime.fromisoformat(str(form.get("said_at", "")))
    except ValueError:
        return now
    return at if at.tzinfo is not None and now - KEPT_ON_THE_PHONE <= at <= now else now


def _in_page_words(line: str) -> str:
    return sentence(line.replace("_", " ").replace(words.pages.NOTHING_WAS_WRITTEN, ""))


def _form(
    look: PageFacts,
    pages: PageContext,
    visit: Visit,
    *,
    wrong: str = "",
    told: FormData | None = None,
    status: int = 200,
) -> Response:
    open_signs = standing_flags(look.known.made.judgement.plans, look.known.facts, look.now)
    return rendering.page(
        "checkin.jinja",
        status=status,
        visit=visit,
        wrong=wrong,
        told=told,
        once=once(),
        yes_no=words.pages.YES_NO,
        scales=words.pages.SCALES,
        symptoms=words.interview.SYMPTOMS,
        open_signs=[(span.told, amounts.weekday(span.day)) for span in open_signs],
        coached=look.athlete.athlete.coached,
    )


def today_values(look: PageFacts, pages: PageContext, visit: Visit) -> dict[str, Any]:
    """What the first page shows of an athlete; every sentence as `fallow today` says it."""
    known, limits = look.known, pages.limits
    told = today_by(known.made.judgement, known.facts, look.now, limits)
    plan = known.made.judgement.current
    zone, face = look.athlete.athlete.zone, look.athlete.clock
    found = shown(known)
    return {
        "visit": visit,
        "name": look.athlete.athlete.name,
        "where": _where(told.day, plan.last_day if plan else None, told.stage),
        "race": f"{words.shared.race_name(plan.race)} on {amounts.weekday(plan.day0)}" if plan else "",
        "date": told.date,
        "answer": sentence(told.answer),
        "sentences": [text for text in told.sentences if text != sentence(told.answer)],
        "said": _said(look, look.last_said),
        "warnings": warnings(look.last_said, look.athlete),
        "groups": _groups(look, found[:LATEST], limits),
        "tally": tally(found),
        "more": max(0, len(found) - LATEST),
        "coached": look.athlete.athlete.coached,
        "written": words.shared.day_and_time(look.now, zone, face),
    }


def _where(on: int | None, last: int | None, stage: str | None) -> str:
    if on is None or stage is None:
        return ""
    return (
        f"day {on} of {last}, {words.shared.stage_words(stage)}"
        if stage != "before"
        else words.shared.stage_words(stage)
    )


def warnings(said: CheckIn | None, athlete: RosterAthlete) -> list[str]:
    """What the latest check-in of today asks to be done at once, as the command says it."""
    if said is None:
        return []
    told = {key: list(value) if isinstance(value, tuple) else value for key, value in asdict(said).items()}
    return warnings_of({**told, "date": said.date.isoformat()}, athlete)


def _said(look: PageFacts, said: CheckIn | None) -> str:
    """The latest check-in of today in a line."""
    if said is None:
        return ""
    yes = {True: "yes", False: "no"}
    told = [
        *((f"stairs {yes[said.stairs_unaided]}",) if said.stairs_unaided is not None else ()),
        *((f"squat {yes[said.squat_unaided]}",) if said.squat_unaided is not None else ()),
        *(f"{name} {number(value)}" for name, *_ in words.pages.SCALES if (value := getattr(said, name)) is not None),
        *((f"pain where: {said.pain_where}",) if said.pain_where else ()),
        *said.symptoms,
    ]
    return ", ".join(told) or "a note"


def _groups(look: PageFacts, found: list[Finding], limits: Limits) -> list[Group]:
    return groups(found, look.marks, look.athlete, limits)


async def finding(request: Request, visit: Visit, finding_id: str) -> Response:
    """One finding of one's own with its evidence; whose else it may be is not told."""
    pages = pages_of(request)
    look = await run_in_threadpool(pages.look, visit.reader.id)
    one = next((other for other in look.known.standing if other.id == finding_id), None)
    if one is None:
        one = await run_in_threadpool(pages.reading.earlier, look, finding_id)
        if one is None:
            return nothing_here()
        if one not in look.known.standing:
            return rendering.said(words.pages.FINDING_WITHDRAWN, words.pages.WHY_WITHDRAWN, back="/")
    return rendering.page("finding_own.jinja", **await run_in_threadpool(finding_values, look, one, pages, visit))


def finding_values(look: PageFacts, one: Finding, pages: PageContext, visit: Visit) -> dict[str, Any]:
    """A finding, and what else was found on the same session or day, as the board and `fallow explain` tell it."""
    together = [other for other in look.known.standing if (other.date, other.subject) == (one.date, one.subject)]
    rules = [catalogue.rule(name) for name in dict.fromkeys(other.rule for other in together)]
    return {
        "visit": visit,
        "groups": _groups(look, together, pages.limits),
        "times": {other.id: times_view(other, look.athlete.athlete.zone) for other in together},
        "sources": [(rule.id, rule.evidence, catalogue.limits_of(rule, pages.limits)) for rule in rules],
        "coached": look.athlete.athlete.coached,
        "written": words.shared.day_and_time(look.now, look.athlete.athlete.zone, look.athlete.clock),
    }
