"""Small words of a message: clean text, numbers, days, names of stages and severities."""

from __future__ import annotations

import unicodedata
from datetime import date
from zoneinfo import ZoneInfo

from rules.findings import Finding, Severity

SEVERITY_WORDS = {Severity.STOP: "STOP", Severity.CAUTION: "Caution", Severity.NOTE: "Note"}
STAGE_WORDS = {
    "before": "before the race",
    "days_off": "days off",
    "cross_training": "cross-training",
    "test_runs": "test runs",
    "on_ramp": "on-ramp",
    "done": "plan done",
}
PLAIN_UNITS = ("min", "h", "s", "bpm", "km", "m", "days")  # those in which a difference means something
TITLE_LENGTH = 110
LINE_LENGTH = 400


def clean(text: str, most: int = LINE_LENGTH) -> str:
    """One line without control characters, direction marks or the brackets of markup."""
    kept = ("‹›"["<>".index(c)] if c in "<>" else " " if unicodedata.category(c)[0] in "CZ" else c for c in text)
    return shorten(" ".join("".join(kept).split()), most)


def shorten(text: str, most: int) -> str:
    """Cut at a word, with an ellipsis."""
    if len(text) <= most:
        return text
    cut = text[: most - 1].rsplit(" ", 1)[0] if " " in text[most // 2 : most - 1] else text[: most - 1]
    return cut.rstrip(" ,;:.–-") + "…"


def lines(text: str) -> str:
    """A longer text, cleaned line by line."""
    return "\n".join(clean(line) for line in text.splitlines()).strip()


def sentence(text: str) -> str:
    """Begins with a capital and ends with a full stop."""
    text = clean(text)
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?", "…")) else ".")


def in_passing(text: str) -> str:
    """As it reads after a colon: small first letter unless a name or a number, no full stop."""
    text = clean(text).rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def number(value: float) -> str:
    """At most one decimal, none that says nothing."""
    return f"{value:.1f}".rstrip("0").rstrip(".") if abs(value) < 100 else f"{value:.0f}"


def against(finding: Finding) -> str | None:
    """ "9.2 min against 0 min, 9.2 min over": how far off, where the unit can be subtracted."""
    observed, limit, unit = finding.observed, finding.limit, finding.unit
    if observed is None or limit is None or observed == limit or unit not in PLAIN_UNITS:
        return None
    way = "over" if observed > limit else "under"
    observed_words, limit_words, off = (_measure(value, unit) for value in (observed, limit, abs(observed - limit)))
    return f"{observed_words} against {limit_words}, {off} {way}"


def _measure(value: float, unit: str) -> str:
    if unit != "s" or value < 60:
        return f"{number(value)} {unit}"
    minutes, seconds = divmod(round(value), 60)
    return f"{minutes} min {seconds} s" if seconds else f"{minutes} min"


def stage_words(stage: str) -> str:
    """ "cross-training"; a name that is not known as it stands."""
    return STAGE_WORDS.get(stage, clean(stage).replace("_", " "))


def place(finding: Finding) -> str:
    """ "day 5, days off"."""
    stage = stage_words(finding.stage)
    return stage if finding.stage == "before" else f"day {finding.day}, {stage}"


def when(finding: Finding, zone: ZoneInfo) -> str:
    """ "Fri 9 Oct 17:42-18:20, running", or only the day."""
    start, end = finding.session_start, finding.session_end
    if start is None:
        return day_words(finding.date)
    local = start.astimezone(zone)
    clock = f"{local:%H:%M}" if end is None else f"{local:%H:%M}–{end.astimezone(zone):%H:%M}"
    sport = f", {clean(finding.sport).replace('_', ' ')}" if finding.sport else ""
    return f"{day_words(local)} {clock}{sport}"


def day_words(moment: date) -> str:
    """ "Fri 9 Oct"."""
    return f"{moment:%a} {moment.day} {moment:%b}"
