"""Lines that zigzag along mesh edges become smooth; lines that do not are left alone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import Delaunay

from addon.core import fair, layer, mesh, seams
from addon.core.model import SCORE, Sculpt
from addon.core.stock import Stock
from tests import shapes

# --- lines and meshes --------------------------------------------------------


def carpet(width, height, edge, jitter=0.0, seed=0):
    """Flat triangles (vertices (n, 2), faces) over a rectangle; jitter: of inner points, edges."""
    columns, rows = round(width / edge) + 1, round(height / edge) + 1
    points = np.stack(np.meshgrid(np.linspace(0, width, columns),
                                  np.linspace(0, height, rows)), axis=-1)
    shift = np.random.default_rng(seed).uniform(-jitter, jitter, (rows - 2, columns - 2, 2))
    points[1:-1, 1:-1] += edge * shift
    points = points.reshape(-1, 2)
    faces = Delaunay(points).simplices.astype(np.int64)
    _, area = mesh.face_normals(np.c_[points, 0 * points[:, 0]], faces)
    return points, faces[area > 1e-6 * edge**2]


def wound(points, faces):
    """The faces (m, 3) turned to look away from the z axis or, if flat, up."""
    normals, _ = mesh.face_normals(points, faces)
    out = points[faces].mean(axis=1) * (1, 1, 0) if np.ptp(points[:, 2]) else [(0, 0, 1)]
    return np.where((normals * out).sum(axis=1)[:, None] < 0, faces[:, ::-1], faces)


def honeycomb(edge, across):
    """Points (n, 2) of equilateral triangles over a square, and its faces."""
    i, j = np.meshgrid(np.arange(across / edge), np.arange(across / edge / 0.75**0.5))
    points = edge * np.stack([i + 0.5 * (j % 2), j * 0.75**0.5], axis=-1).reshape(-1, 2)
    return points, Delaunay(points).simplices


def shortest_path(points, faces, first, last, away):
    """Vertices of the path along edges that is short and stays where `away` (n,) is small."""
    start, end, _ = mesh.half_edges(faces)
    cost = np.linalg.norm(points[start] - points[end], axis=1) * (1 + 3 * (away[start] + away[end]))
    graph = csr_matrix((cost, (start, end)), shape=(len(points),) * 2)
    _, before = dijkstra(graph.maximum(graph.T), indices=first, return_predecessors=True)
    path = [last]
    while path[-1] != first:
        path.append(before[path[-1]])
    return np.array(path[::-1])


def nearest(points, place):
    return int(np.argmin(np.linalg.norm(points - np.asarray(place), axis=1)))


def stepped_line(edge, degrees):
    """A line of 150 mm as steps on equilateral triangles, ends on it: points (k, 2), its normal."""
    points, faces = honeycomb(edge, 170)
    along = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])
    first, last = nearest(points, (10, 10)), nearest(points, 10 + 150 * along)
    chord = points[last] - points[first]
    normal = np.array([-chord[1], chord[0]]) / np.linalg.norm(chord)
    away = np.abs((points - points[first]) @ normal) / edge
    return points[shortest_path(points, faces, first, last, away)], normal


def stepped_circle(edge, radius):
    """A circle as steps on equilateral triangles, about the origin, not closed (k, 2)."""
    points, faces = honeycomb(edge, 2 * radius + 8)
    points = points - points.mean(axis=0)
    away = np.abs(np.hypot(*points.T) - radius) / edge
    turn = np.arange(6) * np.pi / 3
    stops = [nearest(points, radius * np.array([np.cos(t), np.sin(t)])) for t in turn]
    parts = [shortest_path(points, faces, a, b, away)[:-1]
             for a, b in zip(stops, np.roll(stops, -1), strict=True)]
    return points[np.concatenate(parts)]


def in_space(points):
    return np.c_[points, np.zeros(len(points))]


def turning(curve):
    """Total turning of a polyline (k, d), degrees."""
    step = np.diff(curve, axis=0)
    step = step / np.linalg.norm(step, axis=1)[:, None]
    return np.degrees(np.arccos(np.clip((step[1:] * step[:-1]).sum(axis=1), -1, 1)).sum())


# --- the curve ---------------------------------------------------------------

TURN = np.linspace(0, 2 * np.pi, 25)
COIL = np.linspace(0, 6 * np.pi, 60)
CLEAN = {
    "circle": (100 * np.stack([np.cos(TURN), np.sin(TURN), 0 * TURN], 1)[:-1], True),
    "ellipse": (np.stack([120 * np.cos(TURN), 40 * np.sin(TURN), 0 * TURN], 1)[:-1], True),
    "arc": (100 * np.stack([np.cos(TURN / 4), np.sin(TURN / 4), 0 * TURN], 1), False),
    "helix": (np.stack([50 * np.cos(COIL), 50 * np.sin(COIL), 5 * COIL], 1), False),
    "line": (np.linspace((0, 0, 0), (90, 40, 10), 41), False),
    "wave": (np.stack([10 * COIL, 5 * np.sin(COIL), 0 * COIL], 1), False),
    "step": (np.array([(0, 0, 0), (20, 0, 0), (30, 3, 0), (50, 3, 0), (70, 3, 0.0)]), False),
    "chevrons": (np.array([(10 * k, 1.7 * (-1) ** k, 0) for k in range(20)]), False),
}


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_curve_stays_exactly_where_it_is(name):
    points, closed = CLEAN[name]
    assert np.array_equal(fair.fair(points, closed, 0.5), points)


@pytest.mark.parametrize("edge", [0.5, 1.0])
@pytest.mark.parametrize("degrees", [2, 15, 41, 57])
def test_a_stepped_line_becomes_straight(edge, degrees):
    points, normal = stepped_line(edge, degrees)
    off = np.abs((points - points[0]) @ normal).max()
    assert off > 0.4 * edge  # it does zigzag
    smooth = fair.fair(in_space(points), False, 0.5)[:, :2]
    assert np.abs((smooth - points[0]) @ normal).max() < 0.06
    assert mesh.polyline_length(smooth) == pytest.approx(
        np.linalg.norm(points[-1] - points[0]), rel=1e-3)
    assert np.array_equal(smooth[[0, -1]], points[[0, -1]])


@pytest.mark.parametrize("edge, radius", [(0.5, 25), (0.5, 80), (1.0, 80)])
def test_a_stepped_circle_becomes_round_and_does_not_shrink(edge, radius):
    points = stepped_circle(edge, radius)
    smooth = fair.fair(in_space(points), True, 0.5)[:, :2]
    assert np.abs(np.hypot(*points.T) - radius).max() > 0.4 * edge
    assert np.abs(np.hypot(*smooth.T) - radius).max() < 0.1
    ring = np.append(smooth, smooth[:1], axis=0)
    assert mesh.polyline_length(ring) == pytest.approx(2 * np.pi * radius, rel=1e-3)
    assert turning(ring) == pytest.approx(360 - 360 / len(smooth), abs=2)  # convex: no wiggle


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.02, 3.0), st.booleans(), st.integers(5, 90))
def test_no_point_is_moved_beyond_the_tolerance(seed, tolerance, closed, count):
    random = np.random.default_rng(seed)
    step = random.uniform(0.01, 2.0, count)
    points = np.c_[np.cumsum(step), random.normal(0, 0.5, (count, 2))]
    smooth = fair.fair(points, closed, tolerance)
    assert np.isfinite(smooth).all()
    assert np.linalg.norm(smooth - points, axis=1).max() <= tolerance * (1 + 1e-9)
    if not closed:
        assert np.array_equal(smooth[[0, -1]], points[[0, -1]])


def test_the_way_a_line_is_walked_and_held_makes_no_difference():
    """So mates, mirrored pieces and rings that start elsewhere get the same line."""
    points = in_space(stepped_circle(1.0, 40))
    smooth = fair.fair(points, True, 0.5)
    assert fair.fair(points[::-1], True, 0.5)[::-1] == pytest.approx(smooth, abs=1e-4)
    assert np.roll(fair.fair(np.roll(points, 17, axis=0), True, 0.5), -17, axis=0) == (
        pytest.approx(smooth, abs=1e-4))
    mirrored = points * (-1, 1, 1)
    assert fair.fair(mirrored, True, 0.5) * (-1, 1, 1) == pytest.approx(smooth, abs=1e-4)
    half, _ = stepped_line(1.0, 15)
    line = fair.fair(in_space(half), False, 0.5)
    assert fair.fair(in_space(half)[::-1], False, 0.5)[::-1] == pytest.approx(line, abs=1e-4)


def test_only_the_stretch_that_zigzags_moves():
    steps, _ = stepped_line(1.0, 15)
    steps = in_space(steps)
    last = steps[-1] - steps[-2]
    turn = np.linspace(0, 1.5, 16)[1:]
    arc = steps[-1] + 60 * np.stack([np.sin(turn), 1 - np.cos(turn), 0 * turn], 1)
    points = np.concatenate([steps, arc])
    smooth = fair.fair(points, False, 0.5)
    assert np.linalg.norm(last) < 1.1
    assert np.array_equal(smooth[-13:], points[-13:])
    assert np.linalg.norm(smooth[:100] - points[:100], axis=1).max() > 0.3


# --- on the pieces -----------------------------------------------------------


@pytest.fixture(scope="module")
def cylinder():
    """A dense cylinder of 60 mm with a zigzag seam along a helix: sculpt, length of the helix."""
    flat, faces = carpet(75, 55, 0.6, jitter=0.1)
    first, last = nearest(flat, (22, 0)), nearest(flat, (53, 55))
    chord = flat[last] - flat[first]
    away = np.abs((flat - flat[first]) @ [-chord[1], chord[0]]) / np.linalg.norm(chord)
    path = shortest_path(flat, faces, first, last, away)
    points = np.c_[60 * np.cos(flat[:, 0] / 60), 60 * np.sin(flat[:, 0] / 60), flat[:, 1]]
    edges = np.stack([path[:-1], path[1:]], axis=1)
    return shapes.sculpt((points, wound(points, faces)), edges), np.hypot(*chord)


def seam_edges(pattern):
    return [pattern.piece(code).edges[k] for code, k in pattern.mates[0].edges]


def test_both_mates_of_a_zigzag_seam_are_cut_along_one_smooth_line(checked, cylinder):
    """A helix on a cylinder is straight on the flat and keeps its length where mates touch."""
    sculpt, helix = cylinder
    rough, pattern = checked(sculpt, fairing=0.0), checked(sculpt)
    for edge in seam_edges(rough):
        assert turning(edge.cut) > 1500
        assert edge.length > 1.1 * helix
    for edge in seam_edges(pattern):
        assert turning(edge.cut) < 20
        assert edge.length == pytest.approx(helix, rel=1e-3)
        chord = edge.cut[-1] - edge.cut[0]
        off = (edge.cut - edge.cut[0]) @ [-chord[1], chord[0]] / np.hypot(*chord)
        assert np.abs(off).max() < 0.25
    (mate,) = pattern.mates
    assert mate.gap < 0.01
    assert mesh.polyline_length(mate.curve) == pytest.approx(helix, rel=1e-3)


def test_mates_share_their_points_in_space(cylinder):
    cut = seams.cut(cylinder[0], 0.5)
    (left, i), (right, j) = cut.seams[0].sides
    one, other = cut.regions[left].borders[i], cut.regions[right].borders[j]
    assert len(one.faired) == len(one.vertices)
    assert np.array_equal(one.faired, other.faired[::-1])
    assert np.array_equal(fair.curve(cut.regions[left], one), one.faired)


def test_the_line_is_a_map_of_the_regions_own_vertices(cylinder):
    """In space it gives the faired line but for its height over the faces."""
    cut = seams.cut(cylinder[0], 0.5)
    for region in cut.regions:
        for border in region.borders:
            carry = fair.border_map(region, border)
            assert np.asarray(carry.sum(axis=1)).ravel() == pytest.approx(1.0)
            line = carry @ region.vertices
            if border.seam < 0:
                assert np.array_equal(line, region.vertices[border.vertices])
            assert np.abs(line - fair.curve(region, border)).max() < 0.05
            assert np.array_equal(line[[0, -1]], region.vertices[border.vertices[[0, -1]]])
            assert np.abs(carry).max() < 4  # no face is carried on far beyond its edge


@pytest.mark.parametrize("side, radius", [("outer", 55.0), ("inner", 65.0)])
def test_lengths_of_a_faired_seam_on_the_neutral_layer(cylinder, side, radius):
    """A helix that climbs z and runs x round 60 mm: sqrt(z2 + (x r / 60)2) on the radius r."""
    cut = seams.cut(cylinder[0], 0.5)
    stock = Stock("foam", 10.0)
    layers = layer.layers(cut, [stock] * 2, [side] * 2, 0.3)
    for region, lay in zip(cut.regions, layers, strict=True):
        (border,) = [b for b in region.borders if b.seam >= 0]
        x, z, y = region.vertices[border.vertices[[0, -1]]].T[[0, 2, 1]]
        run = 60 * np.ptp(np.arctan2(y, x))
        lengths = fair.faired_lengths(region, lay.lengths, border)
        assert len(lengths) == len(border.vertices) - 1 and (lengths > 0).all()
        assert lengths.sum() == pytest.approx(np.hypot(np.ptp(z), run * radius / 60), rel=1e-3)


def test_lengths_of_a_line_left_alone_are_those_of_its_edges():
    shape = shapes.cap(150, np.radians(70), 12)
    cut = seams.cut(shapes.sculpt(shape, shapes.spokes(*shape)), 0.5)
    layers = layer.layers(cut, [Stock("foam", 10.0)] * 6, ["outer"] * 6, 0.3)
    for region, lay in zip(cut.regions, layers, strict=True):
        for border in region.borders:
            assert len(border.faired) == 0
            assert np.array_equal(fair.faired_lengths(region, lay.lengths, border),
                                  mesh.along(lay.lengths, border.half))


def test_banks_of_a_dart_stay_apart(checked):
    """Each bank is drawn with faces of its own side, so an opened dart opens on the flat too."""
    flat, faces = carpet(60, 60, 1.0, jitter=0.1, seed=2)
    radius = 90.0
    away = flat - 30
    far = np.maximum(np.hypot(*away.T), 1e-12)
    points = np.c_[away * (radius * np.sin(far / radius) / far)[:, None],
                   radius * np.cos(far / radius)]
    normals, _ = mesh.face_normals(points, faces)
    faces = np.where((normals[:, 2] < 0)[:, None], faces[:, ::-1], faces)
    tip, mouth = nearest(flat, (30, 30)), nearest(flat, (60, 43))
    chord = flat[mouth] - flat[tip]
    off = np.abs((flat - flat[tip]) @ [-chord[1], chord[0]]) / np.hypot(*chord)
    path = shortest_path(flat, faces, mouth, tip, off)
    sculpt = shapes.sculpt((points, faces), np.stack([path[:-1], path[1:]], axis=1))
    (region,) = seams.cut(sculpt, 0.5).regions
    banks = [b for b in region.borders if b.seam >= 0]
    assert len(banks) == 2 and all(len(b.faired) for b in banks)
    # Vertices left and right of the dart, away from its tip: none serves the other bank.
    tip_place = region.vertices[np.intersect1d(*(b.vertices for b in banks))[0]]
    used = []
    for bank in banks:
        carry = fair.border_map(region, bank).tocsr()
        rows = np.linalg.norm(bank.faired - tip_place, axis=1) > 4
        used.append(np.unique(carry[rows].indices))
    assert len(np.intersect1d(*used)) == 0
    pattern = checked(sculpt)
    lengths = pattern.mates[0].lengths
    assert lengths[0] == pytest.approx(lengths[1], rel=2e-3)


def test_a_zigzag_score_line_is_drawn_smooth(checked):
    flat, faces = carpet(50, 40, 0.6, jitter=0.1, seed=1)
    points = in_space(flat)
    first, last = nearest(flat, (6, 5)), nearest(flat, (45, 33))
    chord = flat[last] - flat[first]
    away = np.abs((flat - flat[first]) @ [-chord[1], chord[0]]) / np.hypot(*chord)
    path = shortest_path(flat, faces, first, last, away)
    sculpt = Sculpt.plain(points, wound(points, faces), np.stack([path[:-1], path[1:]], 1),
                          np.full(len(path) - 1, SCORE))
    rough = checked(sculpt, fairing=0.0).pieces[0].folds
    smooth = checked(sculpt).pieces[0].folds
    assert sum(turning(f.points) for f in rough) > 1000
    assert sum(turning(f.points) for f in smooth) < 20
    assert sum(mesh.polyline_length(f.points) for f in smooth) == pytest.approx(
        np.hypot(*chord), rel=2e-3)
