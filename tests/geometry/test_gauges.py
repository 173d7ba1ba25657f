"""Card gauges: the inner face's curve along lines of the flat."""

import numpy as np
import pytest
import shapely

from addon.core import make, mesh
from addon.core.model import Settings
from addon.core.stock import find_stock
from tests import shapes

STOCK = find_stock("eva-10")


def piece_of(shape, side="outer", **more):
    piece, = make.check(shapes.sculpt(shape, **more), Settings(STOCK, side=side)).pieces
    return piece


def circle_of(profile):
    """Radius of the circle through a profile by least squares, and the largest miss (mm)."""
    a = np.column_stack([2 * profile, np.ones(len(profile))])
    x, y, c = np.linalg.lstsq(a, (profile**2).sum(axis=1), rcond=None)[0]
    radius = np.sqrt(c + x * x + y * y)
    return radius, np.abs(np.hypot(*(profile - (x, y)).T) - radius).max()


@pytest.mark.parametrize("side, inner", [("outer", 90.0), ("middle", 95.0), ("inner", 100.0)])
def test_a_cylinder_has_one_arc_whose_radius_is_that_of_its_inner_face(side, inner):
    piece = piece_of(shapes.cylinder(100.0, 1.6, 150.0, 25, 13), side)
    gauge, = piece.gauges
    radius, miss = circle_of(gauge.profile)
    assert radius == pytest.approx(inner, abs=0.05) and miss < 0.05
    assert gauge.profile[len(gauge.profile) // 2, 1] > 0  # bulges outwards
    # The arc of the layer in the middle of the foam is what the line on the flat is long.
    turn = 2 * np.arcsin(gauge.profile[-1, 0] / 2 / inner)
    assert np.linalg.norm(gauge.line[1] - gauge.line[0]) == pytest.approx(
        turn * (inner + 5.0), rel=2e-3)


def test_a_hollow_curve_sinks_and_its_inner_face_has_the_larger_radius():
    vertices, faces = shapes.cylinder(100.0, 1.6, 150.0, 25, 13)
    gauge, = piece_of((vertices, faces[:, ::-1])).gauges
    radius, miss = circle_of(gauge.profile)
    assert radius == pytest.approx(110.0, abs=0.05) and miss < 0.05
    assert gauge.profile[len(gauge.profile) // 2, 1] < 0


def test_a_saddle_has_two_that_bend_opposite_ways():
    vertices, faces = shapes.surface(lambda u, v: (u, v, (u * u - v * v) / 500),
                                     np.linspace(-90, 90, 25), np.linspace(-80, 80, 23))
    gauges = piece_of((vertices, faces)).gauges
    assert len(gauges) == 2
    rises = sorted(g.profile[len(g.profile) // 2, 1] for g in gauges)
    assert rises[0] < -10 and rises[1] > 10
    one, other = (g.line[1] - g.line[0] for g in gauges)
    assert abs(one @ other) < 0.05 * np.linalg.norm(one) * np.linalg.norm(other)


def test_a_flat_piece_has_none():
    vertices, faces = shapes.surface(lambda u, v: (u, v, 0 * u), np.linspace(0, 100, 9),
                                     np.linspace(0, 90, 9))
    assert piece_of((vertices, faces)).gauges == ()


def test_a_gauge_keeps_off_trenches_and_inside_the_inner_face():
    vertices, faces, ridge = shapes.roof(120.0, 160.0, 0.9, rows=17)
    vertices[:, 2] -= (vertices[:, 1] - 80.0) ** 2 / 300
    piece = piece_of((vertices, faces), trenches=ridge)
    body = shapely.Polygon(piece.back[0])
    trench, = (shapely.LineString(f.points) for f in piece.folds)
    assert piece.gauges
    for gauge in piece.gauges:
        line = shapely.LineString(gauge.line)
        assert body.contains(line) and line.distance(trench) > 1.9


def test_mirrored_pieces_share_theirs():
    vertices, faces = shapes.cylinder(80.0, 1.2, 100.0, 13, 9)
    vertices = vertices + (0.0, 30.0, 0.0)
    count = len(vertices)
    both = np.concatenate([vertices, vertices * (1, -1, 1)])
    faces = np.concatenate([faces, faces[:, ::-1] + count])
    pieces = make.check(shapes.sculpt((both, faces)), Settings(STOCK)).pieces
    assert pieces[0].template == pieces[1].template
    one, other = (p.gauges[0] for p in pieces)
    assert np.array_equal(one.profile, other.profile)
    assert mesh.polyline_length(one.line) == pytest.approx(mesh.polyline_length(other.line))
