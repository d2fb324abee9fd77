"""What each signal of a session says of its fast stretches: was it run harder than easy?

- Speed over ground is as good as its measured noise is small.
- The heart answers effort with 24 bpm per m/s and a time constant near a minute (Hunt 2015): the share of that answer
  that is found in the recording, with its error, tells whether the stretches were work.
- Step rate rises with speed in most runners; where it does not it says nothing.
- Altitude speaks only where the stretches are no faster over ground, and is never better than weak.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rules.facts import held_for
from rules.findings import Quality, Says, Signal, say
from rules.limits import Limits
from rules.session.heart import HeartAnswer, heart_answer
from rules.session.timeline import Flags, flagged, mostly, rolling_mean
from rules.session.track import Track
from rules.speed_work.bouts import Bout, Levels, mean_effort


def heart_signal(track: Track, bouts: Sequence[Bout], fast: Levels, limits: Limits) -> Signal:
    """Did heart rate rise with the stretches, within about a minute, as far as such running raises it?"""
    inside = flagged(track.size, [(b.start, b.end) for b in bouts])
    if not _has_rest(track, inside, limits):
        return Signal("heart rate", "none", "nothing", say("nothing_easier"))
    if len(bouts) > 1 and mostly(np.array([_timer_stood(track, b, limits) for b in bouts])):
        return Signal("heart rate", "none", "nothing", say("timer_stood"))
    effort = mean_effort(bouts)
    speed = np.nan_to_num(rolling_mean(track.effort_mps, 15, least=5), nan=0.0)
    slow = np.nan_to_num(rolling_mean(track.effort_mps, 61, least=20), nan=0.0)
    cause = np.zeros(track.size)
    for b in bouts:
        held = b.seconds < limits.speed_work.held_s
        cause[b.start : b.end] = (b.effort_mps if held else slow[b.start : b.end]) - fast.easy
    others = np.where(inside, 0.0, np.minimum(speed, effort) - fast.easy)
    around = limits.speed_work.heart_around_s
    window = slice(max(bouts[0].start - around, 0), min(bouts[-1].end + around, track.size))
    answer = heart_answer(track.heart.rows_bpm, cause, [others], window, limits)
    if answer is None or answer.known < limits.speed_work.heart_known:
        return Signal("heart rate", "none", "nothing", say("not_known_around"))
    if answer.swing_bpm < limits.speed_work.heart_swing_bpm:
        return Signal("heart rate", "weak", "nothing", say("too_small_to_raise"))
    return _of_answer(answer, limits)


def _of_answer(answer: HeartAnswer, limits: Limits) -> Signal:
    """Good where its error is small and leaves no doubt, weak where it leaves some."""
    least = limits.speed_work.heart_answers
    low, high = answer.share - 2 * answer.error, answer.share + 2 * answer.error
    quality: Quality = "good" if answer.error <= least and (low >= least or high <= least) else "weak"
    says: Says = "nothing"
    if answer.share > limits.speed_work.heart_overdoes:
        quality = "weak"  # the heart answered something else, or the sensor is wrong
    elif answer.share >= least and low > 0 and answer.error <= limits.speed_work.heart_most_error:
        says = "for"
    elif high <= 2 * least:
        says = "against"
    why = say("heart_rose", percent=answer.share * 100, error=answer.error * 100)
    return Signal("heart rate", quality, says, why)


def _timer_stood(track: Track, b: Bout, limits: Limits) -> bool:
    """Is there time beside the stretch that was not recorded, so that the heart calmed unseen?"""
    near = limits.speed_work.beside_s
    beside = track.clock.rows_s[max(b.start - near, 0) : b.end + near]
    return bool(beside[-1] - beside[0] > len(beside) + near / 2)


def _has_rest(track: Track, inside: Flags, limits: Limits) -> bool:
    """Are there easier minutes, run, walked or stood, after the first stretch began or well before it?"""
    rest = ~inside & track.clock.real
    least = limits.speed_work.least_rest_s
    return bool(rest[least:].sum() >= least)


def steps_signal(track: Track, bouts: Sequence[Bout], limits: Limits) -> Signal:
    """Did the steps a minute rise with the stretches, against the running around them?"""
    inside = flagged(track.size, [(b.start + 2, b.end - 2) for b in bouts])
    near = flagged(track.size, [(max(b.start - 90, 0), min(b.end + 90, track.size)) for b in bouts])
    edges = flagged(track.size, [(max(b.start - 8, 0), min(b.end + 8, track.size)) for b in bouts])
    known = np.isfinite(track.spm) & (track.spm > limits.speed_work.least_spm) & track.gait.running
    fast, rest = track.spm[inside & known], track.spm[near & ~edges & known]
    if len(fast) < limits.speed_work.fast_steps_s or len(rest) < limits.speed_work.easy_steps_s:
        return Signal("cadence", "none", "nothing", say("not_known_around"))
    rise = float(np.mean(fast) - np.mean(rest))
    error = float(np.hypot(fast.std() / np.sqrt(max(len(fast) / 10, 1)), rest.std() / np.sqrt(max(len(rest) / 10, 1))))
    told = say("steps_rose", fast=np.mean(fast), rise=rise, error=error)
    least = limits.speed_work.steps_rise_spm
    if rise - 3 * error >= least:
        return Signal("cadence", "good", "for", told)
    if rise >= least and rise > 2 * error:
        return Signal("cadence", "weak", "for", told)
    return Signal("cadence", "weak", "nothing", told)  # some people keep theirs at any speed


def speed_signal(track: Track, found: Sequence[Bout], fast: Levels, limits: Limits) -> Signal:
    """Faster than easy by how much, and by how much of its own error."""
    weights = [b.seconds for b in found]
    effort = mean_effort(found)
    usual = float(np.median(weights))
    error = fast.error(usual)
    told = say("speed_against_easy", effort=effort, easy=fast.easy, error=error, source=track.pace.source)
    quiet = fast.noise_mps <= limits.speed_work.quiet_mps[track.pace.source]
    if fast.own_easy is None:
        anyone = effort >= limits.speed_work.fast_for_anyone_mps
        sure = anyone or (quiet and _nobody_jogs(effort, weights, fast, limits))
        return Signal("speed", "good" if sure else "weak", "for", say("none_slower", told=told))
    apart = (effort - fast.easy) / max(error, 1e-3)
    clear = limits.speed_work.clear_sd
    together = apart * float(np.sqrt(len(found)))  # an error by chance shrinks with the number of stretches
    if usual < limits.speed_work.single_s and apart < clear and together < 2 * clear:
        return Signal("speed", "none", "for", told)
    contrast = limits.speed_work.contrast
    if effort < contrast["bouts" if fast.threshold else "no threshold"] * fast.easy:
        return Signal("speed", "weak" if quiet and track.pace.source != "position" else "none", "for", told)
    far = effort >= contrast["strides"] * fast.easy
    sure = quiet or (far and apart >= limits.speed_work.sure_sd)
    return Signal("speed", "good" if sure else "weak", "for", told)


def _nobody_jogs(effort: float, seconds: Sequence[int], fast: Levels, limits: Limits) -> bool:
    """Is it far over threshold again and again, or near the most that is held for so long?"""
    if fast.threshold is None:
        return False
    if len(seconds) >= limits.speed_work.least_bouts:
        return effort >= limits.speed_work.far_over * fast.reference
    longest = max(seconds)
    most = held_for(fast.threshold.speed_mps, longest)
    return longest >= limits.speed_work.sustained_s and effort >= limits.speed_work.all_out * most


def altitude_signal(track: Track, found: Sequence[Bout], fast: Levels, heart: Signal, limits: Limits) -> Signal:
    """Climbs that are worth more than easy running.

    Heard, and no better than weak, where a heart answers; or where a threshold is known and they are run as fast as
    easy running on the level.
    """
    weights = [b.seconds for b in found]
    speed = float(np.average([b.speed_mps for b in found], weights=weights))
    told = say("worth_on_level", found=mean_effort(found), easy=fast.easy, speed=speed)
    heard = (fast.threshold is not None and speed >= fast.easy) or heart.says == "for"
    if track.ground.noise_m > limits.altitude.heard_m:
        wanders = say("altitude_wanders", told=told, noise_m=track.ground.noise_m)
        return Signal("altitude", "none", "for", wanders)
    return Signal("altitude", "weak" if heard else "none", "for", told)
