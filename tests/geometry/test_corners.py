"""Mitres round a point close, or are found open."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core import layer, mesh, seams
from addon.core.workable import junction_findings
from addon.core.workable.corners import junctions, mitre_ends, mitre_gaps
from tests import shapes

T = 10.0


def round_vertex(points, faces, vertex=0):
    """Distinct normals of a convex solid's faces round a vertex, in turn."""
    normals, _ = mesh.face_normals(points, faces[(faces == vertex).any(axis=1)])
    _, first = np.unique(normals.round(6), axis=0, return_index=True)
    normals = normals[first]
    axis = normals.mean(axis=0)
    u = np.cross(axis, [0.31, 0.52, 0.79])
    turn = np.arctan2(normals @ np.cross(axis / np.linalg.norm(axis), u), normals @ u)
    return normals[np.argsort(turn)]


# Cut-back of the inner face for 10 mm foam, t tan(fold / 2) with the solids' dihedral angles.
@pytest.mark.parametrize("name, cut_back", [
    ("cube", 10.000), ("octahedron", 7.071), ("dodecahedron", 6.180), ("icosahedron", 3.820)])
def test_mitres_of_regular_solids_end_in_one_point_at_the_known_cut_back(name, cut_back):
    normals = round_vertex(*shapes.platonic(name, 100))
    depths = np.tile([0.0, T], (len(normals), 1))
    assert mitre_gaps(normals, depths).max() < 1e-9
    ends = mitre_ends(normals, np.full(len(normals), -T))
    neighbour = np.roll(normals, -1, axis=0)
    edge = np.cross(normals, neighbour)
    across = np.cross(edge, normals)
    across /= np.linalg.norm(across, axis=1)[:, None]
    assert abs(np.einsum("ij,ij->i", ends, across)) == pytest.approx(cut_back, abs=6e-4)


@pytest.mark.parametrize("side", ["outer", "middle", "inner"])
@pytest.mark.parametrize("name", ["tetrahedron", "cube", "octahedron", "dodecahedron",
                                  "icosahedron"])
def test_checked_solids_have_no_open_corner(checked, name, side):
    sculpt = shapes.sculpt(shapes.platonic(name, 100))
    pattern = checked(sculpt, seam_angle=0.5, side=side)
    assert "corner-open" not in {f.code for f in pattern.findings}
    cut = seams.cut(seams.with_sharp_seams(sculpt, 0.5))
    assert len(list(junctions(cut))) == len(sculpt.vertices)


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0.2, 1.3), min_size=3, max_size=3),
       st.lists(st.floats(0.3, 1.8), min_size=3, max_size=3), st.floats(1, 20))
def test_three_pieces_always_close(tilts, steps, t):
    turn = np.cumsum(steps)
    normals = np.stack([np.sin(tilts) * np.cos(turn), np.sin(tilts) * np.sin(turn),
                        np.cos(tilts)], axis=1)
    assert mitre_gaps(normals, np.full((3, 2), t / 2)).max() < 1e-6 * t


def pyramid(length, width, height):
    corners = np.array([[length, width, 0], [-length, width, 0], [-length, -width, 0],
                        [length, -width, 0]]) / 2
    return np.concatenate([[[0, 0, height]], corners]), np.array(
        [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 1]])


@pytest.mark.parametrize("length, width, height", [(200, 60, 50), (120, 80, 60), (200, 120, 200)])
def test_four_pieces_of_an_oblong_pyramid_gape_as_their_planes_say(checked, length, width, height):
    """Opposite planes, t below faces sloping by a and b, meet t / cos a and t / cos b below the
    apex (derived): a piece's corner lies at the height where its neighbours meet."""
    pattern = checked(shapes.sculpt(pyramid(length, width, height)), seam_angle=0.1)
    (found,) = [f for f in pattern.findings if f.code == "corner-open"]
    assert found.vertices.tolist() == [0]
    sine = lambda run: height / np.hypot(height, run / 2)  # noqa: E731
    cosine = lambda run: run / 2 / np.hypot(height, run / 2)  # noqa: E731
    deep = T / cosine(width), T / cosine(length)
    x = (T - cosine(length) * deep[0]) / sine(length)
    y = (T - cosine(width) * deep[1]) / sine(width)
    gap = np.sqrt(x**2 + y**2 + (deep[0] - deep[1]) ** 2)
    told = float(re.search(r"([\d.]+) mm", found.message)[1])
    assert told == pytest.approx(gap, abs=0.06)


def test_a_square_pyramid_closes(checked):
    pattern = checked(shapes.sculpt(pyramid(100, 100, 60)), seam_angle=0.1)
    assert "corner-open" not in {f.code for f in pattern.findings}


@pytest.mark.parametrize("sides, slope, tilt, mitre", [
    (4, 15, 43.080, 14.511), (6, 15, 28.879, 8.499), (8, 30, 19.355, 11.701)])
def test_tapered_boxes_agree_with_compound_mitre_tables(checked, sides, slope, tilt, mitre):
    """Blade tilt and mitre of an n-sided box whose sides lean from the vertical, as printed in
    compound-mitre tables; asin(cos a sin(180/n)) and atan(sin a tan(180/n))."""
    turn = np.arange(sides) * 2 * np.pi / sides
    height = 80.0
    lean = height * np.tan(np.radians(slope)) / np.cos(np.pi / sides)
    ring = lambda r, z: np.column_stack([r * np.cos(turn), r * np.sin(turn), 0 * turn + z])  # noqa: E731
    points = np.concatenate([ring(100, 0), ring(100 + lean, height), [[0, 0, 0]]])
    i, j = np.arange(sides), np.roll(np.arange(sides), -1)
    faces = np.concatenate([np.stack([i, j, sides + j], 1), np.stack([i, sides + j, sides + i], 1),
                            np.stack([j, i, np.full(sides, 2 * sides)], 1)])
    pattern = checked(shapes.sculpt((points, faces)), seam_angle=0.1)
    assert "corner-open" not in {f.code for f in pattern.findings}
    walls = [p for p in pattern.pieces if len(p.faces) == 2]
    assert len(walls) == sides
    for wall in walls:
        angles = np.bincount(wall.faces.ravel(), np.degrees(mesh.corner_angles(
            np.column_stack([wall.flat, 0 * wall.flat[:, 0]]), wall.faces)).ravel())
        assert np.sort(angles) == pytest.approx(
            [90 - mitre] * 2 + [90 + mitre] * 2, abs=1e-3)
        upright = [e for e in wall.edges if e.mate and abs(
            np.degrees(e.bevel.mean()) - tilt) < 1e-3]
        assert len(upright) == 2


@pytest.mark.parametrize("degrees, expected", [(2.0, False), (10.0, True), (-10.0, True)])
def test_a_flat_corner_that_is_not_the_formed_one_is_found(checked, foam, degrees, expected):
    sculpt = seams.with_sharp_seams(shapes.sculpt(shapes.platonic("cube", 100)), 1.0)
    cut = seams.cut(sculpt)
    layers = layer.layers(cut, [foam] * 6, ["outer"] * 6, 0.3)
    pieces = list(checked(sculpt).pieces)
    lean = np.radians(degrees)
    along = pieces[0].edges[0].points
    u = (along[-1] - along[0]) / 100
    v = np.array([-u[1], u[0]])
    flat = pieces[0].flat
    pieces[0] = replace(pieces[0], flat=(flat @ u)[:, None] * u + (flat @ v)[:, None] * (
        np.sin(lean) * u + np.cos(lean) * v))
    found = junction_findings(cut, layers, pieces)
    corners = set(cut.regions[0].source_vertex) if expected else set()
    assert {int(f.vertices[0]) for f in found} == corners
    assert all(pieces[0].code in f.message for f in found)


def test_rims_and_seams_that_only_pass_are_no_junctions():
    shape = shapes.cap(150, np.radians(60), 12)
    cut = seams.cut(shapes.sculpt(shape, shapes.spokes(*shape)))
    (pole,) = junctions(cut)
    assert sorted(s.region for s in pole) == list(range(6))
    halves = seams.cut(shapes.sculpt(shape, shapes.spokes(*shape, 2)))
    assert list(junctions(halves)) == []
