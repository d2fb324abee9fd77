"""The plan in pictures: the reverse taper as a ribbon, the last four weeks in a line, running on the on-ramp."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup, escape

from monitor import words
from monitor.board.days import ChartDays, runs
from monitor.board.svg_chart import Chart, Figure, Key, Label, Scale, axis, rounded, today_line, weeks
from monitor.plain_text import number, sentence
from rules.day_rules import WeekSoFar, usual_week, week_so_far
from rules.facts import Session
from rules.history import Ordered
from rules.limits import Limits
from rules.plan import PlannedStage
from rules.session.labels import NO_EXERCISE, has_running, running_metres, running_seconds, sport_seconds
from rules.words import amounts

# The reverse taper as one ribbon: stages by texture and word, as planned and as it goes, with today across it.

WORDS_Y, RIBBON, PLANNED, RIBBON_BOTTOM, RIBBON_HEIGHT = 28, (34, 58), (80, 86), 92, 108
NARROW = {"days_off": "off", "cross_training": "cross", "test_runs": "tests", "on_ramp": "ramp"}


def strip(sheet: ChartDays) -> Figure:
    """The plan's ribbon."""
    stages = [run for run in runs(sheet.days[1:]) if run[0] in NARROW]
    chart = Chart(words.board.PLAN_TITLE, _ribbon_drawn(sheet), RIBBON_HEIGHT)
    weeks(chart, sheet, RIBBON[0], RIBBON_BOTTOM)
    for stage, first, last in stages:
        left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
        chart.area(left, right, *RIBBON, f"stage {stage}")
        middle = (left + right) / 2
        chart.text(middle, WORDS_Y, words.shared.STAGES[stage], "word wide mid")
        chart.text(middle, WORDS_Y, NARROW[stage], "word narrow mid")
    for stage, first, last in runs(sheet.days[1:], "planned"):
        if stage in NARROW:
            chart.area(sheet.edge(first.date), sheet.edge(last.date) + sheet.width, *PLANNED, f"stage thin {stage}")
    _held(chart, sheet)
    chart.text(0, RIBBON[1] - 8, words.board.AS_IT_GOES, "tick wide")
    chart.text(0, RIBBON[1] - 8, "now", "tick narrow")
    chart.text(0, PLANNED[1], "planned", "tick")
    _marks(chart, sheet)
    return Figure(words.board.PLAN_LABEL, _described(sheet), chart.markup())


def _held(chart: Chart, sheet: ChartDays) -> None:
    for held, first, last in runs(sheet.days, "held"):
        if held:
            left, right = sheet.edge(first.date), sheet.edge(last.date) + sheet.width
            chart.level(RIBBON[1] + 4, "held", left, right)
            chart.text((left + right) / 2, RIBBON[1] + 16, "held", "tick mid")


def _marks(chart: Chart, sheet: ChartDays) -> None:
    race, today = sheet.middle(sheet.plan.day0), sheet.today
    shown = sheet.shows_today
    at = sheet.middle(today) if shown else 2.0
    if abs(at - race) > 0.12:
        chart.text(race, 12, "race", "tick mid")
    if shown:
        chart.upright(at, 16, RIBBON_BOTTOM, "today")
        number = sheet.plan.day_of(today)
        text = words.board.TODAY_IS_RACE_DAY if number == 0 else f"today, day {number}"
        anchor = "end" if at > 0.85 else "mid"
        chart.text(at, 12, text, f"now {anchor}")


def _ribbon_drawn(sheet: ChartDays) -> str:
    first, last = sheet.days[0].date, sheet.days[-1].date
    return words.board.PLAN_DRAWN.format(first=amounts.weekday(first), last=amounts.weekday(last))


def _described(sheet: ChartDays) -> str:
    plan = sheet.plan
    parts = [
        f"{words.shared.STAGES[row.stage]} to {amounts.weekday(row.last_date)}"
        + (
            words.board.LONGER_THAN_PLANNED.format(held_days=amounts.counted(row.held_days, "day"))
            if row.held_days
            else ""
        )
        for row in plan.stages
    ]
    moved = plan.last_day != plan.length_days
    length = f"planned for {plan.length_days}" if moved else "as planned"
    return f"{sentence(', '.join(parts))} {amounts.counted(plan.last_day, 'day')}, {length}."


# The last four weeks of one athlete as a picture that fits a line, on the same scale for everybody.

DAYS = 28
TALLEST_MIN = 120
"""Minutes a day that fill the height; a longer day is cut, and carries a tick above to say so."""
ROW_HEIGHT, TICK, STEP = 30, 3, 5
LEAST_MIN = 1


@dataclass(slots=True)
class _Sum:
    counted_min: float = 0.0
    running_min: float = 0.0


def small_weeks(facts: Ordered, today: date, race_day: date | None, limits: Limits) -> Markup:
    """A bar a day, running filled; a line on the day of the race. What it shows is its label."""
    first = today - timedelta(days=DAYS - 1)
    sums: dict[int, _Sum] = {}
    sessions = 0
    for session in reversed(facts.sessions):
        place = (facts.days[session.key] - first).days
        if place < 0:
            break
        if place >= DAYS or session.key in facts.races or session.digest.sport in NO_EXERCISE:
            continue
        minutes = sport_seconds(session, limits) / 60
        if minutes >= LEAST_MIN:
            sessions += 1
            one = sums.setdefault(place, _Sum())
            one.counted_min += minutes
            one.running_min += min(running_seconds(session) / 60, minutes)
    return _weeks_drawn(sums, sessions, (race_day - first).days if race_day else -1)


def _weeks_drawn(sums: dict[int, _Sum], sessions: int, race: int) -> Markup:
    runs, others, ticks = [], [], []
    for place, week in sorted(sums.items()):
        left = place * STEP + 1
        run, whole = _pixels(week.running_min), _pixels(week.counted_min)
        if run:
            runs.append(f"M{left} {ROW_HEIGHT}v-{run}h3v{run}z")
        if whole > run:
            others.append(f"M{left} {ROW_HEIGHT - run}v-{whole - run}h3v{whole - run}z")
        if week.counted_min > TALLEST_MIN:
            ticks.append(f"M{left} 1h3")
    parts = [
        f'<path class="{kind}" d="{"".join(shapes)}"/>'
        for kind, shapes in (("run", runs), ("other", others), ("tick-line", ticks))
        if shapes
    ]
    if 0 <= race < DAYS:
        parts.append(f'<path class="race-line" d="M{race * STEP + 2} 2V{ROW_HEIGHT}"/>')
    width = DAYS * STEP
    return Markup(
        f'<svg class="small" role="img" aria-label="{escape(_said(sums, sessions))}" viewBox="0 0 {width} {ROW_HEIGHT}"'
        f' width="{width}" height="{ROW_HEIGHT}"><path class="base" d="M0 {ROW_HEIGHT}H{width}"/>{"".join(parts)}</svg>'
    )


def _pixels(minutes: float) -> int:
    """Height of so many minutes, below the room for the tick."""
    return round(min(minutes, TALLEST_MIN) / TALLEST_MIN * (ROW_HEIGHT - TICK))


def _said(sums: dict[int, _Sum], sessions: int) -> str:
    if not sessions:
        return words.board.FOUR_EMPTY_WEEKS
    whole = sum(week.counted_min for week in sums.values())
    running = sum(week.running_min for week in sums.values())
    run = (
        words.board.RUNNING_OF_WEEKS.format(running=amounts.duration(running * 60))
        if running >= LEAST_MIN
        else words.board.NO_RUNNING_OF_WEEKS
    )
    return words.board.FOUR_WEEKS.format(
        sessions=amounts.counted(sessions, "session"), whole=amounts.duration(whole * 60), run=run
    )


# Running on the on-ramp: each week against its share of the usual one, each run against the longest allowed.

TOP, ONRAMP_BOTTOM, ONRAMP_HEIGHT = 14, 84, 100
WEEK = timedelta(days=7)
ONE = timedelta(days=1)


def onramp_charts(sheet: ChartDays, facts: Ordered, limits: Limits, units: str = "metric") -> list[Figure]:
    """Both pictures, from the week before the on-ramp begins; none for a plan without one."""
    row = next((stage for stage in sheet.plan.stages if stage.stage == "on_ramp"), None)
    if row is None or sheet.today < row.first_date - WEEK:
        return []
    runs = [
        session
        for session in facts.sessions
        if session.start >= sheet.plan.begins
        and session.key not in facts.races
        and facts.days[session.key] <= sheet.today
        and has_running(session, limits)
    ]
    made = [_weekly(sheet, facts, row, runs, limits), _longest(sheet, facts, row, runs, limits, units)]
    return [part for part in made if part is not None]


def _weekly(
    sheet: ChartDays, facts: Ordered, row: PlannedStage, runs: Sequence[Session], limits: Limits
) -> Figure | None:
    """Minutes of running in each week of the on-ramp, under what it allows."""
    usual = usual_week(facts.sessions, sheet.plan, limits)
    told = _weeks(sheet, row, runs, facts, limits)
    if usual.minutes is None or not told:
        return None
    highest = max([usual.minutes, *(week.done for _, week in told)])
    scale = Scale(0, rounded(0, highest * 1.05, 30)[1], TOP, ONRAMP_BOTTOM)
    drawn = words.board.WEEK_SHARE_DRAWN
    chart = Chart(words.board.WEEK_SHARE_TITLE, drawn, ONRAMP_HEIGHT)
    weeks(chart, sheet, TOP, ONRAMP_BOTTOM)
    chart.level(scale(usual.minutes), "usual", sheet.edge(sheet.first))
    usual_line: Label = (scale(usual.minutes), f"usual {number(usual.minutes, 0)}", "tick")
    for last, week in told:
        left, right = sheet.edge(week.first), sheet.edge(last) + sheet.width
        if week.done:
            chart.filled(
                [(left + sheet.width * 0.3, right - sheet.width * 0.3, scale(week.done), ONRAMP_BOTTOM)], "run"
            )
        if week.allowed is not None:
            chart.level(scale(week.allowed), "limit", left, right)
            chart.text(left, scale(week.allowed) - 3, f"{number(week.allowed, 0)}", "limit-word")
    axis(chart, scale, " min", [usual_line])
    today_line(chart, sheet, TOP, ONRAMP_BOTTOM)
    now = next((week for last, week in told if week.first <= sheet.today <= last), None)
    said = words.board.USUAL_WEEK.format(minutes=number(usual.minutes, 0))
    if now is not None and now.allowed is not None:
        said = words.board.THIS_WEEK.format(
            done=number(now.done, 0),
            allowed=number(now.allowed, 0),
            share=number(now.share * 100, 0),
            minutes=number(usual.minutes, 0),
        )
    reads = tuple((sheet.middle(week.first + (last - week.first) / 2), _week_read(week)) for last, week in told)
    return Figure(words.board.WEEK_SHARE_LABEL, said, chart.markup(), (Key("run", "running"),), reads)


def _weeks(
    sheet: ChartDays, row: PlannedStage, runs: Sequence[Session], facts: Ordered, limits: Limits
) -> list[tuple[date, WeekSoFar]]:
    """Each week of the on-ramp by its last day, with the running in it so far."""
    usual = usual_week(facts.sessions, sheet.plan, limits)
    found = []
    first = row.first_date
    while first <= row.last_date:
        last = min(first + WEEK - ONE, row.last_date)
        week = week_so_far(runs, sheet.plan.allowance_on(last), sheet.plan, usual, limits)
        if week is not None:
            found.append((last, week))
        first += WEEK
    return found


def _week_read(week: WeekSoFar) -> str:
    allowed = "" if week.allowed is None else f" of {number(week.allowed, 0)}"
    return words.board.WEEK_OF_RUNNING.format(
        first=amounts.weekday(week.first), done=number(week.done, 0), allowed=allowed
    )


def _longest(
    sheet: ChartDays, facts: Ordered, row: PlannedStage, runs: Sequence[Session], limits: Limits, units: str
) -> Figure | None:
    """Each run's distance, and on the on-ramp the longest that the runs before it allow."""
    whole, unit = (words.shared.METRES_A_MILE, "miles") if units == "imperial" else (1000.0, "km")
    told = [(facts.days[run.key], metres / whole) for run in runs if (metres := running_metres(run))]
    if not told:
        return None
    most = _most(told, sheet, row, limits)
    highest = max([km for _, km in told] + list(most.values()))
    scale = Scale(0, rounded(0, highest * 1.05, 5)[1], TOP, ONRAMP_BOTTOM)
    drawn = words.board.RUNS_DRAWN
    chart = Chart(words.board.RUNS_TITLE, drawn, ONRAMP_HEIGHT)
    weeks(chart, sheet, TOP, ONRAMP_BOTTOM)
    chart.levels([(scale(km), sheet.edge(on), sheet.edge(on) + sheet.width) for on, km in most.items()], "limit")
    over = [(on, km) for on, km in told if on in most and km > most[on]]
    chart.dots([(sheet.middle(on), scale(km)) for on, km in told if (on, km) not in over], "dot")
    chart.dots([(sheet.middle(on), scale(km)) for on, km in over], "dot out")
    axis(chart, scale, f" {unit}")
    today_line(chart, sheet, TOP, ONRAMP_BOTTOM)
    longest = max(km for _, km in told)
    said = words.board.LONGEST_RUN.format(longest=longest, unit=unit)
    if sheet.today in most:
        said += words.board.RUN_LIMIT_TODAY.format(most=most[sheet.today], unit=unit)
    keys = (Key("dot", "a run"), Key("dot-out", words.board.LONG_RUN_JUMP))
    reads = tuple(
        (
            sheet.middle(on),
            words.board.ONE_RUN.format(on=amounts.weekday(on), km=km, unit=unit) + _of(most.get(on)),
        )
        for on, km in told
    )
    return Figure(words.board.RUNS_TITLE, said, chart.markup(), keys, reads)


def _of(most: float | None) -> str:
    return "" if most is None else f", {most:.1f} allowed"


def _most(told: Sequence[tuple[date, float]], sheet: ChartDays, row: PlannedStage, limits: Limits) -> dict[date, float]:
    """Kilometres that each day of the on-ramp allows by the runs before it, as far as they are known."""
    days, factor = limits.long_run_jump.days, limits.long_run_jump.factor_tenths / 10
    found = {}
    on = row.first_date
    while on <= min(sheet.today, row.last_date):
        before = [km for when, km in told if on - timedelta(days=days) <= when < on]
        if before:
            found[on] = factor * max(before)
        on += ONE
    return found
