"""Where a hand gets to: a block 90 × 40 mm, as long as it is wide, moved through free space.

Space is a lattice of cells. A place is free for the block in one of three positions, its thin
side along each axis, if no cell in it has foam; free places beside one another, and positions at
one place, hang together, and those that hang together with the outside are where a hand gets to.
The lattice takes a cell off the block, since foam and fingers both give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..model import INNER, INSIDE, MIDDLE, OUTSIDE, Mate, Piece
from .solids import Solids

HAND = (90.0, 90.0, 40.0)  # mm; breadth and thickness as the job asks, a length of the breadth
REACH = 30.0  # mm: so near to the seam the block must come
CELLS = 60_000  # of the lattice, about, at most
FINEST = 10.0  # mm of a cell
ASIDE = 15.0  # mm by which it may come beside the seam, or it might lie beyond a wall there
CLEAR = 1.6  # cells: so near to foam a cell is filled by it
PRESS = np.cos(np.radians(45.0))  # a hand that presses comes no flatter
APART = 40.0  # mm between places of a seam that are looked at
MOST = 9  # places of one seam


class Hands:
    """Reach of a hand round bodies."""

    def __init__(self, bodies: Solids, pieces: Sequence[Piece]):
        self._frame = _frame(bodies.normals)
        bodies = replace(bodies, points=bodies.points @ self._frame.T)
        low, high = bodies.points.min(0), bodies.points.max(0)
        volume = float(np.prod(np.maximum(high - low, FINEST)))
        self.cell = max(FINEST, (volume / CELLS) ** (1 / 3))
        self.pad = int(np.ceil((max(HAND) + REACH) / self.cell)) + 2
        self.start = low - self.pad * self.cell
        self.shape = tuple(np.ceil((high - low) / self.cell).astype(int) + 1 + 2 * self.pad)
        self._pieces = {p.code: p for p in pieces}
        self._seams: dict[str, tuple[np.ndarray, np.ndarray, np.ndarray, bool]] = {}
        self._cells = [self._filled(bodies, k) for k in range(len(bodies.normals))]
        self._reached: tuple[frozenset, np.ndarray] | None = None

    def _filled(self, bodies: Solids, number: int) -> np.ndarray:
        """The cells (k,) in which a body has faces."""
        corner = bodies.points[bodies.faces[bodies.owner == number]]
        edge = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(1)
        steps = np.maximum(np.ceil(2 * edge / self.cell), 1).astype(int)
        found = []
        for n in np.unique(steps):
            i, j = (x.ravel() for x in np.meshgrid(np.arange(n + 1), np.arange(n + 1)))
            i, j = i[i + j <= n] / n, j[i + j <= n] / n
            a, b, c = corner[steps == n].transpose(1, 0, 2)
            points = (a[:, None] + i[:, None] * (b - a)[:, None] + j[:, None] * (c - a)[:, None])
            cell = np.floor((points.reshape(-1, 3) - self.start) / self.cell).astype(int)
            found.append(np.unique(np.ravel_multi_index(tuple(cell.T), self.shape)))
        return np.unique(np.concatenate(found)) if found else np.empty(0, dtype=int)

    def sides(self, seam: Sequence[Mate], standing: Sequence[int]) -> tuple[str, ...]:
        """From where all of a seam can be pressed while bodies (by number) stand, of OUTSIDE and
        INSIDE."""
        reached = self._reach(frozenset(standing))
        out, inn = True, True
        for mate in seam:
            if mate.code not in self._seams:
                self._seams[mate.code] = self._seam(mate)
            places, normals, depth, convex = self._seams[mate.code]
            for place, faces in zip(places, normals, strict=True):
                one, other = self._near(reached, place, faces, depth, convex)
                out, inn = out and one, inn and other
        return tuple(side for side, good in ((OUTSIDE, out), (INSIDE, inn)) if good)

    def _seam(self, mate: Mate) -> tuple[np.ndarray, np.ndarray, np.ndarray, bool]:
        """Places (k, 3) along a seam, the outward normals (k, 2, 3) of its two sides there, how
        far (2,) the foam reaches outward and inward from them, and whether the seam is convex."""
        from scipy.spatial import cKDTree

        places, normals = _places(mate.curve), []
        for code, _ in mate.edges:
            piece = self._pieces[code]
            facing, _ = mesh.face_normals(piece.vertices, piece.faces)
            tree = cKDTree(piece.vertices[piece.faces].mean(1))
            near = tree.query(places, k=min(3, len(facing)))[1].reshape(len(places), -1)
            normals.append(facing[near].mean(1))
        out = {INNER: 1.0, MIDDLE: 0.5}.get(piece.side, 0.0)
        mitre = 1 / max(np.cos(np.abs(mate.fold).max() / 2), 0.5)
        depth = np.array([out, 1 - out]) * piece.stock.thickness * mitre
        if mate.join.over:  # what lies over is pressed on
            depth[0] += mate.join.gap + self._pieces[mate.join.over].stock.thickness * mitre
        turned = np.stack(normals, axis=1) @ self._frame.T
        return places @ self._frame.T, turned, depth, float(np.mean(mate.fold)) > -1e-3

    def _reach(self, standing: frozenset) -> np.ndarray:
        """Where the middle of a block gets to, in each of its three positions (3, x, y, z)."""
        from scipy.ndimage import generate_binary_structure, label, maximum_filter

        if self._reached and self._reached[0] == standing:
            return self._reached[1]
        self._full = full = np.zeros(self.shape, dtype=np.uint8)
        for k in standing:
            full.ravel()[self._cells[k]] = 1
        free = np.stack([maximum_filter(full, self._size(thin)) == 0 for thin in range(3)])
        # The positions all hang together, also the first and the last: that one comes twice.
        number, _ = label(np.concatenate([free, free[:1]]), generate_binary_structure(4, 1))
        reached = number[:3] == number[0, 0, 0, 0]
        self._reached = standing, reached
        return reached

    def _size(self, thin: int) -> tuple[int, ...]:
        sides = [HAND[0]] * 3
        sides[thin] = HAND[2]
        return tuple(max(1, round(side / self.cell) - 1) for side in sides)

    def _near(self, reached: np.ndarray, place: np.ndarray, normals: np.ndarray,
              depth: np.ndarray, convex: bool) -> tuple[bool, bool]:
        """Does a block get within reach of a place, on its outside and on its inside: before or
        behind it, within PRESS of the mean of the two faces' normals, and with no foam between?
        Outside of a convex edge is what lies before either face, of a hollow one before both."""
        far = int(np.ceil((HAND[0] / 2 + REACH) / self.cell))
        at = np.floor((place - self.start) / self.cell).astype(int)
        low, high = np.maximum(at - far, 0), np.minimum(at + far + 1, self.shape)
        window = reached[:, low[0]:high[0], low[1]:high[1], low[2]:high[2]]
        thin, *index = np.nonzero(window)
        middle = self.start + (np.stack(index, 1) + low + 0.5) * self.cell
        half = np.full((len(thin), 3), HAND[0] / 2)
        half[np.arange(len(thin)), thin] = HAND[2] / 2
        arm = middle - place
        gap = np.sign(arm) * np.maximum(np.abs(arm) - half, 0.0)  # to the nearest of the block
        mean = normals.sum(0)
        mean = mean / max(np.linalg.norm(mean), 1e-9)
        aside = np.linalg.norm(gap - (gap @ mean)[:, None] * mean, axis=1)
        near = (aside <= ASIDE) & (np.linalg.norm(gap, axis=1) <= REACH)
        arm, middle = arm[near], middle[near]
        before = arm @ normals.T
        side = before.max(axis=1) if convex else before.min(axis=1)
        steep = arm @ mean
        most = PRESS * np.linalg.norm(arm, axis=1)
        return (self._sees(place + (depth[0] + CLEAR * self.cell) * mean,
                           middle[(side > 0) & (steep > most)]),
                self._sees(place - (depth[1] + CLEAR * self.cell) * mean,
                           middle[(side < 0) & (steep < -most)]))

    def _sees(self, place: np.ndarray, middles: np.ndarray) -> bool:
        """Is there no foam between a place and one of the middles (k, 3)?"""
        if not len(middles):
            return False
        steps = int(np.ceil(2 * np.linalg.norm(middles - place, axis=1).max() / self.cell)) + 1
        along = place + np.linspace(0, 1, steps)[:, None, None] * (middles - place)
        cell = np.floor((along - self.start) / self.cell).astype(int)
        return bool((self._full[tuple(cell.transpose(2, 0, 1))] == 0).all(axis=0).any())


def _frame(normals: np.ndarray) -> np.ndarray:
    """Axes (3, 3), as rows, that turn with the bodies: along the first way one of them faces, and
    as near as can be to the next that is not the same."""
    facing = [n for n in normals if n.any()]
    if not facing:
        return np.eye(3)
    first = facing[0]
    across = [n - (n @ first) * first for n in (*facing, *np.eye(3))]
    second = next(a for a in across if np.linalg.norm(a) > 0.5)
    second = second / np.linalg.norm(second)
    return np.stack([first, second, np.cross(first, second)])


def _places(curve: np.ndarray) -> np.ndarray:
    """Places (k, 3) evenly along a seam, its ends left out."""
    steps = np.append(0.0, np.cumsum(np.linalg.norm(np.diff(curve, axis=0), axis=1)))
    count = int(np.clip(steps[-1] // APART, 1, MOST))
    at = (np.arange(count) + 0.5) / count * steps[-1]
    return np.stack([np.interp(at, steps, x) for x in curve.T], axis=1)
