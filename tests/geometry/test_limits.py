"""Utilisation, bounds and verdicts at the limit: surfaces whose best flat is known.

Milnor, "A Problem in Cartography", Amer. Math. Monthly 76 (1969): no flat of a spherical cap of
polar angle a has max sigma / min sigma below a / sin a, and one reaches it.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from addon.core import layer, mesh, seams
from addon.core.flatten import Draft
from addon.core.flatten.bounds import ratio_bound, utilisation_of_ratio
from addon.core.stock import Limits, Stock
from tests import forming, shapes


def thin(compress, stretch):
    """Foam so thin that the sculpt is its layer, no spot is spared and any bend is wide."""
    heated = Limits(compress, stretch, 0.0)
    return Stock("skin", 1e-6, cold=Limits(compress / 4, stretch / 4, 0.0), heated=heated)


SKIN = thin(0.05, 0.10)


@pytest.fixture(scope="session")
def drafted():
    """drafted(shape, stock) -> the searched draft of a sculpt of one piece."""

    def draft(shape, stock=SKIN):
        cut = seams.cut(shapes.sculpt(shape))
        (region,), (lay,) = cut.regions, layer.layers(cut, [stock], ["outer"], web=0.3)
        return Draft.of(region, lay, stock)

    return draft


def ratio(draft):
    """max sigma / min sigma of the heated flat, over all its triangles."""
    points = draft.heated.points
    sigma = forming.singular_values(
        np.stack([points.real, points.imag], axis=1), draft.region.faces, draft.layer.lengths)
    assert sigma[:, 1].min() > 0
    return sigma[:, 0].max() / sigma[:, 1].min()


def milnor(angle):
    return angle / np.sin(angle)


def angle_asking(u, limits):
    """Polar angle of the cap whose best flat has utilisation u."""
    needed = (1 + limits.stretch * u) / (1 - limits.compress * u)
    return brentq(lambda a: milnor(a) - needed, 0.01, 3.1)


# --- spherical caps ----------------------------------------------------------


@pytest.mark.parametrize("degrees", [30, 60, 90])
def test_a_cap_reaches_milnors_bound_on_every_triangle_and_never_beats_it(drafted, degrees):
    rings, angle = 30, np.radians(degrees)
    draft = drafted(shapes.cap(150, angle, rings))
    assert len(draft.region.faces) >= 5000
    sampling = (angle / rings) ** 2 / 8  # sagitta of the facets over their half width, squared / 2
    assert 1 - sampling < ratio(draft) / milnor(angle) < 1.005


@pytest.mark.parametrize("compress, stretch, below, above", [
    (0.05, 0.10, 52.0, 54.0),  # a / sin a = (1 + s) / (1 - c) at 52.95 degrees
    (0.05, 0.05, 42.95, 44.95),  # at 43.95
    (0.00, 0.10, 41.91, 43.91),  # at 42.91: nothing is squeezed
    (0.10, 0.20, 72.09, 74.09)])  # at 73.09
def test_a_cap_is_formable_up_to_the_degree_that_milnor_allows(checked, compress, stretch,
                                                               below, above):
    stock = thin(compress, stretch)
    kinds = [checked(shapes.sculpt(shapes.cap(150, np.radians(a), 24)), stock=stock)
             .pieces[0].verdict.kind for a in (below, above)]
    assert kinds == ["heat", "relief"]


def test_utilisation_counts_squeeze_and_stretch_each_against_its_limit():
    sigma = np.array([[1.05, 0.99], [1.02, 0.90], [1.0, 1.0], [1.2, 0.0], [1.2, -0.5]])
    asked = Limits(0.05, 0.10, 0.0).utilisation(sigma)
    assert asked == pytest.approx([0.5, 2.0, 0.0, np.inf, np.inf])
    assert asked == pytest.approx(forming.utilisation(sigma, Limits(0.05, 0.10, 0.0)))
    assert np.isfinite(Limits(0.0, 0.0, 0.0).utilisation(sigma[:3])).all()


@pytest.mark.parametrize("compress, stretch", [(0.0, 0.05), (0.05, 0.0), (0.0, 0.0)])
def test_foam_that_takes_none_still_lies_flat_where_nothing_is_asked(checked, compress, stretch):
    piece = checked(shapes.sculpt(shapes.surface(
        lambda x, y: (x, y, 0 * x), np.linspace(0, 90, 10), np.linspace(0, 60, 7))),
        stock=thin(compress, stretch)).pieces[0]
    assert piece.verdict.kind == "flat"
    assert piece.verdict.cold == pytest.approx(0, abs=1e-3)


# --- other surfaces ----------------------------------------------------------


def spheroid(across, along, top):
    """Cap of a spheroid over the unit disc, its meridians evenly sampled, and its bound.

    The disc about the pole out to meridian length s has a rim of 2 pi r(s), so Milnor's argument
    asks for s / r; the map that keeps all meridians straight and as long asks no more than the
    largest of these.
    """
    t = np.linspace(0, top, 4001)
    speed = np.hypot(across * np.cos(t), along * np.sin(t))
    s = np.concatenate([[0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(t))])

    def surface(x, y):
        angle, turn = np.interp(np.hypot(x, y) * s[-1], s, t), np.arctan2(y, x)
        return (across * np.sin(angle) * np.cos(turn), across * np.sin(angle) * np.sin(turn),
                along * np.cos(angle))

    return surface, (s[1:] / (across * np.sin(t[1:]))).max()


@pytest.mark.parametrize("across, along, top", [
    (150, 100, 1.2), (150, 75, 1.4), (150, 60, np.pi / 2), (120, 180, 0.8)])
@pytest.mark.parametrize("meshing", ["regular", "jittered"])
def test_a_spheroid_needs_what_its_meridians_ask(drafted, across, along, top, meshing):
    surface, needed = spheroid(across, along, top)
    draft = drafted(shapes.raised(surface, shapes.disc(meshing, 24)))
    least = utilisation_of_ratio(needed, SKIN.heated)
    assert least < draft.heated.u < 1.03 * least


@pytest.mark.parametrize("curvature", [1, -1])
def test_a_small_disc_asks_a_sixth_of_its_curvature(drafted, curvature):
    """max / min = 1 + |K| rho^2 / 6 to leading order, dome or saddle: strains change sign with K
    (the linear term of a / sin a)."""
    k = 0.15
    dome = lambda x, y: (99 * x, 99 * y, 99 * k * (x * x + curvature * y * y) / 2)  # noqa: E731
    draft = drafted(shapes.raised(dome, shapes.disc("regular", 20)), thin(0.005, 0.01))
    assert ratio(draft) - 1 == pytest.approx(k**2 / 6, rel=0.04)


def cap(angle):
    def surface(x, y):
        r = np.hypot(x, y)
        across = np.where(r > 0, np.sin(angle * r) / np.where(r > 0, r, 1), angle)
        return 150 * across * x, 150 * across * y, 150 * np.cos(angle * r)

    return surface


def saddle(x, y):
    return 120 * x, 120 * y, 84 * (x * x - y * y)


def breastplate(x, y):
    swell = [np.exp(-((x - side) ** 2 + (y - 0.1) ** 2) / 0.12) for side in (-0.35, 0.35)]
    return 150 * x, 170 * y, 65 * sum(swell) - 40 * x * x


def torus(middle):
    def patch(x, y):
        round_, about = middle + 1.4 * x, 0.42 * y
        far = 200 + 60 * np.cos(round_)
        return far * np.cos(about), far * np.sin(about), 60 * np.sin(round_)

    return patch


SURFACES = pytest.mark.parametrize("surface", [
    saddle, breastplate, torus(0), torus(np.pi)],
    ids=["saddle", "breastplate", "outside of a torus", "inside of a torus"])


@SURFACES
def test_utilisation_is_that_of_a_finely_meshed_surface(drafted, surface):
    """Richardson extrapolation from two meshes; the error of linear elements goes with h^2."""
    at = {n: drafted(shapes.raised(surface, shapes.disc("regular", n))).heated.u for n in (20, 40)}
    fine = (4 * at[40] - at[20]) / 3
    found = drafted(shapes.raised(surface, shapes.disc("jittered", 30))).heated.u
    assert found == pytest.approx(fine, rel=0.02)


@pytest.mark.parametrize("surface", [cap(np.radians(55)), saddle, breastplate],
                         ids=["cap", "saddle", "breastplate"])
def test_utilisation_does_not_depend_on_the_triangulation(drafted, surface):
    found = [drafted(shapes.raised(surface, shapes.disc(meshing, 30))).heated.u
             for meshing in shapes.MESHINGS]
    assert max(found) < 1.02 * min(found)


# --- bounds ------------------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**31), st.sampled_from(shapes.MESHINGS), st.floats(0.05, 0.6))
def test_no_flat_has_less_than_its_ratio_bound(drafted, seed, meshing, height):
    rng = np.random.default_rng(seed)
    bumps = [(*rng.uniform(-1, 1, 2), rng.uniform(0.1, 0.8), rng.uniform(-height, height))
             for _ in range(4)]
    points, faces = shapes.disc(meshing, 8, seed)
    draft = drafted(shapes.raised(lambda x, y: (100 * x, 100 * y, 100 * sum(
        h * np.exp(-((x - a) ** 2 + (y - b) ** 2) / w) for a, b, w, h in bumps)), (points, faces)))
    rim = np.unique(np.concatenate([b.vertices for b in draft.region.borders]))
    best = ratio(draft)
    # What the bound measures on a flat holds for all flats, be this one good or bad.
    shadow = points[:, 0] + 1j * points[:, 1]
    for flat in (draft.cold.points, draft.heated.points, shadow):
        assert 1 <= ratio_bound(draft.system, flat, rim) <= best * (1 + 1e-9)


@pytest.mark.parametrize("degrees", [57, 70, 90])
@pytest.mark.parametrize("meshing", ["regular", "jittered"])
def test_a_cap_beyond_the_limit_is_proven_to_be(drafted, degrees, meshing):
    angle = np.radians(degrees)
    flat = drafted(shapes.raised(cap(angle), shapes.disc(meshing, 24))).flat()
    exact = utilisation_of_ratio(milnor(angle), SKIN.heated)
    assert max(1, 0.88 * exact) < flat.heated.bound < exact
    assert max(1, 0.97 * flat.heated.u) < flat.heated.certificate <= flat.heated.u


@pytest.mark.parametrize("surface", [saddle, breastplate], ids=["saddle", "breastplate"])
@pytest.mark.parametrize("meshing", shapes.MESHINGS)
def test_a_certificate_is_sharp_where_a_piece_fails(drafted, surface, meshing):
    heated = drafted(shapes.raised(surface, shapes.disc(meshing, 20))).flat().heated
    assert heated.u > 1
    assert 0.97 * heated.u < heated.certificate <= heated.u
    assert heated.bound <= heated.u


def test_a_verdict_that_needs_relief_carries_both_proofs(checked):
    pattern = checked(shapes.sculpt(shapes.cap(150, np.radians(65), 24)), stock=SKIN)
    verdict = pattern.pieces[0].verdict
    assert verdict.kind == "relief"
    assert 1 < verdict.bound < verdict.heated_bound <= verdict.heated


@pytest.mark.parametrize("u, code", [(1.1, "try-on-scrap"), (1.45, "try-on-scrap"),
                                     (1.55, "needs-relief"), (3.0, "needs-relief")])
def test_scrap_is_tried_up_to_one_and_a_half_times_the_limit(checked, u, code):
    cap = shapes.cap(150, angle_asking(u, SKIN.heated), 24)
    pattern = checked(shapes.sculpt(cap), stock=SKIN)
    assert pattern.pieces[0].verdict.heated == pytest.approx(u, rel=0.03)
    assert {f.code for f in pattern.findings} == {code}


# --- what is spared ----------------------------------------------------------


def spiked(side, *places):
    """A flat square on a 2 mm grid, with one vertex pulled up 5 mm at each place."""
    line = np.arange(0, side + 1, 2.0)
    points, faces = shapes.surface(lambda x, y: (x, y, 0 * x), line, line)
    for x, y in places:
        points[np.argmin(np.hypot(points[:, 0] - x, points[:, 1] - y)), 2] = 5.0
    return points, faces


def slopes(points, faces):
    return np.flatnonzero(points[faces][:, :, 2].max(axis=1) > 0)


@pytest.fixture
def judged(checked):
    """judged(shape, thickness) -> the verdict on foam that may bend as it likes, its layer on the
    sculpt."""

    def judge(shape, thickness):
        foam = Stock("foam", thickness, cold=Limits(0.02, 0.03, 0), heated=Limits(0.05, 0.10, 0))
        return checked(shapes.sculpt(shape), stock=foam, side="middle").pieces[0].verdict

    return judge


@pytest.mark.parametrize("side", [140, 80])
def test_a_spike_smaller_than_the_foam_is_thick_decides_nothing_but_is_named(judged, side):
    shape = spiked(side, (side / 2, side / 2))
    spike = slopes(*shape)
    area = mesh.face_normals(*shape)[1]
    assert area[spike].sum() < min(10**2, 0.01 * area.sum())
    verdict = judged(shape, 10.0)
    assert verdict.kind == "flat" and verdict.cold <= 1
    assert verdict.largest > 1 and verdict.at in spike


@pytest.mark.parametrize("side, thickness, places", [
    (120, 10.0, [(32, 32), (84, 84)]), (120, 8.0, [(32, 32), (84, 32), (60, 88)])])
def test_spikes_of_less_than_a_hundredth_of_the_piece_decide_nothing(judged, side, thickness,
                                                                     places):
    shape = spiked(side, *places)
    area, out = mesh.face_normals(*shape)[1], slopes(*shape)
    assert area[out].sum() < 0.01 * area.sum()
    assert area[out].sum() / len(places) < thickness**2
    verdict = judged(shape, thickness)
    assert verdict.kind in ("flat", "bend")  # three spikes are seen as a gentle bend
    assert verdict.cold <= 1 < verdict.largest and verdict.at in out


def test_two_spikes_of_more_than_a_hundredth_of_the_piece_decide(judged):
    shape = spiked(80, (24, 24), (56, 56))
    area = mesh.face_normals(*shape)[1]
    both = area[slopes(*shape)].sum()
    assert both / 2 < 10**2 and both > 0.01 * area.sum() > both / 2
    assert judged(shape, 10.0).kind == "relief"


def test_a_spike_larger_than_the_foam_is_thick_decides(judged):
    shape = spiked(100, (50, 50))
    area = mesh.face_normals(*shape)[1]
    assert 5**2 < area[slopes(*shape)].sum() < 0.01 * area.sum()
    assert judged(shape, 10.0).kind == "flat"
    verdict = judged(shape, 5.0)
    assert verdict.kind == "relief"
    assert verdict.heated < verdict.cold  # heat helps, however badly a search goes


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.floats(0, 0.6), st.floats(0, 0.4))
def test_spared_spots_are_those_of_a_search_through_every_value(seed, spared, spot):
    rng = np.random.default_rng(seed)
    faces = shapes.grid(7, 6)
    values, area = rng.uniform(0.1, 3, len(faces)), rng.uniform(0.2, 2, len(faces))
    spared, spot = spared * area.sum(), spot * area.sum()
    assert mesh.largest_but_spots(values, area, faces, spared, spot) == (
        forming.largest_allowing_spots(values, area, faces, spared, spot))


def test_a_spot_is_of_faces_that_touch_even_in_a_vertex_alone():
    faces = np.array([[0, 1, 2], [2, 3, 4], [5, 6, 7], [8, 9, 10]])
    values, area = np.array([4.0, 3.0, 2.0, 1.0]), np.ones(4)
    but = lambda *more: mesh.largest_but_spots(values, area, faces, *more)  # noqa: E731
    assert but(4.0, 2.0) == 0.0  # all may go: two that touch, and two alone
    assert but(4.0, 1.9) == 3.0  # the second touches the first
    assert but(1.5, 9.0) == 3.0
    assert but(0.0, 9.0) == but(9.0, 0.0) == 4.0
