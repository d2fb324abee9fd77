"""The console entry: the list of commands, and every error as one line."""

from __future__ import annotations

import difflib
import gc
import os
import re
import sys
import traceback
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NoReturn

import typer

from monitor import words
from monitor.cli import checkins, findings, passes, plans, rules, screen, serving, setup, status
from monitor.errors import FallowError, WorkFailed, WrongUse
from monitor.home import Home, find_home

# Errors: one line on stderr, the place in the program in the log, a traceback only with FALLOW_DEBUG.


def told(error: FallowError) -> int:
    """Print it as one line; its exit status."""
    _traced(error)
    _line(str(error))
    return 2 if isinstance(error, WrongUse) else 1


def unexpected(error: Exception, arguments: Sequence[str]) -> int:
    """One line for an unforeseen error. The log gets its place in the program and no values."""
    _traced(error)
    home = _home_of(arguments)
    where = (
        words.commands.SEE_LOG.format(log=home.log) if home and _logged(error, home) else words.commands.SEE_TRACEBACK
    )
    if isinstance(error, OSError) and error.strerror:
        name = f"{error.filename}: " if error.filename else ""
        _line(f"{name}{error.strerror}; {where}")
    else:
        _line(words.commands.UNEXPECTED_ERROR.format(kind=type(error).__name__, where=where))
    return 1


def _line(text: str) -> None:
    from monitor.cli.screen import plain

    print(f"fallow: {plain(text)}", file=sys.stderr)


def _traced(error: Exception) -> None:
    if os.environ.get("FALLOW_DEBUG"):
        traceback.print_exception(error)


def _home_of(arguments: Sequence[str]) -> Home | None:
    """The home that the command line names, as far as it can be told."""
    given = list(arguments)
    named = None
    for index, argument in enumerate(given):
        if argument == "--home" and index + 1 < len(given):
            named = given[index + 1]
        elif argument.startswith("--home="):
            named = argument.removeprefix("--home=")
    try:
        return find_home(Path(named) if named else None)
    except (OSError, RuntimeError):
        return None


def _logged(error: Exception, home: Home) -> bool:
    if not home.path.is_dir():
        return False
    from monitor import logs

    logs.open_log(home)
    logs.failure("unexpected", error)
    logs.close_log()
    return home.log.exists()


PARSER_SAYS = {
    "Input should be a valid integer, unable to parse string as an integer": words.commands.MUST_BE_WHOLE_NUMBER,
    "Input should be a valid number, unable to parse string as a number": words.commands.MUST_BE_NUMBER,
}
MOST_OPTIONS_NAMED = 8
SHOWING = frozenset({"status", "today", "plan", "findings", "explain", "intake", "outbox", "rules"})
"""What only shows something and ends: hardly anything of it is garbage, and looking for it takes a twentieth of it."""
YES_OR_NO = ("yes", "no", "y", "n", "true", "false", "0", "1")

app = typer.Typer(
    name="fallow",
    help=words.commands.HELP,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"fallow {version('fallow')}")
        raise typer.Exit


@app.callback()
def _fallow(
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Show the version."),
) -> None: ...


class _Command(typer.core.TyperCommand):
    """A command whose help leaves out Python's names of types."""

    def get_help(self, ctx: Any) -> str:
        text = re.sub(r" <(str|list\[str\])>", lambda kind: " " * len(kind[0]), super().get_help(ctx))
        usage, rest = text.split("\n", 1)
        return f"{re.sub(r'[{}]', '', usage).replace('[[FINDING]...]...', 'FINDING...')}\n{rest}"


for command in (
    setup.init, setup.doctor, setup.demo,
    passes.scan, passes.watch, passes.board, passes.rebuild,
    plans.plan, plans.today, plans.calendar,
    status.status, status.intake, status.outbox,
    findings.findings, findings.explain, findings.seen, checkins.checkin, plans.hold, plans.release,
    rules.rules, rules.replay,
    serving.serve, serving.link,
):  # fmt: skip
    app.command(cls=_Command)(command)


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run one command and end with its exit status: 0 done, 1 the work failed, 2 wrong use."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=screen.HANDLER)
    given = _home_after_command(list(sys.argv[1:] if arguments is None else arguments))
    if SHOWING & set(given[:1]):
        gc.set_threshold(100_000)
    code = _status(given)
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _quieten()
    except OSError as error:
        _quieten()
        code = told(WorkFailed(words.commands.OUTPUT_NOT_WRITTEN.format(why=error.strerror)))
    sys.exit(code)


def _home_after_command(arguments: list[str]) -> list[str]:
    """`fallow --home DIR status` means `fallow status --home DIR`."""
    if arguments[:1] == ["--home"] and arguments[2:]:
        return [arguments[2], *arguments[:2], *arguments[3:]]
    if len(arguments) > 1 and arguments[0].startswith("--home="):
        return [arguments[1], arguments[0], *arguments[2:]]
    return arguments


def _status(arguments: list[str]) -> int:
    """Exit status of one command; whatever goes wrong with it is said here."""
    try:
        if {"--csv", "--json"} <= set(arguments):
            raise WrongUse(words.commands.CSV_AND_JSON)
        done = typer.main.get_command(app).main(arguments, "fallow", standalone_mode=False)
    except FallowError as error:
        return told(error)
    except (KeyboardInterrupt, typer.Abort):
        print(file=sys.stderr)
        return 130
    except (BrokenPipeError, SystemExit) as end:
        return _ended(end)
    except Exception as error:  # noqa: BLE001 - the top of the program: one line for whatever happens
        if hasattr(error, "format_message") and hasattr(error, "exit_code"):  # the command-line parser's own errors
            return _wrong_use(error, arguments)
        return unexpected(error, arguments)
    return done if isinstance(done, int) else 0


def _ended(end: BrokenPipeError | SystemExit) -> int:
    """The reader of our output may have closed it, which is no error; then typer has left a wrapper on stdout."""
    if isinstance(end, SystemExit) and type(sys.stdout).__name__ != "PacifyFlushWrapper":
        return end.code if isinstance(end.code, int) else 1
    _quieten()
    return 0


def _quieten() -> None:
    """The reader of our output has closed it: write nothing more, not even at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


def _wrong_use(error: Any, arguments: Sequence[str]) -> int:
    """What is wrong with the command line, with the nearest right name."""
    context = getattr(error, "ctx", None)
    if type(error).__name__ == "NoArgsIsHelpError":
        print(context.get_help() if context else words.commands.HELP)
        return 0 if not arguments else 2
    message = str(error.format_message()).rstrip(".?")
    for said, plain in PARSER_SAYS.items():
        message = message.replace(said, plain)
    wrong = getattr(error, "option_name", None)
    path = context.command_path if context else _command_of(arguments)
    if wrong == "--home" and type(error).__name__ == "NoSuchOption":
        message = words.commands.HOME_WITHOUT_COMMAND
    elif wrong and type(error).__name__ == "NoSuchOption":
        message = words.commands.NO_SUCH_OPTION.format(wrong=wrong) + _nearest_option(wrong, context)
    elif context and message.startswith("No such command"):
        wrong = message.split("'")[1]
        message = words.commands.NO_SUCH_COMMAND.format(wrong=wrong) + _nearest(wrong, context.command.commands, 0.5)
    elif context and "argument" in message:
        message += _on_arguments(message, context)
    told(WrongUse(words.commands.WRONG_USE.format(message=message[:1].lower(), message_2=message[1:], path=path)))
    return int(error.exit_code)


def _on_arguments(message: str, context: Any) -> str:
    """A hint where an argument is missing, or there is one too many."""
    one = message.partition(" (")[2].split(" ")[0].rstrip(")")
    if one[:1] in "-–—−/" and one:
        return words.commands.TWO_HYPHENS
    if one.lower() in YES_OR_NO:
        return words.commands.YES_NO_OPTIONS
    example = (context.command.help or "").rpartition("Example: ")[2].strip()
    return f"; as in `{example}`" if example else ""


def _command_of(arguments: Sequence[str]) -> str:
    """The command that was meant, where the parser does not say."""
    known = typer.main.get_command(app).commands  # type: ignore[attr-defined]  # a group, which its type does not say
    return " ".join(["fallow", *(argument for argument in arguments[:1] if argument in known)])


def _nearest_option(wrong: str, context: Any) -> str:
    """Suggest the option that was meant; options of commands go after the command."""
    if context is None:
        return ""
    known = [name for parameter in context.command.params for name in (*parameter.opts, *parameter.secondary_opts)]
    names = [name for name in known if name.startswith("-")]
    hint = _nearest(wrong, [*names, "--home"], 0.66)
    if hasattr(context.command, "commands"):
        return hint or words.commands.OPTION_BEFORE_COMMAND
    if not hint and len(names) <= MOST_OPTIONS_NAMED:
        hint = f"; there {'is' if len(names) == 1 else 'are'} {', '.join(names)}"
    return hint


def _nearest(wrong: str, known: Iterable[str], least: float) -> str:
    near = difflib.get_close_matches(wrong, list(known), 1, least)
    return words.commands.OPTION_MEANT.format(near=near[0]) if near else ""


if __name__ == "__main__":
    run()
