"""Nights, mornings and check-ins made of a seed, in each kind of text that carries them, odd as devices are."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

from tests.monitor.intake.made_fit import START, Draw, pick


def _stamp(day: float, hour: float, offset: str) -> str:
    return f"{START + timedelta(days=day, hours=hour - 7):%Y-%m-%dT%H:%M:%S}{offset}"


def mhealth(draw: Draw) -> tuple[str, bytes]:
    """Sleep, pulse and intervals as the health schemas have them, bare or with headers."""
    found: list[Any] = []
    for day in range(pick(draw, (1, 2, 4))):
        offset = pick(draw, ("+02:00", "Z", "-07:00"))
        begin, long = pick(draw, (-2.0, -1.0, 1.0, 13.0)), pick(draw, (0.7, 2.9, 3.0, 7.5, 8.0, 16.5, 24.0))
        frame = {
            "time_interval": pick(
                draw,
                (
                    {"start_date_time": _stamp(day, begin, offset), "end_date_time": _stamp(day, begin + long, offset)},
                    {"start_date_time": _stamp(day, begin, offset), "duration": {"value": long, "unit": "h"}},
                    {
                        "end_date_time": _stamp(day, begin + long, offset),
                        "duration": {"value": long * 60, "unit": "min"},
                    },
                ),
            )
        }
        asleep = pick(draw, (long * 0.9, long, long + 0.01, long + 0.5, 0.0))
        told: dict[str, Any] = pick(
            draw,
            (
                {"total_sleep_time": {"value": asleep * 60, "unit": "min"}},
                {"sleep_duration": {"value": asleep, "unit": "h"}},
                {"sleep_duration": {"value": asleep * 3600, "unit": "sec"}},
                {"time_in_bed": {"value": long, "unit": "h"}},
                {
                    "sleep_efficiency_percentage": {"value": pick(draw, (88, 100, 101, 0)), "unit": "%"},
                    "number_of_awakenings": 3,
                },
                {"sleep_stage_summary": {"total_sleep_time": {"value": asleep * 60, "unit": "min"}}},
            ),
        )
        body = {
            **told,
            "effective_time_frame": frame,
            **pick(draw, ({}, {}, {"is_main_sleep": False}, {"is_main_sleep": True})),
        }
        found.append(_headed(draw, "sleep-episode", body))
        for number in range(pick(draw, (0, 1, 4))):
            rest = pick(
                draw,
                (
                    {"temporal_relationship_to_sleep": "during sleep"},
                    {"temporal_relationship_to_physical_activity": "at rest"},
                    {},
                    {"temporal_relationship_to_sleep": "on waking"},
                ),
            )
            pulse = {
                "heart_rate": {"value": 44 + number * 3, "unit": "beats/min"},
                "effective_time_frame": {"date_time": _stamp(day, 3 + number, offset)},
                **rest,
            }
            found.append(
                _headed(
                    draw,
                    "heart-rate",
                    pulse
                    | pick(draw, ({}, {"descriptive_statistic": "average"}, {"descriptive_statistic": "maximum"})),
                )
            )
    for number in range(pick(draw, (0, 0, 70))):
        body = {
            "rr_interval": {"value": 900 + number * 37 % 80, "unit": "ms"},
            "effective_time_frame": {"date_time": _stamp(0, 4 + number / 3600, "Z")},
        }
        found.append(_headed(draw, "rr-interval", body))
    if draw.random() < 0.3:
        found.append(pick(draw, ({"step_count": 3}, {"body": {"heart_rate": 4}}, {"body": {}})))
    return "a.json", json.dumps(found if len(found) > 1 else found[0]).encode()


def _headed(draw: Draw, name: str, body: Any) -> Any:
    if draw.random() < 0.5:
        return body
    header = {
        "schema_id": {"namespace": "ieee", "name": name, "version": "1.0"},
        "source_creation_date_time": _stamp(0, 12, "Z"),
    }
    return {
        "header": header
        | pick(draw, ({}, {"modality": "sensed"}, {"acquisition_provenance": {"modality": "self-reported"}})),
        "body": body,
    }


def csv(draw: Draw) -> tuple[str, bytes]:
    """Nights and mornings in a table."""
    split = pick(draw, (",", ";", "\t"))
    names = pick(
        draw,
        (
            ("date", "bedtime", "wake_time", "total_sleep_min", "resting_hr", "rmssd_ms"),
            ("date", "Asleep", "Pulse"),
            ("date", "resting_hr"),
            ("Date", "Total_Sleep_Min", "RMSSD_ms"),
        ),
    )
    lines = [split.join(names)]
    if draw.random() < 0.2:
        lines.insert(0, "Export of nights")
    twice = draw.random() < 0.3  # two rows of a day: a night and a nap, or a table of two devices
    for number in range(pick(draw, (1, 4, 12))):
        day = number // 2 if twice else number
        cells = {
            "date": pick(
                draw,
                (
                    f"2026-10-{day + 6:02d}",
                    f"{day + 6}.10.2026",
                    f"10/{day + 6}/2026",
                    f"2026-10-{day + 6:02d}T06:30",
                    "soon",
                ),
            )
            if draw.random() < 0.3
            else f"2026-10-{day + 6:02d}",
            "bedtime": pick(draw, ("22:45", "00:30", "11:15 PM", "2026-10-06 23:00", "")),
            "wake": pick(draw, ("06:30", "7:05", "13:00", "")),
            "asleep": pick(draw, ("432", "7:12", "7h12", "7,2 h", "25920 s", "0", "1441", "-", "x")),
            "pulse": pick(draw, ("47", "47,5", "24", "25", "120", "121", "n/a")),
            "rmssd": pick(draw, ("61.5", "61,5", "0.5", "1", "400", "401", "")),
        }
        by = {
            "date": "date",
            "bedtime": "bedtime",
            "wake_time": "wake",
            "total_sleep_min": "asleep",
            "asleep": "asleep",
            "resting_hr": "pulse",
            "pulse": "pulse",
            "rmssd_ms": "rmssd",
        }
        row = [cells[by[name.lower()]] for name in names]
        lines.append(split.join(f'"{cell}"' if split in cell else cell for cell in row))
    return "nights.csv", pick(draw, ("\n", "\r\n")).join(lines).encode(
        pick(draw, ("utf-8", "utf-8-sig", "utf-16", "cp1252"))
    )


def form(draw: Draw) -> tuple[str, bytes]:
    """Check-ins as a form keeps them in a table."""
    names = ("date", "pain", "stairs_unaided", "squat_unaided", "mood", "soreness", "symptoms", "note")
    rows = [",".join(names)]
    for day in range(pick(draw, (1, 3))):
        answers = _answers(draw, day)
        rows.append(",".join(str(answers.get(name, "")).replace(",", ";").strip("[]'") for name in names))
    return "form.csv", "\n".join(rows).encode()


SCALED = (
    0, 3, 10, 11, "4/10", "3,5", "2-4", "3 - 5", "no pain", "hardly", "a bit", "slight", "some", "moderate", "much",
    "bad", "severe", "very bad", "terrible", "extreme", "none", "very low", "low", "tired", "so-so", "ok", "fine",
    "good", "high", "very good", "great", "excellent", "blue", None, "", "a little", "a lot", "not at all", "mild",
    "light", "medium", "strong", "very much", "unbearable", "poor", "normal", "average", "lots",
)  # fmt: skip


def _answers(draw: Draw, day: int) -> dict[str, Any]:
    date = pick(draw, ("2026-10-{:02d}", "2026-10-{:02d}", "2026-10-{:02d}T21:30", "2026-10-{:02d}T06:30:00Z")).format(
        day + 6
    )
    found: dict[str, Any] = {"date": date}
    for key in ("soreness", "pain", "energy", "mood"):
        if draw.random() < 0.8:
            found[key] = pick(draw, SCALED)
    for key in ("stairs_unaided", "squat_unaided"):
        if draw.random() < 0.7:
            found[key] = pick(draw, (True, False, "yes", "no", "Y", "maybe", 1, 0, "n"))
    if draw.random() < 0.4:
        found["symptoms"] = pick(draw, (["fever", "fever", "-"], "dark urine; fever", "none", ["x" * 130]))
    if draw.random() < 0.3:
        found["gone"], found["seen_doctor"] = (
            pick(draw, (True, "yes", ["fever", "no"], "chest pain")),
            pick(draw, ("yes", "no", "Dr Berg", True)),
        )
    if draw.random() < 0.3:
        found["note"], found["pain_where"], found["odd"] = "slept badly " * pick(draw, (1, 200)), "left calf", 1
    return found


def checkins(draw: Draw) -> tuple[str, bytes]:
    """One check-in, or a list of them."""
    found = [_answers(draw, day // 2) for day in range(pick(draw, (1, 1, 2, 5)))]
    return "a.checkin.json", json.dumps(found if len(found) > 1 or draw.random() < 0.3 else found[0]).encode()


def rr(draw: Draw) -> tuple[str, bytes]:
    """Intervals of a morning with early, missed and extra beats."""
    stamp = pick(
        draw, ("# 2026-10-06\n", "2026-10-06 06:30:00\n", "2026-10-06T23:58:00\n", "", "# Start 2026-10-06 05.10\n")
    )
    size, wave = pick(draw, (59, 60, 61, 120, 300)), pick(draw, (5, 20, 60))
    beats = [pick(draw, (900, 1000, 480)) + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    usual = beats[0]
    beats = [usual + wave * ((at * 7) % 11 - 5) / 5 for at in range(size)]
    for _ in range(pick(draw, (0, 0, 1, 3, 12))):
        at = 1 + int(draw.random() * (size - 3))
        kind = draw.random()
        if kind < 0.4:
            early = usual * pick(draw, (0.1, 0.3, 0.45))
            beats[at] -= early
            beats[at + 1] += early * pick(draw, (1.0, 0.6))
        elif kind < 0.7:
            beats[at] *= pick(draw, (1.5, 1.6, 1.7, 2.0, 3.0))
        else:
            beats[at : at + 1] = [beats[at] * 0.45, beats[at] * 0.6]
    unit = pick(draw, (1.0, 1.0, 1.0, 0.001))
    lines = [f"{beat * unit:.4f}" if unit < 1 else f"{beat:.0f}" for beat in beats]
    if draw.random() < 0.2:
        lines.insert(5, pick(draw, ("pause", "0", "9000")))
    return pick(draw, ("2026-10-06 morning.rr", "m.rr", "rr_20261005.txt")), (stamp + "\n".join(lines)).encode()
