"""How far the wearer of the example suit moves: alike on both sides, and where meshes touch."""

import numpy as np
import pytest

from addon.core.order.solids import solids
from addon.core.reach import posed, reached


def inside(points, triangles):
    """Which points (k,) lie in a closed mesh: solid angles of its triangles (van Oosterom and
    Strackee 1983) add up to 4 pi there, to 0 outside."""
    a, b, c = (triangles[None, :, i] - points[:, None] for i in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=2) for v in (a, b, c))
    dot = lambda u, v: np.einsum("ijk,ijk->ij", u, v)  # noqa: E731
    over = dot(a, np.cross(b, c))
    under = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
    return np.abs(2 * np.arctan2(over, under).sum(axis=1)) > 2 * np.pi


@pytest.fixture(scope="module")
def moved(pattern):
    return reached(pattern)


def test_left_and_right_get_equally_far(moved):
    sides = {(m.name, m.side): m for m in moved.reach.movements}
    assert len(sides) == len(moved.reach.movements) >= 20 and not moved.reach.crossing
    for (name, side), m in sides.items():
        if side == "left":
            other = sides[name, "right"]
            assert m.start == pytest.approx(other.start, abs=1e-9)
            assert m.reached == pytest.approx(other.reached, abs=0.5 * m.accuracy + 1e-9)
            assert (m.meeting is None) == (other.meeting is None)


def test_what_meets_does_so_in_an_independent_library(moved):
    """As far as it gets, the thick pieces that meet are apart, but for the foam's give and the
    coarseness of the check; a little further they are in one another."""
    trimesh = pytest.importorskip("trimesh")
    held = [m for m in moved.reach.movements if m.meeting is not None and m.side == "left"]
    assert {m.name for m in held} == {"forearm bent", "thigh forward"}

    def apart(movement, angle):
        """Least distance (mm) of the two, below 0 where points of one lie in the other."""
        pattern = posed(moved, movement, angle)
        meshes = []
        for code in movement.meeting.pieces:
            body = solids([pattern.piece(code)], whole=True)
            meshes.append(trimesh.Trimesh(body.points, body.faces))
        points = [np.concatenate([m.vertices, m.triangles_center]) for m in meshes]
        near = [p[np.linalg.norm(p - movement.meeting.point, axis=1) < 60] for p in points]
        least = np.inf
        for other, some in zip(meshes[::-1], near, strict=True):
            if len(some):
                away = trimesh.proximity.closest_point_naive(other, some)[1]
                least = min(least, np.where(inside(some, other.triangles), -away, away).min())
        return least

    for movement in held:
        assert apart(movement, movement.reached - 2 * movement.accuracy) > 0.0
        assert abs(apart(movement, movement.reached)) < 4.0
        assert apart(movement, movement.reached + 2 * movement.accuracy) < 0.0
