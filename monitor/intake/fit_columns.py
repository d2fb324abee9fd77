"""FIT records -> columns: one row a second, times never falling, in the units of the samples."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor.intake.fit_decoders import RUNNING_FORM, Message, Records, number, positive, word
from monitor.intake.plausible import mask_samples
from monitor.intake.track import counts_one_leg
from monitor.values import Samples
from rules.limits import default_limits

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

DEGREES_A_SEMICIRCLE = 180.0 / 2**31
MOST_SPREAD_SECONDS = 15 * 86400.0  # no activity is longer; a record farther from the middle has a broken clock
SORT_BELOW_SHARE = 0.9  # fewer records already in order than this: they were written out of order, not misdated

# A turn of these is not two steps.
NOT_STEPS = frozenset(
    {"cycling", "e_biking", "swimming", "rowing", "paddling", "kayaking", "canoeing", "rafting", "boating", "sailing"}
    | {"stand_up_paddleboarding", "surfing", "windsurfing", "kitesurfing", "water_skiing", "wakeboarding", "diving"}
    | {"cross_country_skiing", "alpine_skiing", "snowboarding", "inline_skating", "ice_skating", "motorcycling"}
    | {"horseback_riding", "driving", "flying", "snowmobiling", "wheelchair_push_walk", "wheelchair_push_run"}
)
NOT_STEPS_INSIDE = frozenset(
    {"indoor_cycling", "spin", "indoor_rowing", "hand_cycling", "recumbent", "virtual_activity"}
)


@dataclass(frozen=True, slots=True)
class Rows:
    """Records as columns; `at` is in seconds since 1970 and rises from row to row."""

    at: Floats
    columns: Samples  # cadence as the device counted it

    def between(self, first: float, last: float) -> Rows:
        """Rows from first to last, both included."""
        chosen = slice(*np.searchsorted(self.at, [first, np.nextafter(last, np.inf)]).tolist())
        return Rows(self.at[chosen], {name: column[chosen] for name, column in self.columns.items()})


def rows(records: Records, shift: float) -> tuple[Rows, int]:
    """All records of a file, and how many were left out because their time makes no sense."""
    told = records.column
    at = told("timestamp") + shift
    columns = {
        "hr_bpm": _nothing_at_zero(told("heart_rate")),
        "cadence_spm": told("cadence") + np.nan_to_num(told("fractional_cadence")),
        "speed_mps": _first_known(told("speed"), told("enhanced_speed")),
        "distance_m": told("distance"),
        "altitude_m": _first_known(told("altitude"), told("enhanced_altitude")),
        "lat_deg": told("position_lat") * DEGREES_A_SEMICIRCLE,
        "lon_deg": told("position_long") * DEGREES_A_SEMICIRCLE,
        "power_w": told("power"),
        "temperature_c": told("temperature"),
    }
    _forget_null_island(columns)
    order = _order(at)
    at, columns = _one_a_second(at[order], {name: column[order] for name, column in columns.items()})
    return Rows(at, columns), records.count - len(order)


def samples_of(chosen: Rows, start: float, sport: str, sub_sport: str) -> Samples:
    """The samples of one session: its own clock, steps where it is on foot, no impossible value, no empty column."""
    samples = {"t_s": np.round(chosen.at - start, 3), **chosen.columns}
    if _counts_steps(samples, sport, sub_sport):
        samples["cadence_spm"] = samples["cadence_spm"] * 2
    return mask_samples(samples)


def _counts_steps(samples: Samples, sport: str, sub_sport: str) -> bool:
    """Whether the device's cadence is of strides, two steps each."""
    return sport not in NOT_STEPS and sub_sport not in NOT_STEPS_INSIDE and counts_one_leg(samples, sport)


def _first_known(first: Floats, second: Floats) -> Floats:
    return np.where(np.isnan(first), second, first)


def _nothing_at_zero(column: Floats) -> Floats:
    return np.where(column == 0, np.nan, column)


def _forget_null_island(columns: Samples) -> None:
    """Position 0, 0 is a receiver without a fix."""
    lost = (columns["lat_deg"] == 0) & (columns["lon_deg"] == 0)
    for name in ("lat_deg", "lon_deg"):
        columns[name] = np.where(lost, np.nan, columns[name])


def _order(at: Floats) -> Indices:
    """Indices of the records to keep, in order of time."""
    known = np.flatnonzero(np.isfinite(at))
    if not len(known):
        return known
    known = known[np.abs(at[known] - np.median(at[known])) <= MOST_SPREAD_SECONDS]
    in_time = known[np.argsort(at[known], kind="stable")]
    if np.array_equal(in_time, known):
        return known
    rising = _longest_rising(at[known])
    return known[rising] if len(rising) >= SORT_BELOW_SHARE * len(known) else in_time


def _longest_rising(at: Floats) -> Indices:
    """Indices of a longest subsequence that never falls: a record or a stretch with a wrong clock stays out."""
    ends: list[float] = []  # ends[k]: the least time that k + 1 records can end at
    ends_at: list[int] = []
    before: list[int | None] = []
    for i, value in enumerate(at.tolist()):
        k = bisect_right(ends, value)
        before.append(ends_at[k - 1] if k else None)
        if k == len(ends):
            ends.append(value)
            ends_at.append(i)
        else:
            ends[k], ends_at[k] = value, i
    path = []
    last: int | None = ends_at[-1]
    while last is not None:
        path.append(last)
        last = before[last]
    return np.array(path[::-1], dtype=np.int64)


def _one_a_second(at: Floats, columns: Samples) -> tuple[Floats, Samples]:
    """Records of the same second made one: the last says what it knows, those before fill in the rest."""
    new = np.diff(at, prepend=-np.inf) > 0
    if new.all():
        return at, columns
    group = np.cumsum(new) - 1
    merged: Samples = {}
    for name, column in columns.items():
        known = np.flatnonzero(~np.isnan(column))
        one = np.full(int(new.sum()), np.nan)
        one[group[known]] = column[known]
        merged[name] = one
    return at[new], merged


# Stance time, vertical oscillation and counted strides occur in running only: a ride with them is a run with the wrong
# label. Speed and cadence alone change no label, since pedalling has them too.

RIDES = frozenset({"cycling", "e_biking"})


def has_running_form(records: Records, own: Rows, shift: float) -> bool:
    """Whether at least half of the records have values of running only, at a speed possible on foot."""
    if not len(own.at):
        return False
    at = records.column("timestamp") + shift
    told = np.logical_or.reduce([records.column(name) > 0 for name in RUNNING_FORM])
    inside = told & (at >= own.at[0]) & (at <= own.at[-1])
    return 2 * int(inside.sum()) >= len(own.at) and not too_fast(own.columns["speed_mps"])


def too_fast(speed: Floats) -> bool:
    """Whether the median speed is possible on wheels only."""
    moving = speed[speed > 0]
    return len(moving) > 0 and float(np.median(moving)) > default_limits().intake.wheels_above_mps


# What swimming recordings keep outside their records: pool lengths, and heart rate stored by the strap under water.

CARRY_SECONDS = 5.0  # a beat's rate holds so long where none follows
STEP_SECONDS = 0.25
TICKS_A_SECOND = 1024


def with_lengths(rows: Rows, lengths: list[Message], pool_length_m: float | None, shift: float) -> Rows:
    """Speed over each length, and the distance where the records have none. No records: one a length."""
    spans = _active(lengths, shift)
    if not spans:
        return rows
    if not len(rows.at):
        ends = np.unique([end for _, end, _ in spans])
        rows = Rows(ends, {})
    columns = {name: column.copy() for name, column in rows.columns.items()}
    speed = columns.get("speed_mps", np.full(len(rows.at), np.nan))
    for begin, end, mps in spans:
        inside = slice(*np.searchsorted(rows.at, [begin, end], side="right").tolist())
        speed[inside] = np.where(np.isnan(speed[inside]), mps, speed[inside])
    columns["speed_mps"] = speed
    distance = columns.get("distance_m", np.full(len(rows.at), np.nan))
    if pool_length_m is not None and np.isnan(distance).all():
        at = np.searchsorted(rows.at, [end for _, end, _ in spans]).clip(max=len(rows.at) - 1)
        distance[at] = pool_length_m * np.arange(1, len(spans) + 1)
        columns["distance_m"] = distance
    return Rows(rows.at, columns)


def _active(lengths: list[Message], shift: float) -> list[tuple[float, float, float]]:
    """Begin, end and speed (NaN where unknown) of each length swum."""
    spans = []
    for length in lengths:
        start, took = number(length, "start_time"), positive(length, "total_elapsed_time", "total_timer_time")
        if start is None or took is None or word(length, "length_type") == "idle":
            continue
        speed = positive(length, "avg_speed", "enhanced_avg_speed")
        spans.append((start + shift, start + shift + took, np.nan if speed is None else speed))
    return sorted(spans)


def with_stored_heart_rate(rows: Rows, hr: list[Message], shift: float) -> Rows:
    """Heart rate from `hr` messages where a record has none: the mean since the record before."""
    if not hr or not len(rows.at):
        return rows
    at, bpm = _every_quarter_second(*_beats(hr, shift))
    until = np.searchsorted(at, rows.at, side="right")
    since = np.concatenate((np.searchsorted(at, rows.at[:1] - 1, side="right"), until[:-1]))
    total = np.concatenate(([0.0], np.cumsum(bpm)))
    count = until - since
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.floor((total[until] - total[since]) / count + 0.5)
    stored = np.where(count > 0, mean, np.nan)
    recorded = rows.columns["hr_bpm"]
    return Rows(rows.at, {**rows.columns, "hr_bpm": np.where(np.isnan(recorded), stored, recorded)})


def _beats(hr: list[Message], shift: float) -> tuple[Floats, Floats]:
    """Moments and rates of all beats. A message with a date anchors the strap's own clock of 1/1024 s."""
    at: list[float] = []
    bpm: list[float] = []
    anchor: float | None = None  # date minus strap clock, in seconds
    ticks = 0
    for message in hr:
        stored = message.get("event_timestamp_12")
        if stored is None:
            event = number(message, "event_timestamp")
            if event is None:
                continue
            ticks = round(event * TICKS_A_SECOND)
            date = number(message, "timestamp")
            if date is not None:
                anchor = date + shift + (number(message, "fractional_timestamp") or 0.0) - event
            events = [ticks]
        else:
            events = _unpack_12(bytes(stored), ticks)
            ticks = events[-1] if events else ticks
        rates = message.get("filtered_bpm")
        rates = rates if isinstance(rates, list | tuple) else [rates]
        if anchor is None:
            continue
        for event_ticks, rate in zip(events, rates, strict=False):
            if rate:
                at.append(anchor + event_ticks / TICKS_A_SECOND)
                bpm.append(float(rate))
    return np.array(at), np.array(bpm)


def _unpack_12(stored: bytes, ticks: int) -> list[int]:
    """Pairs of 12-bit ticks in three bytes each, each the low bits of a clock that only goes on."""
    events = []
    for i in range(0, len(stored) - 2, 3):
        low, middle, high = stored[i : i + 3]
        for value in (low | (middle & 0x0F) << 8, middle >> 4 | high << 4):
            ticks += (value - ticks) & 0xFFF
            events.append(ticks)
    return events


def _every_quarter_second(at: Floats, bpm: Floats) -> tuple[Floats, Floats]:
    """Rates carried forward in steps of a quarter of a second, for five seconds at most."""
    order = np.argsort(at, kind="stable")
    at, bpm = at[order], bpm[order]
    gaps = np.diff(at, append=at[-1:])
    most = int(CARRY_SECONDS / STEP_SECONDS)
    extra = np.clip(np.ceil(np.round(gaps / STEP_SECONDS, 6)) - 1, 0, most).astype(np.int64)
    of = np.repeat(np.arange(len(at)), extra + 1)
    step = np.arange(len(of)) - np.repeat(np.cumsum(extra + 1) - (extra + 1), extra + 1)
    return at[of] + step * STEP_SECONDS, bpm[of]
