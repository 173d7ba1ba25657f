"""Bends tighter than the foam is thick, and creases that carry no mark."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import bends
from addon.core.errors import NOTE
from addon.core.layer import layers
from addon.core.seams import cut
from tests import shapes

T = 10.0


@pytest.fixture
def bent(foam):
    """bent(shape, side) -> region, layer, the arguments of the stage for one piece."""

    def bend(shape, side="outer", noise=0.0, **marks):
        points, faces = shape
        points = points + noise * np.random.default_rng(7).normal(size=points.shape)
        whole = cut(shapes.sculpt((points, faces), **marks))
        return whole.regions[0], layers(whole, [foam] * len(whole.regions),
                                        [side] * len(whole.regions), 0.3)[0]

    return bend


def profile(turns, lengths, depth=60.0, rows=7):
    """A strip of flats with the given turns in degrees (convex positive) between them."""
    angle = np.concatenate([[0], np.cumsum(np.radians(turns))])
    step = np.array(lengths)[:, None] * np.stack([np.cos(angle), -np.sin(angle)], axis=1)
    line = np.concatenate([[[0, 0]], np.cumsum(step, axis=0)])
    points = [[x, y, z] for y in np.linspace(0, depth, rows) for x, z in line]
    return np.array(points), shapes.grid(len(line), rows)


def tube(radius):
    """Half a torus tube of the given radius on a ring of 60 mm, its outside out."""
    return shapes.surface(
        lambda a, b: ((60 + radius * np.cos(b)) * np.cos(a), (60 + radius * np.cos(b)) * np.sin(a),
                      radius * np.sin(b)),
        np.linspace(0, np.pi, 64), np.linspace(-np.pi / 2, np.pi / 2, 25))


def hollow(shape):
    return shape[0], shape[1][:, ::-1]


# --- tighter than the thickness ----------------------------------------------


@pytest.mark.parametrize("make", [tube, lambda r: shapes.cylinder(r, np.pi, 60, 41, 13)],
                         ids=["torus", "cylinder"])
@pytest.mark.parametrize("side, limit, turned", [
    # The face on the inside of the bend vanishes at R = t - depth of the sculpt's own face.
    ("outer", T, False), ("middle", T / 2, False), ("inner", T, True), ("middle", T / 2, True)])
@pytest.mark.parametrize("share, inverts", [(0.9, True), (1.15, False)])
def test_bends_invert_just_below_the_thickness(bent, foam, make, side, limit, turned, share,
                                               inverts):
    shape = make(share * limit)
    region, layer = bent(hollow(shape) if turned else shape, side)
    assert (len(bends.inversion(region, layer, foam, side)) > 0) == inverts


def test_bends_away_from_the_foam_never_invert(bent, foam):
    """A convex sculpt that is the inner face, a hollow one that is the outer face."""
    shape = shapes.cylinder(3, np.pi, 60, 41, 13)
    for turned, side in ((shape, "inner"), (hollow(shape), "outer")):
        assert len(bends.inversion(*bent(turned, side), foam, side)) == 0


def test_a_small_spot_may_be_too_tight(bent, foam):
    """A dimple of less than a t x t spot and of BEND_SHARE of the piece is let pass, a larger
    one is not: curvature of a Gaussian of height h and width w is h / w^2 at its top."""
    found = {}
    for width in (2.5, 30.0):
        height = 0.3 * width**2 / 2
        s = np.linspace(-150, 150, 201)
        bump = lambda x, y, h=height, w=width: (  # noqa: E731
            x, y, h * np.exp(-(x * x + y * y) / (2 * w * w)))
        shape = shapes.surface(bump, s, s)
        found[width] = len(bends.inversion(*bent(shape), foam, "outer"))
    assert found[2.5] == 0 < found[30.0]


def test_the_finding_names_the_faces_and_the_way_out(bent, foam):
    region, layer = bent(tube(8.0))
    (found,) = bends.findings(region, layer, foam, "outer", "A1")
    assert found.code == "tighter-than-thickness" and found.piece == "A1"
    assert set(found.faces) <= set(region.source_face) and len(found.faces) > 1000
    assert "thinner stock" in found.remedy


def test_a_bridged_spot_is_told_with_its_faces(bent, foam):
    region, layer = bent(tube(60.0))
    assert bends.findings(region, layer, foam, "outer", "A1") == []
    (found,) = bends.findings(region, replace(layer, bridged=[3, 4]), foam, "outer", "A1")
    assert found.code == "tight-spot" and found.severity == NOTE and found.piece == "A1"
    assert found.faces.tolist() == region.source_face[[3, 4]].tolist()


# --- creases -----------------------------------------------------------------


def roof(fold, count):
    return shapes.roof(100, 60, np.radians(fold), count + 1, count + 1)[:2]


@pytest.mark.parametrize("name, shape, fold", [
    ("box edge, 2 faces a side", roof(90, 2), 90),
    ("box edge, 20 faces a side", roof(90, 20), 90),
    ("blunt edge, 2 faces a side", roof(30, 2), 30),
    ("blunt edge, 20 faces a side", roof(30, 20), 30),
    ("blunt edge of a dense mesh", roof(30, 90), 30),
    ("valley", roof(-45, 8), -45),
    ("one fold amid flats", profile([0] * 3 + [30] + [0] * 3, [10] * 8), 30),
    ("a fold amid a gentle bend", profile([4] * 4 + [40] + [4] * 4, [10] * 10), 40),
    ("cube corner", roof(80, 1), 80),
])
def test_a_fold_that_its_neighbours_do_not_share_is_a_crease(bent, foam, name, shape, fold):
    region, layer = bent(shape)
    edges, folds = bends.creases(region, layer, foam)
    assert len(edges) and np.allclose(np.degrees(folds), fold, atol=6)
    x = region.vertices[edges][..., 0]
    assert np.allclose(x, x[0, 0], atol=1.0)  # all of them on the one line


@pytest.mark.parametrize("name, shape", [
    ("cylinder of 12 facets", shapes.cylinder(100, np.pi, 100, 7, 5)),
    ("ring of 12 facets, one face high", shapes.cylinder(100, 11 * np.pi / 6, 100, 12, 2)),
    ("hollow cylinder of 12 facets", hollow(shapes.cylinder(100, np.pi, 100, 7, 5))),
    ("fillet of three edges", profile([0] * 5 + [30] * 3 + [0] * 5, [10] * 6 + [5] * 2 + [10] * 6)),
    ("wide fillet", profile([0] * 5 + [30] * 3 + [0] * 5, [40] * 6 + [80] * 2 + [40] * 6)),
    ("bevel of two edges", profile([0] * 3 + [45] * 2 + [0] * 3, [10] * 9)),
    ("a bend that sets in slowly", profile([0, 10, 20, 30, 20, 10, 0], [10] * 8)),
    ("coarse sphere", (lambda p, f: (p, f[1:]))(*shapes.platonic("icosahedron", 60))),
    ("coarse cap", shapes.cap(60, 1.2, 3)),
    ("folds too slight to see", profile([0, 15, 0, -15, 0], [10] * 6)),
])
def test_facets_of_a_bend_are_no_creases(bent, foam, name, shape):
    assert len(bends.creases(*bent(shape), foam)[0]) == 0


@pytest.mark.parametrize("edge", [1.0, 2.0, 4.6])
@pytest.mark.parametrize("radius", [15, 40])
def test_noise_raises_no_creases(bent, foam, radius, edge):
    shape = shapes.cylinder(radius, np.pi, 60, int(radius * np.pi / edge), int(60 / edge))
    assert len(bends.creases(*bent(shape, noise=0.1), foam)[0]) == 0


def test_a_fillet_is_judged_by_its_radius(bent, foam):
    """Three edges of 30 degrees, w apart, turn as a circle of radius w / (pi / 6) does."""
    radii = []
    for width in (10.0, 20.0, 40.0):
        region, layer = bent(profile([0] * 5 + [30] * 3 + [0] * 5,
                                     [30] * 6 + [width] * 2 + [30] * 6))
        area = np.ones(len(region.faces))
        radii.append(bends.smallest_radius(region, layer, area, foam, "outer")[0] + T)
    assert radii == sorted(radii)
    assert 0.5 < radii[1] / (20 / (np.pi / 6)) < 1.5


def test_the_maker_is_asked_trench_or_seam(bent, foam):
    points, faces, fold = shapes.roof(100, 60, np.radians(60))
    (found,) = bends.findings(*bent((points, faces)), foam, "outer", "A1")
    assert found.code == "unmarked-fold" and "trench or seam?" in found.message
    assert {tuple(e) for e in np.sort(found.edges)} == {tuple(e) for e in np.sort(fold)}
    assert bends.findings(*bent((points, faces), trenches=fold), foam, "outer", "A1") == []


def test_a_trench_of_one_edge_is_a_mark_though_it_parts_no_faces(bent, foam):
    points, faces, fold = shapes.roof(100, 60, np.radians(60))
    (found,) = bends.findings(*bent((points, faces), trenches=fold[2:3]), foam, "outer", "A1")
    assert {tuple(e) for e in np.sort(found.edges)} == {
        tuple(e) for e in np.sort(np.delete(fold, 2, axis=0))}
