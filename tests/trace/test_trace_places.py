"""Points told by their places in polygons: found again however the polygons are divided."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from addon.core.trace import Anchors, Places
from addon.core.trace.places import regular


def fan(corners, triangles, polygon=0):
    """Triangles of one polygon as arrays: faces, polygon and place."""
    faces = np.array(triangles)
    return faces, np.full(len(faces), polygon), regular(np.array([corners]))[faces]


def divided(corners, levels):
    """A polygon's places, cut into triangles round its middle, and each in four `levels` times."""
    rim = regular(np.array([corners]))
    place = np.array([[[0.0, 0.0], rim[i], rim[(i + 1) % corners]] for i in range(corners)])
    for _ in range(levels):
        a, b, c = place.transpose(1, 0, 2)
        ab, bc, ca = (a + b) / 2, (b + c) / 2, (c + a) / 2
        place = np.concatenate([np.stack(t, axis=1) for t in (
            (a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))])
    return place


@pytest.mark.parametrize("corners", [3, 4, 7])
@given(seed=st.integers(0, 10**6), levels=st.integers(0, 3))
@settings(max_examples=10)
def test_a_point_of_a_divided_polygon_is_found_in_every_other_division(corners, seed, levels):
    rng = np.random.default_rng(seed)
    bend = rng.normal(size=(2, 3))  # the polygon lies anywhere in space
    grounds = []
    for level in (levels, 3 - levels):
        place = divided(corners, level)
        faces = np.arange(3 * len(place)).reshape(-1, 3)
        grounds.append(Places(place.reshape(-1, 2) @ bend, faces, np.zeros(len(faces), int), place))
    face = rng.integers(len(grounds[0].faces), size=5)
    weights = rng.dirichlet([0.5] * 3, size=5)
    anchors = grounds[0].anchors(face, weights)
    wanted = np.einsum("ij,ijk->ik", weights, grounds[0].vertices[grounds[0].faces[face]])
    assert grounds[0].points(anchors) == pytest.approx(wanted, abs=1e-6)
    assert grounds[1].points(anchors) == pytest.approx(wanted, abs=1e-6)


def test_a_point_goes_with_the_corners_of_its_triangle():
    faces, polygon, place = fan(4, [[0, 1, 2], [0, 2, 3]])
    flat = np.array([[0, 0, 0], [10, 0, 0], [10, 10, 0], [0, 10, 0.0]])
    anchors = Places(flat, faces, polygon, place).anchors(
        np.array([1]), np.array([[0.2, 0.3, 0.5]]))
    there = flat * (1, 2, 1) + [0, 0, 30]
    assert Places(there, faces, polygon, place).points(anchors) == pytest.approx(
        np.array([[0.2, 0.3, 0.5]]) @ there[[0, 2, 3]])


def test_each_copy_of_a_polygon_keeps_its_own_points():
    faces, polygon, place = fan(4, [[0, 1, 2], [0, 2, 3]])
    flat = np.array([[1, 0, 0], [11, 0, 0], [11, 10, 0], [1, 10, 0.0]])
    twice = lambda up: Places(  # noqa: E731
        np.concatenate([flat, flat * (-1, 1, 1)]) + [0, 0, up],
        np.concatenate([faces, faces[:, ::-1] + 4]), np.concatenate([polygon, polygon]),
        np.concatenate([place, place[:, ::-1]]))
    weights = np.array([[0.5, 0.25, 0.25]])
    for face in (0, 2):  # the second one lies in the image
        anchors = twice(0).anchors(np.array([face]), weights)
        at = weights @ twice(30).vertices[twice(30).faces[face]]
        assert twice(30).points(anchors) == pytest.approx(at)
    # Without the image the point lies on what there is.
    assert Places(flat, faces, polygon, place).points(anchors) is not None


def test_polygons_that_are_not_there_are_told():
    faces, polygon, place = fan(4, [[0, 1, 2], [0, 2, 3]], polygon=3)
    ground = Places(np.eye(4, 3), faces, polygon, place)
    for gone in (2, 4, -1):
        assert ground.points(Anchors([gone], [[0.0, 0.0]], [0])) is None
    new = Places(np.eye(4, 3), faces, np.array([3, -1]), place)
    assert new.anchors(np.array([1]), np.array([[1.0, 0, 0]])) is None
