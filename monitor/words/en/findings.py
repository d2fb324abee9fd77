"""What happened, in kind words for one reader: a few of them for a title, a sentence for the text.

Made from what a finding measured, in the reader's units; a finding that lacks it says its own summary.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from math import exp
from statistics import median
from typing import Any

from monitor.news import Reader
from monitor.plain_text import amount, clean, clean_sentence, in_passing
from monitor.words.en.shared import clock, distance_words, height_words, is_many, pace_of_speed, stage_words
from rules.findings import Finding, Severity
from rules.session.labels import family
from rules.words import said
from rules.words.en.amounts import MINUTE_S, counted, duration, listed, minutes, sleep

OUTINGS = {"run": "run", "walk": "walk", "race_walk": "walk", "ride": "ride", "swim": "swim", "row": "row"}


@dataclass(frozen=True, slots=True)
class FindingText:
    title: str  # a few words, without a full stop
    more: str  # sentences with what the title does not say

    @property
    def text(self) -> str:
        """All of it, where no title stands above."""
        return f"{clean_sentence(self.title)} {self.more}"


def happened(finding: Finding, reader: Reader) -> FindingText:
    """What a finding tells, in words that blame nobody."""
    text = WORDS.get(finding.rule)
    told = None
    if text is not None:
        with suppress(KeyError, TypeError, ValueError, IndexError, ZeroDivisionError):  # of another version's evidence
            told = text(finding, finding.evidence, reader)
    return told or FindingText(in_passing(said(finding.summary)), "")


def _whole(value: float | None) -> int:
    return int((value or 0.0) + 0.5)


def _no_running(stage: str) -> str:
    """ "The days off have no running." """
    text = stage_words(stage)
    the = "" if stage == "cross_training" else "the "
    return clean_sentence(f"{the}{text} {'have' if is_many(text) else 'has'} no running")


def _running(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    ran, outing = _whole(finding.observed), OUTINGS.get(family(str(found["label"] or ""), ""), "session")
    hidden = outing != "run"
    if finding.severity == Severity.NOTE:
        cap = _whole(finding.limit)
        return FindingText(f"a short run, {ran} min", f"This stage tolerates one of up to {cap} min.")
    if finding.severity == Severity.CAUTION:
        seen = f"part of the {outing} looks like a jog" if hidden else "this looks like a run"
        return FindingText(
            f"{seen}, {ran} min; was it?", f"{_no_running(finding.stage)} If it was none, nothing is lost."
        )
    title = f"part of the {outing} was a jog, {ran} min" if hidden else f"a run of {ran} min"
    return FindingText(title, _no_running(finding.stage))


def _ceiling(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    above, ceiling = finding.observed or 0.0, found["ceiling_bpm"]
    top = found.get("highest_minute_bpm")
    highest = f"; the highest minute was at {top}" if top else ""
    title = f"{minutes(above) if above >= MINUTE_S else duration(above)} above {ceiling} bpm"
    return FindingText(title, f"This stage's ceiling{highest}.")


def _too_long(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    took, cap = _whole(finding.observed), _whole(finding.limit)
    if found["of"] == "run":
        return FindingText(f"a run of {took} min, {took - cap} over", f"A run may be {cap} min long.")
    several = f"{len(found['day'])} sessions together; " if len(found["day"]) > 1 else ""
    return FindingText(
        f"{took} min, {took - cap} over the day's {cap}", clean_sentence(f"{several}all sport but walking counts")
    )


def _fast(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    kind, bouts = said(found["kind"]), found["bout_seconds"]
    amount = duration(sum(bouts)) if len(bouts) == 1 else f"{len(bouts)} x {duration(float(median(bouts)))}"
    effort, over = finding.observed or 0.0, found["over_reference"]
    speed = found["speed_mps"]
    uphill = f" uphill, worth {pace_of_speed(effort, reader.units)} on the level" if effort > 1.1 * speed else ""
    by_threshold = found["threshold_mps"] is not None and found["threshold_confidence"] != "low"
    whose = "the" if reader.role == "coach" else "your"
    than = f"{whose} threshold pace" if by_threshold else "the easy running of the same session"
    way = "faster" if over >= 0 else "slower"
    asks = finding.severity == Severity.CAUTION
    return FindingText(
        f"{'looks like ' if asks else ''}{kind}, {amount}{'; was it?' if asks else ''}",
        clean_sentence(f"at {pace_of_speed(speed, reader.units)}{uphill}, {abs(over) * 100:.0f} % {way} than {than}"),
    )


def _steep(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    up, down = (
        height_words(found["ascent_m"], reader.units),
        height_words(found["descent_m"], reader.units),
    )
    slope = found["steepest_slope"]
    steep = f", up to {abs(slope) * 100:.0f} % {'down' if slope < 0 else 'up'}" if slope else ""
    return FindingText(
        f"hilly ground, {up} up and {down} down",
        clean_sentence(f"in {distance_words(found['distance_m'], reader.units)}{steep}"),
    )


def _run_spacing(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    same = date.fromisoformat(found["run_before"]) == finding.date
    title = "a second run on the same day" if same else "a run on the day after a run"
    return FindingText(title, "The test runs have a day without running between them.")


def _week(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    ran, allowed = _whole(finding.observed), _whole(finding.limit)
    usual = _whole(found["usual_week_min"])
    return FindingText(
        f"{ran} min of running in the week, {ran - allowed} over",
        f"Its share is {allowed} min, {found['share'] * 100:.0f} % of the usual {usual}.",
    )


def _jump(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    ran, before = (
        distance_words(metres, reader.units) for metres in (finding.observed or 0.0, found["longest_before_m"])
    )
    return FindingText(
        f"a long run of {ran}, after {before} at most",
        "The longest since the race, by more than the tenth that one step takes.",
    )


def _resting(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    values = listed([f"{value:g}" for _, value in sorted(found["mornings_bpm"].items())])
    return FindingText(
        f"resting heart rate up, {values} against {found['baseline_bpm']:g}",
        f"On two mornings running; from {_up_from(finding.limit)} it counts as up.",
    )


def _up_from(limit: float | None) -> str:
    return "there" if limit is None else amount(limit)


def _variability(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    mean, usual = finding.observed or 0.0, found["baseline_ln_rmssd"]
    mornings = counted(len(found["mornings_ln_rmssd"]), "morning")
    return FindingText(
        f"heart-rate variability down, {exp(mean):.0f} ms against {exp(usual):.0f}",
        f"The mean of {mornings} (ln RMSSD {mean:.2f}, usual {usual:.2f}).",
    )


def _sleep(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    wanted = f"{finding.limit:g} h" if finding.limit else "7 h"
    nights = counted(len(found["nights_min"]), "night")
    return FindingText(
        f"{sleep((finding.observed or 0.0) * 60)} of sleep a night", f"The mean of {nights}; {wanted} are wanted."
    )


def _stairs(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    failed = listed([str(test) for test in found["failed"]])
    trained = " And there was training on that day." if found.get("training") else ""
    title = f"{failed} not yet without help" + (", and training" if trained else "")
    return FindingText(title, f"From the check-in.{trained}")


def _pain(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    where = f" ({clean(found['where'], 40)})" if found["where"] else ""
    grown = ", growing over three check-ins" if found["growing"] else ""
    return FindingText(f"pain {finding.observed:g} of 10{where}{grown}", "From the check-in.")


def _doctor(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    names = listed([clean(str(flag.get("name") or flag["told"]), 60) for flag in found["flags"]])
    return FindingText(names, "From the check-in.")


def _quiet(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    since = datetime.fromisoformat(found["since"]).astimezone(reader.zone)
    days = int((finding.observed or 0.0) // 24)
    if found.get("ever") is False:
        return FindingText("nothing ever came", "No file has ever come from this folder.")
    title = f"nothing came for {counted(days, 'day')}" if days else "nothing came for a while"
    return FindingText(title, f"No file since then ({clock(since, reader.face)}).")


def _too_good(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    return FindingText("feeling well before the legs are", "Heart and mood are back; tendon and bone are not yet.")


def _rested(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    what = OUTINGS.get(family(finding.sport or "", ""), "session")
    return FindingText(
        f"a {what} {int(finding.observed or 0.0)} h after the finish",
        f"The first {finding.limit:g} h are for walking and gentle moving.",
    )


def _strength(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    if finding.observed is None:
        return None  # the file does not say how long it took
    took = _whole(finding.observed)
    if finding.severity == Severity.NOTE:
        return FindingText(f"{took} min of yoga or pilates", "Fine in the days off as long as nothing is held hard.")
    return FindingText(f"{took} min of strength work", "The days off have none.")


def _not_judged(finding: Finding, found: Mapping[str, Any], reader: Reader) -> FindingText | None:
    return FindingText("a session that could not be judged whole", clean_sentence(said(finding.summary)))


WORDS: Mapping[str, Callable[[Finding, Mapping[str, Any], Reader], FindingText | None]] = {
    "rest_hours": _rested,
    "no_strength": _strength,
    "not_judged": _not_judged,
    "no_running": _running,
    "duration_cap": _too_long,
    "intensity_ceiling": _ceiling,
    "no_speed_work": _fast,
    "steep_ground": _steep,
    "run_spacing": _run_spacing,
    "weekly_running": _week,
    "long_run_jump": _jump,
    "resting_hr_up": _resting,
    "hrv_down": _variability,
    "short_sleep": _sleep,
    "stairs_test": _stairs,
    "pain": _pain,
    "see_a_doctor": _doctor,
    "feels_too_good": _too_good,
    "gone_quiet": _quiet,
}
