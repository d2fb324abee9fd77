"""`fallow demo`: reads invented exports chapter by chapter, with the real pipeline, and prints what happens."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from monitor import words
from monitor.cli import context, screen
from monitor.cli.passes import write_board
from monitor.cli.plans import plan_of, print_stages
from monitor.cli.screen import Column, called, quoted
from monitor.home import Home
from rules.findings import Severity
from rules.words import amounts, said

if TYPE_CHECKING:
    from monitor.demo import ChapterResult, Demo, ReceivedMessage

COUNTED = {**words.shared.FACTS, "duplicate": "duplicate", "unreadable": "unreadable file"}
ODD = ("duplicate", "unreadable", "ignored")


def run_demo(home: Path | None) -> None:
    """Tell the story of the sample exports in `home`, which must be new or empty; else in a temporary folder."""
    from monitor.demo import staged

    where = home.expanduser().resolve() if home else Path(tempfile.mkdtemp(prefix="fallow-demo-")).resolve()
    with staged(Home(where)) as demo:
        _introduce(demo)
        quiet = True
        for chapter in demo.chapters():
            _print_chapter(demo, chapter, to_both=quiet)
            quiet = quiet and not chapter.messages
        _conclude(demo)


def _introduce(demo: Demo) -> None:
    screen.say(words.commands.INTRODUCTION.format(name=demo.athlete.athlete.name))
    screen.say()
    screen.entries(
        [("home", str(demo.home.path)), ("roster", str(demo.home.roster)), ("exports", str(demo.athlete.folder))]
    )


def _print_chapter(demo: Demo, told: ChapterResult, *, to_both: bool) -> None:
    """The story, what was read, the messages; whole where they bring a new caution or stop, else their titles.

    The coach's copy of what the athlete was told is whole only with `to_both`.
    """
    until = told.chapter.until
    day = (until.date() - demo.athlete.athlete.races[0].finish.date()).days
    screen.say()
    screen.heading(f"Day {day}, {until:%A} {until.day} {until:%B}, {until:%H:%M}")
    screen.say(told.chapter.story)
    if told.chapter.release:
        screen.say(words.commands.RELEASED_BY.format(id=demo.athlete.id, release=told.chapter.release))
    screen.say(_counted(told.counts))
    if day == 0:
        screen.say()
        _print_plan(demo, "Her plan")
    elif not told.messages:
        screen.say(words.commands.NO_NEWS)
    worse = [finding.id for finding in told.fresh if finding.severity >= Severity.CAUTION]
    for message in told.messages:
        to = next(contact for contact in demo.roster.contacts if contact.id == message.to)
        whole = any(finding in message.body for finding in worse) and (to_both or to.role == "athlete")
        _print_message(to.name, message, whole=whole)


def _counted(counts: dict[str, int]) -> str:
    parts = [amounts.counted(counts[key], word) for key, word in COUNTED.items() if counts.get(key)]
    files = amounts.counted(counts["files_new"], "new file")
    return f"{files}: {', '.join(parts)}." if parts else f"{files}."


def _print_message(name: str, message: ReceivedMessage, *, whole: bool) -> None:
    """A message as the target received it: its title, and its body where `whole`."""
    screen.say()
    screen.say(f"-> {name}: {message.title}", hang="   ")
    for line in message.body.splitlines() if whole else ():
        if line:
            screen.say(line, indent="   | ", hang="   | ")
        else:
            print("   |")


def _print_plan(demo: Demo, title: str) -> None:
    shown = plan_of(demo.home, demo.roster, demo.athlete, demo.now)
    race = shown["race"]
    screen.say(f"{title}: {race['length_days']} days ({'; '.join(race['reasons'])}).")
    print_stages(shown)
    for gate in shown["gates"]:
        screen.say(
            f"{words.shared.stage_words(gate['before']).capitalize()} waited: {'; '.join(gate['reasons'])}.", hang="  "
        )


def _conclude(demo: Demo) -> None:
    from monitor.store import findings
    from monitor.views.status import intake_view, outbox_view

    with context.reading(demo.home) as con:
        files, alerts, found = intake_view(con), outbox_view(con, demo.roster), findings.standing(con, demo.athlete.id)
    screen.say()
    screen.heading(words.commands.END_TITLE)
    _print_plan(demo, words.commands.HER_PLAN)
    screen.say()
    screen.say(f"{len(found)} findings:")
    columns = [Column("date"), Column("severity"), Column("rule"), Column("what", one_line=False)]
    screen.table(
        columns,
        [
            (f"{finding.date:%m-%d}", finding.severity, finding.rule, said(finding.summary))
            for finding in reversed(found)
        ],
    )
    screen.say()
    screen.say(words.commands.DEMO_FILES.format(files=len(files)))
    odd = [row for row in reversed(files) if row["state"] in ODD]
    screen.entries([(row["state"], f"{row['path']}: {row['reason']}") for row in odd], indent="  ")
    screen.say()
    sent = sum(row["state"] == "sent" for row in alerts)
    screen.say(words.commands.DEMO_MESSAGES.format(sent=sent, alerts=len(alerts)))
    _print_next(demo, max(found, key=lambda finding: (finding.severity, finding.subject_end)).id)


def _print_next(demo: Demo, finding: str) -> None:
    """The board, and what a newcomer may try on this home."""
    screen.say_path("The board:", write_board(demo.home, demo.roster, demo.now))
    screen.say()
    screen.say(words.commands.TRY_NEXT)
    home, then = f"--home {quoted(demo.home.path)}", f"--as-of {demo.now:%Y-%m-%dT%H:%M}"
    for command in (
        f"explain {finding} {home}",
        f"today {demo.athlete.id} {then} {home}",
        f"plan {demo.athlete.id} {then} {home}",
        f"findings {home}",
        f"outbox {home}",
        "rules",
    ):
        print(f"  {called()} {command}")
    print(words.commands.TRY_YOURSELF.format(called=called()))
