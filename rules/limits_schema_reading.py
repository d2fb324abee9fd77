"""The limits for what is taken in: files, the roster, the pages; by section and kind, see `limits_schema.py`."""

from collections.abc import Mapping
from typing import NamedTuple

from rules.limits_schema_session import Pair


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
