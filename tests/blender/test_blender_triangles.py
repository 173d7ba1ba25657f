"""Polygons with corners in a straight row are divided without triangles that have no area."""

import numpy as np
import pytest
import trimesh

bpy = pytest.importorskip("bpy", reason="Blender's Python module is not installed")

from addon.blender.triangles import THIN, triangles, widened  # noqa: E402


def polygon(points):
    mesh = bpy.data.meshes.new("polygon")
    mesh.from_pydata([(*p, 0.0) for p in points], [], [range(len(points))])
    return mesh


def areas(mesh):
    points = np.array([v.co for v in mesh.vertices])
    corners = points[triangles(mesh).vertices]
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])[:, 2] / 2


def in_rows(corners, *between):
    """A polygon with so many further points in a straight row on each side."""
    return np.concatenate([
        a + (b - a) * np.arange(count + 1)[:, None] / (count + 1)
        for a, b, count in zip(corners, np.roll(corners, -1, axis=0), between, strict=True)])


ROWS = {
    "one side": np.array([(0, 0), (1, 0), (2, 0), (2, 1), (0, 1)], dtype=float),
    "all sides": in_rows(np.array([(0, 0), (2, 0), (2, 2), (0, 2)], dtype=float), 1, 1, 1, 1),
    "a triangle": in_rows(np.array([(0.96, -0.25), (0.5, 0.9), (-0.6, -0.8)]), 0, 1, 4),
    "slanted": in_rows(np.array([(1, 0.1), (1, 0.3), (-0.1, 1), (0.4, -0.9), (0.9, -0.5)]),
                       2, 2, 2, 3, 2),
    "dense": in_rows(np.array([(-0.6, -0.8), (-0.4, -0.9), (1, -0.1), (1, 0)]), 3, 2, 2, 1),
}


@pytest.mark.parametrize("turn", range(3))
@pytest.mark.parametrize("row", ROWS)
def test_no_triangle_lies_on_a_straight_row_and_none_is_lost(row, turn):
    points = np.roll(ROWS[row], turn, axis=0)
    mesh = polygon(points)
    found = areas(mesh)
    x, y = points.T
    whole = float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2  # the shoelace formula
    assert len(found) == len(points) - 2
    assert found.min() > 1e-4
    assert found.sum() == pytest.approx(whole)


def test_a_face_without_any_area_stays_to_be_found_fault_with():
    mesh = polygon([(0, 0), (1, 0), (2, 0), (3, 0)])
    assert areas(mesh).tolist() == [0.0, 0.0]


def test_a_thin_triangle_gets_the_other_diagonal():
    places = np.array([(0, 0, 0), (1, 0, 0), (2, 0, 0), (1, 1, 0)], dtype=float)
    found = widened(np.array([(0, 1, 2), (0, 2, 3)]), np.array([0, 0]), places,
                    np.arange(4))
    assert sorted(map(sorted, found.tolist())) == [[0, 1, 3], [1, 2, 3]]
    assert THIN < 0.1


def test_a_sculpt_with_such_faces_is_read_without_slivers(add_object, read):
    sculpt, _ = read(add_object(
        "plate", [(x, y, 0.0) for x, y in ROWS["slanted"]], [range(16)]))
    assert len(sculpt.faces) == 14
    assert trimesh.Trimesh(sculpt.vertices, sculpt.faces).area_faces.min() > 100.0  # mm2 of 1 m2
