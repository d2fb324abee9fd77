"""Distances on the ellipsoid against published pairs, geographiclib itself and a second geodesy library."""

from __future__ import annotations

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pygeodesy.ellipsoidalVincenty import LatLon

from monitor.intake.gpx import read_gpx
from monitor.intake.track import steps_m
from monitor.values import IntakeOptions
from tests.xmlbytes import gpx


def step(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    return float(steps_m(np.array([lat1, lat2]), np.array([lon1, lon2]))[0])


@pytest.mark.parametrize(
    ("pair", "metres"),
    [
        ((0.0, 0.0, 0.0, 1.0), 111319.491),
        ((0.0, 0.0, 1.0, 0.0), 110574.389),
        ((45.0, 0.0, 45.0, 1.0), 78846.335),
        ((60.0, 0.0, 61.0, 0.0), 111420.728),
        ((89.0, 0.0, 90.0, 0.0), 111693.865),
    ],
)
def test_published_pairs_a_degree_apart(pair: tuple[float, float, float, float], metres: float) -> None:
    """A degree is a hundred times as far as anybody comes between two points that are believed."""
    assert step(*pair) == pytest.approx(metres, rel=1e-5)


def test_a_published_direct_problem() -> None:
    """(52, 13), azimuth 90, 1000 m -> (51.999999100100, 13.014560699970) (Karney 2013)."""
    assert step(52.0, 13.0, 51.999999100100, 13.014560699970) == pytest.approx(1000.0, abs=0.001)


@settings(max_examples=200, deadline=None)
@given(st.floats(-85.0, 85.0), st.floats(-180, 180), st.floats(0, 360), st.floats(0.01, 1000))
def test_short_ways_agree_with_geographiclib_to_a_fifth_of_a_millimetre(
    lat: float, lon: float, azimuth: float, metres: float
) -> None:
    end = Geodesic.WGS84.Direct(lat, lon, azimuth, metres)
    assert step(lat, lon, end["lat2"], end["lon2"]) == pytest.approx(metres, abs=2e-4)


@settings(max_examples=100, deadline=None)
@given(st.floats(-70.0, 70.0), st.floats(0, 360), st.floats(1000, 20_000))
def test_the_way_over_a_lost_signal_agrees_with_geographiclib_to_a_metre(
    lat: float, azimuth: float, metres: float
) -> None:
    end = Geodesic.WGS84.Direct(lat, 10.0, azimuth, metres)
    assert step(lat, 10.0, end["lat2"], end["lon2"]) == pytest.approx(metres, abs=1.0)


@pytest.mark.parametrize("lat", [-72.0, -33.9, 0.0, 27.7, 59.9, 69.6])
def test_short_ways_agree_with_pygeodesy(lat: float) -> None:
    start = LatLon(lat, 10.7)
    for bearing, metres in ((0, 3.1), (37, 12.5), (90, 250.0), (215, 999.0)):
        end = start.destination(metres, bearing)
        theirs = start.distanceTo(end)
        assert step(lat, 10.7, end.lat, end.lon) == pytest.approx(theirs, abs=1e-3)


@pytest.mark.parametrize("speed_mps", [1.4, 2.8, 5.0])
def test_speed_from_positions_is_the_speed_that_was_run(speed_mps: float) -> None:
    points, lat, lon = [], 59.91, 10.75
    for second in range(240):
        points.append({"t": second, "lat": lat, "lon": lon})
        end = Geodesic.WGS84.Direct(lat, lon, 1.5 * second, speed_mps)
        lat, lon = end["lat2"], end["lon2"]
    recording = read_gpx(gpx(points), IntakeOptions("Europe/Oslo")).recordings[0]
    np.testing.assert_allclose(recording.samples["speed_mps"][1:], speed_mps, atol=0.002)
    assert recording.distance_m == pytest.approx(239 * speed_mps, rel=1e-4)
