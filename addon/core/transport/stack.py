"""Parts let down into a box one after another, over a map of heights.

What lies in the box is known by how high it reaches over each cell of the floor, a part by how low
and how high it reaches over its own cells; it comes to lie where one of these is on the other. So
hollows that open upward are used, those that do not are taken for full, and every part can be put
in, and taken out again, straight from above. (After Wang and Hauser, Stable bin packing of
non-convex 3D objects with a robot manipulator, 2019.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..stopping import ask
from .load import UPRIGHT, Load

CELLS = 64  # along the longer side of the floor, about
FINEST, COARSEST = 3.0, 10.0  # mm, bounds of a cell
SPLIT = 12  # the cells of a side are a multiple, so that halves, thirds and quarters are exact
NEAR = 1e-6  # of a cell, and mm, that two numbers may differ by and be the same


@dataclass(frozen=True, eq=False)
class Shape:
    """A load as it is turned: bottom and top (i, j) mm of each cell over its lowest point, inf and
    -inf where there is none; low (3,) of its points as turned; size (3,) with the gap."""

    turn: np.ndarray
    bottom: np.ndarray
    top: np.ndarray
    low: np.ndarray
    size: np.ndarray


@dataclass(frozen=True, eq=False)
class Place:
    """Where a load lies: its number, its shape, and its lower corner (3,) in the box."""

    load: int
    shape: Shape
    corner: np.ndarray


class Box:
    """The box: size (3,) mm, its cells, and the shapes that may go into it."""

    def __init__(self, size: Sequence[float], gap: float, loads: Sequence[Load]):
        self.size, self.gap = np.asarray(size, dtype=float), gap
        # A cell is at least as wide as the gap, so that a widened point is in the cells of its
        # four corners.
        cell = max(float(np.clip(self.size[:2].max() / CELLS, FINEST, COARSEST)), gap)
        count = np.maximum(self.size[:2] // cell, 1)
        count = np.where(count < SPLIT, count, SPLIT * (count // SPLIT)).astype(int)
        self.cells = tuple(count.tolist())
        self.cell = self.size[:2] / count
        self.shapes = [self._shapes(load) for load in loads]

    def _shapes(self, load: Load) -> list[Shape]:
        """The ways a load fits the empty box, each of those that look alike once."""
        found: list[Shape] = []
        for turn in UPRIGHT:
            if ((load.size @ np.abs(turn).T + self.gap) <= self.size + NEAR).all():
                shape = self._shape(load, turn)
                if not any(_alike(shape, other) for other in found):
                    found.append(shape)
        return found

    def _shape(self, load: Load, turn: np.ndarray) -> Shape:
        axis, sign = np.argmax(np.abs(turn), axis=1), turn.sum(axis=1)
        low = np.where(sign > 0, load.low[axis], -load.high[axis])
        size = load.size[axis] + self.gap
        x, y, z = (s * load.points[k] - start for k, s, start in zip(axis, sign, low, strict=True))
        wide = np.minimum(np.maximum(np.ceil(size[:2] / self.cell - NEAR), 1).astype(int),
                          self.cells)
        columns, rows = (self._cells(at, number, wide[number]) for number, at in enumerate((x, y)))
        bottom, top = np.full(wide.prod(), np.inf), np.full(wide.prod(), -np.inf)
        for cell in (column * wide[1] + row for column in columns for row in rows):
            np.minimum.at(bottom, cell, z)
            np.maximum.at(top, cell, z + self.gap)
        return Shape(turn, bottom.reshape(wide), top.reshape(wide), low, size)

    def _cells(self, at: np.ndarray, axis: int, count: int) -> tuple[np.ndarray, np.ndarray]:
        """The first and the last cell that points, as wide as the gap, are in along an axis."""
        first = np.floor(at / self.cell[axis] + NEAR).astype(int)
        last = np.ceil((at + self.gap) / self.cell[axis] - NEAR).astype(int) - 1
        return first.clip(0, count - 1), last.clip(0, count - 1)

    def filled(self, order: Sequence[int]) -> tuple[list[Place], list[int]]:
        """Loads put in one after another, each where it raises what lies in the box least; and
        those that find no place."""
        heights = np.zeros(self.cells)
        places, left = [], []
        for number in order:
            ask()
            found = self._best(heights, self.shapes[number])
            if found is None:
                left.append(number)
                continue
            shape, (i, j), z = found
            places.append(Place(number, shape, np.array([*(np.array([i, j]) * self.cell), z])))
            under = heights[i:i + shape.top.shape[0], j:j + shape.top.shape[1]]
            np.maximum(under, z + shape.top, out=under)
        return places, left

    def _best(self, heights: np.ndarray, shapes: Sequence[Shape]
              ) -> tuple[Shape, tuple[int, int], float] | None:
        best, least = None, (np.inf,)
        for shape in shapes:
            windows = np.lib.stride_tricks.sliding_window_view(heights, shape.bottom.shape)
            z = np.maximum((windows - shape.bottom).max(axis=(2, 3)), 0.0)
            open_ = np.flatnonzero(z.ravel() + shape.size[2] <= self.size[2] + NEAR)
            if not len(open_):
                continue
            i, j = np.unravel_index(open_, z.shape)
            own, at = windows[i, j], z[i, j]
            raised = np.maximum(own, at[:, None, None] + shape.top) - own
            # Of places as good the lowest, then the one in the corner.
            score = np.round(raised.sum(axis=(1, 2)) * self.cell.prod() / 1e3)
            k = int(np.lexsort((j, i, np.round(at + shape.size[2], 1), score))[0])
            key = (score[k], round(float(at[k] + shape.size[2]), 1), i[k] + j[k])
            if key < least:
                best, least = (shape, (int(i[k]), int(j[k])), float(at[k])), key
        return best


def _alike(one: Shape, other: Shape) -> bool:
    return one.bottom.shape == other.bottom.shape and all(
        np.array_equal(np.round(a, 1), np.round(b, 1))
        for a, b in ((one.bottom, other.bottom), (one.top, other.top)))
