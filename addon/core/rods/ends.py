"""Where a rod ends on the suit: how much of it to cut off, and at which angle."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .. import mesh
from ..model import RodEnd, Sculpt
from ..stock import Stock
from .axis import Axis

NEAR = 16  # faces looked at, those whose middles are nearest
STEEPEST = np.radians(70.0)  # an end that lies flatter than this is laid on, not cut to fit
SQUARE = np.radians(2.0)  # an angle smaller than this is cut square
BENT = 50.0  # diameters of radius beyond which a rod has no inside to turn from


class Ground:
    """The outer face of the suit's foam, near which rods may end."""

    def __init__(self, sculpt: Sculpt, stock: Stock, side: str):
        from scipy.spatial import cKDTree

        self.corners = sculpt.vertices[sculpt.faces]
        self.normals = mesh.face_normals(sculpt.vertices, sculpt.faces)[0]
        self.names = [sculpt.objects[k].name for k in sculpt.face_object]
        self.out = np.array([(o.stock or stock).depths(o.side or side)[0]
                             for o in sculpt.objects])[sculpt.face_object]
        self.tree = cKDTree(self.corners.mean(axis=1)) if len(self.corners) else None

    def under(self, point: np.ndarray) -> tuple[int, np.ndarray, float] | None:
        """The nearest face, a point (3,) of the foam's outer face there and the distance."""
        if self.tree is None:
            return None
        near = np.atleast_1d(self.tree.query(point, min(NEAR, len(self.corners)))[1])
        weights = mesh.nearest_weights(self.corners[near], np.repeat(point[None], len(near), 0))
        foot = np.einsum("ij,ijk->ik", weights, self.corners[near])
        away = np.linalg.norm(foot - point, axis=1)
        best = int(np.argmin(away))
        face = int(near[best])
        at = foot[best] + self.out[face] * self.normals[face]
        return face, at, float(np.linalg.norm(at - point))


def cut(axis: Axis, diameter: float, ground: Ground
        ) -> tuple[np.ndarray, tuple[RodEnd, RodEnd]]:
    """Points (k, 3) of the axis from cut to cut, and the cuts at its start and its end.

    An end within a diameter of the foam is cut to lie flat on it: its axis ends in the plane of
    the foam's face there, at the angle between the axis and that plane's normal.
    """
    ends = []
    points = axis.points
    for at, sign in ((0, -1.0), (-1, 1.0)):
        way = sign * axis.tangents[at]
        found = ground.under(points[at])
        if found is None or found[2] > diameter:
            ends.append(RodEnd())
            continue
        face, place, _ = found
        normal = ground.normals[face]
        slope = float(-way @ normal)  # cosine of the angle from square
        angle = float(np.arccos(np.clip(abs(slope), 0.0, 1.0)))
        if angle > STEEPEST:
            ends.append(RodEnd(on=ground.names[face]))
            continue
        step = float((place - points[at]) @ normal / (way @ normal))
        points = _moved(points, at, way, step)
        turn = 0.0
        if angle < SQUARE:
            angle = 0.0
        elif axis.radii[at] < BENT * diameter:
            # A fibre at r from the axis ends (r n) / |way n| further on than it.
            long = np.sign(slope) * (normal - (normal @ way) * way)
            turn = _turn(long, -axis.inward[at], way)
        ends.append(RodEnd(angle, turn, ground.names[face]))
    return points, (ends[0], ends[1])


def _moved(points: np.ndarray, at: int, way: np.ndarray, step: float) -> np.ndarray:
    """The axis longer by a straight step at one end, or shorter by cutting it off."""
    if step >= 0:
        new = points[at] + step * way
        return np.concatenate([new[None], points] if at == 0 else [points, new[None]])
    along = mesh.arc_length(points)
    ends = (min(-step, along[-1] / 2), along[-1]) if at == 0 else (
        0.0, max(along[-1] + step, along[-1] / 2))
    inner = points[(along > ends[0]) & (along < ends[1])]
    first, last = (np.array([np.interp(e, along, x) for x in points.T]) for e in ends)
    return np.concatenate([first[None], inner, last[None]])


def _turn(long: np.ndarray, outside: np.ndarray, way: np.ndarray) -> float:
    """Angle from the outside of the bend to the long side, to the right seen from that end."""
    right = np.cross(outside, way)
    return float(np.arctan2(long @ right, long @ outside))


def lengthened(ends: Sequence[RodEnd], diameter: float) -> float:
    """How much longer than its axis a rod with slanting ends is: d / 2 tan(angle) at each."""
    return float(sum(diameter / 2 * np.tan(end.angle) for end in ends))
