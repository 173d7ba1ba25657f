"""Verdicts and findings on shapes whose answer is known."""

from dataclasses import replace

import numpy as np
import pytest

from addon.core import flatten, formability, layer, seams
from addon.core.errors import FoamError
from addon.core.stock import Limits, Stock
from tests import shapes


def kinds(pattern):
    return [p.verdict.kind for p in pattern.pieces]


def codes(pattern):
    return {f.code for f in pattern.findings}


@pytest.mark.parametrize("radius, kind", [(5000, "flat"), (200, "bend"), (45, "heat"),
                                          (25, "relief")])
def test_a_bend_is_judged_by_its_inside_radius(checked, radius, kind):
    """10 mm foam, smallest inside radii 50 cold and 20 heated; outer radius given."""
    arc = min(1.2, 150 / radius)
    pattern = checked(shapes.sculpt(shapes.cylinder(radius, arc, 100)))
    assert kinds(pattern) == [kind]
    if kind != "flat":
        assert pattern.pieces[0].verdict.radius == pytest.approx(radius - 10, rel=0.02)


@pytest.mark.parametrize("radius, kind", [(45, "heat"), (20, "relief")])
def test_the_worst_place_of_a_bend_is_where_it_is_tightest(checked, radius, kind):
    """A parabola z = -x^2 / 2 r has the radius r (1 + (x / r)^2)^(3/2), least at its top."""
    line = np.linspace(-60, 60, 49)
    shape = shapes.surface(lambda x, y: (x, y, -x * x / (2 * radius)), line, np.linspace(0, 90, 13))
    (piece,) = checked(shapes.sculpt(shape)).pieces
    assert piece.verdict.kind == kind
    at = shape[0][shape[1][piece.verdict.worst]].mean(axis=0)
    assert abs(at[0]) < 0.25 * radius
    assert piece.verdict.radius == pytest.approx(radius - 10, abs=0.06 * radius)


@pytest.mark.parametrize("degrees, relief", [(46, False), (60, True)])
def test_a_cap_is_judged_by_its_stretch(checked, degrees, relief):
    """-5 / +10 % takes an uncut cap up to 52.95 degrees (Milnor 1969, a / sin a = 1.1 / 0.95)."""
    pattern = checked(shapes.sculpt(shapes.cap(150, np.radians(degrees), 24)))
    assert (pattern.pieces[0].verdict.heated > 1) == relief
    assert (kinds(pattern) == ["relief"]) == relief
    found = codes(pattern) & {"needs-relief", "try-on-scrap", "needs-heat"}
    assert found == ({"try-on-scrap"} if relief else {"needs-heat"})


def test_a_dart_gives_relief(checked):
    shape = shapes.cap(150, np.radians(62), 24)
    spoke = shapes.spokes(*shape, number=1)
    whole, cut = checked(shapes.sculpt(shape)), checked(shapes.sculpt(shape, spoke))
    assert cut.pieces[0].verdict.heated < 0.8 * whole.pieces[0].verdict.heated
    (leg,) = cut.mates
    assert leg.edges[0][0] == leg.edges[1][0]
    assert leg.gap < 0.1


def test_every_number_of_a_verdict_comes_from_the_delivered_flat(checked):
    shape = shapes.cap(120, np.radians(50), 16)
    pattern = checked(shapes.sculpt(shape, shapes.spokes(*shape, number=2)))
    for piece in pattern.pieces:
        # Singular values of flat -> layer, each recomputed from areas: s1 s2 = layer / flat.
        a, b, c = (piece.flat[piece.faces[:, k]] for k in range(3))
        u, v = b - a, c - a
        flat_area = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
        total = (piece.stretch.prod(axis=1) * flat_area).sum()
        skin = sum(np.linalg.norm(np.cross(*(piece.vertices[f[1:]] - piece.vertices[f[0]]))) / 2
                   for f in piece.faces)
        assert total == pytest.approx(skin * (115 / 120) ** 2, rel=5e-3)
        assert piece.verdict.stretch == (piece.stretch[:, 1].min(), piece.stretch[:, 0].max())


@pytest.mark.parametrize("side, noise, seed", [("outer", 0.3, 1), ("inner", 0.6, 2)])
def test_the_kind_follows_from_the_utilisation_that_is_told(side, noise, seed):
    """On foam that takes just as much as the piece is said to ask, and a little more or less."""
    rng = np.random.default_rng(seed)
    points, faces = shapes.cap(60, np.radians(70), 14)
    points = points * (0.7, 1.2, 1.0) + rng.normal(0, noise, points.shape)
    foam = Stock("foam", 8.0, cold=Limits(1e-3, 1e-3, 0), heated=Limits(0.05, 0.10, 0))
    cut = seams.cut(shapes.sculpt((points, faces)))
    (region,), (lay,) = cut.regions, layer.layers(cut, [foam], [side], 0.3)
    flat = flatten.flatten(region, lay, foam)
    u = flat.heated.u
    assert u < foam.heated.utilisation(flat.sigma).max()  # some faces are spared
    for share, kind in ((1 + 1e-9, "heat"), (1 - 1e-9, "relief")):
        limits = Limits(0.05 * u * share, 0.10 * u * share, 0)
        verdict = formability.judge(region, lay, flat, replace(foam, heated=limits), side)
        assert verdict.kind == kind


def test_an_unmarked_fold_is_pointed_out_and_a_marked_one_is_not(checked):
    points, faces, fold = shapes.roof(100, 60, np.radians(70))
    assert "unmarked-fold" in codes(checked(shapes.sculpt((points, faces))))
    assert "unmarked-fold" not in codes(checked(shapes.sculpt((points, faces), trenches=fold)))
    assert "unmarked-fold" not in codes(checked(shapes.sculpt((points, faces), seams=fold)))


def test_a_bend_tighter_than_the_foam_is_thick_is_refused_by_name(checked):
    with pytest.raises(FoamError) as caught:
        checked(shapes.sculpt(shapes.cylinder(8, 2.0, 60)), stock=Stock("mat", 20.0))
    assert caught.value.finding.code == "tighter-than-thickness"
    assert len(caught.value.finding.faces) and caught.value.finding.remedy


def test_a_tube_is_judged_unfit_and_told_to_open(checked):
    shape = shapes.surface(
        lambda a, z: (80 * np.cos(a), 80 * np.sin(a), z),
        np.linspace(0, 2 * np.pi, 49), np.linspace(0, 200, 12))
    points, faces = shape
    ring = np.arange(len(points))
    ring[48::49] = ring[0::49]
    used, local = np.unique(ring[faces], return_inverse=True)
    pattern = checked(shapes.sculpt((points[used], local.reshape(-1, 3))))
    assert kinds(pattern) == ["relief"]
    (tube,) = [f for f in pattern.findings if f.code == "tube"]
    assert tube.severity == "error" and len(tube.edges) == 11  # straight from rim to rim


def test_a_handle_is_refused(checked):
    torus = shapes.surface(
        lambda a, b: ((200 + 60 * np.cos(b)) * np.cos(a), (200 + 60 * np.cos(b)) * np.sin(a),
                      60 * np.sin(b)),
        np.linspace(0, 2 * np.pi, 33), np.linspace(0, 2 * np.pi, 17))
    points, faces = torus
    index = np.arange(len(points)).reshape(17, 33)
    index[:, -1], index[-1] = index[:, 0], index[0]
    index[-1, -1] = 0
    faces = index.ravel()[faces][5:]  # a torus with a hole is still no disc
    used, local = np.unique(faces, return_inverse=True)
    with pytest.raises(FoamError) as caught:
        checked(shapes.sculpt((points[used], local.reshape(-1, 3))))
    assert caught.value.finding.code == "cannot-flatten"
    assert caught.value.finding.piece
