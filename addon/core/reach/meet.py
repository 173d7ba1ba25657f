"""How far one set of pieces turns before it meets another.

Each point of a face is looked at again only when it may have got to the other set: it is as far
away as its slabs were, so it is safe for as long as its way round the axis is shorter than that
(conservative advancement; Mirtich, Impulse-based dynamic simulation, 1996). Points of what moves
are asked for slabs of what stands, and the other way round, since a corner of either may be first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stopping import ask
from .slabs import SPACING, Slabs

GIVE = 2.0  # mm by which foam is pressed aside; less than half of thin foam
STEP = 2.0  # mm along its way, after which a point is looked at again at the latest
FAR = 150.0  # mm beyond which distances are not told apart
SOON, SOONEST = 0.3, np.radians(0.5)  # share of what half of the points have left, and at least
NEAREST = 6  # slabs that are looked at for each point


@dataclass(frozen=True)
class Touch:
    """Two pieces, by their numbers, what moves first, that are in one another: where (3,), on what
    stands, and how deep, mm; radius: of that place about the axis, mm."""

    pieces: tuple[int, int]
    point: np.ndarray
    depth: float
    radius: float


class Sides:
    """Two sets of slabs, one of which turns about an axis (3,) through a joint (3,). groups: of
    each piece, what it is a part of."""

    def __init__(self, moving: Slabs, standing: Slabs, groups: np.ndarray, joint: np.ndarray,
                 axis: np.ndarray):
        from scipy.spatial import cKDTree

        self.slabs = moving, standing
        self.trees = tuple(cKDTree(slabs.points) for slabs in self.slabs)
        self.faces = tuple(slabs.faces() for slabs in self.slabs)
        self.groups, self.joint, self.axis = groups, joint, axis
        self.room = float(np.hypot(SPACING, max(s.half.max() for s in self.slabs)))
        self.known: dict[tuple[int, int], float] = {}

    def look(self, front: int, some: np.ndarray, turn: np.ndarray
             ) -> tuple[np.ndarray, list[Touch]]:
        """Points `some` (k,) of what moves (front 0) or stands (1), what moves being turned by a
        matrix (3, 3): how far they are at least from the other side (k,), and where they are deeper
        in it than they were known to be and foam gives."""
        points, piece = (values[some] for values in self.faces[front])
        other = self.slabs[1 - front]
        there = self.joint + (points - self.joint) @ (turn.T if front == 0 else turn)
        tree = self.trees[1 - front]
        gap = np.minimum(tree.query(there, distance_upper_bound=FAR)[0], FAR) - self.room
        close = np.flatnonzero(gap < self.room)
        count = min(NEAREST, len(other.points))
        away, slab = tree.query(there[close], k=np.arange(1, count + 1))
        depth = other.depth(np.repeat(there[close], count, axis=0),
                            slab.ravel()).reshape(slab.shape)
        gap[close] = np.minimum(-depth.max(axis=1, initial=-FAR), away[:, -1] - self.room)
        row, column = np.nonzero(depth > 0)
        touches = []
        if len(row):
            mine, theirs = piece[close[row]], other.piece[slab[row, column]]
            found = depth[row, column]
            moved, stood = (mine, theirs) if front == 0 else (theirs, mine)
            give = np.minimum(GIVE, other.half[slab[row, column]] / 2)
            limit = np.array([self.known.get(pair, 0.0) for pair in zip(
                self.groups[moved].tolist(), self.groups[stood].tolist(), strict=True)]) + give
            for k in np.flatnonzero(found > limit):
                # Where it is on what stands.
                place = (there if front == 0 else points)[close[row[k]]]
                arm = place - self.joint
                touches.append(Touch(
                    (int(moved[k]), int(stood[k])), place, float(found[k]),
                    float(np.linalg.norm(arm - (arm @ self.axis) * self.axis))))
        return gap, touches

    def rest(self) -> None:
        """Take how deep parts are in one another as they stand for known."""
        for front in (0, 1):
            _, touches = self.look(front, np.arange(len(self.faces[front][0])), np.eye(3))
            for touch in touches:
                pair = tuple(int(self.groups[k]) for k in touch.pieces)
                self.known[pair] = max(self.known.get(pair, 0.0), touch.depth)

    def turned(self, lead: np.ndarray, most: float) -> tuple[float, Touch | None]:
        """By how much the one side turns, from where `lead` (3, 3) has brought it, until it meets
        the other, at most `most`; and where, None where it meets nothing."""
        starts = (self.joint + (self.faces[0][0] - self.joint) @ lead.T, self.faces[1][0])
        reach = [self._radius(points) for points in starts]
        safe = [np.zeros(len(points)) for points, _ in self.faces]
        angle = 0.0
        while True:
            ask()
            turn = about(self.axis, angle) @ lead
            found = []
            # Those that are due soon are looked at with those that are due: fewer, larger looks.
            soon = angle + SOON * (float(np.median(np.concatenate(safe))) - angle)
            for front in (0, 1):
                due = np.flatnonzero(safe[front] <= max(soon, angle + SOONEST))
                if len(due):
                    gap, touches = self.look(front, due, turn)
                    found += touches
                    safe[front][due] = angle + np.maximum(gap, STEP) / reach[front][due]
            if found:
                return angle, max(found, key=lambda touch: round(touch.depth, 3))
            if angle >= most:
                return most, None
            angle = min(most, min(float(s.min(initial=np.inf)) for s in safe))

    def _radius(self, points: np.ndarray) -> np.ndarray:
        arm = points - self.joint
        return np.maximum(np.linalg.norm(arm - (arm @ self.axis)[:, None] * self.axis, axis=1),
                          1.0)


def about(axis: np.ndarray, angle: float) -> np.ndarray:
    """The rotation (3, 3) about a unit vector."""
    from scipy.spatial.transform import Rotation

    return Rotation.from_rotvec(angle * np.asarray(axis)).as_matrix()
