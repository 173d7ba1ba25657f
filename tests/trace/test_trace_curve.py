"""Fair curves pass through their picks without a kink."""

import numpy as np
import pytest

from addon.core import mesh
from addon.core.trace import Surface, fair_through, through
from tests import shapes


def turns(points):
    step = np.diff(points, axis=0)
    step = step[np.linalg.norm(step, axis=1) > 1e-9]
    step /= np.linalg.norm(step, axis=1)[:, None]
    return np.arccos(np.clip(np.einsum("ij,ij->i", step[1:], step[:-1]), -1, 1))


@pytest.fixture(scope="module")
def plane():
    points, faces = shapes.disc("random", 24, 5)
    return Surface(np.column_stack([100 * points, np.zeros(len(points))]), faces)


def test_in_a_plane_it_is_the_natural_spline(plane):
    from scipy.interpolate import CubicSpline

    picks = np.array([[-70, -20, 0], [-30, 25, 0], [10, -10, 0], [60, 30, 0.0]])
    line = fair_through(plane, picks)
    assert np.allclose(line.points[line.picks], picks, atol=1e-9)
    chords = mesh.arc_length(picks)  # the line is spread along its straight legs
    spline = CubicSpline(chords, picks, bc_type="natural")(np.linspace(0, chords[-1], 2000))
    away = np.linalg.norm(line.points[:, None] - spline[None], axis=2).min(axis=1)
    assert away.max() < 0.4  # of 190 mm, with eight points to a leg
    assert turns(line.points).max() < 0.3 < turns(through(plane, picks).points).max()


def test_picks_in_a_row_give_a_straight_line(plane):
    picks = np.array([[-70, -20, 0], [-35, -5, 0], [0, 10, 0], [70, 40, 0.0]])
    assert fair_through(plane, picks).length == pytest.approx(
        np.linalg.norm(picks[-1] - picks[0]), rel=1e-6)


def test_round_a_dome_it_follows_the_circle():
    # Picks on a circle of latitude: by symmetry the curve stays near it, where straight legs
    # between six picks leave it by far.
    vertices, faces = shapes.cap(100.0, 1.2, 40)
    angle = np.arange(6) * np.pi / 3 + 0.2
    at = lambda a: 100 * np.stack(  # noqa: E731
        [np.sin(0.7) * np.cos(a), np.sin(0.7) * np.sin(a), np.full(len(a), np.cos(0.7))], axis=1)
    surface = Surface(vertices, faces)
    fair, straight = (f(surface, at(angle), closed=True) for f in (fair_through, through))
    height = 100 * np.cos(0.7)
    assert np.ptp(straight.points[:, 2]) > 4
    assert np.abs(fair.points[:, 2] - height).max() < 1.0
    assert fair.closed and np.allclose(fair.points[0], fair.points[-1])
    assert fair.length == pytest.approx(2 * np.pi * 100 * np.sin(0.7), rel=5e-3)


def test_two_picks_are_joined_straight(plane):
    picks = np.array([[-70, -20, 0], [-30, 25, 0.0]])
    assert np.array_equal(fair_through(plane, picks).points, through(plane, picks).points)


def test_picks_twice_in_one_place_do_no_harm(plane):
    picks = np.array([[-70, -20, 0], [-70, -20, 0], [10, 5, 0], [10, 5, 0.0]])
    assert np.isfinite(fair_through(plane, picks).points).all()
