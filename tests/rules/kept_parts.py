"""Parts of judging alone: numbers and words, sentences of check-ins, mornings, overlapping recordings, moving means."""

from __future__ import annotations

import dataclasses
import itertools
import random
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from functools import partial
from typing import Any

import numpy as np

from rules import catalogue, facts
from rules.body import checkins, mornings, red_flags, symptom_text
from rules.facts import Athlete, CheckIn, Morning, Night, Race
from rules.findings import Severity, finding_id, severity_of, shown, signals_from_store
from rules.limits import default_limits
from rules.plan import stages
from rules.plan.stages import believable_bpm, ceilings, estimated_hr_max, trimp
from rules.session import gait, ground, heart, labels, timeline
from rules.words.en import amounts, report
from tests.kept_answers import mark

DAY = date(2026, 10, 4)
MOMENT = datetime(2026, 10, 4, 9, tzinfo=UTC)
SENTENCES = (
    "chest pain when climbing stairs", "no chest pain", "chest pain is gone", "pain in my chest, not today",
    "tight chest last night",
    "my wife has chest pain", "fainted after the shower", "I nearly fainted", "dizzy and short of breath",
    "short of breath at rest",
    "urine like cola", "dark urine since Sunday", "urine clear again", "very dark pee", "no dark urine, no fever",
    "fever 38.5",
    "feverish?", "maybe a fever", "had a fever last year", "calf swollen and warm", "left calf red, swollen",
    "calf a bit tight",
    "bone pain at night", "pain in the shin at rest", "stress fracture in 2019", "stress fracture suspected",
    "numb foot",
    "foot feels numb after ten minutes", "knee locks", "cannot put weight on my foot", "could not bear weight",
    "hit my head and vomited",
    "headache", "worst headache ever", "confused at the finish", "seizure", "heart races at rest",
    "palpitations in bed",
    "heart skipped beats, then fine", "vomiting since the race", "threw up once", "blood in stool",
    "no blood, all good",
    "not sick, not dizzy, and no fever", "neither fever nor chest pain", "without chest pain", "chest pain? no",
    "is it a DVT",
    "doctor ruled out a stress fracture", "afraid of a stress fracture", "if I get chest pain I stop", "chset pain",
    "dark urin",
    "feever", "all fine", "legs heavy", "sore quads", "tired", "slept badly", "toe nail lost", "blister", "xyzzy",
    "chest", "pain",
    "chest fine; fever", "fever but no chest pain", "cough, chest hurts when coughing", "yellow eyes", "low sodium",
    "swollen hands",
    "ankle swollen after a twist", "back pain and cannot pee", "pins and needles in both legs", "saw double",
    "slurred speech",
    "one side weak", "passed out", "blacked out for a second", "had to lie down, dizzy",
    "period missed for three months",
    "no period since spring", "want to die", "everything pointless", "cannot sleep",
    "short breath on stairs; gone today",
)  # fmt: skip


def of_numbers() -> Any:
    """How numbers are rounded and read."""
    seconds = (
        0,
        0.4,
        0.5,
        29,
        29.9,
        30,
        59,
        59.4,
        59.5,
        60,
        61,
        89,
        90,
        119.5,
        599,
        3599,
        3599.5,
        3600,
        3659,
        3660,
        5430,
        36000,
        86399,
    )
    return {
        "read": [[amounts.minutes(s), amounts.hours(s), amounts.duration(s), amounts.sleep(s / 7)] for s in seconds],
        "pace": [amounts.pace(mps) for mps in (1.0, 2.0, 2.777, 3.0, 3.333, 4.0, 5.05, 6.1)],
        "exact": [
            [stages.exact(one), stages.round_half_up(Fraction(one)), stages.highest_whole_below(stages.exact(one))]
            for one in (0, 0.5, 0.49, 1.5, 2.5, 21.1, 121.6, 128, 128.0, 127.99)
        ],
        "counted": [[amounts.counted(n, "day"), amounts.counted(n, "half", "halves")] for n in (0, 1, 2, 11)],
        "listed": [amounts.listed(list("abcd"[:n])) for n in (1, 2, 3, 4)] + [amounts.weekday(DAY)],
        "pace of results": [
            [facts.riegel_seconds(10, s, km), facts.riegel_threshold(km, s), facts.held_for(3.9, s)]
            for s, km in ((2400, 5), (3000, 21.1), (3600, 10), (10800, 42.195))
        ],
        "hr max": [estimated_hr_max(born, 2026, default_limits()) for born in (1940, 1966, 1985, 1986, 1987, 2008)],
        "trimp": [
            trimp({100: 600.0, 150: 900.0, 171: 60.0}, *more)
            for more in ((50, 190, "male"), (48, 180, "female"), (50, 190, None))
        ],
        "stages": [stages.stage_lengths(days, default_limits()) for days in range(1, 45)],
        "strict": [stages.strictness(one) for one in ("before", *stages.STAGES, "done")],
        "severity": [Severity(1).name, finding_id("runa", "pain", "day", "2026-10-04")],
    }


def of_lengths() -> Any:
    """How long plans are."""
    limits, found = default_limits(), {}
    for event in (*limits.plan.event_days, "custom"):
        for km in (3.0, 5.0, 5.1, 15.0, 21.1, 30.0, 42.2, 60.0, 161.0) if event == "custom" else (None,):
            for conditions in (
                (),
                ("heat",),
                ("heat", "hills", "heat"),
                ("heat", "hills", "cold", "altitude", "injury"),
            ):
                for effort in ("all_out", "controlled"):
                    one = Race(event, MOMENT, distance_km=km, conditions=conditions, effort=effort, taper_days=None)
                    told = stages.plan_length(one, limits)
                    found[f"{event} {km} {len(conditions)} {effort[:3]}"] = [
                        told.days,
                        told.base_days,
                        told.taken_off_days,
                        told.added_days,
                    ]
    for taper in (3, 10, 40):
        told = stages.plan_length(Race("marathon", MOMENT, taper_days=taper), limits)
        found[f"taper {taper}"] = [told.days, told.base_days, told.taken_off_days, told.added_days, told.reasons]
    return {name: " ".join(map(str, told)) for name, told in found.items()}


def of_labels() -> Any:
    """What labels claim."""
    words = (*sorted(labels._BY_WORD), "trail jog", "", "nordic hike", "spinning class")
    return {
        word: " ".join(
            f"{labels.family(word, sub)}{'i' if labels.indoors(word, sub) else ''}"
            for sub in ("", "generic", "treadmill", "speed_walking", "yoga", "indoor_cycling")
        )
        for word in words
    }


def of_sentences(texts: tuple[str, ...]) -> Any:
    """What check-ins say of red flags: told, doubtful, not understood."""
    found = {}
    for text in texts:
        signs = [[sign.flag.id, sign.standing] for sign in red_flags.signs_in((text,), 2)]
        late = [flag.id for flag, _ in red_flags.flags_in((text, "and no fever"), 20)]
        found[text[:40]] = [
            signs,
            late,
            red_flags.understood(text),
            red_flags.unclear_in(text),
            sorted(checkins.flag_ids(text)),
        ]
    pairs = [[sign.flag.id for sign in red_flags.signs_in((one, other), 3)] for one, other in itertools.pairwise(texts)]
    return found | {"pairs": pairs, "parts": [len(symptom_text.clauses([text])) for text in texts]}


def of_mornings(seed: int) -> Any:
    """A series of mornings and nights: the normal, the levels, what is found."""
    draw, limits = random.Random(seed), default_limits()
    count, spread = (12, 13, 14, 15, 20, 21, 30, 60, 95)[seed % 9], (0.0, 0.02, 0.08, 0.2)[seed % 4]
    like, level, values = (0.0, 0.4, 0.8)[seed % 3], 0.0, {}
    beats = {}
    for day in range(-count - 7, 24):
        level = like * level + (draw.random() - 0.5) * spread
        fall = (0.0, 0.05, 0.1, 0.2)[int(seed / 2) % 4] if day > 3 else 0.0
        if draw.random() < (0.95 if seed % 5 else 0.6):
            values[DAY + timedelta(days=day)] = round(4.1 + level - fall, 4)
            beats[DAY + timedelta(days=day)] = round(50 + 20 * level + 40 * fall, 1)
    others = {DAY - timedelta(days=20)} if seed % 4 == 1 else set()
    normal, calm = (mornings.baseline(each, DAY, others, limits) for each in (values, beats))
    limit = mornings.resting_limit(calm, limits)
    asleep = {DAY + timedelta(days=day): 60 * (5 + 3 * draw.random()) for day in range(-3, 20)}
    recovery = checkins.HeartRecovery(
        beats, calm, values, normal, {DAY + timedelta(days=5): 1.02, DAY + timedelta(days=9): 1.04}
    )
    said = [
        checkins.feels_too_good(
            DAY + timedelta(days=day),
            DAY,
            "days_off",
            CheckIn(DAY, 0.0, mood=mood, energy=8, soreness=sore),
            recovery,
            limits,
        )
        for day, mood, sore in (
            (4, 7.0, 2.0),
            (6, 6.9, 1.0),
            (8, 8.0, None),
            (9, 7.0, 2.1),
            (12, 9.0, 0.0),
            (17, 7.0, 1.0),
        )
    ]
    return {
        "normal": [normal, calm, limit],
        "levels": _columns(mornings.levels(values, DAY, normal, limits).values()),
        "up": sorted(mornings.mornings_up(beats, DAY, limit, limits)),
        "resting": _told(mornings.resting_hr_up(beats, DAY, calm, limits)),
        "variability": _told(mornings.hrv_down(values, DAY, normal, limits)),
        "sleep": _told(mornings.short_sleep(asleep, DAY, limits)),
        "again": list(mornings.when_told(mornings.resting_hr_up(beats, DAY, calm, limits), beats, limits)),
        "too good": [None if one is None else [one.observed, one.evidence] for one in said],
        "words": [
            report.morning_words(DAY + timedelta(days=day), DAY, recovery, [], asleep, limits) for day in (1, 3, 10, 22)
        ],
    }


def _columns(rows: Any) -> Any:
    """Of rows alike each number in a row of its own."""
    told = [vars_of(row) for row in rows]
    return {name: [float(row[name]) for row in told] for name in (told[0] if told else ())}


def vars_of(row: Any) -> dict[str, float]:
    """The numbers of a dataclass."""
    named = {field.name: getattr(row, field.name) for field in dataclasses.fields(row)}
    return {name: value for name, value in named.items() if isinstance(value, int | float)}


def _told(breaches: Any) -> Any:
    return {
        day.isoformat(): [one.severity, one.observed, one.limit, mark(one.evidence)] for day, one in breaches.items()
    }


def of_recordings(seed: int) -> Any:
    """Recordings that overlap, follow each other or were cut: what stands for what was done."""
    draw, limits = random.Random(seed), default_limits()
    at, spans = MOMENT, []
    for number in range(3 + seed % 5):
        at += timedelta(seconds=(-1200, -600, -60, 0, 119, 120, 121, 600, 4000)[int(draw.random() * 9)])
        long = (0, 300, 600, 601, 1200, 1800, 3600)[int(draw.random() * 7)]
        sport = ("running", "running", "cycling", "generic")[int(draw.random() * 4)]
        spans.append(
            labels.RecordingSpan(
                number,
                at,
                at + timedelta(seconds=long),
                sport,
                round(long * (0.1 + draw.random() * 3), 3),
                ("fit", "tcx", "gpx", "csv")[int(draw.random() * 4)],
                "abc"[int(draw.random() * 3)] * 8,
                number % 2,
                ("running", "running", "unknown", "transport", "")[int(draw.random() * 5)],
            )
        )
        at += timedelta(seconds=long)
    truths = labels.deduplicate(spans, limits)
    return [[one.key, [part.number for part in one.parts]] for one in truths] + [
        [labels.overlap(one, other) for other in spans] for one in spans[:3]
    ]


def of_rows(seed: int) -> Any:
    """Moving means and medians over rows with gaps, and what hangs on them."""
    draw, limits = random.Random(seed), default_limits()
    size = (1, 2, 5, 11, 40, 130, 300)[seed % 7]
    values = np.array([round(draw.random() * 8, 1) if draw.random() < 0.85 else np.nan for _ in range(size)])
    flags = np.array([draw.random() < 0.6 for _ in range(size)])
    times = np.cumsum([(1, 1, 1, 1, 2, 9, 10, 11, 12, 30)[int(draw.random() * 10)] for _ in range(size)]).astype(
        np.float64
    )
    pauses = ((float(times[size // 2]), float(times[size // 2]) + 25.0),) if seed % 2 else ()
    clock = timeline.timeline(times, float(times[-1]) + 7, pauses, limits)
    kept = values[clock.kept]
    rows = clock.on_rows(kept)
    spans = timeline.stretches(flags, bridge=1, least=2)
    rates = 100 + 10 * np.nan_to_num(timeline.held(values), nan=3.0)
    return {
        "mean": [timeline.rolling_mean(values, w, least=n) for w, n in ((3, 1), (5, 3), (31, 10))],
        "median": [
            timeline.rolling_median(values, w, n, e) for w, n, e in ((3, 1, 1), (5, 3, 1), (7, 1, 3), (31, 5, 10))
        ],
        "trailing": [timeline.trailing_mean(values, w) for w in (1, 4, 5, 60)],
        "held": timeline.held(values),
        "spread": timeline.spread(values),
        "mostly": timeline.mostly(flags),
        "spans": [spans, timeline.stretches(flags), timeline.stretches(flags, bridge=2, least=3)],
        "times": [timeline.as_times(spans, np.arange(size) * 1.0, 3), timeline.flagged(size, spans)],
        "clock": [
            clock.seconds,
            clock.kept,
            clock.real,
            clock.broken,
            clock.until_s,
            clock.longest_gap_s,
            clock.rows_s,
        ],
        "weights": clock.weights(np.isfinite(kept)),
        "rows": rows,
        "row of": clock.row_of_samples(),
        "cost": [ground.cost_of_running(values / 20 - 0.2), ground.effort_speed(values, values / 30 - 0.1, limits)],
        "steps": [
            gait.steps_per_minute(values * 20, values / 2, limits),
            gait.calm(values * 22, limits),
            gait.own_speed(values * 22, values, limits),
        ],
        "long": gait.too_long(values * 22, values, limits),
        "followed": heart.followed(timeline.held(values)) if np.isfinite(values).any() else None,
        "apart": float(rates.sum()),
    }


def of_advice() -> Any:
    """Which advice goes with what: how many sentences, and their check sums."""
    limits = default_limits()
    rules = (
        "no_running",
        "rest_hours",
        "duration_cap",
        "pain",
        "see_a_doctor",
        "hrv_down",
        "stairs_test",
        "gone_quiet",
        "no_speed_work",
    )
    found: dict[str, Any] = {}
    for rule in rules:
        for severity in Severity:
            for reader in ("athlete", "coach"):
                found[f"{rule} {severity} {reader}"] = mark(
                    [
                        catalogue.what_now(rule, severity, stage, limits, reader, coached=coached)
                        for stage in ("days_off", "on_ramp")
                        for coached in (True, False)
                    ]
                    + [catalogue.what_then(rule, reader), catalogue.what_then(rule, reader, coached=False)]
                )
    return found | {"cautions": [catalogue.cautions(one, coached=each) for one in Severity for each in (True, False)]}


def of_signals(seed: int) -> Any:
    """What signals come to together."""
    draw = random.Random(seed)
    told = [
        [
            {
                "signal": name,
                "quality": ("good", "weak", "none")[int(draw.random() * 3)],
                "says": ("yes", "no", "nothing")[int(draw.random() * 3)],
            }
            for name in ("steps", "speed", "heart rate")[: 1 + int(draw.random() * 3)]
        ]
        for _ in range(30)
    ]
    heard = [signals_from_store(each) for each in told]
    return [[severity_of(each) for each in heard], shown(heard[0])]


def of_ceilings() -> Any:
    """What is known of an athlete, and the ceilings that come of it."""
    found, values = {}, {DAY - timedelta(days=8 + back): 47.0 + back % 2 for back in range(20)}
    normal = mornings.baseline(values, DAY, set(), default_limits())
    for model in ("hrmax", "hrr", "threshold", "fixed"):
        for number, more in enumerate(
            (
                {},
                {"hr_max": 190},
                {"hr_max": 188, "hr_rest": 47},
                {"threshold_hr": 170},
                {"born": 1980},
                {"born": 1980, "hr_rest": 51},
                {"ceiling_zone1": 125, "ceiling_zone2": 141},
                {"ceiling_zone1": 125},
                {"hr_max": 201, "threshold_hr": 168, "born": 1999},
            )
        ):
            one = Athlete("runa", "UTC", intensity_model=model, **more)
            told = ceilings(one, 2026, normal, default_limits())
            found[f"{model} {number}"] = [told, believable_bpm(one, 2026, default_limits())]
    return found


def of_nights() -> Any:
    """Nights of one day, and mornings of one day."""
    nights = [Night(DAY, None, None, minutes, f"{minutes}") for minutes in (410.0, None, 395.5)] + [
        Night(DAY + timedelta(1), total_sleep_min=300)
    ]
    several = [Morning(DAY, 50.0, 61.0, "b"), Morning(DAY, 48.0, None, "a"), Morning(DAY, None, 0.0, "c")]
    return [
        {each.isoformat(): value for each, value in mornings.slept(nights).items()},
        [
            [each.isoformat(), value]
            for take in (mornings.resting_hr, mornings.ln_rmssd)
            for each, value in mornings.by_date(several, take).items()
        ],
    ]


ANSWERS: dict[str, Callable[[], Any]] = {
    "numbers": of_numbers,
    "lengths": of_lengths,
    "labels": of_labels,
    "advice": of_advice,
    "ceilings": of_ceilings,
    "nights": of_nights,
    **{f"sentences {at}": partial(of_sentences, SENTENCES[at : at + 20]) for at in range(0, len(SENTENCES), 20)},
    **{f"mornings {seed}": partial(of_mornings, seed) for seed in range(12)},
    **{f"recordings {seed}": partial(of_recordings, seed) for seed in range(40)},
    **{f"rows {seed}": partial(of_rows, seed) for seed in range(14)},
    **{f"signals {seed}": partial(of_signals, seed) for seed in range(2)},
}
