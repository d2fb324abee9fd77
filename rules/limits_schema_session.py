"""The limits for measuring one session, by section and kind; see `limits_schema.py`."""

from collections.abc import Mapping
from typing import NamedTuple

Pair = tuple[float, float]
"""Two numbers that belong together, mostly the least and the most that are allowed."""


class Cleaning(NamedTuple):
    unjudgeable_share: float
    longest_gap_s: float
    sparse_factor: float
    longest_sparse_gap_s: float
    hr_lowest: float
    hr_highest: float
    jump_bpm: float
    jump_s: int
    false_start_s: int
    false_start_bpm: float
    spike_s: float
    longest_spike_s: float
    stands_out_bpm: float
    around_fall_s: int
    around_spike_s: int
    by_itself_bpm: float
    over_hr_max_bpm: Mapping[str, float]
    flat_s: int
    unstuck_bpm: float
    reversals_per_min: float
    lock_small_bpm: float
    lock_likeness: float
    lock_some_likeness: float
    lock_bpm: float
    lock_s: int
    lock_unexplained_bpm: float
    hr_gain: float
    settled_s: int
    flat_known: float
    moves_elsewhere_s: float
    smooth_sticks: int
    smooth_stuck_share: float
    smooth_bpm: float
    smooth_moves: int
    lock_least_spm: float
    lock_share: float
    lock_least_sd: float
    lock_pause_s: int
    leap_s: int
    leap_share: float
    least_rise_s: int
    least_records: int


class OneTruth(NamedTuple):
    overlap_share: float
    join_gap_seconds: float
    heart_weight: float
    bare_time_weight: float


class Pace(NamedTuple):
    least_share_known: float
    fastest_runner_mps: float
    jump_mps: float
    spike_s: float
    chord_s: int
    median_device_s: int
    median_derived_s: int
    agreeing_shares: Pair
    differenced: Pair
    differenced_share: float
    least_differenced: int
    spike_records: float


class Grade(NamedTuple):
    window_s: tuple[int, int]
    quiet_m: float
    least_speed_mps: float
    fastest_climb_mps: float
    bridge_s: int
    settling_begins_s: int
    settling_window_s: int
    settled_mps: float
    settling_s: int
    doubt_sd: float
    least_known_s: int
    fastest_level_mps: float


class Altitude(NamedTuple):
    nobody_mps: float
    nobody_s: int
    heard_m: float
    same_place_m: float
    heart_answers: float
    heart_swing_bpm: float
    least_share_known: float
    one_place_m: float
    later_s: float
    least_places: int


class Gait(NamedTuple):
    border_spm: float
    width_spm: float
    border_mps: float
    width_mps: float
    label_bias: Mapping[str, float]
    fewest_running_spm: float
    slowest_running_mps: float
    slowest_labelled_run_mps: float
    running_spm_alone: float
    running_spm_alone_unlabelled: float
    least_running_by_cadence_s: int
    least_running_s: int
    least_running_by_speed_s: int
    longest_break_s: float
    answer_bpm: float
    least_records: float
    shortest_running_step_m: float
    working_bpm: float
    over_walking_bpm: float
    bridge_s: int
    fastest_walk_mps: Mapping[str, float]
    fastest_race_walk_mps: float
    longest_walking_step_m: float
    fastest_foot_mps: float
    cadence_median_s: int
    fewest_turns_spm: float
    standing_mps: float
    walking_spm_alone: float
    least_share_known: float
    least_known_s: float
    one_leg_least_mps: float
    one_leg_least_records: int
    longer_steps_above_mps: float
    longer_steps_m_per_mps: float


class Vehicle(NamedTuple):
    surely_mps: float
    without_steps_mps: float
    least_s: int
    bridge_s: int
    piece_mps: float
    ride_mps: float
    ride_median_mps: float
    calm_above_mps: float
    calm_bpm: float
    most_leaps: float
    most_coasting: float
    most_long_steps: float
    walked_s: int
    answer_s: int
    least_run_s: int
    run_of_ride: float
    even_run: float
    pedal_spread_spm: float
    most_stepping: float
    piece_s: float
    coasting_mps: float


class Impact(NamedTuple):
    walking_bw: float
    running_bw_at_3: float
    running_bw_per_mps: float
    running_bw_least: float
    running_spm_guess: float
    walking_spm_guess: float


class Measures(NamedTuple):
    easy_slope: float
    settle_s: float
    least_easy_s: float
    least_drift_s: float
    fade_after_s: float
    fade_ratio: float
    erratic_bpm: float
    best_durations: tuple[int, ...]
    even_share: float
    late_s: float
    early_s: float
    scatter_s: float
    even_mps: float


class Threshold(NamedTuple):
    least_runs: int
    stands_out: float
    race_s: Pair
    least_s: int


class Ground(NamedTuple):
    turn_m: float
    least_m: float
    steep_running: float
    steep_walking: float
    steep_m: float
    most_running_m: float
    most_walking_m: float
    most_per_km: float
    least_known_s: int


class SpeedWork(NamedTuple):
    contrast: Mapping[str, float]
    of_threshold: Mapping[str, float]
    far_over: float
    fast_for_most_mps: float
    nobody_climbs: float
    error_sd: float
    clear_sd: float
    sure_sd: float
    least_records: int
    climb_slope: float
    quiet_mps: Mapping[str, float]
    easy_share: float
    level_slope: float
    turn_s: float
    press_s: float
    single_s: float
    sustained_s: float
    heart_answers: float
    heart_overdoes: float
    heart_swing_bpm: float
    alike_s: Mapping[str, float]
    as_fast_as_bouts: float
    refuting_s: int
    refuted: float
    all_out: float
    may_be_off: float
    steps_rise_spm: float
    least_bout_s: int
    least_bouts: int
    least_running_s: int
    longest_rest_s: float
    fast_for_anyone_mps: float
    strides: int
    stride_s: int
    time_trial_share: float
    progression: float
    finish_s: float
    uphill_told: float
    rested: float
    beside_s: int
    alike_length: float
    alike_time: float
    heart_lag_s: int
    least_level_s: float
    held_s: float
    heart_around_s: int
    heart_known: float
    heart_most_error: float
    least_rest_s: int
    least_spm: float
    fast_steps_s: int
    easy_steps_s: int
    repeats_spread: float
    alike_speed: float
    called_stride_s: float
    press_apart_s: int


class Verdict(NamedTuple):
    least_s: float


class Sport(NamedTuple):
    least_recorded_s: float
    afoot_s: float
    running_s: float
    walked_s: float
    run_share: float
    carried_bpm: float
    transport_mps: float


class HeartResponse(NamedTuple):
    scatter_bpm: float
    drift_bpm_per_h: float
    block_s: int
