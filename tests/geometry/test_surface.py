"""The smooth surface behind the facets: closed forms, noise, and libigl where it is installed."""

import numpy as np
import pytest

from addon.core import mesh
from addon.core.layer import fit_surface, layers, rest_lengths
from addon.core.seams import cut
from tests import shapes

T = 10.0
SEED = 20


def noisy(shape, size=0.1):
    """The shape with normally distributed noise of `size` mm in every direction."""
    points, faces = shape
    return points + size * np.random.default_rng(SEED).normal(size=points.shape), faces


def inner(points, faces):
    """Mask of the vertices off the rim."""
    mask = np.ones(len(points), dtype=bool)
    start, end, _ = mesh.half_edges(faces)
    rim = mesh.twins(faces) < 0
    mask[start[rim]] = mask[end[rim]] = False
    return mask


# Principal curvatures of surfaces given by height or angle: any text of differential geometry
# (do Carmo 1976, 3.3). Each row: name, grid, (larger, smaller) at its vertices.

def torus(columns=81, rows=41, ring=120.0, tube=40.0):
    """Half a torus; 1/r and cos b / (R + r cos b)."""
    around, b = np.linspace(0, np.pi, columns), np.linspace(-np.pi, 0, rows)
    shape = shapes.surface(
        lambda a, v: ((ring + tube * np.cos(v)) * np.cos(a), (ring + tube * np.cos(v)) * np.sin(a),
                      tube * np.sin(v)), around, b)
    b = np.repeat(b, columns)
    return shape, np.stack([np.full(len(b), 1 / tube), np.cos(b) / (ring + tube * np.cos(b))], 1)


def graph(height, first, second, size=41, half=40.0):
    """z = height(x, y); curvature from the first and second derivatives."""
    s = np.linspace(-half, half, size)
    points, faces = shapes.surface(lambda x, y: (x, y, height(x, y)), s, s)
    x, y, _ = points.T
    (p, q), (r, c, t) = first(x, y), second(x, y)
    w = 1 + p * p + q * q
    mean = ((1 + q * q) * r - 2 * p * q * c + (1 + p * p) * t) / (2 * w**1.5)
    gauss = (r * t - c * c) / w**2
    spread = np.sqrt(np.maximum(mean**2 - gauss, 0))
    return (points, faces), np.stack([-mean + spread, -mean - spread], axis=1)


def saddle():
    zero = np.zeros_like
    return graph(lambda x, y: x * y / 80, lambda x, y: (y / 80, x / 80),
                 lambda x, y: (zero(x), zero(x) + 1 / 80, zero(x)))


def ellipsoid(a=100.0, b=75.0, c=60.0):
    """z = c sqrt(1 - x^2/a^2 - y^2/b^2)."""
    root = lambda x, y: np.sqrt(1 - (x / a)**2 - (y / b)**2)  # noqa: E731
    return graph(
        lambda x, y: c * root(x, y),
        lambda x, y: (-c * x / a**2 / root(x, y), -c * y / b**2 / root(x, y)),
        lambda x, y: (-c / a**2 / root(x, y) * (1 + (x / a / root(x, y))**2),
                      -c * x * y / (a * b)**2 / root(x, y)**3,
                      -c / b**2 / root(x, y) * (1 + (y / b / root(x, y))**2)))


@pytest.mark.parametrize("surface", [torus, saddle, ellipsoid])
@pytest.mark.parametrize("thickness, tolerance", [(0.0, 0.02), (T, 0.05)])
def test_principal_curvatures_have_their_closed_forms(surface, thickness, tolerance):
    """Foam sees the mean over cells of a third of its thickness, so less exactly near rims."""
    shape, expected = surface()
    error = np.abs(fit_surface(*shape, thickness).curvature - expected).max(axis=1)
    error /= np.abs(expected).max()
    assert error[inner(*shape)].max() < tolerance
    assert np.quantile(error, 0.9) < 0.6 * tolerance
    assert error.max() < 0.07


@pytest.mark.parametrize("radius", [20, 60])
@pytest.mark.parametrize("columns", [13, 25, 145])
def test_coarse_and_dense_cylinders_have_their_radius(radius, columns):
    shape = shapes.cylinder(radius, np.pi, 60, columns, 13)
    assert fit_surface(*shape, T).curvature == pytest.approx(
        np.tile([1 / radius, 0], (len(shape[0]), 1)), abs=0.015 / radius)


@pytest.mark.parametrize("rings", [8, 20, 60])
def test_coarse_and_dense_spheres_have_their_radius_and_normals(rings):
    points, faces = shapes.cap(30, 1.0, rings)
    fit = fit_surface(points, faces, T)
    assert np.allclose(fit.curvature * 30, 1, atol=0.01)
    assert np.allclose(fit.normals, points / 30, atol=2e-3)


@pytest.mark.parametrize("edge, tolerance", [(1.0, 0.03), (2.0, 0.05), (4.6, 0.10)])
def test_a_tenth_of_a_millimetre_of_noise_leaves_the_radius(edge, tolerance):
    """99 of 100 places of a noisy cylinder and sphere, at the radius that foam cares about."""
    r = 5 * T
    cylinder = noisy(shapes.cylinder(r, np.pi, 100, int(r * np.pi / edge), int(100 / edge)))
    sphere = noisy(shapes.cap(r, 1.0, int(r / edge)))
    for shape, expected in ((cylinder, (1, 0)), (sphere, (1, 1))):
        error = np.abs(r * fit_surface(*shape, T).curvature - expected).max(axis=1)
        assert np.quantile(error, 0.99) < tolerance


@pytest.mark.parametrize("edge", [1.0, 2.0, 4.6])
def test_noise_hardly_changes_where_the_foam_goes(foam, edge):
    """Rest lengths along each row of a half cylinder, noisy along its normals, add up to
    pi (R - t/2); the facets' own chords are up to 1 % longer at 1 mm."""
    r, columns, rows = 50.0, int(50 * np.pi / edge), int(60 / edge)
    points, faces = shapes.cylinder(r, np.pi, 60, columns, rows)
    rough = np.random.default_rng(SEED).normal(size=len(points))[:, None] * 0.1
    points = points + rough * points * (1, 1, 0) / r
    layer = layers(cut(shapes.sculpt((points, faces))), [foam], ["outer"], 0.3)[0]
    start, end, _ = mesh.half_edges(faces)
    around = np.flatnonzero(end == start + 1)
    row = start[around] // columns
    total = np.bincount(row, mesh.along(layer.lengths, around))
    error = total / (np.pi * (r - T / 2)) - 1
    assert np.abs(error).max() < 0.005 and np.abs(error.mean()) < 0.001


def test_noise_in_single_lengths_is_below_that_of_facets_own_normals(foam):
    """0.1 mm noise on 4.6 mm edges: the fit over two rings gave 0.7 % rms."""
    clean = shapes.cap(120, 0.7, 18)
    points, faces = noisy(clean)
    layer = layers(cut(shapes.sculpt((points, faces))), [foam], ["outer"], 0.3)[0]
    # The same noisy points pushed back onto the sphere have exact normals.
    normals = points / np.linalg.norm(points, axis=1)[:, None]
    exact = rest_lengths(120 * normals, normals, faces, foam, "outer")
    error = layer.lengths / exact - 1
    assert np.sqrt((error**2).mean()) < 0.004


def test_clean_points_stay_and_noise_is_taken_off():
    points, faces = shapes.cap(80, 0.8, 70)
    assert np.abs(fit_surface(points, faces, T).rise).max() < 1e-3
    rough, _ = noisy((points, faces))
    fit = fit_surface(rough, faces, T)
    left = np.linalg.norm(rough + fit.rise[:, None] * fit.normals, axis=1) - 80
    assert np.sqrt((left**2).mean()) < 0.03 and np.quantile(np.abs(left), 0.99) < 0.1


@pytest.mark.parametrize("fold", [30, 70])
def test_the_fit_stops_at_seams(foam, fold):
    """Both sides of a seam are planes; noise-free, each keeps its own normal to rounding."""
    points, faces, edges = shapes.roof(60, 40, np.radians(fold), 61, 41)
    sculpt = shapes.sculpt((points, faces), seams=edges)
    for layer in layers(cut(sculpt), [foam] * 2, ["outer"] * 2, 0.3):
        assert np.abs(layer.curvature).max() < 1e-9
        assert np.allclose(layer.normals, layer.normals[0], atol=1e-9)
        for border in layer.folds:
            assert np.allclose(border, border[0], atol=1e-6)


def test_mates_keep_one_curve_on_a_noisy_seam(foam):
    """A seam on a noisy sphere has the same smooth line on both pieces."""
    clean = shapes.cap(100, 0.8, 40)
    spokes = shapes.spokes(*clean, number=2)
    whole = cut(shapes.sculpt(noisy(clean), seams=spokes))
    one, two = layers(whole, [foam] * 2, ["outer"] * 2, 0.3)
    lines = {}
    for region, layer in zip(whole.regions, (one, two), strict=True):
        for vertex, point in zip(region.source_vertex[region.faces].ravel(),
                                 layer.points[region.leaf].reshape(-1, 3), strict=True):
            lines.setdefault(int(vertex), set()).add(tuple(np.round(point, 9)))
    assert all(len(at) == 1 for at in lines.values())
    on = np.unique(spokes)
    gap = np.array([np.linalg.norm(next(iter(lines[v]))) - 100 for v in on])
    assert np.sqrt((gap**2).mean()) < 0.06


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e6])
def test_curvature_scales_with_the_sculpt(scale):
    points, faces = shapes.cap(50, 1.0, 20)
    here = fit_surface(points, faces, T).curvature
    there = fit_surface(points * scale, faces, T * scale).curvature * scale
    assert np.allclose(here, there, rtol=1e-4)


def test_curvature_agrees_with_libigl():
    """Panozzo et al. 2010, as implemented in libigl: principal_curvature."""
    igl = pytest.importorskip("igl", reason="libigl, a reference for curvature, is not installed")
    (points, faces), exact = ellipsoid()
    _, _, low, high, _ = igl.principal_curvature(points, faces)[:5]
    # Ours counts convex as positive whichever way libigl does.
    theirs = np.stack([low, high], axis=1)
    theirs = np.sort(theirs * np.sign(theirs.sum()), axis=1)[:, ::-1]
    ours = fit_surface(points, faces, T).curvature
    x, y, _ = points.T
    middle = (np.abs(x) < 25) & (np.abs(y) < 25)
    scale = np.abs(exact[middle]).max()
    assert np.abs(ours - theirs)[middle].max() < 0.05 * scale
    assert np.abs(ours - exact)[middle].max() <= np.abs(theirs - exact)[middle].max() + 0.01 * scale
