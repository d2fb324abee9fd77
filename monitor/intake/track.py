"""Points of a recording -> samples: in order of time, one a moment, with speed, distance, steps a minute and laps.

Speed is the device's own where it gives one; else the distance it counted over the time it took (but not a count in
whole metres where positions know better); else the way between positions on the ellipsoid over that time, told at the
later point. Nothing is smoothed: cleaning belongs to the rules.
"""

from __future__ import annotations

import itertools
from array import array
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from monitor import words
from monitor.errors import Unreadable
from monitor.intake.plausible import MOST, Remarks, dated, mask_samples
from monitor.values import Samples
from rules.facts import SAMPLE_COLUMNS
from rules.limits import default_limits
from rules.session.timeline import stretches

# Distances between successive positions on the WGS84 ellipsoid: the arc on the ellipsoid's own radii of curvature at
# the middle latitude. Between points of a recording, metres apart, it is exact to a tenth of a millimetre, over the
# kilometres of a lost signal to a metre at most (both held against geographiclib in the tests). The leaps over which
# it is rough are positions that jump, and are never believed.
Floats = npt.NDArray[np.float64]
METRES_A_DEGREE = 111_195.0  # of a great circle on the mean sphere

WGS84_A_M = 6_378_137.0  # NGA.STND.0036, table 3.1
WGS84_F = 1 / 298.257223563


def steps_m(lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Metres from each position to the next, one fewer than there are positions; all must be finite.

    sqrt((M dlat)^2 + (N cos(lat) dlon)^2) with the radii M, N at the middle latitude (Karney 2013, section 2).
    """
    e2 = WGS84_F * (2 - WGS84_F)
    middle = np.radians((lat_deg[:-1] + lat_deg[1:]) / 2)
    w2 = 1 - e2 * np.sin(middle) ** 2
    prime_vertical = WGS84_A_M / np.sqrt(w2)
    meridian = prime_vertical * (1 - e2) / w2
    dlon = (np.diff(lon_deg) + 180.0) % 360.0 - 180.0
    north = meridian * np.radians(np.diff(lat_deg))
    east = prime_vertical * np.cos(middle) * np.radians(dlon)
    arcs: Floats = np.hypot(north, east)
    return arcs


COLUMNS = SAMPLE_COLUMNS[1:]
NAN = float("nan")
STAYED_PUT_M = 10.0  # a hall, a treadmill, a fixed position written for form's sake


class RecordedPoints:
    """Points as they are read, column by column. A new piece begins after lost signal or a stopped watch."""

    def __init__(self) -> None:
        self.seconds = array("d")  # since 1970
        self.columns = {name: array("d") for name in COLUMNS}
        self.piece = array("l")
        self._piece = 0
        self._most = MOST.points

    def __len__(self) -> int:
        return len(self.seconds)

    def begin_piece(self) -> None:
        self._piece += 1

    def add(self, seconds: float, values: Mapping[str, float]) -> None:
        if len(self.seconds) >= self._most:
            raise Unreadable(words.files.TOO_MANY_POINTS.format(most=self._most))
        self.seconds.append(seconds)
        self.piece.append(self._piece)
        for name, column in self.columns.items():
            column.append(values.get(name, NAN))


class Points:
    """A track in order of time, one point a moment, impossible values taken out."""

    def __init__(self, track: RecordedPoints, remarks: Remarks) -> None:
        seconds = np.array(track.seconds, dtype=np.float64)
        piece = np.array(track.piece, dtype=np.int64)
        columns = {name: np.array(column, dtype=np.float64) for name, column in track.columns.items()}
        kept = _set_clocks(seconds, remarks)
        self.unset_clock = 0 < len(seconds) != len(kept) <= 1
        order = kept[np.argsort(seconds[kept], kind="stable")]
        if (np.diff(order) < 0).any():
            remarks.add(words.files.POINTS_PUT_IN_ORDER)
        firsts, samples = _one_a_moment(seconds[order], {name: column[order] for name, column in columns.items()})
        self.seconds: Floats = seconds[order][firsts]
        self.piece: npt.NDArray[np.int64] = piece[order][firsts]
        samples["t_s"] = self.seconds
        self.samples = _without_null_island(mask_samples(samples))

    def __len__(self) -> int:
        return len(self.seconds)

    def part(self, chosen: slice) -> Points:
        """Some of the points, as a track of their own."""
        part = Points.__new__(Points)
        part.unset_clock = False
        part.seconds = self.seconds[chosen]
        part.piece = self.piece[chosen]
        part.samples = mask_samples({name: column[chosen] for name, column in self.samples.items()})
        return part


def with_ground(points: Points, start_seconds: float, remarks: Remarks) -> Samples:
    """The samples on the recording's own clock, with distance and speed filled in from the best that the file holds."""
    samples = dict(points.samples)
    samples["t_s"] = np.round(points.seconds - start_seconds, 3)
    counted = samples.pop("distance_m", None)
    ground = None
    if "lat_deg" in samples and _stayed_put(points):
        remarks.add(words.files.POSITIONS_DO_NOT_MOVE)
        del samples["lat_deg"], samples["lon_deg"]
    if "lat_deg" in samples and (counted is None or not _is_fine(counted)):
        ground = _walked_steps(samples["lat_deg"], samples["lon_deg"], points, remarks)
    if ground is None and counted is not None and np.nanmax(counted) > np.nanmin(counted):
        ground = _counted_steps(counted)
    if ground is None:
        return samples
    at, steps = ground
    samples["distance_m"] = _spread(len(points), at, np.concatenate(([0.0], np.cumsum(steps))))
    speed = _speed(points, at, steps)
    stated = samples.get("speed_mps")
    samples["speed_mps"] = speed if stated is None else np.where(np.isnan(stated), speed, stated)
    if np.isnan(samples["speed_mps"]).all():
        del samples["speed_mps"]
    return samples


def _set_clocks(seconds: Floats, remarks: Remarks) -> npt.NDArray[np.int64]:
    """Indices of the points whose clock was set."""
    earliest, latest = dated()
    kept = np.flatnonzero((seconds >= earliest) & (seconds <= latest))
    if len(kept) < len(seconds):
        remarks.add(words.files.POINTS_WITHOUT_CLOCK.format(seconds=len(seconds) - len(kept)))
    return kept


def _one_a_moment(seconds: Floats, columns: Samples) -> tuple[npt.NDArray[np.int64], Samples]:
    """Points of the same moment made one: the first says what it knows, the others fill in the rest."""
    firsts = np.flatnonzero(np.concatenate(([True], np.diff(seconds) > 0))) if len(seconds) else np.empty(0, np.int64)
    if len(firsts) == len(seconds):
        return firsts, columns
    group = np.cumsum(np.concatenate(([0], np.diff(seconds) > 0)))
    merged: Samples = {}
    for name, column in columns.items():
        known = np.flatnonzero(~np.isnan(column))[::-1]
        one = np.full(len(firsts), np.nan)
        one[group[known]] = column[known]  # the earliest is written last and stands
        merged[name] = one
    return firsts, merged


def _without_null_island(samples: Samples) -> Samples:
    """Position 0, 0 is a receiver without a fix."""
    lat, lon = samples.get("lat_deg"), samples.get("lon_deg")
    if lat is None or lon is None:
        return {name: column for name, column in samples.items() if name not in ("lat_deg", "lon_deg")}
    lost = np.isnan(lat) | np.isnan(lon) | ((lat == 0) & (lon == 0))
    if lost.all():
        return {name: column for name, column in samples.items() if name not in ("lat_deg", "lon_deg")}
    return samples | {"lat_deg": np.where(lost, np.nan, lat), "lon_deg": np.where(lost, np.nan, lon)}


def _is_fine(counted: Floats) -> bool:
    """Whether the device's count is there for half of the points or more, moves, and is finer than whole metres."""
    known = counted[np.isfinite(counted)]
    return 2 * len(known) >= len(counted) and known[-1] > known[0] and bool((known % 1.0 != 0).any())


def _counted_steps(counted: Floats) -> tuple[npt.NDArray[np.int64], Floats]:
    """Metres between points by the device's own count; a count that starts again with a lap goes on."""
    at = np.flatnonzero(np.isfinite(counted))
    return at, np.clip(np.diff(counted[at]), 0.0, None)


def _stayed_put(points: Points) -> bool:
    """Whether all positions lie in a box in which nobody exercises for long: what drift makes of one place."""
    lat, lon = points.samples["lat_deg"], points.samples["lon_deg"]
    at = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    if len(at) <= 1:
        return False
    minutes, box_m = default_limits().intake.at_one_place
    long = points.seconds[at[-1]] - points.seconds[at[0]] >= minutes * 60
    east = np.unwrap(lon[at], period=360.0) * np.cos(np.radians(lat[at[0]]))
    return bool(max(np.ptp(lat[at]), np.ptp(east)) * METRES_A_DEGREE < (box_m if long else STAYED_PUT_M))


def _walked_steps(
    lat: Floats, lon: Floats, points: Points, remarks: Remarks
) -> tuple[npt.NDArray[np.int64], Floats] | None:
    """Metres between positions. Over a break the straight line counts, unless only a vehicle could have done it."""
    at = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    if len(at) <= 1:
        return None
    steps = steps_m(lat[at], lon[at])
    carried = (np.diff(points.piece[at]) != 0) & (
        steps > default_limits().intake.gap_speed_mps * np.diff(points.seconds[at])
    )
    if carried.any():
        kilometres = steps[carried].sum() / 1000
        remarks.add(words.files.LEAPS_LEFT_OUT.format(kilometres=kilometres))
    return at, np.where(carried, 0.0, steps)


def _speed(points: Points, at: npt.NDArray[np.int64], steps: Floats) -> Floats:
    """Metres a second at the later of two points; unknown over a break."""
    speed = steps / np.diff(points.seconds[at])
    speed[np.diff(points.piece[at]) != 0] = np.nan
    least, most_ = default_limits().plausible.samples["speed_mps"]
    with np.errstate(invalid="ignore"):
        speed[(speed < least) | (speed > most_)] = np.nan
    return _spread(len(points), at[1:], speed)


def _spread(length: int, at: npt.NDArray[np.int64], values: Floats) -> Floats:
    whole = np.full(length, np.nan)
    whole[at] = values
    return whole


# Cadence in steps a minute, and moving time where a file has no timer.

GRID_SECONDS = 5.0
WALKS = frozenset({"walking", "hiking"})
ON_FOOT = frozenset({"running", *WALKS})
UNLABELLED = frozenset({"generic", "training"})


def in_steps(samples: Samples, sport: str, remarks: Remarks) -> Samples:
    """Cadence of one leg doubled to steps a minute, on foot and where the file has no label."""
    if (sport not in ON_FOOT and sport not in UNLABELLED) or not counts_one_leg(samples, sport):
        return samples
    remarks.add(words.files.CADENCE_DOUBLED)
    return samples | {"cadence_spm": samples["cadence_spm"] * 2}


def counts_one_leg(samples: Samples, sport: str) -> bool:
    """Whether the cadence is of strides (one leg), two steps each; devices of every format write the one or the other.

    A runner takes 140 steps or more and a walker 80 or more, so a median while moving under the limit of its pace (of
    its label, where no speed is known) can only be one leg. Without a label, a median speed that only wheels reach is
    taken for them; their turns are not steps.
    """
    cadence = samples.get("cadence_spm")
    pace = _pace(samples)
    if cadence is None or (pace == "wheels" and sport not in ON_FOOT):
        return False
    moving = cadence[cadence > 0]
    if pace == "unknown":
        pace = "walk" if sport in WALKS else "run"
    below = default_limits().intake.one_leg_below_spm
    return len(moving) > 0 and float(np.median(moving)) < below.get(pace, below["run"])


def _pace(samples: Samples) -> str:
    speed = samples.get("speed_mps")
    moving = speed[speed > default_limits().intake.standing_mps] if speed is not None else np.empty(0)
    if not len(moving):
        return "unknown"
    median = float(np.median(moving))
    if median > default_limits().intake.wheels_above_mps:
        return "wheels"
    return "walk" if median < default_limits().intake.walk_below_mps else "run"


def moving_seconds(samples: Samples, elapsed_s: float) -> float:
    """Elapsed time less the stops: stretches of `stop_seconds` or more in which the athlete stood, and longer ones in
    which the positions only drifted about one place.

    A gap in which ground was covered is lost signal and counts as moving; one that ends where it began is a stop. Where
    less than a tenth would be left, the positions tell nothing of moving (a hall, a room) and all of it counts.
    """
    distance = samples.get("distance_m")
    if distance is None:
        return elapsed_s
    known = np.flatnonzero(np.isfinite(distance))
    durations = np.diff(samples["t_s"][known])
    standing = np.diff(distance[known]) < default_limits().intake.standing_mps * durations
    standing |= _at_one_place(samples)[known[1:]]
    stops = _lengths_of_runs(standing, durations)
    stopped = float(stops[stops >= default_limits().intake.stop_seconds].sum())
    moving = elapsed_s - stopped
    return moving if moving >= 0.1 * elapsed_s else elapsed_s


def _at_one_place(samples: Samples) -> npt.NDArray[np.bool_]:
    """Points within a few minutes spent in a box of a few dozen metres: positions of a device at rest drift."""
    time_s = samples["t_s"]
    at_rest = np.zeros(len(time_s), dtype=np.bool_)
    lat, lon = samples.get("lat_deg"), samples.get("lon_deg")
    minutes, box_m = default_limits().intake.at_one_place
    if lat is None or lon is None or len(time_s) <= 1:
        return at_rest
    known = np.flatnonzero(np.isfinite(lat) & np.isfinite(lon))
    grid = np.arange(time_s[known[0]], time_s[known[-1]], GRID_SECONDS)
    rows = int(minutes * 60 / GRID_SECONDS)
    if len(grid) < rows:
        return at_rest
    after = np.clip(np.searchsorted(time_s[known], grid), 1, len(known) - 1)
    in_gap = np.diff(time_s[known])[after - 1] > default_limits().intake.stop_seconds
    north = np.interp(grid, time_s[known], lat[known]) * METRES_A_DEGREE
    east = np.interp(grid, time_s[known], np.unwrap(lon[known], period=360.0)) * METRES_A_DEGREE
    axes = tuple(np.where(in_gap, np.nan, axis) for axis in (north, east * np.cos(np.radians(lat[known[0]]))))
    sides = [np.ptp(np.lib.stride_tricks.sliding_window_view(axis, rows), axis=1) for axis in axes]
    begins = np.flatnonzero(np.nan_to_num(np.maximum(*sides), nan=np.inf) <= box_m)
    inside = np.zeros(len(grid) + 1, dtype=np.int64)
    np.add.at(inside, begins, 1)
    np.add.at(inside, begins + rows, -1)
    resting = np.cumsum(inside)[:-1] > 0
    for a, b in stretches(resting):  # on the way to the place and from it the athlete still moved
        away = np.hypot(*(axis[a:b] - np.median(axis[a:b]) for axis in axes)) > box_m / 4
        there = a + np.flatnonzero(~away) if not away.all() else np.array([a, b - 1])
        resting[a : there[0]] = resting[there[-1] + 1 : b] = False
    place = np.clip(np.rint((time_s - grid[0]) / GRID_SECONDS).astype(np.int64), 0, len(grid) - 1)
    at_rest[:] = resting[place]
    return at_rest


def _lengths_of_runs(flags: np.ndarray[tuple[int], np.dtype[np.bool_]], durations: Floats) -> Floats:
    """Seconds of each unbroken run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    total = np.concatenate(([0.0], np.cumsum(durations)))
    lengths: Floats = total[edges[1::2]] - total[edges[::2]]
    return lengths


# Laps, and which of them were pressed.

ALL_ALIKE = 0.02  # laps whose distances differ by no more were closed by the device, whatever it calls them
NAN = float("nan")


@dataclass(slots=True)
class Lap:
    """What a lap says of itself; NaN where it does not."""

    start: float | None  # seconds since 1970
    timer_s: float = NAN
    distance_m: float = NAN
    by_itself: bool = False  # closed by the device after a distance or a time
    avg_hr_bpm: float = NAN
    max_hr_bpm: float = NAN


def pressed(laps: Sequence[Lap], start: float, elapsed_s: float) -> tuple[float, ...]:
    """Seconds from the start to where a lap was ended by hand, or by a workout on the device.

    Devices and converters write laps of a kilometre as if they had been pressed: all of one length, but the last.
    """
    metres = np.array([lap.distance_m for lap in laps[:-1]])
    usual = float(np.median(metres)) if len(metres) > 1 else NAN
    if bool(np.all(np.abs(metres - usual) <= ALL_ALIKE * usual)):
        return ()
    ends = [(following.start or NAN) - start for lap, following in itertools.pairwise(laps) if not lap.by_itself]
    return tuple(round(end, 1) for end in sorted(ends) if 0 < end < elapsed_s)
