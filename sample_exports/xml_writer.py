"""TCX and GPX text of a saved outing, as a bicycle computer and a phone write them."""

from __future__ import annotations

from datetime import timedelta
from xml.etree import ElementTree

import numpy as np

from sample_exports.outing import Saved

TCX = "http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2"
GPX = "http://www.topografix.com/GPX/1/1"
POINT = "http://www.garmin.com/xmlschemas/TrackPointExtension/v1"
TCX_SPORTS = {"running": "Running", "cycling": "Biking"}


def _time(saved: Saved, second: float) -> str:
    return f"{saved.start + timedelta(seconds=second):%Y-%m-%dT%H:%M:%S}Z"


def _add(parent: ElementTree.Element, name: str, text: object = None, **attributes: str) -> ElementTree.Element:
    child = ElementTree.SubElement(parent, name, attributes)
    if text is not None:
        child.text = str(text)
    return child


def _text(root: ElementTree.Element) -> bytes:
    ElementTree.indent(root, " ")
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'.encode()


def tcx_bytes(saved: Saved) -> bytes:
    """One activity of one lap, TCX version 2."""
    columns = saved.columns
    root = ElementTree.Element("TrainingCenterDatabase", xmlns=TCX)
    activity = _add(_add(root, "Activities"), "Activity", Sport=TCX_SPORTS.get(saved.outing.sport, "Other"))
    _add(activity, "Id", _time(saved, 0))
    lap = _add(activity, "Lap", StartTime=_time(saved, 0))
    _add(lap, "TotalTimeSeconds", saved.timer_s)
    _add(lap, "DistanceMeters", round(saved.distance_m or 0.0, 1))
    _add(lap, "Calories", 0)
    _add(_add(lap, "AverageHeartRateBpm"), "Value", round(float(np.mean(columns.hr_bpm))))
    _add(_add(lap, "MaximumHeartRateBpm"), "Value", round(float(np.max(columns.hr_bpm))))
    _add(lap, "Intensity", "Active")
    _add(lap, "TriggerMethod", "Manual")
    track = _add(lap, "Track")
    for i, second in enumerate(saved.t_s):
        point = _add(track, "Trackpoint")
        _add(point, "Time", _time(saved, float(second)))
        if columns.lat_deg is not None and columns.lon_deg is not None:
            place = _add(point, "Position")
            _add(place, "LatitudeDegrees", f"{columns.lat_deg[i]:.7f}")
            _add(place, "LongitudeDegrees", f"{columns.lon_deg[i]:.7f}")
        if columns.altitude_m is not None:
            _add(point, "AltitudeMeters", f"{columns.altitude_m[i]:.1f}")
        if columns.distance_m is not None:
            _add(point, "DistanceMeters", f"{columns.distance_m[i]:.1f}")
        _add(_add(point, "HeartRateBpm"), "Value", round(float(columns.hr_bpm[i])))
        if columns.cadence_spm is not None:
            _add(point, "Cadence", round(float(columns.cadence_spm[i])))
    return _text(root)


def gpx_bytes(saved: Saved) -> bytes:
    """One track of one segment, GPX 1.1, with heart rate and cadence in the usual extension."""
    columns = saved.columns
    assert columns.lat_deg is not None
    assert columns.lon_deg is not None
    assert columns.altitude_m is not None
    attributes = {"version": "1.1", "creator": "Fjellur phone tracker", "xmlns": GPX, "xmlns:tpx": POINT}
    root = ElementTree.Element("gpx", attributes)
    _add(_add(root, "metadata"), "time", _time(saved, 0))
    track = _add(root, "trk")
    _add(track, "name", saved.outing.path.rpartition("/")[2].removesuffix(".gpx"))
    _add(track, "type", saved.outing.sport)
    segment = _add(track, "trkseg")
    for i, second in enumerate(saved.t_s):
        place = {"lat": f"{columns.lat_deg[i]:.7f}", "lon": f"{columns.lon_deg[i]:.7f}"}
        point = _add(segment, "trkpt", None, **place)
        _add(point, "ele", f"{columns.altitude_m[i]:.1f}")
        _add(point, "time", _time(saved, float(second)))
        more = _add(_add(point, "extensions"), "tpx:TrackPointExtension")
        _add(more, "tpx:hr", round(float(columns.hr_bpm[i])))
        if columns.cadence_spm is not None:
            _add(more, "tpx:cad", round(float(columns.cadence_spm[i]) / 2))
    return _text(root)
