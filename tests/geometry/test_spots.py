"""A sliver whose bend is tighter than the foam is thick does not refuse a whole piece."""

import numpy as np
import pytest

from addon.core.layer.spots import LEAST, bridged
from tests.shapes import grid

SIDE = 20.0


@pytest.fixture
def sheet():
    """200 x 200 mm in squares of 20 mm: points, faces and their sides."""
    y, x = np.meshgrid(SIDE * np.arange(11), SIDE * np.arange(11), indexing="ij")
    points = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1)
    faces = grid(11, 11)
    corner = points[faces]
    return points, faces, np.linalg.norm(
        np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)


@pytest.mark.parametrize(("thickness", "kept"), [(10.0, False), (15.0, True)])
def test_a_spot_is_no_larger_than_the_thickness_squared(sheet, thickness, kept):
    """One face of 200 mm2, beside 100 and 225 mm2."""
    points, faces, sides = sheet
    lengths = sides.copy()
    lengths[57, 1] = -0.1
    found, tight = bridged(points, faces, lengths, thickness)
    assert tight.tolist() == [57] * kept
    assert (found[57, 1] > 0) == kept
    if kept:
        assert found[57, 1] == pytest.approx(LEAST * sides[57, 1])
    others = np.ones(faces.shape, dtype=bool)
    others[57, 1] = False
    assert np.array_equal(found[others], sides[others])


def test_faces_that_touch_are_one_spot(sheet):
    points, faces, sides = sheet
    lengths = sides.copy()
    square = np.flatnonzero((np.isin(faces, [0, 1, 11, 12])).all(axis=1))
    assert len(square) == 2
    lengths[square] = 0.0
    assert np.array_equal(bridged(points, faces, lengths, 15.0)[0], lengths)  # 400 mm2
    assert (bridged(points, faces, lengths, 21.0)[0] > 0).all()  # 441 mm2


def test_many_spots_are_too_much(sheet):
    """Five of 200 faces are 2.5 % of the sheet."""
    points, faces, sides = sheet
    lengths = sides.copy()
    lengths[::40, 0] = -1.0
    assert np.array_equal(bridged(points, faces, lengths, 15.0)[0], lengths)


def test_where_nothing_is_tight_nothing_changes(sheet):
    points, faces, sides = sheet
    assert bridged(points, faces, sides, 10.0)[0] is sides
