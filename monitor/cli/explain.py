"""Prints one finding for `fallow explain`."""

from __future__ import annotations

from contextlib import redirect_stdout
from io import StringIO
from typing import Any

from monitor import words
from monitor.cli import screen
from monitor.cli.status import OF_ITSELF
from monitor.plain_text import sentence
from monitor.views.findings import measured_words, number_name, number_words, said_by

SIX_DIGITS = 1e5
MOST_TIMES = 20
SCREEN_LINES = 24
HOW_MANY = ((3, 3, 2), (1, 3, 2), (0, 2, 2), (0, 1, 2), (0, 1, 1))
"""Numbers, signals and sentences of advice shown without `--all`; the first that fit on a screen are used."""
LONGEST_NUMBER = 50


def print_explanation(shown: dict[str, Any], *, everything: bool = False) -> None:
    """What, when, numbers, why it is believed, what to do; then, with `everything`, all else that is known."""
    if everything:
        _print_head(shown)
        _print_all(shown)
        return
    _print_short(shown, next((number for number in HOW_MANY if _lines(shown, number) <= SCREEN_LINES), HOW_MANY[-1]))


def _lines(shown: dict[str, Any], how_many: tuple[int, int, int]) -> int:
    """How many lines the short form takes with so many numbers, signals and sentences."""
    with redirect_stdout(StringIO()) as printed:
        _print_short(shown, how_many)
    return len(printed.getvalue().splitlines())


def _print_head(shown: dict[str, Any]) -> None:
    stage = words.shared.stage_words(shown["stage"])
    screen.heading(
        f"{shown['name']}: {shown['severity']}, {shown['rule']}, {shown['date']}, day {shown['day']}, {stage}"
    )
    if shown["withdrawn_at"]:
        screen.say(words.commands.WITHDRAWN.format(moment=shown["withdrawn_at"][:16].replace("T", " ")))
    screen.say(sentence(shown["summary"]))
    print()


def _print_short(shown: dict[str, Any], how_many: tuple[int, int, int]) -> None:
    numbers, signals, advice = how_many
    _print_head(shown)
    brief = [(name, text) for name, text in _numbers(shown) if text and len(text) <= LONGEST_NUMBER]
    screen.entries([(name, text) for name, text in _subject(shown)[2:] if text] + brief[:numbers])
    _section(words.commands.BELIEVED_TITLE, _believed(shown, signals))
    _section(words.commands.ADVICE_TITLE, [("-", text) for text in shown["advice"][:advice]])
    screen.say(words.commands.SEE_ALL.format(id=shown["id"]))


def _believed(shown: dict[str, Any], signals: int) -> list[tuple[str, str]]:
    """What the signals say, else what was assumed; and how strong the evidence for the rule is."""
    heard = [signal for signal in shown["signals"] if signal.get("says") != "nothing"][:signals]
    rows = [(str(signal["signal"]), said_by(signal)) for signal in heard]
    rows += [("assumed", text) for text in shown["assumed"][:1]]
    left_out = "; ".join(f"{name} {text}".removeprefix("masked ") for name, text in _masked(shown)[:1])
    rows += [("left out", left_out)] if left_out else []
    return [*rows, ("the rule", shown["evidence_strength"].split(". ")[0].rstrip(".") + ".")]


def _print_all(shown: dict[str, Any]) -> None:
    screen.entries([(name, text) for name, text in _subject(shown) if text])
    _section(words.commands.TIMES_TITLE, _times(shown))
    _section(words.commands.SIGNALS_TITLE, [(signal["signal"], said_by(signal)) for signal in shown["signals"]])
    _section("Numbers", [(name, text) for name, text in _numbers(shown) if text])
    _section(words.commands.HEART_FOR_SPEED_TITLE, _heart_for_speed(shown["heart_for_speed"]))
    _section("Not believed", _masked(shown))
    _section("Assumed", [("-", text) for text in shown["assumed"]])
    _section(words.commands.ADVICE_TITLE, [("-", text) for text in shown["advice"]])
    _section(words.commands.COACH_ADVICE_TITLE, [("-", text) for text in shown["advice_to_coach"]])
    _section("Caution", [("-", text) for text in shown["cautions"]])
    _print_limits(shown)
    _section("Told", [(row["contact"], _alert(row)) for row in shown["alerts"]])
    _section("Seen", [(mark["by"], f"{mark['at'][:16].replace('T', ' ')} {mark['note']}") for mark in shown["seen"]])


def _heart_for_speed(told: dict[str, Any]) -> list[tuple[str, str]]:
    rows = []
    if "drift" in told:
        rows.append(("second half", words.commands.DRIFT.format(drift=_more(told["drift"]))))
    if "fades_after_45_min" in told:
        rows.append(
            (
                "later on",
                words.commands.FADE.format(fades_after_45_min=_more(told["fades_after_45_min"])),
            )
        )
    if "hr_scatter_bpm" in told:
        sure = words.commands.SCATTER_IS_LARGE if told.get("hr_erratic_for_speed") else ""
        rows.append(("scatter", words.commands.SCATTER.format(hr_scatter_bpm=told["hr_scatter_bpm"], sure=sure)))
    return rows


def _more(ratio: float) -> str:
    return f"{abs(ratio - 1) * 100:.0f} % {'more' if ratio >= 1 else 'fewer'}"


def _numbers(shown: dict[str, Any]) -> list[tuple[str, str]]:
    return [(number_name(key), number_words(key, value, shown["units"])) for key, value in shown["numbers"].items()]


def _subject(shown: dict[str, Any]) -> list[tuple[str, str]]:
    start, end = shown["session_start"], shown["session_end"]
    when = f"{start[:16].replace('T', ' ')} to {end[11:16]} ({start[19:]})" if start and end else ""
    numbers = ""
    if shown["observed"] is not None:
        numbers = measured_words(shown["observed"], shown["unit"], shown["units"])
        if shown["limit"] is not None:
            numbers += f", limit {measured_words(shown['limit'], shown['unit'], shown['units'])}"
    return [
        ("finding", shown["id"]),
        ("stage", words.shared.stage_words(shown["stage"])),
        ("session", when),
        (words.commands.SPORT_LABEL, shown["sport"] or ""),
        ("file", shown["source"] or ""),
        ("observed", numbers),
    ]


def _times(shown: dict[str, Any]) -> list[tuple[str, str]]:
    times = shown["times"]
    rows = [
        (
            f"{stretch['from']} - {stretch['to']}",
            f"{stretch['seconds']:g} s, {stretch['clock_from']} - {stretch['clock_to']}",
        )
        for stretch in times[:MOST_TIMES]
    ]
    if len(times) > MOST_TIMES:
        rows.append(("...", words.commands.MORE_TIMES.format(more=len(times) - MOST_TIMES)))
    return rows


def _masked(shown: dict[str, Any]) -> list[tuple[str, str]]:
    masked = shown["masked_s"]
    if not masked:
        return []
    if isinstance(masked, dict):
        return [(number_name(key), f"{value:g} s") for key, value in masked.items() if value]
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
        sure = words.commands.HOW_SURE[limit["evidence"]]
        source = limit["source"] if limit["source"].startswith(sure) else f"{limit['source']} ({sure})"
        screen.say(f"{limit['name']} = {_value(limit['value'])}{unit}; {source}", indent="  ", hang="      ")


def _section(title: str, rows: list[tuple[str, str]]) -> None:
    if rows:
        print()
        screen.say(f"{title}:")
        screen.entries(rows, indent="  ")


def _value(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < SIX_DIGITS else f"{value:.0f}"
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_value(part)}" for key, part in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(_value(part) for part in value)
    return "-" if value is None else str(value)


def _alert(row: dict[str, Any]) -> str:
    """State of one alert, why (unless it is an ordinary first one), and its title."""
    why = "" if row["reason_code"] in OF_ITSELF else f", {row['reason']}"
    return f"{row['state']}{why}: {row['title']}"
