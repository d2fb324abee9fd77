"""What a FIT file says of each session in sum: its session messages, else its laps, else nothing but its records."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from monitor.intake.fit_columns import MOST_SPREAD_SECONDS, Rows
from monitor.intake.fit_messages import Message, Messages, moment, number, positive, word


@dataclass(frozen=True, slots=True)
class Summary:
    """One session as the file sums it up; None where it says nothing."""

    start: float  # seconds since 1970
    sport: str = "generic"
    sub_sport: str = "generic"
    elapsed_s: float | None = None
    timer_s: float | None = None
    distance_m: float | None = None
    ascent_m: float | None = None
    descent_m: float | None = None
    avg_hr_bpm: float | None = None
    max_hr_bpm: float | None = None
    pool_length_m: float | None = None


def summaries(messages: Messages, rows: Rows, shift: float) -> list[Summary]:
    """Sessions in order of time, transitions among them; at least one where anything was recorded."""
    found = [_of_session(session, messages, rows, shift) for session in messages.get("session", ())]
    known = sorted({s for s in found if s is not None}, key=_in_time)
    legs = [s for s in known if s.sport != "multisport"] or known
    return legs or _of_laps(messages, rows, shift) or _of_records(messages, rows)


def _in_time(summary: Summary) -> tuple[float, float, str, str]:
    return summary.start, summary.elapsed_s or 0.0, summary.sport, summary.sub_sport


def _of_session(session: Message, messages: Messages, rows: Rows, shift: float) -> Summary | None:
    elapsed, timer = _seconds(session, "total_elapsed_time"), _seconds(session, "total_timer_time")
    start, end = moment(session, "start_time"), moment(session, "timestamp")
    if start is None and end is not None:
        start = end - (elapsed or timer or 0.0)
    if start is not None:
        start += shift
    elif len(rows.at):
        start = float(rows.at[0])
    else:
        return None
    sport, sub_sport = _sport(session, messages)
    return Summary(
        start=start,
        sport=sport,
        sub_sport=sub_sport,
        elapsed_s=elapsed,
        timer_s=timer,
        distance_m=positive(session, "total_distance"),
        ascent_m=number(session, "total_ascent"),
        descent_m=number(session, "total_descent"),
        avg_hr_bpm=positive(session, "avg_heart_rate"),
        max_hr_bpm=positive(session, "max_heart_rate"),
        pool_length_m=positive(session, "pool_length"),
    )


def _seconds(message: Message, name: str) -> float | None:
    value = positive(message, name)
    return value if value is not None and value <= MOST_SPREAD_SECONDS else None


def _sport(message: Message, messages: Messages) -> tuple[str, str]:
    """Label of a session or lap; where it has none, that of a lap or of the settings the file was recorded with."""
    for candidate in (message, *messages.get("lap", ())[:1], *messages.get("sport", ())[:1]):
        sport = word(candidate, "sport")
        if sport is not None and sport != "all":
            return sport, word(candidate, "sub_sport") or "generic"
    return "generic", "generic"


def _of_laps(messages: Messages, rows: Rows, shift: float) -> list[Summary]:
    """One session for laps of the same sport that follow each other."""
    laps = sorted((lap for lap in messages.get("lap", ()) if moment(lap, "start_time")), key=_lap_start)
    groups = [list(group) for _, group in groupby(laps, key=lambda lap: _sport(lap, messages))]
    return [
        _of_group(group, messages, rows, shift, last=index == len(groups) - 1) for index, group in enumerate(groups)
    ]


def _lap_start(lap: Message) -> float:
    return moment(lap, "start_time") or 0.0


def _of_group(laps: list[Message], messages: Messages, rows: Rows, shift: float, *, last: bool) -> Summary:
    start = _lap_start(laps[0]) + shift
    end = max(_lap_start(lap) + shift + (_seconds(lap, "total_elapsed_time") or 0.0) for lap in laps)
    timers = [_seconds(lap, "total_timer_time") for lap in laps]
    unfinished = last and len(rows.at) > 0 and rows.at[-1] > end + 5  # records go on after the last lap that was closed
    sport, sub_sport = _sport(laps[0], messages)
    complete = not unfinished
    return Summary(
        start=start,
        sport=sport,
        sub_sport=sub_sport,
        elapsed_s=end - start if complete and end > start else None,
        timer_s=sum(t for t in timers if t) if complete and all(timers) else None,
        distance_m=_total(laps, "total_distance") if complete else None,
        ascent_m=_total(laps, "total_ascent") if complete else None,
        descent_m=_total(laps, "total_descent") if complete else None,
        avg_hr_bpm=_mean_rate(laps),
        max_hr_bpm=max((rate for lap in laps if (rate := positive(lap, "max_heart_rate"))), default=None),
    )


def _total(laps: list[Message], name: str) -> float | None:
    known = [value for lap in laps if (value := number(lap, name)) is not None]
    return sum(known) if known else None


def _mean_rate(laps: list[Message]) -> float | None:
    weighted = [
        (rate, _seconds(lap, "total_timer_time") or 1.0) for lap in laps if (rate := positive(lap, "avg_heart_rate"))
    ]
    seconds = sum(weight for _, weight in weighted)
    return sum(rate * weight for rate, weight in weighted) / seconds if weighted else None


def _of_records(messages: Messages, rows: Rows) -> list[Summary]:
    if not len(rows.at):
        return []
    sport, sub_sport = _sport({}, messages)
    return [Summary(float(rows.at[0]), sport, sub_sport)]
