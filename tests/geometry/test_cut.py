"""Cutting: topology, Gauss-Bonnet, and what belongs to what."""

import numpy as np
import pytest

from addon.core import mesh, seams
from addon.core.errors import FoamError
from addon.core.model import SCORE, SEAM, TRENCH, Sculpt
from tests import shapes


def defects(points, faces):
    """Angle defect (n,) at every vertex: 2 pi, or pi on the rim, less the angles there."""
    angles = mesh.corner_angles(points, faces)
    total = np.bincount(faces.ravel(), angles.ravel(), minlength=len(points))
    rim = np.zeros(len(points), dtype=bool)
    for loop in mesh.boundary_loops(faces):
        rim[faces.ravel()[loop]] = True
    return np.where(rim, np.pi, 2 * np.pi) - total


@pytest.mark.parametrize("shape, characteristic", [
    (shapes.cap(100, 1.0, 8), 1), (shapes.platonic("icosahedron", 50), 2),
    (shapes.cylinder(80, 1.0, 50), 1)])
def test_gauss_bonnet(shape, characteristic):
    """Angle defects and turning of the rim add up to 2 pi chi (Gauss-Bonnet)."""
    assert defects(*shape).sum() == pytest.approx(2 * np.pi * characteristic, abs=1e-9)


def test_angle_defects_agree_with_trimesh():
    trimesh = pytest.importorskip("trimesh")
    points, faces = shapes.platonic("dodecahedron", 40)
    assert np.allclose(defects(points, faces), trimesh.Trimesh(points, faces).vertex_defects)


def test_both_sides_of_a_seam_run_through_the_same_vertices():
    sculpt = seams.with_sharp_seams(
        shapes.sculpt(shapes.platonic("dodecahedron", 90)), np.radians(30))
    cut = seams.cut(sculpt)
    assert (len(cut.regions), len(cut.seams)) == (12, 30)
    for index, seam in enumerate(cut.seams):
        for side, ((r, b), order) in enumerate(zip(seam.sides, (1, -1), strict=True)):
            region = cut.regions[r]
            path = region.source_vertex[region.borders[b].vertices]
            assert (path[::order] == seam.vertices).all()
            assert region.borders[b].seam == index
            assert region.borders[b].forward == (side == 0)


def test_every_face_is_in_one_region_and_every_boundary_edge_in_one_border():
    shape = shapes.cap(150, 1.0, 12)
    sculpt = shapes.sculpt(shape, shapes.spokes(*shape))
    cut = seams.cut(sculpt)
    assert np.array_equal(np.sort(np.concatenate([r.source_face for r in cut.regions])),
                          np.arange(len(sculpt.faces)))
    for region in cut.regions:
        twin = mesh.twins(region.faces)
        edges = sum(len(b.vertices) - 1 for b in region.borders)
        assert edges == (twin < 0).sum()
        assert sorted(b for loop in region.loops for b in loop) == list(range(len(region.borders)))


def test_a_seam_that_ends_inside_opens_a_dart_with_two_equal_legs():
    points, faces = shapes.cap(150, 1.0, 12)
    spokes = shapes.spokes(points, faces)
    one = spokes[(points[spokes][:, :, 1] == 0).all(axis=1) & (points[spokes][:, :, 0] >= 0).all(1)]
    cut = seams.cut(shapes.sculpt((points, faces), one))
    (region,), (seam,) = cut.regions, cut.seams
    assert seam.sides[0][0] == seam.sides[1][0] == 0
    legs = [region.borders[b].vertices for _, b in seam.sides]
    assert len(legs[0]) == len(legs[1]) == 13
    assert len(set(legs[0]) & set(legs[1])) == 1  # the tip is left whole
    assert len(region.loops) == 1


def test_a_trench_splits_the_leaves_but_not_the_piece():
    points, faces, fold = shapes.roof(100, 60, 1.0)
    cut = seams.cut(shapes.sculpt((points, faces), trenches=fold))
    (region,) = cut.regions
    assert len(region.vertices) == len(points)
    assert region.leaf.max() + 1 == len(points) + len(fold) + 1
    (line,) = region.lines
    assert line.kind == TRENCH and len(line.vertices) == len(fold) + 1


def test_a_seam_overrides_a_trench_and_scores_stay():
    points, faces, fold = shapes.roof(100, 60, 1.0)
    across = np.array([[k, k + 1] for k in range(20)]) + 21 * 3
    sculpt = Sculpt.plain(points, faces, np.concatenate([fold, across]),
                          [SEAM | TRENCH] * len(fold) + [SCORE] * len(across))
    cut = seams.cut(sculpt)
    assert len(cut.regions) == 2
    assert [line.kind for r in cut.regions for line in r.lines] == [SCORE, SCORE]


def test_a_closed_part_is_refused_with_a_line_on_it_that_opens_it():
    points, faces = shapes.platonic("cube", 100)
    both = np.concatenate([points, points + 500])
    sculpt = seams.with_sharp_seams(shapes.sculpt((points, faces)), 0.5)
    sculpt = Sculpt.plain(both, np.concatenate([faces, faces + len(points)]), sculpt.edges,
                          sculpt.kinds)
    with pytest.raises(FoamError) as caught:
        seams.cut(sculpt)
    assert caught.value.finding.code == "closed-without-seam"
    line = caught.value.finding.edges
    assert len(line) and line.min() >= len(points)
    opened = Sculpt.plain(both, sculpt.faces, np.concatenate([sculpt.edges, line]),
                          np.append(sculpt.kinds, np.full(len(line), SEAM)))
    assert len(seams.cut(opened).regions) == 6 + 2


def test_a_loop_seam_without_corners_has_one_border_on_each_side():
    points, faces = shapes.cap(150, 1.0, 12)
    ring = np.arange(1 + 3 * 5 * 6, 1 + 3 * 6 * 7)  # the vertices of the sixth ring
    cut = seams.cut(shapes.sculpt((points, faces), np.stack([ring, np.roll(ring, -1)], 1)))
    assert len(cut.regions) == 2 and len(cut.seams) == 1
    for r, b in cut.seams[0].sides:
        path = cut.regions[r].borders[b].vertices
        assert path[0] == path[-1] and len(path) == len(ring) + 1


@pytest.mark.parametrize("jag", [0.0, 1.5])
def test_corners_are_found_and_small_steps_are_not(jag):
    along = np.arange(0, 101, 4.0)
    zigzag = jag * (np.arange(len(along)) % 2)
    points = np.concatenate([np.column_stack([along, zigzag]),
                             np.column_stack([100 + zigzag[1:], along[1:]])])
    assert mesh.corners(points, 8.0, np.radians(45)).tolist() == [len(along) - 1]
