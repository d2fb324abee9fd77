"""TCX and GPX documents for tests, as exporters write them or broken on purpose."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

START = datetime(2026, 10, 4, 8, 0, tzinfo=UTC)
METRES_PER_DEGREE_NORTH = 111_412.3  # at 60 degrees on WGS84

Point = dict[str, object]


def stamp(seconds: float, start: datetime = START) -> str:
    return (start + timedelta(seconds=seconds)).isoformat().replace("+00:00", "Z")


def run(seconds: Sequence[float], speed_mps: float = 3.0, hr: int = 140, cadence: int | None = None) -> list[Point]:
    """Points due north at one speed."""
    points: list[Point] = []
    for at in seconds:
        point: Point = {
            "t": at,
            "lat": 60 + at * speed_mps / METRES_PER_DEGREE_NORTH,
            "lon": 10.0,
            "ele": 100.0,
            "hr": hr,
        }
        if cadence is not None:
            point["cad"] = cadence
        points.append(point)
    return points


def gpx(*segments: Sequence[Point], kind: str | None = "running", start: datetime = START, more: str = "") -> bytes:
    """One track of these segments. A point without "t" has no time."""
    body = "".join(f"<trkseg>{''.join(_trkpt(point, start) for point in segment)}</trkseg>" for segment in segments)
    label = f"<type>{kind}</type>" if kind is not None else ""
    return (
        '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="a watch" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:e="http://example.org/TrackPointExtension/v2">'
        f"<trk><name>out</name>{label}{body}</trk>{more}</gpx>"
    ).encode()


def _trkpt(point: Point, start: datetime) -> str:
    time = point.get("time") or (stamp(float(str(point["t"])), start) if "t" in point else None)
    inner = "".join(
        f"<e:{name}>{point[name]}</e:{name}>" for name in ("hr", "cad", "atemp", "speed", "power") if name in point
    )
    return (
        f'<trkpt lat="{point["lat"]:.8f}" lon="{point["lon"]:.8f}">'
        + (f"<ele>{point['ele']}</ele>" if "ele" in point else "")
        + (f"<time>{time}</time>" if time else "")
        + (f"<extensions><e:TrackPointExtension>{inner}</e:TrackPointExtension></extensions>" if inner else "")
        + "</trkpt>"
    )


def lap(*tracks: Sequence[Point], start_s: float, timer_s: float | None, metres: float = 0, summary: str = "") -> str:
    timer = f"<TotalTimeSeconds>{timer_s}</TotalTimeSeconds>" if timer_s is not None else ""
    body = "".join(f"<Track>{''.join(_trackpoint(point) for point in track)}</Track>" for track in tracks)
    return (
        f'<Lap StartTime="{stamp(start_s)}">{timer}<DistanceMeters>{metres}</DistanceMeters>'
        f"<Calories>1</Calories>{summary}<Intensity>Active</Intensity><TriggerMethod>Manual</TriggerMethod>{body}</Lap>"
    )


def activity(*laps: str, sport: str = "Running") -> str:
    maker = "<Creator><Name>a watch</Name></Creator>"
    return f'<Activity Sport="{sport}"><Id>{stamp(0)}</Id>{"".join(laps)}{maker}</Activity>'


def tcx(*activities: str) -> bytes:
    return (
        '<?xml version="1.0" encoding="UTF-8"?><TrainingCenterDatabase '
        'xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2" '
        'xmlns:x="http://www.garmin.com/xmlschemas/ActivityExtension/v2">'
        f"<Activities>{''.join(activities)}</Activities></TrainingCenterDatabase>"
    ).encode()


def _trackpoint(point: Point) -> str:
    position = (
        f"<Position><LatitudeDegrees>{point['lat']:.8f}</LatitudeDegrees>"
        f"<LongitudeDegrees>{point['lon']:.8f}</LongitudeDegrees></Position>"
        if "lat" in point
        else ""
    )
    extended = "".join(
        f"<x:{name}>{point[key]}</x:{name}>"
        for key, name in (("speed", "Speed"), ("runcad", "RunCadence"), ("power", "Watts"))
        if key in point
    )
    return (
        f"<Trackpoint><Time>{point.get('time') or stamp(float(str(point['t'])))}</Time>{position}"
        + (f"<AltitudeMeters>{point['ele']}</AltitudeMeters>" if "ele" in point else "")
        + (f"<DistanceMeters>{point['dist']}</DistanceMeters>" if "dist" in point else "")
        + (f"<HeartRateBpm><Value>{point['hr']}</Value></HeartRateBpm>" if "hr" in point else "")
        + (f"<Cadence>{point['cad']}</Cadence>" if "cad" in point else "")
        + (f"<Extensions><x:TPX>{extended}</x:TPX></Extensions>" if extended else "")
        + "</Trackpoint>"
    )
