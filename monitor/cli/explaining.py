"""One finding on paper."""

from __future__ import annotations

from typing import Any

from monitor.cli import screen
from monitor.cli.ledgers import OF_ITSELF
from monitor.cli.plans import STAGE_TITLES

MOST_TIMES = 20
HOW_SURE = {
    "published": "published",
    "convention": "common practice, no source",
    "default": "project default",
}
QUALITY = {"good": "good", "weak": "weak", "none": "not heard"}


def print_explanation(shown: dict[str, Any]) -> None:
    """All of it, in the order in which a coach asks."""
    screen.heading(f"{shown['name']}: {shown['severity']}, {shown['rule']}, day {shown['day']}, {shown['date']}")
    if shown["withdrawn_at"]:
        screen.say(f"Withdrawn on {shown['withdrawn_at'][:16].replace('T', ' ')}: newer data tell otherwise.")
    screen.say(f"{shown['summary'].rstrip('.')}.")
    print()
    screen.entries([(name, text) for name, text in _subject(shown) if text])
    _section("Within the session, from its start and on the clock", _times(shown))
    _section("What each signal says", [(one["signal"], _signal(one)) for one in shown["signals"]])
    numbers = {key: value for key, value in shown["numbers"].items() if value not in ({}, [])}
    _section("Numbers", [(_words(key), _value(value)) for key, value in numbers.items()])
    _section("Not believed", _masked(shown))
    _section("Assumed", [("-", text) for text in shown["assumed"]])
    _section("What to do now", [("-", text) for text in shown["advice"]])
    _section("For the coach", [("-", text) for text in shown["advice_to_coach"]])
    _section("Caution", [("-", text) for text in shown["cautions"]])
    _print_limits(shown)
    _section("Told", [(row["contact"], _alert(row)) for row in shown["alerts"]])
    _section("Seen", [(mark["by"], f"{mark['at'][:16].replace('T', ' ')} {mark['note']}") for mark in shown["seen"]])


def _subject(shown: dict[str, Any]) -> list[tuple[str, str]]:
    start, end = shown["session_start"], shown["session_end"]
    when = f"{start[:16].replace('T', ' ')} to {end[11:16]} ({start[19:]})" if start and end else ""
    unit = f" {shown['unit']}" if shown["unit"] else ""
    numbers = ""
    if shown["observed"] is not None:
        against = f", limit {_value(shown['limit'])}{unit}" if shown["limit"] is not None else ""
        numbers = f"{_value(shown['observed'])}{unit}{against}"
    return [
        ("finding", shown["id"]),
        ("stage", STAGE_TITLES.get(shown["stage"], shown["stage"])),
        ("session", when),
        ("sport, as judged", shown["sport"] or ""),
        ("file", shown["source"] or ""),
        ("observed", numbers),
    ]


def _signal(one: dict[str, str]) -> str:
    """Its quality, what it says, and why."""
    says = {"for": "says yes", "against": "says no", "nothing": "says nothing"}[one["says"]]
    why = f": {one['why']}" if one["why"] else ""
    return f"{QUALITY[one['quality']]}, {says}{why}"


def _times(shown: dict[str, Any]) -> list[tuple[str, str]]:
    times = shown["times"]
    rows = [
        (f"{one['from']} - {one['to']}", f"{one['seconds']:g} s, {one['clock_from']} - {one['clock_to']}")
        for one in times[:MOST_TIMES]
    ]
    if len(times) > MOST_TIMES:
        rows.append(("...", f"and {len(times) - MOST_TIMES} more; --json has them all"))
    return rows


def _masked(shown: dict[str, Any]) -> list[tuple[str, str]]:
    masked = shown["masked_s"]
    if not masked:
        return []
    if isinstance(masked, dict):
        return [(_words(key), f"{value:g} s") for key, value in masked.items() if value]
    return [("masked", f"{masked:g} s")]


def _print_limits(shown: dict[str, Any]) -> None:
    print()
    screen.say(f"The rule: {shown['about_rule']} ({shown['rule_severity']}).")
    screen.say(f"How sure: {shown['evidence_strength']}")
    if shown["ceiling_reason"]:
        screen.say(f"The ceiling: {shown['ceiling_reason']}.")
    print_limits(shown["limits"])


def print_limits(limits: list[dict[str, Any]]) -> None:
    """Every number with where it comes from and how strong that is."""
    for limit in limits:
        unit = f" {limit['unit']}" if limit["unit"] else ""
        sure = HOW_SURE[limit["evidence"]]
        source = limit["source"] if limit["source"].startswith(sure) else f"{limit['source']} ({sure})"
        screen.say(f"{limit['name']} = {_value(limit['value'])}{unit}; {source}", indent="  ", hang="      ")


def _section(title: str, rows: list[tuple[str, str]]) -> None:
    if rows:
        print()
        screen.say(f"{title}:")
        screen.entries(rows, indent="  ")


def _words(key: str) -> str:
    """A key of the evidence with its unit set apart: "above_s" -> "above (s)"."""
    for unit in ("s", "bpm", "mps", "m", "min", "spm", "ms"):
        if key.endswith(f"_{unit}") and not key.endswith("_per_min"):
            return f"{key[: -len(unit) - 1].replace('_', ' ')} ({unit.replace('mps', 'm/s')})"
    return key.replace("_", " ")


def _value(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e5 else f"{value:.0f}"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_value(part)}" for key, part in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(_value(part) for part in value)
    return "-" if value is None else str(value)


def _alert(row: dict[str, Any]) -> str:
    """What became of one alert, why unless that goes without saying, and its title."""
    why = "" if row["reason"] in OF_ITSELF else f", {row['reason']}"
    return f"{row['state']}{why}: {row['title']}"
