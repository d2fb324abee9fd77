"""`fallow rules`: every rule with its limits and sources."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from monitor import words
from monitor.cli import context, screen
from monitor.cli.context import HomeOption, JsonOption
from monitor.errors import WrongUse


def register(app: typer.Typer) -> None:
    app.command()(rules)


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
        known = [one["id"] for one in shown]
        if rule not in known:
            raise WrongUse(context.no_such("rule", rule, known, "the catalogue"))
        shown = [one for one in shown if one["id"] == rule]
    if json:
        screen.as_json(shown)
        return
    for number, one in enumerate(shown):
        if number:
            print()
        _print_rule(one, with_limits=limits or rule is not None)
    if not limits and rule is None:
        print()
        screen.say(words.commands.RULES_SHOW_SOURCES)


def _print_rule(one: dict[str, Any], *, with_limits: bool) -> None:
    from monitor import words
    from monitor.cli.explain import print_limits

    screen.say(f"{one['id']}: {one['about']}")
    rows = [
        ("severity", one["severity"]),
        ("stages", ", ".join(words.shared.stage_words(stage) for stage in one["stages"])),
        ("needs", ", ".join(one["needs"])),
        ("how sure", one["evidence"]),
    ]
    if with_limits:
        rows += [("false alarms" if not number else "", told) for number, told in enumerate(one["false_alarms"])]
    screen.entries([(name, text) for name, text in rows if text], indent="  ")
    if with_limits:
        print_limits(one["limits"])
