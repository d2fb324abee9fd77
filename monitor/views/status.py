"""Where every athlete stands, the ledgers of files and messages, and the program itself: the shape of `--json`."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

import duckdb

from monitor import words
from monitor.home import Home
from monitor.judging import View, views
from monitor.plain_text import local
from monitor.reasons import Why
from monitor.roster import Roster, RosterAthlete
from monitor.store import findings, intake, outbox
from monitor.views.plan import decision_of, decision_view, looks_like_races, shut_gates
from monitor.views.triage import FindingAnswers, first_word, next_stage, open_since
from rules import words as rule_words
from rules.findings import Finding
from rules.limits import Limits

# The ledger of files in the shape of `intake --json`.
LEDGER_COLUMNS = (
    "path",
    "athlete",
    "state",
    "reason",
    "sessions",
    "nights",
    "mornings",
    "checkins",
    "read_at",
    "sha256",
)


def intake_view(
    con: duckdb.DuckDBPyConnection, athletes: Collection[str] | None = None, *, replaced: bool = False
) -> list[dict[str, Any]]:
    """Every file as it lies there now, newest first, with what became of it; `replaced` adds what lay there before."""
    return [
        {
            **row,
            "reason": words.of_stored(row["reason"]),
            "read_at": row["read_at"].isoformat(timespec="seconds") if row["read_at"] else None,
        }
        for row in intake.listing(con)
        if (athletes is None or row["athlete"] in athletes) and (row["current"] or replaced)
    ]


# The outbox in the shape of `outbox --json`.

OUTBOX_COLUMNS = (
    "id", "athlete", "contact", "severity", "state", "reason", "tries", "last_error", "created_at", "sent_at", "title",
    "findings",
)  # fmt: skip


def outbox_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Collection[str] | None = None
) -> list[dict[str, Any]]:
    """Every alert, newest first, with its state and tries; about the athletes named, or about all."""
    return [outbox_row(row, roster) for row in outbox.every(con) if athletes is None or row.athlete in athletes]


def unsent_view(con: duckdb.DuckDBPyConnection, roster: Roster) -> list[dict[str, Any]]:
    """What is waiting, held or given up, newest first."""
    return [outbox_row(row, roster) for row in outbox.not_sent(con)]


def outbox_row(row: outbox.OutboxRow, roster: Roster) -> dict[str, Any]:
    """A message as `fallow outbox --json` shows it, with the title in which it was sent, or would be now."""

    from monitor.alerts.message import message_of  # noqa: PLC0415 - mostly nothing waits

    def iso(moment: datetime | None) -> str | None:
        return moment.isoformat() if moment else None

    return {
        "id": row.id,
        "athlete": row.athlete,
        "contact": row.contact,
        "channel": row.channel,
        "channel_shown": row.channel_shown,
        "kind": row.kind,
        "severity": str(row.severity),
        "findings": list(row.findings),
        "state": row.state,
        "reason": why_words(row, roster),
        "reason_code": row.reason,
        "tries": row.tries,
        "perhaps": row.perhaps,
        "refused": row.refused,
        "recipient": row.recipient_number or None,
        "last_error": words.of_stored(row.last_error) if row.last_error else None,
        "created_at": iso(row.created_at),
        "not_before": iso(row.not_before),
        "next_try_at": iso(row.next_try_wall) if row.state == "waiting" else None,
        "sent_at": iso(row.sent_at),
        "title": row.title if row.state == "sent" else message_of(row, roster).title,
    }


def why_words(row: outbox.OutboxRow, roster: Roster) -> str:
    """Why a message stands as it does; the end of quiet hours is on the athlete's clock."""
    if row.reason == Why.QUIET_HOURS and row.not_before:
        from monitor.alerts.outbox_editor import zone_of  # noqa: PLC0415 - as above

        zone = zone_of(roster, row.athlete, row.contact)
        return words.sending.DEFERRED_UNTIL.format(until=row.not_before.astimezone(zone))
    return words.of_stored(row.reason)


# The program itself: messages that do not get through, folders that cannot be looked into, a roster that is wrong.


@dataclass(frozen=True, slots=True)
class Program:
    """Sentences on what is wrong, and when the daemon last looked, as it wrote of itself."""

    channels: tuple[str, ...]
    folders: tuple[str, ...]
    daemon: tuple[str, ...]
    looked_at: datetime | None

    @property
    def troubles(self) -> tuple[str, ...]:
        return (*self.channels, *self.folders, *self.daemon)


def program(home: Home, roster: Roster, unsent: Sequence[dict[str, Any]], *, runs: bool = True) -> Program:
    """From the outbox's rows that are `unsent`, and what the daemon last wrote of itself, if it `runs`."""
    said = _daemon(home) if runs else {}
    return Program(
        tuple(_channels(roster, unsent)),
        tuple(_folders(roster, dict(said.get("missing") or {}))),
        tuple(_of_itself(said)),
        _moment(said.get("last_pass_at")),
    )


def _folders(roster: Roster, missing: dict[str, str]) -> Iterator[str]:
    for athlete_id, why in sorted(missing.items()):
        athlete = roster.athlete(str(athlete_id))
        if athlete is not None:
            yield words.status.FOLDER_MISSING.format(name=athlete.athlete.name or athlete_id, why=words.of_stored(why))


def _of_itself(said: dict[str, Any]) -> Iterator[str]:
    if said.get("roster_error"):
        yield words.status.ROSTER_NOT_VALID.format(roster_error=words.of_stored(said["roster_error"]))
    if said.get("trouble"):
        yield f"The daemon: {words.of_stored(said['trouble'])}."


def _channels(roster: Roster, unsent: Sequence[dict[str, Any]]) -> list[str]:
    """A sentence for each contact whose messages fail; messages held for the night do not count."""
    stuck = [row for row in unsent if _stuck(row)]
    found = []
    for contact_id, group in groupby(sorted(stuck, key=lambda row: row["contact"]), key=lambda row: row["contact"]):
        rows = list(group)
        contact = roster.contact(contact_id)
        name = contact.name if contact and contact.name else contact_id
        failed = sum(row["state"] == "failed" for row in rows)
        waiting = len(rows) - failed
        what = ["1 message waits" if waiting == 1 else f"{waiting} messages wait"] if waiting else []
        what += [f"{failed} given up"] if failed else []
        error = next((row["last_error"] for row in rows if row["last_error"]), None)
        found.append(f"To {name}: {', '.join(what)}" + (words.status.LAST_ERROR.format(error=error) if error else "."))
    return found


def _stuck(row: dict[str, Any]) -> bool:
    if row["state"] == "failed":
        return bool(row["reason_code"] != Why.DAY_OVER)
    return bool(row["state"] == "waiting" and row["tries"] > 0)


def _daemon(home: Home) -> dict[str, Any]:
    try:
        said = json.loads(home.state.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def _moment(text: object) -> datetime | None:
    try:
        return datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None


COLUMNS = (
    "athlete", "name", "day", "stage", "stage_ends", "last_session", "last_session_sport", "last_session_min",
    "last_file_at", "open_findings", "open_worst", "need", "why", "do", "today", "next_stage", "next_date",
)  # fmt: skip
DAY = timedelta(days=1)


def status_view(
    con: duckdb.DuckDBPyConnection, roster: Roster, athletes: Sequence[RosterAthlete], now: datetime, limits: Limits
) -> list[dict[str, Any]]:
    """One entry an athlete, in the order of the roster."""
    answers = FindingAnswers(findings.marks(con), findings.made_at(con))
    entries = []
    for made in views(con, roster, athletes, now, limits):
        standing = [finding for finding in made.standing if finding.subject_start <= now + DAY]
        asked = looks_like_races(made, answers.marks, now, limits)
        entries.append(
            {
                **status_entry(made, standing, answers.marks, now, limits),
                "looks_like_a_race": asked,
                "summary": _looked_back(made, now, limits),
                **_need(made, standing, answers, now, roster.alerts.late_after_days, limits),
            }
        )
    return entries


def _need(
    made: View, standing: Sequence[Finding], answers: FindingAnswers, now: datetime, news_days: float, limits: Limits
) -> dict[str, Any]:
    """What the board's line says: how urgent, why, what to do, what today allows, what comes next and when."""
    decision = decision_of(made, now, limits)
    word = first_word(made, standing, decision, answers, now, news_days, limits)
    following = next_stage(made.judgement.current, now)
    return {
        "need": word.need,
        "need_rank": list(word.rank),
        "why": word.why,
        "do": word.do,
        "why_finding": word.finding or None,
        "today": rule_words.day.answer(decision, words.shared.short_moment(made.athlete.clock)),
        "next_stage": following[0] if following else None,
        "next_date": following[1].isoformat() if following else None,
    }


def status_entry(
    made: View, standing: Sequence[Finding], seen: Collection[str], now: datetime, limits: Limits
) -> dict[str, Any]:
    """Where one athlete stands, by a judgement of now and the findings that stand."""
    athlete, plan = made.athlete.athlete, made.judgement.current
    today = athlete.local_date(now)
    stage = plan.planned_stage(today) if plan else None
    last = next(
        (session for session in reversed(made.history.sessions) if session.start <= now), None
    )  # sessions are ordered by start
    since = open_since(made)
    unseen = [finding for finding in standing if finding.id not in seen and (since is None or finding.date >= since)]
    counted = Counter(str(finding.severity) for finding in unseen)
    return {
        "athlete": athlete.id,
        "name": athlete.name,
        "day": plan.day_of(today) if plan else None,
        "stage": plan.stage_at(now) if plan else None,
        "stage_ends": stage.last_date.isoformat() if stage else None,
        "last_session": local(last.start, athlete.zone) if last else None,
        "last_session_sport": last.digest.sport if last else None,
        "last_session_min": round(last.timer_s / 60, 1) if last else None,
        "last_file_at": local(made.history.last_file_at, athlete.zone),
        "open_findings": {word: counted[word] for word in ("note", "caution", "stop")},
        "open_worst": str(max(finding.severity for finding in unseen)) if unseen else None,
        "gates": shut_gates(plan.gates) if plan else [],
        "plan_ends": plan.last_date.isoformat() if plan else None,
        "thin": list(map(rule_words.said, made.judgement.thin)),
        "decision": decision_view(decision_of(made, now, limits)),
    }


def _looked_back(made: View, now: datetime, limits: Limits) -> list[str]:
    """The reverse taper summed up, for some days after its end."""
    plan, told = made.judgement.current, rule_words.report.looked_back(made.judgement, now)
    if plan is None:
        return []
    days = (made.athlete.athlete.local_date(now) - plan.last_date).days
    return list(told) if days <= limits.status.summary_days else []
