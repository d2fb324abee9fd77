"""FIT bytes of a saved outing, by the encoder of the official SDK."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import numpy as np
from garmin_fit_sdk import Encoder, Profile

from sample_exports.outing import Saved
from sample_exports.physiology import Series

FIT_EPOCH = datetime(1989, 12, 31, tzinfo=UTC)
NUMBERS = {message["name"]: int(number) for number, message in Profile["messages"].items()}
ON_FOOT = ("running", "walking")


def fit_bytes(saved: Saved) -> bytes:
    """A whole activity file: one session, one lap, timer events, records."""
    encoder = Encoder()
    for name, fields in _messages(saved):
        known = {field: value for field, value in fields.items() if value is not None}
        encoder.write_mesg({"mesg_num": NUMBERS[name], **known})
    return bytes(encoder.close())


def _seconds(moment: datetime) -> int:
    return round((moment - FIT_EPOCH).total_seconds())


def _messages(saved: Saved) -> Iterator[tuple[str, dict[str, Any]]]:
    yield (
        "file_id",
        {
            "type": "activity",
            "manufacturer": "development",
            "product": 1,
            "serial_number": 20261,
            "time_created": _seconds(saved.start),
        },
    )
    moments = [(0, "start")]
    for begin, end in saved.outing.pauses:
        moments += [(begin, "stop_all"), (end, "start")]
    for second, what in moments:
        yield _timer(saved, second, what)
    yield from (("record", fields) for fields in _records(saved))
    yield _timer(saved, round(saved.elapsed_s), "stop_all")
    if saved.outing.pool_m:
        yield from _lengths(saved)
    yield ("lap", {"message_index": 0, **_totals(saved)})
    yield ("session", {"message_index": 0, **_totals(saved), **_whole(saved), "first_lap_index": 0, "num_laps": 1})
    yield (
        "activity",
        {
            "timestamp": _seconds(saved.end),
            "total_timer_time": saved.timer_s,
            "local_timestamp": _seconds(saved.end) + saved.utc_offset_s,
            "num_sessions": 1,
            "type": "manual",
            "event": "activity",
            "event_type": "stop",
        },
    )


def _timer(saved: Saved, second: int, what: str) -> tuple[str, dict[str, Any]]:
    moment = _seconds(saved.start) + second
    return ("event", {"timestamp": moment, "event": "timer", "event_type": what})


def _records(saved: Saved) -> Iterator[dict[str, Any]]:
    columns = saved.columns
    fields: dict[str, list[int] | list[float] | None] = {
        "timestamp": [_seconds(saved.start) + int(t) for t in saved.t_s],
        "position_lat": _semicircles(columns.lat_deg),
        "position_long": _semicircles(columns.lon_deg),
        "distance": _floats(columns.distance_m),
        "speed": _floats(columns.speed_mps),
        "altitude": _floats(columns.altitude_m),
        "heart_rate": _whole_numbers(columns.hr_bpm),
        "power": _whole_numbers(columns.watts),
        **_cadence(saved),
    }
    present = {name: values for name, values in fields.items() if values is not None}
    for row in zip(*present.values(), strict=True):
        yield dict(zip(present, row, strict=True)) | {"temperature": round(saved.outing.temperature_c)}


def _cadence(saved: Saved) -> dict[str, list[int] | list[float] | None]:
    """Cadence as FIT has it: cycles, so half the steps, with the fraction beside."""
    steps = saved.columns.cadence_spm
    if steps is None:
        return {}
    if saved.outing.sport not in ON_FOOT:
        return {"cadence": _whole_numbers(steps)}
    cycles = np.round(steps) / 2
    return {"cadence": _whole_numbers(np.floor(cycles)), "fractional_cadence": _floats(cycles - np.floor(cycles))}


def _semicircles(degrees: Series | None) -> list[int] | None:
    return None if degrees is None else [round(value * 2**31 / 180) for value in degrees.tolist()]


def _floats(values: Series | None) -> list[float] | None:
    return None if values is None else [float(value) for value in values.tolist()]


def _whole_numbers(values: Series | None) -> list[int] | None:
    return None if values is None else [round(value) for value in values.tolist()]


def _totals(saved: Saved) -> dict[str, Any]:
    columns = saved.columns
    up, down = _climb(columns.altitude_m)
    return {
        "timestamp": _seconds(saved.end),
        "start_time": _seconds(saved.start),
        "total_elapsed_time": saved.elapsed_s,
        "total_timer_time": saved.timer_s,
        "total_distance": saved.distance_m,
        "total_ascent": up,
        "total_descent": down,
        "avg_heart_rate": round(float(np.mean(columns.hr_bpm))),
        "max_heart_rate": round(float(np.max(columns.hr_bpm))),
        "sport": saved.outing.sport,
        "sub_sport": saved.outing.sub_sport,
        "event": "lap",
        "event_type": "stop",
    }


def _climb(altitude: Series | None) -> tuple[int | None, int | None]:
    """Metres up and down, counted over a minute's smoothing so that noise does not climb."""
    if altitude is None:
        return None, None
    width = max(min(15, len(altitude) // 4), 1)
    smooth = np.convolve(altitude, np.full(width, 1 / width), "valid")
    steps = np.diff(smooth)
    return round(float(steps[steps > 0].sum())), round(float(-steps[steps < 0].sum()))


def _whole(saved: Saved) -> dict[str, Any]:
    pool = saved.outing.pool_m
    lengths = {"pool_length": pool, "num_active_lengths": len(saved.outing.lengths)} if pool else {}
    return {"event": "session", "event_type": "stop", "trigger": "activity_end", **lengths}


def _lengths(saved: Saved) -> Iterator[tuple[str, dict[str, Any]]]:
    begin = _seconds(saved.start)
    pool = saved.outing.pool_m or 0.0
    for index, (from_s, to_s) in enumerate(saved.outing.lengths):
        yield (
            "length",
            {
                "message_index": index,
                "timestamp": begin + to_s,
                "start_time": begin + from_s,
                "total_elapsed_time": float(to_s - from_s),
                "total_timer_time": float(to_s - from_s),
                "total_strokes": 15,
                "avg_speed": pool / (to_s - from_s),
                "swim_stroke": "freestyle",
                "length_type": "active",
                "event": "length",
                "event_type": "stop",
            },
        )
