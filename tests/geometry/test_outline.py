"""Outlines, bevels and mates of finished pieces."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, LineString, Point, Polygon

from addon.core import edges, mesh
from addon.core.model import BACK, FRONT
from addon.core.stock import Stock
from tests import shapes


@pytest.mark.parametrize("side, front, back", [
    ("outer", 100.0, 80.0), ("middle", 110.0, 90.0), ("inner", 120.0, 100.0)])
def test_faces_of_a_boxs_plate(checked, side, front, back):
    """45 degree mitres: each 10 mm of foam takes 10 mm off every edge of the inner face."""
    pattern = checked(shapes.sculpt(shapes.platonic("cube", 100)), seam_angle=1.0, side=side)
    for piece in pattern.pieces:
        assert Polygon(piece.front[0]).area == pytest.approx(front**2, rel=1e-6)
        assert Polygon(piece.back[0]).area == pytest.approx(back**2, rel=1e-6)
        assert piece.area == pytest.approx(front**2, rel=1e-6)
        assert {e.larger for e in piece.edges} == {FRONT}


def test_a_concave_seam_is_cut_to_its_larger_back(checked):
    """The inner face is larger by t tan(|f| / 2): 10 tan 30 = 5.774 mm."""
    points, faces, fold = shapes.roof(100, 60, -np.radians(60))
    pattern = checked(shapes.sculpt((points, faces), fold))
    for piece in pattern.pieces:
        (mated,) = [e for e in piece.edges if e.mate]
        assert mated.larger == BACK
        assert np.degrees(mated.bevel) == pytest.approx(-30, abs=1e-6)
        assert Polygon(piece.front[0]).area == pytest.approx(6000, rel=1e-6)
        assert piece.area == pytest.approx(60 * (100 + 10 * np.tan(np.radians(30))), rel=1e-6)


def test_the_cut_line_covers_both_faces(checked):
    shape = shapes.cap(150, np.radians(70), 20)
    pattern = checked(shapes.sculpt(shape, shapes.spokes(*shape)))
    for piece in pattern.pieces:
        cut = Polygon(piece.cut[0]).buffer(1e-3)
        assert cut.covers(Polygon(piece.front[0])) and cut.covers(Polygon(piece.back[0]))
        assert LinearRing(piece.cut[0]).is_ccw and LinearRing(piece.cut[0]).is_simple


def test_mates_of_a_wall_and_its_flat_lid_meet_on_the_line_where_they_touch(checked):
    """Flat, the wall is 2 pi t / 2 = 31.4 mm shorter than the lid's rim (derived); formed, both
    are the circle of the outer face, 2 pi 100."""
    columns = 96
    turn = np.arange(columns) * 2 * np.pi / columns
    rings = [np.column_stack([100 * np.cos(turn), 100 * np.sin(turn), np.full(columns, z)])
             for z in (-80, -60, -40, -20, 0.0)]
    lid = [np.column_stack([r * np.cos(turn), r * np.sin(turn), np.zeros(columns)])
           for r in (75, 50, 25)]
    points = np.concatenate([*rings, *lid, [[0, 0, 0.0]]])
    i, j = np.arange(columns), np.roll(np.arange(columns), -1)
    bands = np.concatenate([np.concatenate([
        np.stack([k * columns + i, k * columns + j, (k + 1) * columns + j], 1),
        np.stack([k * columns + i, (k + 1) * columns + j, (k + 1) * columns + i], 1)])
        for k in range(7)])
    hub = len(points) - 1
    fan = np.stack([7 * columns + i, 7 * columns + j, np.full(columns, hub)], 1)
    rim = np.stack([4 * columns + i, 4 * columns + j], 1)
    open_wall = np.array([[k * columns, (k + 1) * columns] for k in range(4)])
    pattern = checked(shapes.sculpt((points, np.concatenate([bands, fan])),
                                    np.concatenate([rim, open_wall])))
    wall, plate = sorted(pattern.pieces, key=lambda p: -len(p.edges))
    (joint,) = [m for m in pattern.mates if m.edges[0][0] != m.edges[1][0]]
    assert joint.lengths == pytest.approx(2 * np.pi * 100, rel=1e-3)
    assert joint.gap < 0.3
    drawn = {code: mesh.polyline_length(pattern.piece(code).edges[e].points)
             for code, e in joint.edges}
    assert drawn[plate.code] - drawn[wall.code] == pytest.approx(2 * np.pi * 5, abs=0.5)


@pytest.mark.parametrize("count", [9, 17, 33])
def test_curves_through_points_of_a_circle_stay_on_it(count):
    turn = np.linspace(0, np.pi, count)
    points = 100 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    curve, carried = edges.smooth(points, turn[:, None], ring=False)
    inner = (carried[:, 0] > turn[1]) & (carried[:, 0] < turn[-2])
    away = np.abs(np.hypot(*curve.T) - 100)
    # A Catmull-Rom arc of angle a leaves its circle by 9 r a^4 / 384 (Taylor series).
    assert away[inner].max() <= 100 * (np.pi / (count - 1)) ** 4 * 9.3 / 384
    chord = np.linalg.norm(np.diff(curve, axis=0), axis=1)
    assert (chord**2 / (8 * 100)).max() < 0.05  # sagitta of what is drawn


@settings(max_examples=25, deadline=None)
@given(st.floats(-70, 70), st.sampled_from(["outer", "middle", "inner"]), st.floats(2, 20))
def test_both_faces_differ_by_the_thickness_times_the_bevels_tangent(checked, degrees, side, t):
    points, faces, fold = shapes.roof(150, 90, np.radians(degrees), columns=5, rows=4)
    pattern = checked(shapes.sculpt((points, faces), fold), stock=Stock("foam", t), side=side)
    for piece in pattern.pieces:
        gain = Polygon(piece.front[0]).area - Polygon(piece.back[0]).area
        assert gain == pytest.approx(90 * t * np.tan(np.radians(degrees) / 2), abs=0.02 * 90)


def test_holes_stay_holes(checked):
    x = np.linspace(0, 120, 13)
    points, faces = shapes.surface(lambda u, v: (u, v, 0 * u), x, x)
    middle = points[faces].mean(axis=1)
    ring = np.abs(middle[:, :2] - 60).max(axis=1) > 20
    used, local = np.unique(faces[ring], return_inverse=True)
    (piece,) = checked(shapes.sculpt((points[used], local.reshape(-1, 3)))).pieces
    assert len(piece.cut) == 2
    assert piece.area == pytest.approx(120**2 - 40**2, rel=1e-6)
    assert not LinearRing(piece.cut[1]).is_ccw
    assert Polygon(piece.cut[1]).contains(Point(*Polygon(piece.cut[0]).centroid.coords[0]))


def twisted(rows, near, far, length=200.0, width=40.0):
    """Two wings along y whose fold goes evenly from `near` to `far` degrees, and their seam."""
    y, u = np.linspace(0, length, rows), np.linspace(-width, width, 17)
    fold = np.radians(near + (far - near) * y / length)[:, None]
    out = np.maximum(u, 0.0)
    x, z = np.minimum(u, 0.0) + out * np.cos(fold), -out * np.sin(fold)
    points = np.stack([x, np.broadcast_to(y[:, None], x.shape), z], axis=-1).reshape(-1, 3)
    line = 8 + 17 * np.arange(rows)
    return (points, shapes.grid(17, rows)), np.stack([line[:-1], line[1:]], axis=1)


@pytest.mark.parametrize("rows", [5, 21])
@pytest.mark.parametrize("side, reach", [("outer", (0.0, 10.0)), ("middle", (5.0, 5.0))])
def test_a_bevel_varies_along_a_seam_as_its_fold_does(checked, rows, side, reach):
    """Half of the fold, and the larger face's outline t tan(f / 2) beside the seam, also between
    the points of the sculpt, where the fold changes from hollow to convex."""
    shape, seam = twisted(rows, -30.0, 50.0)
    pattern = checked(shapes.sculpt(shape, seam), stock=Stock("foam", 10.0), side=side)
    assert len(pattern.pieces) == 2
    for piece in pattern.pieces:
        (edge,) = [e for e in piece.edges if e.mate]
        bevel = np.radians(-15.0 + 40.0 * edge.fraction)
        assert edge.bevel == pytest.approx(bevel, abs=np.radians(0.7))
        away = np.linalg.norm(edge.cut - edge.points, axis=1)
        middle = np.tan((edge.bevel[:-1] + edge.bevel[1:]) / 2)
        larger = np.maximum(reach[0] * middle, -reach[1] * middle)
        assert (away[:-1] + away[1:]) / 2 == pytest.approx(larger, abs=0.05)


def test_normals_of_a_circle_point_away_from_its_middle_however_unevenly_it_is_drawn():
    rng = np.random.default_rng(5)
    turn = np.cumsum(rng.uniform(0.02, 0.2, 25))  # counter-clockwise: foam on the left, inside
    circle = 40 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for curve in (circle, np.concatenate([circle[:1], circle[[3, 8, 14, 20]], circle[:1]])):
        off = np.einsum("ij,ij->i", edges.outward(curve), curve) / 40
        exact = 0.002 if curve is circle else 0.2  # second order in the angle of a step
        assert off == pytest.approx(np.ones(len(off)), abs=exact)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**31), st.booleans(), st.floats(1.0, 60.0))
def test_a_drawn_curve_keeps_to_a_twentieth_of_a_millimetre(seed, ring, size):
    """Of the same curve drawn as finely as it goes, and as finely set off by its bevel."""
    rng = np.random.default_rng(seed)
    points = np.cumsum(rng.uniform(-1, 1, (6, 2)) + (1.2, 0), axis=0) * size
    if ring:
        turn = 2 * np.pi * np.arange(8) / 8
        points = size * rng.uniform(0.7, 1.3, (8, 1)) * np.stack([np.cos(turn), np.sin(turn)], 1)
        points = np.concatenate([points, points[:1]])
    bevel = rng.uniform(-0.7, 0.7, (len(points), 1))
    with pytest.MonkeyPatch.context() as patch:
        drawn, carried = edges.smooth(points, bevel, ring)
        patch.setattr(edges, "CHORD", 1e-6)
        fine, exact = edges.smooth(points, bevel, ring)
    assert LineString(drawn).hausdorff_distance(LineString(fine)) <= 0.05
    assert np.abs(np.diff(carried[:, 0])).max() <= np.radians(2.5)
    place, whole = mesh.arc_length(drawn), mesh.arc_length(fine)
    assert np.interp(whole / whole[-1], place / place[-1], carried[:, 0]) == pytest.approx(
        exact[:, 0], abs=np.radians(0.5))
