"""`fallow rules`: every rule with its limits and sources; `fallow replay`: the history judged again under others."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import AsOfOption, HomeOption, JsonOption, MaybeAthleteArgument
from monitor.errors import WrongUse
from rules.words import amounts

if TYPE_CHECKING:
    from rules.limits import Limits


def rules(
    rule: Annotated[str | None, typer.Argument(metavar="RULE", help="Only this rule, with its limits.")] = None,
    limits: Annotated[bool, typer.Option("--limits", help="Every limit of every rule, with its source.")] = False,
    json: JsonOption = False,
    home: HomeOption = None,
) -> None:
    """List the rules with their limits and sources.

    What each is about, where it applies, what it needs, and how strong the evidence is.

    Example: fallow rules no_running
    """
    from monitor.views.findings import rules_view
    from rules.limits import default_limits

    shown = rules_view(default_limits())
    if rule is not None:
        context.must_be_one_of((entry["id"] for entry in shown), "rule", rule, "the catalogue")
        shown = [entry for entry in shown if entry["id"] == rule]
    if json:
        screen.as_json(shown)
        return
    for number, entry in enumerate(shown):
        if number:
            print()
        _print_rule(entry, with_limits=limits or rule is not None)
    if not limits and rule is None:
        print()
        screen.say(words.commands.SEE_RULES)


def _print_rule(one: dict[str, Any], *, with_limits: bool) -> None:
    from monitor.cli.explain import print_limits

    screen.say(f"{one['id']}: {one['about']}")
    rows = [
        ("severity", one["severity"]),
        ("stages", ", ".join(words.shared.stage_words(stage) for stage in one["stages"])),
        ("needs", ", ".join(one["needs"])),
        ("how sure", one["evidence"]),
    ]
    if with_limits:
        rows += [
            ("false alarms" if not number else "", sentence) for number, sentence in enumerate(one["false_alarms"])
        ]
    screen.entries([(name, text) for name, text in rows if text], indent="  ")
    if with_limits:
        print_limits(one["limits"])


# The stored history judged again, without sending.

WHEN_READ = ("intake.", "decoding.", "plausible.")
"""Limits that act when a file is read: judging the stored history again does not apply them."""


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

    it = context.opened(home, athlete, as_of)
    under = limits_of(limits)
    with it.reading() as con:
        shown = replay_view(con, it.roster, it.athletes, it.now, under)
    shown["when_read"] = [
        limit.name for limit in under if limit.source == OVERRIDE and limit.name.startswith(WHEN_READ)
    ]
    if json:
        screen.as_json(shown)
        return
    if shown["when_read"]:
        screen.warn(words.commands.LIMIT_ACTS_WHEN_READ.format(when_read=", ".join(shown["when_read"])))
    _print_changes(shown)


def limits_of(path: Path | None) -> Limits:
    """The limits of this version, with the values of an override file; WrongUse when that file is wrong."""
    from rules.limits import LimitsError, default_limits

    if path is None:
        return default_limits()
    try:
        return default_limits().overridden(tomllib.loads(path.read_text("utf-8")))
    except OSError as error:
        raise WrongUse(words.commands.LIMITS_UNREADABLE.format(path=path, why=error.strerror)) from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise WrongUse(words.commands.LIMITS_NO_TOML.format(path=path, error=error)) from None
    except LimitsError as error:
        raise WrongUse(f"--limits {path}: {error}") from None


def _print_changes(shown: dict[str, Any]) -> None:
    counts = shown["counts"]
    text = ("new", "gone", "worse", "milder", "reworded")
    told = ", ".join(f"{counts[change]} {change}" for change in text if counts[change])
    found = amounts.counted(counts["standing"], "finding")
    screen.say(words.commands.replayed(found, counts["judged"], told))
    if not shown["changes"]:
        return
    print()
    listed = []
    for row in shown["changes"]:
        severities = " to ".join(dict.fromkeys(word for word in (row["before"], row["after"]) if word))
        listed.append(((row["change"], row["date"], row["athlete"], severities, row["rule"]), row["summary"]))
    screen.listing(listed)
