"""What findings say: a text for each key of `rules.findings.say`, and the ways in which values are told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from typing import Any

from rules.words import said, texts
from rules.words.en.amounts import duration, hours, listed, minutes, pace, sleep

STATEMENTS: Mapping[str, str] = {
    "unit_days_since_race": "days since the race",
    "unit_min_a_week": "min a week",
    "unit_hours_after_finish": "h after the finish",
    # Check-ins.
    "not_managed": "{failed:Listed} not managed unaided",
    "not_managed_and_training": "{failed:Listed} not managed unaided, and training ({sports:listed}) on the same day",
    "pain": "Pain {pain:g} of 10{where}{grown}{changes}",
    "pain_where": " ({where})",
    "pain_grown": ", grown over three check-ins: {values:numbers}",
    "pain_changes_day": "; from {least:g} it changes the day's plan",
    "flags_told": "The check-in tells of {flags:flags}: for a doctor to look at, not for training",
    "flags_doubtful": "You wrote {written:quoted}: is it still there?",
    "flag_says": "{flag:flag_says}",
    "compared_with_list": "words were compared with a list; this is no diagnosis",
    # Heart and mood that are back too early.
    "feels_too_good": "Day {day}: heart and mood are back, tendon and bone are not; the plan stands as it is",
    # Mornings and nights.
    "short_sleep": "{mean:sleep} of sleep a night, the mean of {nights} nights; under {note:g} h is short",
    "resting_hr_up": (
        "Resting heart rate {before:g} and {now:g} on two mornings running, {over:.0f} over your "
        "usual {middle:g}; from {limit:.1f} it counts as up"
    ),
    "hrv_down": (
        "RMSSD has lately been about {mean:.0f} ms, your usual {usual:.0f} ms; chance explains down to "
        "{note:.0f} ms. In sizes of the smallest change that matters: {sizes:.1f} under (ln RMSSD "
        "{ln_mean:.2f}, usual {ln_usual:.2f})"
    ),
    # What there is too little data for.
    "resting_hr": "resting heart rate",
    "hrv": "heart-rate variability",
    "thin_mornings": "{what}: {count} of the {needed} mornings before the race that a baseline needs; not judged",
    "thin_week": "running a week: {reason}; not judged",
    "thin_heart": "heart rate: {reasons:semicolons}",
    # Sessions that cannot be judged, and silence.
    "both": "{first}. {second}",
    "not_told": "The file does not say {missing:or}: not held against the limits on running and time",
    "how_long": "how long it took",
    "what_sport": "what sport it was",
    "not_judged": "Not judged: {why:semicolons}",
    "of_ceiling": "heart-rate ceiling: {why}",
    "of_fast_running": "fast running: {why}",
    "hr_not_believed": "heart rate not believed for {percent:.0f} % of the time",
    "hr_not_recorded": "no heart rate was recorded",
    "hr_known": "heart rate known for {percent:.0f} % of the time only",
    "speed_not_believed": "speed not believed for {percent:.0f} % of the running",
    "speed_not_recorded": "no speed was recorded",
    "speed_known": "speed known for {percent:.0f} % of the running only",
    "gone_quiet": "No file since {since:minute}; after {after:g} h of silence in a plan {then}",
    "never_came": "No file has ever come, awaited since {since}; after {after:g} h of silence in a plan {then}",
    "coach_is_told": "the coach is told",
    "somebody_should_ask": "somebody should ask",
    # Running where the stage has none or less.
    "ran": "A run of {ran:minutes} in a stage without running",
    "ran_unlabelled": "{ran:minutes} of running in a session labelled {label}, in a stage without running",
    "may_have_run": "Looks like {ran:minutes} of running, in a stage without running; was it?",
    "may_have_run_unlabelled": (
        "Looks like {ran:minutes} of running in a session labelled {label}, in a stage without running; was it?"
    ),
    "tolerated_run": "A run of {ran:minutes} near the end of cross-training: one of up to {cap} min is tolerated",
    "longer_than_tolerated": "longer than the {cap} min that are tolerated",
    "over_ceiling": "over the ceiling",
    "tolerated_before": "there was a tolerated run in this stage already",
    "hr_taken_to_be_low": "no heart rate was recorded: taken to be under the ceiling",
    "ran_same_day": "A run after a run earlier today: this stage asks for a day of rest from running between runs",
    "ran_day_before": (
        "A run after a run the day before, {before}: this stage asks for a day of rest from running between runs"
    ),
    "week_is_median": "median of {weeks} weeks from {first} to {last}",
    "week_unknown": "the history holds {weeks} of the {number} weeks before the taper: no usual week to go by",
    "week_without_running": "no running in most weeks before the taper",
    "weekly_running": (
        "{done:minutes} of running this week, where {allowed:minutes} are allowed: {share:.0f} % of the usual "
        "{usual:minutes}"
    ),
    "long_run_jump": (
        "A run of {km:.2f} km, where {most:.2f} km are allowed: {factor:g} x the longest since the race, "
        "{longest:.2f} km"
    ),
    # Ceiling, ground, strength and length of one session.
    "rest_hours": (
        "{session:capital} {since:hours} after the finish, where only walking and mobility have a place for the "
        "first {caution:g} h"
    ),
    "walk_with_running": "A walk with running in it",
    "a_session": "A session",
    "strength": "{took:minutes} of strength work in the days off, which have none",
    "gentle": "{took:minutes} of yoga or pilates in the days off: fine as long as nothing is held hard",
    "unknown_time": "An unknown time",
    "day_too_long": "This session comes to {total:minutes}, where {cap} min a day are allowed (walking apart)",
    "day_of_several_too_long": (
        "With this session the day's {sessions} come to {total:minutes}, where {cap} min a day are allowed "
        "(walking apart)"
    ),
    "run_too_long": "A run of {ran:minutes}, where {cap} min a run are allowed",
    "above_ceiling": "{total:duration} above {bpm} bpm, longest stretch {longest:duration}{highest}",
    "highest_minute": ", highest minute {bpm} bpm",
    "hr_max_from_age": "HRmax estimated from age; the ceiling may be off by some {off:g} bpm",
    "hilly": "{up:.0f} m up and {down:.0f} m down in {km:.1f} km{steep}",
    "steep_up": ", {took:duration} of it steep, up to {percent:.0f} % up",
    "steep_down": ", {took:duration} of it steep, up to {percent:.0f} % down",
    "altitude_is_rough": "the altitude of this recording wanders, so climb and descent are rough",
    # By what a ceiling was found.
    "ceiling_in_roster": "set in the roster",
    "ceiling_not_in_roster": "the model fixed needs ceiling_zone1 and ceiling_zone2",
    "ceiling_below": "below {percent:g} % of {what} ({source})",
    "no_ceiling": "no ceiling in bpm: effort by feel",
    "and_estimated": "{parts:semicolons}",
    "hr_max": "HRmax {bpm:g}",
    "hr_max_estimated": "HRmax {bpm:g} is estimated from age {age} ({source})",
    "no_hr_max": "neither hr_max nor the year of birth is known",
    "heart_rate_reserve": "heart rate reserve ({hr_max}, rest {rest:g})",
    "rest_is_median": "hr_rest {bpm:g} is the median of {mornings} mornings",
    "rest_unknown": "hr_rest is not known and there are no mornings to learn it from, so by HRmax",
    "rest_not_below_hr_max": "hr_rest is not below hr_max, so by HRmax",
    "threshold_hr": "threshold heart rate {bpm}",
    "threshold_hr_unknown": "threshold_hr is not known",
    # What kind of fast running it was.
    "fast": "{kind}: {amount:duration} at {speed:pace}{uphill}, {over:.0f} % faster than {what}",
    "perhaps_fast": "Looks like {said}; was it?",
    "repeated": "{times} x {each:duration}",
    "uphill": " uphill, worth {effort:pace} on the level",
    "hard_climb": "a hard climb",
    "time_trial": "a time trial",
    "progression": "a progression",
    "fast_finish": "a fast finish",
    "sustained": "sustained fast running",
    "fast_running": "fast running",
    "hill_repeats": "hill repeats",
    "repeats": "repeats",
    "strides": "strides",
    "easy_of_most": "most people's easy running",
    "own_threshold": "your threshold pace",
    "own_easy": "your easy running in this session",
    "no_threshold": ("no threshold is known; judged against the easy running of the session itself, confidence low"),
    "no_threshold_none_slower": (
        "no threshold is known and none of it was slower: judged against what is fast for most runners"
    ),
    "threshold_from": "threshold speed from {basis}, confidence {confidence}",
    "threshold_refuted": "the roster's threshold pace of {slower:pace} is slower than what was held before",
    # What each signal says of fast stretches.
    "laps_not_pressed": "none were pressed around the stretches",
    "laps_pressed": "laps were pressed where the stretches begin and end",
    "fast_laps_pressed": "{laps} fast laps were pressed, with slower ones between them",
    "steps_rose": "{fast:.0f} steps a minute, {rise:+.0f} against the running around (error {error:.1f})",
    "speed_against_easy": "{effort:.2f} m/s against {easy:.2f} easy, error {error:.2f} ({source})",
    "none_slower": "{told}, none of it slower",
    "worth_on_level": "{found:.2f} m/s on the level against {easy:.2f} easy; {speed:.2f} over ground",
    "altitude_wanders": "{told}; it wanders by {noise_m:.1f} m in ten seconds",
    "heart_rose": "rose by {percent:.0f} % (error {error:.0f}) of what such running asks of it",
    "nothing_easier": "no easier part to compare with",
    "timer_stood": "the timer stood beside the stretches",
    "not_known_around": "not known around the stretches",
    "too_small_to_raise": "the stretches are too small or short to raise it",
    # Why an altitude is not believed.
    "no_barometer": "the device names no barometer, and neither heart rate nor places confirm it",
    "climbs_beyond_anyone": "its climbs would be worth {speed:.1f} m/s on the level",
    "places_apart": "the same places lie {apart:.0f} m apart",
    "heart_denies_climbs": "heart rate gives {percent:.0f} % of what its climbs ask for",
    # What sport it was, and what tells of running in it.
    "labelled": "labelled {label}{but}",
    "but_as_ride": ", but with the speed and cadence of a ride",
    "but_carried": ", walked by its {by}, and carried for {carried:duration}",
    "but_too_fast": ", but faster for longer than anyone runs",
    "but_walked": ", but walked by its {by}",
    "but_run": ", but mostly run by its {by}",
    "walked": ", walked by its {by}",
    "some_running": ", with {ran:duration} of running by its {by}",
    "labelled_run": "it is labelled as a run",
    "not_labelled_run": "it is not labelled as a run",
    "steps_over": "{steps:.0f} steps/min over {ran:duration}",
    "steps_unknown": "no step rate is known where it was fast",
    "speed_over": "{speed:.1f} m/s over {ran:duration}",
    "speed_unknown": "no speed is known where it was fast",
    "heart_unknown": "too little heart rate is known where it was fast",
    "heart_over_walking": "{bpm:.0f} bpm, {rise:+.0f} against the walking",
    "heart_works": "{bpm:.0f} bpm, more than a walk takes",
    "heart_alone": "{bpm:.0f} bpm, and no walk to compare it with",
}


@cache
def _flags() -> dict[str, dict[str, Any]]:
    """Red flags by id, whose names and sentences stand with the words that tell of them."""
    return {flag["id"]: flag for flag in texts("red_flags")["flag"]}


WAYS: Mapping[str, Callable[[Any], str]] = {
    "minutes": minutes,
    "hours": hours,
    "duration": duration,
    "sleep": sleep,
    "pace": pace,
    "minute": lambda moment: f"{datetime.fromisoformat(moment):%Y-%m-%d %H:%M}",
    "numbers": lambda values: ", ".join(f"{value:g}" for value in values),
    "listed": listed,
    "Listed": lambda names: listed(names).capitalize(),
    "capital": str.capitalize,
    "quoted": lambda texts: listed([f"“{text}”" for text in texts]),
    "or": lambda parts: " or ".join(map(said, parts)),
    "semicolons": lambda parts: "; ".join(map(said, parts)),
    "flags": lambda ids: listed([_flags()[one]["name"] for one in ids]),
    "flag_says": lambda one: str(_flags()[one]["say"]),
}


"""`{value:minutes}` in a text: how a value that is no nested statement is told. Seconds, m/s, minutes of sleep."""
