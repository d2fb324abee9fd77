"""TCX v2: each activity a recording. Timer time is the laps' own; what is missing of the elapsed time was paused.

Trackpoints without a position are legal, laps without any trackpoint too: their summary stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from xml.etree.ElementTree import Element

from monitor.errors import Unreadable
from monitor.intake import moments
from monitor.intake.facts import FileFacts, IntakeOptions, Recording
from monitor.intake.laps import Lap, recording_of
from monitor.intake.plausible import MOST
from monitor.intake.remarks import Remarks
from monitor.intake.running_form import REMARK, RIDES, too_fast
from monitor.intake.shown import kept
from monitor.intake.track import Track
from monitor.intake.xml_safe import XmlStream, child, local, number

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
        nothing = moments.NO_DATE if reader.unset_clock else "no activity in it: a planned course or an empty export"
        raise Unreadable(stream.broken or nothing)
    remarks = reader.remarks
    if stream.broken:
        remarks.add(f"only a part could be read: {stream.broken}")
    return FileFacts(kind="tcx", recordings=recordings, remarks=remarks.all(), damaged=stream.broken is not None)


@dataclass(slots=True)
class _Activity:
    """One activity while its elements stream by."""

    sport: str | None
    track: Track = field(default_factory=Track)
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
                        raise Unreadable(f"more than {MOST.recordings} recordings in one file")
                    yield from self._finished()
        yield from self._finished()

    def _begin(self, name: str, element: Element) -> None:
        if name == "Activity":
            self._activity = _Activity(element.get("Sport"))
        elif name == "Lap" and self._activity is not None:
            start = moments.epoch(element.get("StartTime", ""))
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
            self.remarks.add(REMARK)
        if recording is None:
            self.unset_clock |= len(activity.track) > 0 or any(lap.start is not None for lap in activity.laps)
        else:
            yield replace(recording, utc_offset_s=activity.offset_s, device=activity.device)


def _add_point(element: Element, activity: _Activity) -> None:
    stamp = child(element, "Time")
    moment = moments.epoch(stamp.text or "") if stamp is not None else None
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
    """Whether a ride has strides counted through half of its points or more, at a speed that feet reach."""
    speed = ride.samples.get("speed_mps")
    return 2 * activity.strides >= max(len(activity.track), 1) and speed is not None and not too_fast(speed)


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
