"""TCX v2: each activity a recording. Timer time is the laps' own; what is missing of the elapsed time was paused.

Trackpoints without a position are legal, laps without any trackpoint too: their summary stands.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

import numpy as np

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import plausible
from monitor.intake.fit_columns import RIDES, too_fast
from monitor.intake.plausible import MOST, Remarks, dated, is_plausible
from monitor.intake.sport_words import sport_of
from monitor.intake.track import Floats, Lap, Points, RecordedPoints, in_steps, pressed, with_ground
from monitor.intake.untrusted import XmlStream, child, kept, local, number
from monitor.values import FileFacts, IntakeOptions, Recording, Samples

# Laps and trackpoints of one TCX activity -> a recording with its timer time and pauses.

LATE_FIRST_POINT_SECONDS = 600.0
"""A receiver may need so long for its first position; a lap that starts earlier is wrong."""
BREAK_SECONDS = 10.0
ROUNDING_SECONDS = 2.0
MOST_LAP_SECONDS = 604800.0


def recording_of(label: str | None, track: RecordedPoints, laps: list[Lap], remarks: Remarks) -> Recording | None:
    """The recording, from its trackpoints, else from the laps alone; None where neither says anything."""
    points = Points(track, remarks)
    if len(points) <= 1:
        return _from_summaries(label, laps, remarks)
    sport, sub_sport = sport_of(label)
    start = _start(points, laps)
    samples = in_steps(with_ground(points, start, remarks), sport, remarks)
    elapsed_s = float(samples["t_s"][-1])
    timer_s = _timer(laps, elapsed_s, remarks)
    if timer_s is not None:
        elapsed_s = max(elapsed_s, timer_s)
    pauses = _pauses(points, samples["t_s"], elapsed_s, timer_s)
    paused_s = sum(to - since for since, to in pauses)
    return Recording(
        start=plausible.from_epoch(start),
        end=plausible.from_epoch(start + elapsed_s),
        sport=sport,
        sub_sport=sub_sport,
        timer_s=timer_s if timer_s is not None else elapsed_s - paused_s,
        elapsed_s=elapsed_s,
        distance_m=_distance(laps, samples),
        samples=samples,
        pauses=pauses,
        lap_marks_s=pressed(laps, start, elapsed_s),
        avg_hr_bpm=_mean_rate(laps),
        max_hr_bpm=_highest_rate(laps),
        format="tcx",
    )


def _from_summaries(label: str | None, laps: list[Lap], remarks: Remarks) -> Recording | None:
    """A recording without trackpoints, as a watch in a hall or an export by hand gives it."""
    timed = [
        (lap.start, lap)
        for lap in laps
        if lap.start is not None and is_plausible(dated(), lap.start) and 0 < lap.timer_s < MOST_LAP_SECONDS
    ]
    if not timed:
        return None
    told = [lap for _, lap in timed]
    start = min(begin for begin, _ in timed)
    timer_s = sum(lap.timer_s for lap in told)
    elapsed_s = max(max(begin + lap.timer_s for begin, lap in timed) - start, timer_s)
    sport, sub_sport = sport_of(label)
    remarks.add(words.files.NO_TRACKPOINTS)
    return Recording(
        start=plausible.from_epoch(start),
        end=plausible.from_epoch(start + elapsed_s),
        sport=sport,
        sub_sport=sub_sport,
        timer_s=timer_s,
        elapsed_s=elapsed_s,
        distance_m=_distance(told, {}),
        samples={"t_s": np.empty(0)},
        avg_hr_bpm=_mean_rate(told),
        max_hr_bpm=_highest_rate(told),
        format="tcx",
    )


def _start(points: Points, laps: list[Lap]) -> float:
    first = float(points.seconds[0])
    stated = laps[0].start if laps else None
    return first if stated is None or first - stated > LATE_FIRST_POINT_SECONDS else min(first, stated)


def _timer(laps: list[Lap], elapsed_s: float, remarks: Remarks) -> float | None:
    """Timer time of all laps; None where it cannot be."""
    total = sum(lap.timer_s for lap in laps)
    if not total > 0:  # nor where a lap tells none
        return None
    if total > elapsed_s * 1.02 + BREAK_SECONDS:
        remarks.add(words.files.LAP_TIMES_TOO_LONG)
        return None
    return total


def _pauses(points: Points, t_s: Floats, elapsed_s: float, timer_s: float | None) -> tuple[tuple[float, float], ...]:
    """Pauses of the timer: breaks between tracks, then gaps, longest first, up to the time that is missing."""
    gaps = np.diff(t_s)
    breaks = np.diff(points.piece) != 0
    if timer_s is None:
        chosen = np.flatnonzero(breaks & (gaps > BREAK_SECONDS)).tolist()
    else:
        missing = elapsed_s - timer_s
        candidates = np.flatnonzero((breaks & (gaps > ROUNDING_SECONDS)) | (gaps > BREAK_SECONDS))
        chosen = []
        for i in sorted(candidates.tolist(), key=lambda i: (not breaks[i], -gaps[i], i)):
            if gaps[i] <= missing + ROUNDING_SECONDS:
                chosen.append(i)
                missing -= gaps[i]
    return tuple((float(t_s[i]), float(t_s[i + 1])) for i in sorted(chosen))


def _distance(laps: list[Lap], samples: Samples) -> float | None:
    """The laps' own distance, else the way between the points."""
    total = sum(lap.distance_m for lap in laps)
    if math.isfinite(total) and total > 0:
        return total
    way = samples.get("distance_m")
    return float(np.nanmax(way)) if way is not None else None


def _mean_rate(laps: list[Lap]) -> float | None:
    known = [lap for lap in laps if math.isfinite(lap.avg_hr_bpm) and lap.timer_s > 0]
    seconds = sum(lap.timer_s for lap in known)
    return sum(lap.avg_hr_bpm * lap.timer_s for lap in known) / seconds if known else None


def _highest_rate(laps: list[Lap]) -> float | None:
    return max((lap.max_hr_bpm for lap in laps if math.isfinite(lap.max_hr_bpm)), default=None)


MARKS = frozenset({"Activity", "Lap", "Track", "Trackpoint", "Creator"})
LEAVES = {
    "LatitudeDegrees": "lat_deg",
    "LongitudeDegrees": "lon_deg",
    "AltitudeMeters": "altitude_m",
    "DistanceMeters": "distance_m",
    "Cadence": "cadence_spm",
    "RunCadence": "cadence_spm",
    "Speed": "speed_mps",
    "Watts": "power_w",
}

AUTOMATIC = frozenset({"Distance", "Location", "Time", "HeartRate"})  # ways in which a device closes a lap


def read_tcx(data: bytes, options: IntakeOptions) -> FileFacts:
    """All activities in a TCX file. Unreadable for a planned course."""
    del options
    stream = XmlStream(data)
    reader = _TcxReader(stream)
    recordings = tuple(reader.recordings())
    if not recordings:
        nothing = words.files.NO_DATE if reader.unset_clock else words.files.NO_ACTIVITY
        raise Unreadable(stream.broken or nothing)
    remarks = reader.remarks
    if stream.broken:
        remarks.add(words.files.ONLY_PART_COULD_BE_READ.format(broken=stream.broken))
    return FileFacts(kind="tcx", recordings=recordings, remarks=remarks.all(), damaged=stream.broken is not None)


@dataclass(slots=True)
class _Activity:
    """One activity while its elements stream by."""

    sport: str | None
    track: RecordedPoints = field(default_factory=RecordedPoints)
    laps: list[Lap] = field(default_factory=list)
    strides: int = 0  # points with a cadence that the format keeps for runners
    offset_s: int | None = None
    device: str | None = None


class _TcxReader:
    def __init__(self, stream: XmlStream) -> None:
        self.remarks = Remarks()
        self.unset_clock = False
        self._stream = stream
        self._activity: _Activity | None = None
        self._piece: Element | None = None

    def recordings(self) -> Iterator[Recording]:
        made = 0
        for event, element in self._stream:
            name = local(element.tag)
            if name not in MARKS:
                continue
            if event == "start":
                self._begin(name, element)
            elif self._activity is not None:
                self._end(name, element, self._activity)
                if name == "Activity":
                    made += 1
                    if made > MOST.recordings:
                        raise Unreadable(words.files.TOO_MANY_RECORDINGS.format(recordings=MOST.recordings))
                    yield from self._finished()
        yield from self._finished()

    def _begin(self, name: str, element: Element) -> None:
        if name == "Activity":
            self._activity = _Activity(element.get("Sport"))
        elif name == "Lap" and self._activity is not None:
            start = plausible.epoch(element.get("StartTime", ""))
            self._activity.laps.append(Lap(start=start[0] if start else None))
        elif name == "Track" and self._activity is not None:
            self._piece = element
            self._activity.track.begin_piece()

    def _end(self, name: str, element: Element, activity: _Activity) -> None:
        if name == "Trackpoint":
            _add_point(element, activity)
            if self._piece is not None:
                self._piece.clear()
        elif name == "Lap" and activity.laps:
            _fill_lap(activity.laps[-1], element)
            element.clear()
        elif name == "Creator":
            maker = child(element, "Name")
            activity.device = kept(maker.text or "", 80) if maker is not None else None

    def _finished(self) -> Iterator[Recording]:
        activity, self._activity = self._activity, None
        if activity is None:
            return
        recording = recording_of(activity.sport, activity.track, activity.laps, self.remarks)
        if recording is not None and recording.sport in RIDES and _was_run(activity, recording):
            recording = recording_of("Running", activity.track, activity.laps, self.remarks)
            self.remarks.add(words.files.RIDE_IS_A_RUN)
        if recording is None:
            self.unset_clock |= len(activity.track) > 0 or any(lap.start is not None for lap in activity.laps)
        else:
            yield replace(recording, utc_offset_s=activity.offset_s, device=activity.device)


def _add_point(element: Element, activity: _Activity) -> None:
    stamp = child(element, "Time")
    moment = plausible.epoch(stamp.text or "") if stamp is not None else None
    if moment is None:
        return
    seconds, offset_s = moment
    activity.offset_s = offset_s or activity.offset_s
    values: dict[str, float] = {}
    for leaf in element.iter():
        name = local(leaf.tag)
        if name in LEAVES:
            values[LEAVES[name]] = number(leaf)
            activity.strides += name == "RunCadence"
        elif name == "HeartRateBpm":
            value = child(leaf, "Value")
            values["hr_bpm"] = number(value if value is not None else leaf)
    activity.track.add(seconds, values)


def _was_run(activity: _Activity, ride: Recording) -> bool:
    """Whether at least half of a ride's points have counted strides, at a speed possible on foot."""
    speed = ride.samples.get("speed_mps")
    return 2 * activity.strides >= len(activity.track) and speed is not None and not too_fast(speed)


def _fill_lap(lap: Lap, element: Element) -> None:
    lap.timer_s = number(child(element, "TotalTimeSeconds"))
    lap.distance_m = number(child(element, "DistanceMeters"))
    trigger = child(element, "TriggerMethod")
    lap.by_itself = trigger is not None and (trigger.text or "").strip() in AUTOMATIC
    lap.avg_hr_bpm = _rate(child(element, "AverageHeartRateBpm"))
    lap.max_hr_bpm = _rate(child(element, "MaximumHeartRateBpm"))


def _rate(element: Element | None) -> float:
    """A heart rate; a device that has none writes 0."""
    return number(child(element, "Value")) or float("nan") if element is not None else float("nan")
