"""What limits there are, by section, and of what kind each is; the values stand in `limits.toml`.

A float may be overridden by any number, an int by a whole one. Add a limit here, or beside it for the measuring of one
session and for what is taken in, and there. These modules declare and decide nothing, so no fingerprint counts them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from rules import limits_schema_session as session
from rules.limits_schema_session import Pair

# What is taken in: files, the roster, the pages.


class Plausible(NamedTuple):
    samples: Mapping[str, Pair]
    resting_hr: Pair
    rmssd: Pair
    sleep: Pair
    night: Pair
    asleep_of_bed: float
    scale: Pair
    rr: Pair
    least_beats: int
    year: Pair


class CheckinWords(NamedTuple):
    trouble: Mapping[str, float]
    strength: Mapping[str, float]
    misspelt: tuple[int, int, int]


class Beats(NamedTuple):
    least_beats: int
    usual_beats: int
    spread_beats: int
    missed_share: float
    doubled_share: float
    notch: float
    least_notch_ms: float
    most_left_out_share: float


class Roster(NamedTuple):
    hr_max: Pair
    hr_rest: Pair
    threshold_hr: Pair
    ceiling: Pair
    age: Pair
    finish_ahead_days: int
    finish_asked_days: int
    race_speed_mps: Pair
    threshold_pace: Pair


class Intake(NamedTuple):
    fit_bytes: int
    xml_bytes: int
    text_bytes: int
    checkin_bytes: int
    archive_bytes: int
    archive_members: int
    archive_unpacked_bytes: int
    archive_ratio: int
    xml_depth: int
    xml_elements: int
    points: int
    archive_points: int
    rows: int
    documents: int
    beats: int
    recordings: int
    new_session_gap_hours: float
    gap_speed_mps: float
    standing_mps: float
    stop_seconds: float
    one_leg_below_spm: Mapping[str, float]
    at_one_place: Pair
    walk_below_mps: float
    wheels_above_mps: float


class Decoding(NamedTuple):
    stream_seconds: float
    cpu_seconds: float
    wall_seconds: float
    memory_mb: int
    together_mb: int
    past_slow_mb: int
    memory_base_mb: float
    memory_per_byte: float
    memory_per_packed_byte: float
    rows: int
    files_per_worker: int
    workers: int


class Pages(NamedTuple):
    """What a browser may ask of the pages."""

    head_seconds: float
    form_seconds: float
    upload_seconds: float
    rest_seconds: float
    headers: int
    head_bytes: int
    form_bytes: int
    form_fields: int
    upload_bytes: int
    upload_files: int
    upload_free_bytes: int
    connections: int
    requests_a_minute: int
    writes_a_minute: int
    uploads_a_minute: int
    strangers_a_minute: int
    wrong_links: int


class Morning(NamedTuple):
    resting_seconds: float
    resting_metres: float
    before_hour: int
    evening_hour: int
    new_night_seconds: float
    least_values: int
    nap_minutes: float
    nap_hours: Pair


class RestHours(NamedTuple):
    stop_hours: float
    caution_hours: float


class DurationCap(NamedTuple):
    slack_share: float
    slack_minutes: float
    stop_factor: float


class IntensityCeiling(NamedTuple):
    caution_seconds: float
    stop_seconds: float
    far_over_bpm: float
    far_over_seconds: float


class Plan(NamedTuple):
    event_days: Mapping[str, int]
    custom_days: tuple[Pair, ...]
    condition_days: int
    conditions_at_most_days: int
    controlled_share: float
    controlled_at_least_days: int
    days_off_at_least_days: int


class DaysOff(NamedTuple):
    day_cap_minutes: int


class CrossTraining(NamedTuple):
    day_cap_minutes: int
    tolerated_run_minutes: int
    tolerated_last_days: int
    tolerated_stage_days: int


class TestRuns(NamedTuple):
    day_cap_minutes: int
    run_cap_minutes: int


class OnRamp(NamedTuple):
    weekly_shares: tuple[float, ...]
    baseline_weeks: int
    baseline_weeks_at_least: int
    open_last_days: int
    easy_ground_share: float


class Zones(NamedTuple):
    hrmax: Pair
    estimated_ceiling_bpm: float
    hrr: Pair
    threshold: Pair
    hrmax_from_age: Pair
    effort_by_feel: tuple[str, str]


class Gates(NamedTuple):
    pain: float
    stop_hours: float
    data_days_at_most: int
    stops_for_the_coach: int
    coach_days_at_most: int
    open_hold_days_at_most: int
    undo_minutes: int
    hold_days_at_most: int


class Rest(NamedTuple):
    days_after_far_too_long: int


class Remarks(NamedTuple):
    painkiller_days: int
    weeks_after_a_birth: int
    grown_up_age: int
    masters_age: int


class Body(NamedTuple):
    baseline_mornings: int
    baseline_days: int
    race_week_days: int
    likeness: float
    likeness_mornings: float
    likeness_most: float
    other_race_days: int
    told_again_days: int


class RestingHrUp(NamedTuple):
    rise_bpm: float
    rise_sd: float
    mornings: int


class History(NamedTuple):
    days_before_race: float
    days_after_race: float


class NoRunning(NamedTuple):
    least_seconds: float
    tolerated_slack_seconds: float


class RunSpacing(NamedTuple):
    same_run_gap_minutes: float


class WeeklyRunning(NamedTuple):
    slack_share: float


class LongRunJump(NamedTuple):
    factor_tenths: int
    days: int


class HrvDown(NamedTuple):
    days: int
    values: int
    worthwhile_sd: float
    note_z: float
    caution_z: float
    newest_share: float
    memory_days: int
    least_sd: float


class ShortSleep(NamedTuple):
    nights: int
    note_hours: float
    caution_hours: float


class Pain(NamedTuple):
    least: float
    growing_checkins: int


class FeelsTooGood(NamedTuple):
    mood: float
    soreness: float
    resting_bpm: float
    impact_days: int
    easy_hr_share: float


class RaceFile(NamedTuple):
    slack_minutes: float
    gap_minutes: float
    heat_c: float
    cold_c: float
    altitude_m: float
    climb_m_per_km: float
    look_back_days: float
    longest_of_days: float
    least_runs: int
    least_minutes: float
    hard_share: float
    event_km: Mapping[str, float]
    distance_shares: Pair
    agreeing_s: float


class NotJudged(NamedTuple):
    least_seconds: float


class Today(NamedTuple):
    easy_speed_share: float
    morning_days: int
    run_walk_share: float


class Status(NamedTuple):
    summary_days: int
    last_mornings: int


class Alerts(NamedTuple):
    daily_within_hours: float
    told_otherwise_share: float
    digest_news_hours: float
    digest_silent_hours: float
    news_days: int


@dataclass(frozen=True, eq=False)
class Sections:
    """The tree of limits: a section a field."""

    rest_hours: RestHours
    duration_cap: DurationCap
    intensity_ceiling: IntensityCeiling
    cleaning: session.Cleaning
    plausible: Plausible
    checkin_words: CheckinWords
    beats: Beats
    roster: Roster
    intake: Intake
    one_truth: session.OneTruth
    plan: Plan
    days_off: DaysOff
    cross_training: CrossTraining
    test_runs: TestRuns
    on_ramp: OnRamp
    zones: Zones
    gates: Gates
    rest: Rest
    remarks: Remarks
    body: Body
    resting_hr_up: RestingHrUp
    history: History
    pace: session.Pace
    grade: session.Grade
    altitude: session.Altitude
    gait: session.Gait
    vehicle: session.Vehicle
    impact: session.Impact
    measures: session.Measures
    threshold: session.Threshold
    ground: session.Ground
    no_running: NoRunning
    run_spacing: RunSpacing
    weekly_running: WeeklyRunning
    long_run_jump: LongRunJump
    hrv_down: HrvDown
    short_sleep: ShortSleep
    pain: Pain
    feels_too_good: FeelsTooGood
    decoding: Decoding
    speed_work: session.SpeedWork
    verdict: session.Verdict
    race_file: RaceFile
    not_judged: NotJudged
    today: Today
    status: Status
    pages: Pages
    sport: session.Sport
    heart_response: session.HeartResponse
    alerts: Alerts
    morning: Morning
