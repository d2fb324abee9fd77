"""`fallow replay`: the stored history judged again under the current limits or others, without sending."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AsOfOption, HomeOption, JsonOption, MaybeAthleteArgument
from monitor.errors import WrongUse
from rules.numbers import counted

if TYPE_CHECKING:
    from rules.limits import Limits


WHEN_READ = ("intake.", "decoding.", "plausible.")
"""Limits on files and on what they may say: they did their work before anything was stored."""


def register(app: typer.Typer) -> None:
    app.command()(replay)


def replay(
    athlete: MaybeAthleteArgument = None,
    limits: Annotated[Path | None, typer.Option(metavar="FILE", help="TOML with other values.")] = None,
    as_of: AsOfOption = None,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """Judge the history again; show what would change.

    All seasons, under the current limits or another file of them. Nothing is stored and nothing is sent.

    Example: fallow replay --limits stricter.toml
    """
    from monitor.views.replay import replay_view
    from rules.limits import OVERRIDE

    where = context.home_of(home)
    roster = context.roster_of(where)
    chosen = context.athletes_of(roster, athlete)
    under = limits_of(limits)
    now = context.clock_of(as_of, chosen[0].athlete.zone if athlete else None).now()
    with context.reading(where) as con:
        shown = replay_view(con, roster, chosen, now, under)
    shown["when_read"] = [one.name for one in under if one.source == OVERRIDE and one.name.startswith(WHEN_READ)]
    if json:
        screen.as_json(shown)
        return
    if shown["when_read"]:
        screen.warn(words.commands.ACTS_WHEN_FILE_IS_READ.format(when_read=", ".join(shown["when_read"])))
    _print_changes(shown)


def limits_of(path: Path | None) -> Limits:
    """The limits of this version, with the values of an override file; WrongUse when that file is wrong."""
    from rules.limits import LimitsError, default_limits

    if path is None:
        return default_limits()
    try:
        return default_limits().overridden(tomllib.loads(path.read_text("utf-8")))
    except OSError as error:
        raise WrongUse(words.commands.LIMITS_CANNOT_BE_READ.format(path=path, why=error.strerror)) from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise WrongUse(words.commands.LIMITS_NOT_VALID_TOML.format(path=path, error=error)) from None
    except LimitsError as error:
        raise WrongUse(f"--limits {path}: {error}") from None


def _print_changes(shown: dict[str, Any]) -> None:
    counts = shown["counts"]
    text = ("new", "gone", "worse", "milder", "reworded")
    told = ", ".join(f"{counts[change]} {change}" for change in text if counts[change])
    found = counted(counts["standing"], "finding")
    screen.say(words.commands.replayed(found, counts["judged"], told))
    if not shown["changes"]:
        return
    print()
    listed = []
    for row in shown["changes"]:
        severities = " to ".join(dict.fromkeys(word for word in (row["before"], row["after"]) if word))
        listed.append(((row["change"], row["date"], row["athlete"], severities, row["rule"]), row["summary"]))
    screen.listing(listed)
