"""What is due by the clock and not by files: the day's plan, and troubles of the program, each told once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import partial
from itertools import count

import duckdb

from monitor import words
from monitor.alerts import notices
from monitor.alerts.message import call_of
from monitor.alerts.notices import NoticeGuard
from monitor.alerts.outbox_editor import audience_of, day_of, reader_of
from monitor.judging import view
from monitor.news import Daily, DigestRow, FolderNews, MorningDigest, Reader, Trouble
from monitor.plain_text import clean, in_passing
from monitor.reasons import stored
from monitor.roster import Contact, Roster, RosterAthlete
from monitor.store import decisions, findings
from monitor.store.database import Store
from rules import words as rule_words
from rules.day import Decision, decide
from rules.day.decision import heart_rate_misleads
from rules.facts import History
from rules.findings import Finding, Severity
from rules.history import in_order
from rules.judge import Judgement
from rules.limits import Limits, default_limits
from rules.today import today
from rules.words import amounts

Told = tuple[str, str, date]


class DailyMessages:
    """Sends each contact's `daily` once a day of the athlete; remembers what went out so as to ask the store little."""

    def __init__(self) -> None:
        self._done: set[Told] = set()

    def queue_due(self, store: Store, roster: Roster, now: datetime, limits: Limits) -> tuple[str, ...]:
        """Queue what is due now; what of it could not be made, in words."""
        wanted = [(a, c) for a in roster.athletes for c in roster.contacts_of(a.id) if self._due(a, c, now)]
        coaches = [
            each for each in roster.contacts if _has_digest(roster, each) and self._digest_due(roster, each, now)
        ]
        wanted = [(a, c) for a, c in wanted if not _has_digest(roster, c)]
        if not wanted and not coaches:
            return ()

        def act(con: duckdb.DuckDBPyConnection, aside: NoticeGuard) -> None:
            for athlete, contact in wanted:
                aside.run(
                    words.status.NOTICE_OF_DAY.format(id=athlete.id),
                    partial(_queue, con, roster, athlete, contact, now, limits),
                )
            for coach in coaches:
                aside.run(
                    words.status.NOTICE_OF_MORNING.format(id=coach.id),
                    partial(_queue_digest, con, roster, coach, now, limits),
                )

        _, left_out = notices.write(store, act)
        done = [(athlete.id, contact.id, athlete.athlete.local_date(now)) for athlete, contact in wanted]
        done += [("", coach.id, _local(roster, coach, now).date()) for coach in coaches]
        oldest = min(day for _, _, day in done) - timedelta(days=1)
        self._done = {entry for entry in self._done if entry[2] >= oldest} | set(done)
        return left_out

    def _due(self, athlete: RosterAthlete, contact: Contact, now: datetime) -> bool:
        return self._in_time(athlete.id, contact, now.astimezone(athlete.athlete.zone))

    def _digest_due(self, roster: Roster, coach: Contact, now: datetime) -> bool:
        return self._in_time("", coach, _local(roster, coach, now))

    def _in_time(self, athlete_id: str, contact: Contact, local: datetime) -> bool:
        if contact.daily is None or (athlete_id, contact.id, local.date()) in self._done:
            return False
        begins = datetime.combine(local.date(), contact.daily, local.tzinfo)
        return begins <= local < begins + timedelta(hours=default_limits().alerts.daily_within_hours)


def _has_digest(roster: Roster, contact: Contact) -> bool:
    """Whether a contact's morning is one message on several athletes."""
    return contact.role == "coach" and len(_athletes_of(roster, contact)) > 1


def _athletes_of(roster: Roster, contact: Contact) -> list[RosterAthlete]:
    return [athlete for athlete in roster.athletes if contact.id in athlete.contacts]


def _local(roster: Roster, coach: Contact, now: datetime) -> datetime:
    """A coach's clock is that of the first of the athletes."""
    return now.astimezone(reader_of(roster, "", coach).zone)


def _queue(
    con: duckdb.DuckDBPyConnection,
    roster: Roster,
    athlete: RosterAthlete,
    contact: Contact,
    now: datetime,
    limits: Limits,
) -> bool:
    made = view(con, roster, athlete, now, limits)
    daily = daily_of(made.judgement, made.history, reader_of(roster, athlete.id, contact), now, limits)
    return daily is not None and notices.queue_daily(con, roster, athlete.id, contact.id, daily, now)


def daily_of(judgement: Judgement, history: History, reader: Reader, now: datetime, limits: Limits) -> Daily | None:
    """What the day allows, for one reader; None outside of an active plan."""
    day = today(judgement, history, now, limits)
    decision = decide(judgement, in_order(history, limits), now, limits)
    if not decision.active or decision.day is None or decision.stage is None:
        return None
    told = day_of(judgement, history, limits)(reader, now)
    assert told is not None
    return Daily(
        day=decision.day,
        stage=decision.stage,
        answer=told.answer,
        words=(*(told.now if decision.flags else ()), *(why for _, why in told.why), *told.ends),
        stage_ends=day.stage_ends,
        sport=decision.sport,
        walks=decision.movement == "walking",
        ceiling_bpm=None if heart_rate_misleads(decision.athlete) else day.ceiling_bpm,
        effort=day.effort,
        pace_s_per_km=decision.pace_s_per_km if decision.runs else None,
        waits=day.gates,
        opens_with=day.asks,
        also=(*day.mornings, *day.notes, *([day.caution] if day.caution else [])),
    )


def _queue_digest(
    con: duckdb.DuckDBPyConnection, roster: Roster, coach: Contact, now: datetime, limits: Limits
) -> bool:
    """One message on all athletes of a coach who are in a plan; none where nobody is."""
    marks = findings.marks(con)
    rows = []
    for athlete in _athletes_of(roster, coach):
        made = view(con, roster, athlete, now, limits)
        unseen = [finding for finding in findings.standing(con, athlete.id) if finding.id not in marks]
        row = digest_row(made.judgement, made.history, unseen, reader_of(roster, athlete.id, coach), now, limits)
        rows += [row] if row is not None else []
    if not rows:
        return False
    digest = MorningDigest(tuple(sorted(rows, key=urgency)))
    return notices.queue_digest(con, roster, coach, _local(roster, coach, now).date(), digest, now)


# A coach's morning in one message: who needs a word first and why, who has not synced, what begins, who is fine.

MOST_TOLD = 60
NO_NEED = frozenset({"rest_hours", "time_used", "rest_day", "week_share", "tolerated_used"})
"""Reasons that are the plan's own and ask for no word."""


def digest_row(
    judgement: Judgement,
    history: History,
    unseen: Sequence[Finding],
    reader: Reader,
    now: datetime,
    limits: Limits,
) -> DigestRow | None:
    """None for an athlete in no active plan."""
    decision = decide(judgement, in_order(history, limits), now, limits)
    if not decision.active or decision.plan is None or decision.day is None or decision.stage is None:
        return None
    since = now - timedelta(hours=limits.alerts.digest_news_hours)  # older ones were told in an earlier morning
    fresh = [finding for finding in unseen if finding.severity >= Severity.CAUTION and finding.subject_end >= since]
    worst = max(fresh, key=lambda finding: (finding.severity, finding.subject_end), default=None)
    row = decision.plan.planned_stage(decision.date)
    gate = next((shut for shut in decision.plan.gates if shut.until is None and shut.reasons), None)
    heard = history.last_file_at
    silent = heard is not None and now - heard >= timedelta(hours=limits.alerts.digest_silent_hours)
    grave = str(decision.flags[0].numbers["class"]) if decision.flags else ""
    return DigestRow(
        name=reader.called,
        day=decision.day,
        stage=decision.stage,
        answer=rule_words.day.CLASS_ANSWERS[grave]
        if grave
        else rule_words.day.answer(decision, audience_of(reader).clock),
        why=_why(decision, worst, reader),
        call=call_of(grave, reader) if grave else "",
        silent_since=decision.athlete.local_date(heard) if heard is not None and silent else None,
        never_came=heard is None,
        begins=decision.stage if row is not None and row.first_date == decision.date else "",
        waits=gate.before if gate is not None and gate.before != "done" else "",
        opens_with=gate.asks[0] if gate is not None and gate.asks else "",
    )


def _why(decision: Decision, worst: Finding | None, reader: Reader) -> str:
    """A sign for a doctor, else the gravest of the last days, else what keeps the athlete at rest."""
    if decision.flags:
        return f"“{clean(str(decision.flags[0].numbers['told']), MOST_TOLD)}”"
    if worst is not None and worst.rule != "gone_quiet":
        return f"{words.findings.happened(worst, reader).title} ({amounts.weekday(worst.date)})"
    ruling = decision.ruling
    if ruling is None or ruling.kind in NO_NEED:
        return ""
    return in_passing(rule_words.day.reason_words(ruling, audience_of(reader)))


def urgency(row: DigestRow) -> tuple[int, str]:
    """Order of a morning: calls, then other words, then silence, then the rest."""
    rank = 0 if row.call == "phone now" else 1 if row.call else 2 if row.why else 3 if row.silent_since else 4
    return rank, row.name


# Folders and troubles of the program.


def queue_roots(store: Store, roster: Roster, missing: Mapping[str, str], now: datetime) -> None:
    """Tell once that an athlete's folder cannot be looked into, and once that it is back."""
    with store.reading() as con:
        changed = [athlete for athlete in roster.athletes if _root_key(con, athlete.id, athlete.id in missing)]
    if not changed:
        return
    with store.writing() as con:
        for athlete in changed:
            key = _root_key(con, athlete.id, athlete.id in missing)
            if key is None:
                continue
            news = FolderNews(stored(missing.get(athlete.id, "")))
            notices.queue_notice(con, roster, key, news, now, athlete_id=athlete.id)


def _root_key(con: duckdb.DuckDBPyConnection, athlete_id: str, missing: bool) -> str | None:
    """Key of what is to be told of a folder, None when it was told: absences are numbered."""
    told = decisions.keys_begun(con, f"root:{athlete_id}:")
    backs = {int(key.split(":")[2]) for key in told if key.endswith(":back")}
    number = next(number for number in count() if number not in backs)
    gone = f"root:{athlete_id}:{number}:gone" in told
    if missing == gone:
        return None
    return f"root:{athlete_id}:{number}:{'gone' if missing else 'back'}"


def queue_trouble(store: Store, roster: Roster, trouble: str, now: datetime) -> bool:
    """Tell the owner of a trouble of the program itself, the same one once a day."""
    kept = stored(trouble)
    name = hashlib.sha256(kept.encode()).hexdigest()[:12]
    with store.writing() as con:
        return notices.queue_notice(con, roster, f"trouble:{name}:{now.date()}", Trouble(kept), now)
