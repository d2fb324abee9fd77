"""`fallow checkin`: five short questions, or flags."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AthleteArgument, HomeOption, JsonOption, Opened
from monitor.errors import WorkFailed, WrongUse

if TYPE_CHECKING:
    from rules.body.checkins import FlagSpan

NOTHING = ("", "n", "no", "none", "-")


def checkin(
    athlete: AthleteArgument,
    stairs_unaided: Annotated[
        bool | None, typer.Option(help="Stairs up and down without holding on.", show_default=False)
    ] = None,
    squat_unaided: Annotated[bool | None, typer.Option(help="A deep squat without help.", show_default=False)] = None,
    soreness: Annotated[str | None, typer.Option(metavar="0-10", help="Soreness of the muscles.")] = None,
    pain: Annotated[str | None, typer.Option(metavar="0-10", help="Pain in one place.")] = None,
    pain_where: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it hurts.")] = None,
    energy: Annotated[str | None, typer.Option(metavar="0-10", help="Energy today.")] = None,
    mood: Annotated[str | None, typer.Option(metavar="0-10", help="Mood today.")] = None,
    symptoms: Annotated[
        list[str] | None,
        typer.Option(
            "--symptom", "--symptoms", metavar="TEXT", help="A symptom, in English; may be given several times."
        ),
    ] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="Anything else.")] = None,
    gone: Annotated[
        list[str] | None,
        typer.Option(
            "--gone", metavar="SYMPTOM", help="A symptom told before that is no longer there; all: every one."
        ),
    ] = None,
    seen_doctor: Annotated[
        bool, typer.Option("--seen-doctor", help="A doctor has looked at the symptoms told before.")
    ] = False,
    by: Annotated[str | None, typer.Option("--by", metavar="NAME", help="With --seen-doctor: who it was.")] = None,
    date: Annotated[str | None, typer.Option(metavar="DATE", help="For another day than today.")] = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Write down how the body is today.

    Asks five short questions when no answer is given as a flag; an empty answer skips one. The answers become a file in
    the athlete's folder.

    A sign for a doctor stands until it is answered: by --gone, which names what is over, or by --seen-doctor.

    Example: fallow checkin runa --stairs-unaided --soreness 3 --pain 0
    """
    from monitor.checkins import checkin_document, unanswered, warnings_of, write_checkin

    it = context.opened(home, athlete)
    one = it.athlete
    if by and not seen_doctor:
        raise WrongUse(words.interview.BY_WITHOUT_DOCTOR)
    answers: dict[str, Any] = {
        "stairs_unaided": stairs_unaided, "squat_unaided": squat_unaided, "soreness": scale("soreness", soreness),
        "pain": scale("pain", pain), "pain_where": pain_where, "energy": scale("energy", energy),
        "mood": scale("mood", mood), "symptoms": symptoms, "note": note,
        "gone": gone, "seen_doctor": (by or "a doctor") if seen_doctor else None,
    }  # fmt: skip
    day = context.day_of("--date", date) if date else None
    if day is not None and day > (today := one.athlete.local_date(it.now)):
        raise WrongUse(words.interview.DATE_AHEAD.format(date=date, today=today))
    told: tuple[FlagSpan, ...] | None = None
    if all(value in (None, []) for value in answers.values()):
        told = open_signs(it)
        answers = _asked(told)
    document = checkin_document(answers, day, it.now, one)
    path = write_checkin(one.folder, document)
    told = open_signs(it) if told is None else told
    says = [*warnings_of(document, one), *unanswered(document, told, one)]
    if json:
        screen.as_json({"path": str(path), "checkin": document, "says": says})
        return
    screen.say_path("written to", path)
    screen.say(words.interview.CHECK_IN_IS_READ)
    for sentence in says:
        screen.say(sentence)


def scale(name: str, text: str | None) -> float | None:
    """A number from 0 to 10 as people write it; WrongUse for anything else."""
    from monitor.intake.checkin import on_scale

    if text is None:
        return None
    number = on_scale(name, text)
    if number is None:
        raise WrongUse(words.interview.SCALE_MUST_BE_NUMBER.format(name=name, text=text))
    return number


def open_signs(it: Opened) -> tuple[FlagSpan, ...]:
    """Unanswered signs for a doctor in the check-ins read so far; none where the store cannot be read.

    A check-in is written whatever ails the store.
    """
    from monitor.judging import view
    from rules.day.reasons import standing_flags
    from rules.history import in_order
    from rules.limits import default_limits

    try:
        with it.reading() as con:
            made = view(con, it.roster, it.athlete, it.now, default_limits())
    except WorkFailed:
        return ()
    return standing_flags(made.judgement.plans, in_order(made.history, default_limits()), it.now)


def _asked(told: Sequence[FlagSpan]) -> dict[str, Any]:
    """The five questions, in the terminal or from lines on standard input."""
    answers: dict[str, Any] = {}
    try:
        _ask_all(answers, told)
    except EOFError:
        if not any(value not in (None, "", []) for value in answers.values()):
            raise WrongUse(words.interview.NO_ANSWERS_GIVEN) from None
    return answers


def _ask_all(answers: dict[str, Any], told: Sequence[FlagSpan]) -> None:
    both = _yes_no(words.interview.ASK_STAIRS_AND_SQUAT)
    answers["stairs_unaided"] = answers["squat_unaided"] = both
    if both is False:
        answers["stairs_unaided"] = _yes_no(words.interview.ASK_STAIRS)
        answers["squat_unaided"] = _yes_no(words.interview.ASK_SQUAT)
    answers["soreness"] = _scale("soreness", words.interview.ASK_SORENESS)
    answers["pain"] = _scale("pain", words.interview.ASK_PAIN)
    if answers["pain"]:
        answers["pain_where"] = _ask("       Where?")
    answers["energy"] = _scale("energy", "4/5  Energy, 0 to 10?")
    if answers["energy"] is not None:
        answers["mood"] = _scale("mood", "       And mood?")
    symptoms = _ask(words.interview.ASK_SYMPTOMS)
    answers["symptoms"] = [] if symptoms.lower() in NOTHING else [part.strip() for part in symptoms.split(",")]
    _ask_of_signs(answers, told)


def _ask_of_signs(answers: dict[str, Any], told: Sequence[FlagSpan]) -> None:
    """Ask of each sign told before whether it is gone or a doctor has seen it; an empty answer leaves it open."""
    gone = [span.told for span in told if _yes_no(words.interview.ASK_GONE.format(told=span.told, day=span.day))]
    answers["gone"] = gone
    if len(gone) < len(told) and _yes_no(words.interview.ASK_DOCTOR):
        answers["seen_doctor"] = _ask("       Who?") or "a doctor"


def _ask(question: str) -> str:
    print(question, end=" ", flush=True, file=sys.stderr)
    return input().strip()


def _yes_no(question: str) -> bool | None:
    while True:
        answer = _ask(question)
        if not answer:
            return None
        if (said := screen.yes_or_no(answer)) is not None:
            return said
        print(words.interview.YES_NO_OR_NOTHING, file=sys.stderr)


def _scale(name: str, question: str) -> float | None:
    while True:
        answer = _ask(question)
        if not answer:
            return None
        try:
            return scale(name, answer)
        except WrongUse:
            print(words.interview.SCALE_OR_NOTHING, file=sys.stderr)
