"""Outlines as Bézier curves: never far from their points, and as smooth as they are."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.export.curves import NEAR, at, curves, is_straight


def sampled(found, count=25):
    return np.concatenate([at(c, np.linspace(0, 1, count)) for c in found])


def apart(found, points, closed):
    """Hausdorff distance of the curves and the line through the points."""
    kind = shapely.LinearRing if closed else shapely.LineString
    a, b = kind(sampled(found)), kind(points)
    return max(float(shapely.distance(shapely.points(shapely.get_coordinates(
        shapely.segmentize(one, 0.2))), other).max()) for one, other in ((a, b), (b, a)))


def circle(radius, count):
    angle = 2 * np.pi * np.arange(count) / count
    return radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)


@settings(max_examples=25)
@given(st.integers(0, 10**6), st.integers(3, 40), st.floats(3, 300), st.booleans())
def test_curves_stay_near_any_line_and_join_end_to_end(seed, count, size, closed):
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, count)) + np.arange(count) * 1e-3
    points = rng.uniform(0.4, 1.0, (count, 1)) * size * np.stack(
        [np.cos(angle), np.sin(angle)], axis=1)
    found = curves(points, closed)
    assert apart(found, points, closed) < NEAR + 0.02  # points nearer than 0.02 mm are one
    assert np.array_equal(found[1:, 0], found[:-1, 3])
    if closed:
        assert np.allclose(found[-1, 3], found[0, 0])
    else:
        assert np.allclose((found[0, 0], found[-1, 3]), points[[0, -1]], atol=0.021)


def test_a_circle_takes_few_curves_that_run_on_without_a_kink():
    # The best four cubic curves miss a circle by 0.027 % of its radius (Goldapp, "Approximation of
    # circular arcs by cubic polynomials", 1991; from memory).
    points = circle(60.0, 180)
    found = curves(points, closed=True)
    assert 3 <= len(found) <= 10
    radius = np.hypot(*sampled(found).T)
    assert np.abs(radius - 60.0).max() < NEAR + 60.0 * (1 - np.cos(np.pi / 180))
    out, into = found[:, 1] - found[:, 0], found[:, 3] - found[:, 2]
    turn = np.arctan2(*out.T[::-1]) - np.roll(np.arctan2(*into.T[::-1]), 1)
    assert np.abs((turn + np.pi) % (2 * np.pi) - np.pi).max() < np.radians(0.5)


def test_corners_stay_and_sides_stay_straight():
    # A slot: two straight sides and two half circles, then a square.
    ends = circle(20.0, 120)
    slot = np.concatenate([ends[90:] + (50, 0), ends[:31] + (50, 0), ends[30:91] - (50, 0)])
    found = curves(slot, closed=True)
    straight = sum(float(np.hypot(*(c[3] - c[0]))) for c in found if is_straight(c))
    assert 170 < straight < 205  # two sides of 100 mm
    square = np.array([(0, 0), (10, 0), (20, 0), (20, 20), (0, 20)], dtype=float)
    found = curves(square, closed=True)
    assert len(found) == 4 and all(map(is_straight, found))
    assert {tuple(c[0]) for c in found} == {(0, 0), (20, 0), (20, 20), (0, 20)}


def test_what_is_no_line_has_no_curves():
    assert len(curves(np.array([(1.0, 2.0), (1.0, 2.001)]))) == 0
