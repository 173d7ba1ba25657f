"""Flat pieces against developments and gores; test_limits has the best map of a cap."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core import mesh
from addon.core.stock import Limits, Stock
from tests import shapes

THIN = Stock("skin", 1e-6)  # so thin that the neutral layer is the sculpt itself


def ring_of(flat, region):
    return flat.points[np.concatenate([region.borders[b].vertices[:-1] for b in region.loops[0]])]


def sector(points, near, far):
    """Angle in degrees of an annular sector whose corner points stand at the two radii."""
    # Circle through three points of the outer arc.
    a, b, c = far
    d = 2 * (a[0] * (b[1] - c[1]) + b[0] * (c[1] - a[1]) + c[0] * (a[1] - b[1]))
    centre = np.array([
        (a @ a) * (b[1] - c[1]) + (b @ b) * (c[1] - a[1]) + (c @ c) * (a[1] - b[1]),
        (a @ a) * (c[0] - b[0]) + (b @ b) * (a[0] - c[0]) + (c @ c) * (b[0] - a[0])]) / d
    ends = np.array([far[0], far[2]]) - centre
    middle = far[1] - centre
    half = [np.arccos(e @ middle / np.linalg.norm(e) / np.linalg.norm(middle)) for e in ends]
    return np.degrees(sum(half)), np.linalg.norm(middle), np.linalg.norm(near - centre)


@pytest.mark.parametrize("radius, arc", [(100, 90), (60, 200), (250, 30)])
def test_a_cylinder_becomes_a_rectangle_as_wide_as_its_neutral_layer(laid, foam, radius, arc):
    """Width a (R - t / 2) for outer radius R (derived), no stretch."""
    regions, _, flats = laid(
        shapes.sculpt(shapes.cylinder(radius, np.radians(arc), 80, columns=65)), foam)
    box = _sides(flats[0].points)
    assert box == pytest.approx(sorted((np.radians(arc) * (radius - 5), 80)), rel=3e-4)
    assert np.abs(flats[0].sigma - 1).max() < 2e-3


@pytest.mark.parametrize("half_angle, near, far, degrees", [
    # A cone unrolls to a sector of 360 sin(b) degrees (any handbook of geometry): 254.56.
    (45.0, 20.0, 200.0, 254.558),
    # Frustum of diameters 5 and 8, height 4: radii 7.12 and 11.39, sector 126.40 degrees.
    (np.degrees(np.arctan(1.5 / 4)), 71.2, 113.92, 126.40)])
def test_a_cone_becomes_its_sector(laid, half_angle, near, far, degrees):
    columns, rows = 129, 9
    shape = shapes.cone(np.radians(half_angle), near, far, columns, rows)
    _, _, (flat,) = laid(shapes.sculpt(shape), THIN)
    outer = flat.points[[0, columns // 2, columns - 1]]
    angle, large, small = sector(flat.points, flat.points[-columns // 2], outer)
    assert angle == pytest.approx(degrees, rel=1e-3)
    assert (large, small) == pytest.approx((far, near), rel=1e-3)
    assert np.abs(flat.sigma - 1).max() < 3e-3


@pytest.mark.parametrize("latitude, width", [(0, 78.54), (30, 68.02), (45, 55.54), (60, 39.27)])
def test_gores_of_a_sphere(laid, latitude, width):
    """Gore formula of balloons and globes: width 2 pi R cos(latitude) / n, R 100, n 8."""
    rows, columns = 61, 13
    half = np.radians(80)
    shape = shapes.surface(
        lambda a, b: (100 * np.cos(b) * np.cos(a), 100 * np.cos(b) * np.sin(a), 100 * np.sin(b)),
        np.linspace(0, np.pi / 4, columns), np.linspace(-half, half, rows))
    _, _, (flat,) = laid(shapes.sculpt(shape), THIN)
    row = int(round((np.radians(latitude) + half) / (2 * half) * (rows - 1)))
    at = np.degrees(np.linspace(-half, half, rows)[row])
    line = flat.points.reshape(rows, columns, 2)[row]
    length = mesh.polyline_length(line)
    expected = width * np.cos(np.radians(at)) / np.cos(np.radians(latitude))
    # A strip of width w on curvature K must give by up to K w^2 / 16 (derived), 3.9 % here.
    assert length == pytest.approx(expected, rel=(78.54 / 100) ** 2 / 16)


def test_mates_keep_their_length_even_where_the_foam_must_stretch(laid, foam):
    shape = shapes.cap(150, np.radians(60), 24)
    regions, layers, flats = laid(shapes.sculpt(shape, shapes.spokes(*shape)), foam)
    assert len(regions) == 6
    for region, flat in zip(regions, flats, strict=True):
        for border in region.borders:
            if border.seam >= 0:
                length = mesh.polyline_length(flat.points[border.vertices])
                assert length == pytest.approx(np.radians(60) * 145, rel=1e-3)


def test_utilisation_is_one_exactly_at_the_limits():
    limits = Limits(0.05, 0.10, 2.0)
    sigma = np.array([[1.10, 1.0], [1.0, 0.95], [1.05, 0.975], [1.2, 0.0], [1.0, 1.0]])
    assert limits.utilisation(sigma) == pytest.approx([1, 1, 0.5, np.inf, 0])


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**31), st.floats(0.05, 50))
def test_turning_moving_and_scaling_change_nothing(laid, seed, scale):
    rng = np.random.default_rng(seed)
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    turn[:, 0] *= np.sign(np.linalg.det(turn))
    points, faces = shapes.cap(100, 0.8, 8)
    moved = (points @ turn.T) * scale + rng.normal(size=3) * 100
    stock = Stock("foam", 10.0)
    scaled = Stock("foam", 10.0 * scale)
    _, _, (a,) = laid(shapes.sculpt((points, faces)), stock)
    _, _, (b,) = laid(shapes.sculpt((moved, faces)), scaled)
    assert np.allclose(a.sigma, b.sigma, atol=2e-3)
    edges, _ = mesh.edge_faces(faces)
    length = lambda f: np.linalg.norm(f.points[edges[:, 1]] - f.points[edges[:, 0]], axis=1)  # noqa: E731
    assert np.allclose(length(a) * scale, length(b), rtol=3e-3)


def _sides(points):
    from shapely.geometry import MultiPoint

    corner = np.array(MultiPoint(points).minimum_rotated_rectangle.exterior.coords)
    return sorted(np.linalg.norm(np.diff(corner[:3], axis=0), axis=1))
