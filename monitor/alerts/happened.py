"""What happened, in kind words for one reader: a few of them for a title, a sentence for the text.

Made from what a finding measured, in the reader's units; a finding that lacks it says its own summary.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from math import exp
from statistics import median
from typing import Any

from monitor.alerts.measures import distance, height, pace
from monitor.alerts.readers import Reader
from monitor.alerts.words import clean, counted, day_words, in_passing, sentence, stage_words
from rules.findings import Finding, Severity
from rules.wording import duration, listed, minutes, sleep

OUTINGS = {"walking": "walk", "hiking": "hike", "cycling": "ride", "swimming": "swim", "rowing": "row"}
RUNS = ("running", "trail_running", "treadmill_running")


@dataclass(frozen=True, slots=True)
class Happened:
    title: str  # a few words, without a full stop
    text: str  # sentences


def happened(finding: Finding, reader: Reader) -> Happened:
    """What a finding tells, in words that blame nobody."""
    plain = Happened(in_passing(finding.summary), sentence(finding.summary))
    words = WORDS.get(finding.rule)
    if words is None:
        return plain
    try:
        said = words(finding, finding.evidence, reader)
    except (KeyError, TypeError, ValueError, IndexError, ZeroDivisionError):
        return plain  # found by another version, with other evidence
    return plain if said is None else Happened(clean(said.title), said.text)


def _whole(value: float | None) -> int:
    return int((value or 0.0) + 0.5)


def _running(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    label, ran = str(found["label"] or ""), _whole(finding.observed)
    outing = OUTINGS.get(label, "session")
    hidden = label not in RUNS and label != ""
    stage = stage_words(finding.stage)
    if finding.severity == Severity.NOTE:
        cap = _whole(finding.limit)
        return Happened(f"a short run, {ran} min", f"A run of {ran} min; this stage tolerates one of up to {cap} min.")
    if finding.severity == Severity.CAUTION:
        seen = f"part of the {outing} looks like a jog" if hidden else "this looks like a run"
        return Happened(
            f"{seen}, {ran} min; was it?",
            f"About {ran} min look like running, and the {stage} {_has(stage)} none. If it was no run, nothing is lost.",
        )
    if hidden:
        return Happened(
            f"part of the {outing} was a jog, {ran} min",
            f"{ran} min of the {outing} were at a run; the {stage} {_has(stage)} no running.",
        )
    return Happened(f"a run of {ran} min", f"A run of {ran} min; the {stage} {_has(stage)} no running.")


def _has(stage: str) -> str:
    return "have" if stage.endswith(("s", "off")) else "has"


def _ceiling(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    above, ceiling = finding.observed or 0.0, found["ceiling_bpm"]
    top = found.get("highest_minute_bpm")
    highest = f", the highest minute at {top} bpm" if top else ""
    title = f"{minutes(above) if above >= 60 else duration(above)} above {ceiling} bpm"
    return Happened(title, f"{duration(above)} above {ceiling} bpm, this stage's ceiling{highest}.")


def _too_long(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    took, cap = _whole(finding.observed), _whole(finding.limit)
    if found["of"] == "run":
        return Happened(f"a run of {took} min, {took - cap} over", f"A run of {took} min; a run may be {cap} min.")
    sessions = len(found["day"])
    came = f"the day's {sessions} sessions came" if sessions > 1 else "the session came"
    return Happened(
        f"{took} min, {took - cap} over the day's {cap}",
        sentence(f"{came} to {took} min; the day has {cap} min for all sport but walking"),
    )


def _fast(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    kind, bouts = str(found["kind"]), found["bout_seconds"]
    amount = duration(sum(bouts)) if len(bouts) == 1 else f"{len(bouts)} x {duration(float(median(bouts)))}"
    effort, over = finding.observed or 0.0, found["over_reference"]
    speed = found.get("speed_mps") or sum(
        a * b for a, b in zip(found["bout_speed_mps"], bouts, strict=True)
    ) / sum(bouts)
    uphill = f" uphill, worth {pace(effort, reader.units)} on the level" if effort > 1.1 * speed else ""
    by_threshold = found["threshold_mps"] is not None and found["threshold_confidence"] != "low"
    whose = "the" if reader.role == "coach" else "your"
    than = f"{whose} threshold pace" if by_threshold else "the easy running of the same session"
    way = "faster" if over >= 0 else "slower"
    asked = " Was it?" if finding.severity == Severity.CAUTION else ""
    looks = "looks like " if finding.severity == Severity.CAUTION else ""
    return Happened(
        f"{looks}{kind}, {amount}",
        sentence(
            f"{looks}{kind}: {amount} at {pace(speed, reader.units)}{uphill}, {abs(over) * 100:.0f} % {way} than {than}"
        )
        + asked,
    )


def _steep(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    up, down = height(found["ascent_m"], reader.units), height(found["descent_m"], reader.units)
    length = f" in {distance(found['distance_m'], reader.units)}" if found.get("distance_m") else ""
    slope = found["steepest_slope"]
    steep = f", up to {abs(slope) * 100:.0f} % {'down' if slope < 0 else 'up'}" if slope else ""
    return Happened(f"hilly ground, {up} up and {down} down", f"{up} up and {down} down{length}{steep}.")


def _run_spacing(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    same = date.fromisoformat(found["run_before"]) == finding.date
    title = "a second run on the same day" if same else "a run on the day after a run"
    return Happened(title, f"{sentence(title)} The test runs have a day without running between them.")


def _week(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    ran, allowed = _whole(finding.observed), _whole(finding.limit)
    usual = _whole(found["usual_week_min"])
    return Happened(
        f"{ran} min of running this week, {ran - allowed} over",
        f"{ran} min of running this week; its share is {allowed} min, {found['share'] * 100:.0f} % of the usual {usual}.",
    )


def _jump(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    ran, before = (distance(metres, reader.units) for metres in (finding.observed or 0.0, found["longest_before_m"]))
    return Happened(
        f"a long run of {ran}, the longest before {before}",
        f"A run of {ran}; the longest since the race was {before}, and a tenth more is enough for one step.",
    )


def _resting(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    values = listed([f"{value:g}" for _, value in sorted(found["mornings_bpm"].items())])
    usual = f"{found['baseline_bpm']:g}"
    return Happened(
        f"resting heart rate up, {values} against {usual}",
        f"Resting heart rate {values} on two mornings running; usual is {usual}.",
    )


def _variability(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    mean, usual = finding.observed or 0.0, found["baseline_ln_rmssd"]
    number = len(found["mornings_ln_rmssd"])
    return Happened(
        f"heart-rate variability down, {exp(mean):.0f} ms against {exp(usual):.0f}",
        f"Heart-rate variability of {number} mornings: {exp(mean):.0f} ms, where {exp(usual):.0f} ms are usual"
        f" (mean ln RMSSD {mean:.2f} and {usual:.2f}).",
    )


def _sleep(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    mean = sleep((finding.observed or 0.0) * 60)
    wanted = f"{finding.limit:g} h" if finding.limit else "7 h"
    return Happened(f"{mean} of sleep a night", f"{mean} of sleep a night over three nights; {wanted} are wanted.")


def _stairs(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    failed = listed([str(each) for each in found["failed"]])
    trained = " And there was training on that day." if found.get("training") else ""
    title = f"{failed} not yet without help" + (", and training" if trained else "")
    return Happened(title, f"{sentence(f'{failed} did not go without help')}{trained}")


def _pain(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    where = f" ({clean(found['where'], 40)})" if found["where"] else ""
    grown = ", growing over three check-ins" if found["growing"] else ""
    title = f"pain {finding.observed:g} of 10{where}{grown}"
    return Happened(title, sentence(title))


def _doctor(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    names = listed([clean(str(flag.get("name") or flag["told"]), 60) for flag in found["flags"]])
    told = "; ".join(f"“{clean(str(flag['told']), 80)}”" for flag in found["flags"])
    return Happened(names, f"Told in the check-in of {day_words(finding.date)}: {told}.")


def _quiet(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    since = datetime.fromisoformat(found["since"]).astimezone(reader.zone)
    days = int((finding.observed or 0.0) // 24)
    if found.get("ever") is False:
        return Happened("nothing ever came", "No file has ever come from this folder.")
    long = f" for {counted(days, 'day')}" if days else ""
    return Happened(f"nothing came{long}", f"The last file came on {day_words(since)}.")


def _too_good(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    return Happened("feeling well before the legs are", "Heart and mood are back; tendon and bone are not yet.")


def _rested(finding: Finding, found: Mapping[str, Any], reader: Reader) -> Happened | None:
    hours = int(finding.observed or 0.0)
    what = OUTINGS.get(finding.sport or "", (finding.sport or "session").replace("_", " "))
    what = {"running": "run", "other": "session", "unknown": "session"}.get(what, what)
    return Happened(
        f"a {what} {hours} h after the finish",
        f"A {what} {hours} h after the finish; the first {finding.limit:g} h are for walking and gentle moving.",
    )


WORDS: Mapping[str, Callable[[Finding, Mapping[str, Any], Reader], Happened | None]] = {
    "rest_hours": _rested,
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
