"""The strain map: how each part of a flat piece is stretched to what it was sculpted as."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from addon.core import flatten


@given(st.floats(0.7, 1.4), st.floats(0.7, 1.4), st.floats(0, 3.2), st.integers(0, 50))
def test_it_is_the_symmetric_map_that_was_used(first, second, turn, seed):
    rng = np.random.default_rng(seed)
    corner = np.array([[0, 0], [10, 1], [3, 9.0]]) + rng.normal(size=(3, 2))
    c, s = np.cos(turn), np.sin(turn)
    frame = np.array([[c, -s], [s, c]])
    u = frame @ np.diag([first, second]) @ frame.T
    formed = corner @ u
    side = np.roll(formed, -2, axis=0) - np.roll(formed, -1, axis=0)
    found, = flatten.strain(corner, np.array([[0, 1, 2]]), np.linalg.norm(side, axis=1)[None])
    assert np.allclose(found, [u[0, 0], u[0, 1], u[1, 1]], atol=1e-9)


def test_lengths_that_close_no_triangle_give_a_map_all_the_same():
    corner, faces = np.array([[0, 0], [10, 1], [3, 9.0]]), np.array([[0, 1, 2]])
    (xx, xy, yy), = flatten.strain(corner, faces, np.array([[5.0, 30.0, 10.0]]))
    assert xx > 0 and yy > 0 and xx * yy > xy * xy
