"""GPX 1.1 (1.0 is read too): tracks to recordings, extensions by their local names.

A new segment is a gap after lost signal, not a pause: GPX has no timer. Its moving time is the elapsed time less the
stops that the positions show (`gait.moving_seconds`).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from xml.etree.ElementTree import Element

import numpy as np

from monitor import words
from monitor.errors import Unreadable
from monitor.intake import plausible
from monitor.intake.plausible import MOST, Remarks
from monitor.intake.sport_words import sport_of, unknown_number
from monitor.intake.track import Points, RecordedPoints, in_steps, moving_seconds, with_ground
from monitor.intake.untrusted import XmlStream, child, kept, local, number, shown
from monitor.values import FileFacts, IntakeOptions, Recording
from rules.limits import default_limits

MARKS = frozenset({"gpx", "trk", "trkseg", "trkpt", "type"})
EXTENSIONS = {
    "hr": "hr_bpm",
    "heartrate": "hr_bpm",
    "cad": "cadence_spm",
    "cadence": "cadence_spm",
    "runcadence": "cadence_spm",
    "atemp": "temperature_c",
    "temp": "temperature_c",
    "speed": "speed_mps",
    "power": "power_w",
    "watts": "power_w",
    "powerinwatts": "power_w",
}


def read_gpx(data: bytes, options: IntakeOptions) -> FileFacts:
    """All tracks with times in a GPX file. Unreadable for a planned route."""
    del options
    reader = _GpxReader(XmlStream(data))
    recordings = tuple(reader.recordings())
    stream = reader.stream
    if not recordings:
        raise Unreadable(stream.broken or reader.nothing())
    remarks = reader.remarks
    if stream.broken:
        remarks.add(words.files.ONLY_PART_COULD_BE_READ.format(broken=stream.broken))
    return FileFacts(kind="gpx", recordings=recordings, remarks=remarks.all(), damaged=stream.broken is not None)


class _GpxReader:
    """What is being read at the moment, while elements stream by."""

    def __init__(self, stream: XmlStream) -> None:
        self.stream = stream
        self.remarks = Remarks()
        self.device: str | None = None
        self._track = RecordedPoints()
        self._segment: Element | None = None
        self._offset_s: int | None = None
        self._sport: str | None = None
        self._timeless = 0
        self._unset_clock = False

    def nothing(self) -> str:
        if self._unset_clock:
            return words.files.NO_DATE
        if self._timeless:
            return words.files.NO_TIMES
        return words.files.NO_TRACK

    def recordings(self) -> Iterator[Recording]:
        made = 0
        for event, element in self.stream:
            name = local(element.tag)
            if name not in MARKS:
                continue
            if event == "start":
                self._begin(name, element)
            elif name == "trkpt":
                self._point(element)
            elif name == "type" and self._segment is None:
                self._sport = (element.text or "").strip()
            elif name == "trkseg":
                self._segment = None
            if event == "end" and name == "trk":
                for recording in self._finished():
                    made += 1
                    if made > MOST.recordings:
                        raise Unreadable(words.files.TOO_MANY_RECORDINGS.format(recordings=MOST.recordings))
                    yield recording
        yield from self._finished()
        if self._timeless and made:
            self.remarks.add(words.files.POINTS_WITHOUT_TIME.format(timeless=self._timeless))

    def _begin(self, name: str, element: Element) -> None:
        if name == "gpx":
            self.device = kept(element.get("creator", ""), 80)
        elif name == "trk":
            self._track, self._offset_s, self._sport = RecordedPoints(), None, None
        elif name == "trkseg":
            self._segment = element
            self._track.begin_piece()

    def _point(self, element: Element) -> None:
        stamp = child(element, "time")
        moment = plausible.epoch(stamp.text or "") if stamp is not None else None
        if moment is None:
            self._timeless += 1
        else:
            seconds, offset_s = moment
            self._offset_s = offset_s or self._offset_s
            self._track.add(seconds, _values(element))
        if self._segment is not None:
            self._segment.clear()

    def _finished(self) -> Iterator[Recording]:
        points = Points(self._track, self.remarks)
        self._unset_clock |= points.unset_clock
        self._track = RecordedPoints()
        gaps = np.flatnonzero(np.diff(points.seconds) > default_limits().intake.new_session_gap_hours * 3600)
        if len(gaps):
            self.remarks.add(words.files.TRACK_WITH_LONG_GAPS.format(gaps=len(gaps) + 1))
        edges = [0, *(int(gap) + 1 for gap in gaps), len(points)]
        for first, after in pairwise(edges):
            if after - first > 1:
                yield self._recording(points.part(slice(first, after)))

    def _recording(self, points: Points) -> Recording:
        sport, sub_sport = sport_of(self._sport)
        if odd := unknown_number(self._sport):
            self.remarks.add(words.files.SPORT_NUMBER_UNKNOWN.format(odd=shown(odd, 9)))
        samples = with_ground(points, points.seconds[0], self.remarks)
        samples = in_steps(samples, sport, self.remarks)
        elapsed_s = float(samples["t_s"][-1])
        distance = samples.get("distance_m")
        return Recording(
            start=plausible.from_epoch(points.seconds[0]),
            end=plausible.from_epoch(points.seconds[-1]),
            sport=sport,
            sub_sport=sub_sport,
            timer_s=moving_seconds(samples, elapsed_s),
            elapsed_s=elapsed_s,
            distance_m=float(np.nanmax(distance)) if distance is not None else None,
            samples=samples,
            utc_offset_s=self._offset_s,
            format="gpx",
            device=self.device,
        )


def _values(point: Element) -> dict[str, float]:
    values: dict[str, float] = {}
    for key, column in (("lat", "lat_deg"), ("lon", "lon_deg")):
        try:
            values[column] = float(point.get(key, ""))
        except ValueError:
            continue
    for element in point:
        name = local(element.tag)
        if name == "ele":
            values["altitude_m"] = number(element)
        elif name == "speed":
            values["speed_mps"] = number(element)
        elif name == "extensions":
            for leaf in element.iter():
                known = EXTENSIONS.get(local(leaf.tag).lower())
                if known is not None and len(leaf) == 0:
                    values[known] = number(leaf)
    return values
