"""Lines across the faces of coarse meshes do not change what the foam is told of the surface."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core import bends, formability, mesh
from addon.core.flatten import Draft
from addon.core.layer import layers
from addon.core.layer.uncut import surfaces
from addon.core.model import SEAM, TRENCH, Guide, Sculpt
from addon.core.seams import cut
from addon.core.stock import Limits, Stock
from addon.core.trace import lay
from tests import shapes

FOAM = Stock("foam", 10.0)


def ellipsoid(rings):
    points, faces = shapes.cap(1.0, 1.1, rings)
    return points * (100, 75, 60), faces


# Each coarse beside the foam: edges of one to three thicknesses.
COARSE = {
    "sphere": lambda: shapes.cap(100.0, 1.0, 6),
    "ellipsoid": lambda: ellipsoid(6),
    "cylinder": lambda: shapes.cylinder(80.0, 2.0, 200.0, 11, 10),
}


def section(points, faces, through, across):
    """The line (k, 3) in which a plane cuts a mesh."""
    edges, _ = mesh.edge_faces(faces)
    start, end, _ = mesh.half_edges(faces)
    rim = mesh.twins(faces) < 0
    edges = np.concatenate([edges, np.stack([start[rim], end[rim]], axis=1)])
    off = (points - through) @ across
    a, b = edges[off[edges[:, 0]] * off[edges[:, 1]] < 0].T
    line = points[a] + (points[b] - points[a]) * (off[a] / (off[a] - off[b]))[:, None]
    along = np.cross(across, points.mean(axis=0))
    return line[np.argsort(line @ along)]


def drawn(shape, corner, turn, share, kind=SEAM):
    """The shape with a line beside one of its inner corners, off by a share of an edge."""
    points, faces = shape
    middle = points.mean(axis=0)
    far = np.linalg.norm(points - middle, axis=1)
    at = points[np.argsort(far)[int(corner * 0.4 * len(points))]]
    edges, _ = mesh.edge_faces(faces)
    size = np.median(np.linalg.norm(points[edges[:, 0]] - points[edges[:, 1]], axis=1))
    up = mesh.vertex_normals(points, faces)[np.argmin(np.linalg.norm(points - at, axis=1))]
    one = np.cross(up, [0.3, 0.5, 0.8])
    one /= np.linalg.norm(one)
    across = np.cos(turn) * one + np.sin(turn) * np.cross(up, one)
    line = section(points, faces, at + share * size * across, across)
    return cut(lay(replace(Sculpt.plain(points, faces), guides=(Guide(line, kind),))), 0.5)


def one_layer(whole, stock=FOAM):
    count = len(whole.regions)
    return layers(whole, [stock] * count, ["outer"] * count, 0.3)


PLACES = dict(corner=st.floats(0, 0.99), turn=st.floats(0, np.pi),
              share=st.floats(-2.7, -0.3).map(lambda e: 10.0**e))


@pytest.mark.parametrize("name", COARSE)
@given(**PLACES, kind=st.sampled_from([SEAM, TRENCH]))
@settings(max_examples=15)
def test_a_line_anywhere_leaves_the_curvature_of_the_mesh_without_it(
        name, corner, turn, share, kind):
    """But for what a corner on a mark loses of its patch; slivers told up to 60 times as much."""
    shape = COARSE[name]()
    (plain,) = one_layer(cut(Sculpt.plain(*shape)))
    spare = 0.2 * plain.curvature.max()
    low, high = plain.curvature.min(axis=0) - spare, plain.curvature.max(axis=0) + spare
    whole = drawn(shape, corner, turn, share, kind)
    for region, lay_ in zip(whole.regions, one_layer(whole), strict=True):
        assert (lay_.curvature >= low).all() and (lay_.curvature <= high).all()
        assert bends.findings(region, lay_, FOAM, "outer", "P1") == []


@given(**PLACES)
@settings(max_examples=15)
def test_the_smallest_radius_on_a_coarse_sphere_is_its_own(corner, turn, share):
    """R - t for the inside of foam whose outer face is a sphere of radius R."""
    whole = drawn(COARSE["sphere"](), corner, turn, share)
    for region, lay_ in zip(whole.regions, one_layer(whole), strict=True):
        area = mesh.face_normals(region.vertices, region.faces)[1]
        radius, _ = bends.smallest_radius(region, lay_, area, FOAM, "outer")
        assert radius == pytest.approx(90.0, rel=0.01)


@given(**PLACES)
@settings(max_examples=15)
def test_points_of_a_line_lie_on_the_sphere_behind_the_facets(corner, turn, share):
    """The facets' middles lie up to 0.4 mm inside; to second order nothing is left of that."""
    whole = drawn(COARSE["sphere"](), corner, turn, share)
    found = surfaces(whole, [_corner(r) for r in whole.regions], [FOAM] * len(whole.regions))
    for region, surface, lift in zip(whole.regions, *found, strict=True):
        points = region.vertices[_corner(region)] + lift[:, None] * surface.normals
        assert np.linalg.norm(points, axis=1) == pytest.approx(100.0, abs=0.02)
        assert points / 100.0 == pytest.approx(surface.normals, abs=5e-3)


def _corner(region):
    """The vertex (c,) of every leaf corner."""
    corner = np.empty(int(region.leaf.max()) + 1, dtype=int)
    corner[region.leaf] = region.faces
    return corner


@pytest.mark.parametrize("share", [0.012, 0.1, 0.4])
def test_a_line_on_a_coarse_sphere_gets_the_verdict_of_a_fine_one(share):
    stock = replace(FOAM, cold=Limits(0.03, 0.05, 2.0), heated=Limits(0.08, 0.12, 2.0))
    found = {}
    for rings in (6, 30):
        points, faces = shapes.cap(100.0, 0.9, rings)
        # Both are cut along the same plane, beside a corner of the coarse one.
        line = section(points, faces, [100 * share * 0.15, 0, 0], np.array([1.0, 0, 0]))
        whole = cut(lay(replace(Sculpt.plain(points, faces), guides=(Guide(line),))), 0.5)
        verdicts = []
        for region, lay_ in zip(whole.regions, one_layer(whole, stock), strict=True):
            flat = Draft.of(region, lay_, stock).flat()
            verdicts.append(formability.judge(region, lay_, flat, stock, "outer"))
        found[rings] = sorted(verdicts, key=lambda verdict: verdict.heated)
    for coarse, fine in zip(found[6], found[30], strict=True):
        assert coarse.kind == fine.kind
        assert coarse.heated == pytest.approx(fine.heated, abs=0.03)
        assert coarse.radius == pytest.approx(fine.radius, rel=0.04)


def test_a_seam_drawn_along_the_fold_of_a_coarse_mesh_keeps_its_bevel():
    """Both wings are planes of 20 mm squares; a line through the corners on the fold."""
    points, faces, edges = shapes.roof(100, 80, np.radians(60), 6, 5)
    on = points[np.unique(edges)]
    whole = cut(lay(replace(Sculpt.plain(points, faces), guides=(Guide(on[[0, -1]]),))), 0.5)
    assert len(whole.regions) == 2
    for lay_ in one_layer(whole):
        (fold,) = [f for f in lay_.folds if f.any()]
        assert fold == pytest.approx(np.radians(60), abs=1e-6)


def test_a_crease_without_a_mark_is_not_rounded_by_a_line_across_it():
    """Faces that lean more from the surface than facets of a bend do are taken as they are."""
    points, faces, _ = shapes.roof(100, 80, np.radians(80), 6, 5)
    line = np.array([points[points[:, 0].argmin()], points[points[:, 2].argmin()]])
    line[:, 1] = 38.0
    whole = cut(lay(replace(Sculpt.plain(points, faces), guides=(Guide(line),))), 0.5)
    _, lifts = surfaces(whole, [_corner(r) for r in whole.regions], [FOAM] * 2)
    for lay_, region, lift in zip(one_layer(whole), whole.regions, lifts, strict=True):
        assert np.abs(lift).max() < 0.3
        assert [f.code for f in bends.findings(region, lay_, FOAM, "outer", "P1")] == [
            "unmarked-fold"]
