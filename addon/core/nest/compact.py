"""Shapes pushed together or apart, exactly, by linear programs over their convex parts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .convex import Form

ROUNDS = 5  # each with separating lines of its own
SAFE = 2e-7  # of the height: kept beyond the gap, for what solvers take for zero


def compact(forms: Sequence[Form], corners: np.ndarray, height: float, gap: float, trust: float,
            width: float | None = None) -> tuple[np.ndarray, float] | None:
    """Lower left corners (n, 2) after each shape was moved a little, and what is left to do.

    Without a width: moved to where the shapes, which must not overlap, take the least of it;
    the second value is that width. With a width: moved apart until they keep the gap within it;
    the second value is by how much they still fail, 0 where they do not. None where the solver
    finds nothing.

    Two convex parts stay apart where they lie on two sides of a line along a side of one of them,
    that with most room between them. While those lines are kept the best moves are a linear
    program; then better lines may be found ("compaction" and "separation": Li and Milenkovic,
    European J. of Operational Research 84, 1995). trust: furthest move in x and y in one round.
    """
    owner = np.repeat(np.arange(len(forms)), [len(form.box) for form in forms])
    parts = _Parts(*(np.concatenate([getattr(form, name) for form in forms])
                     for name in ("corners", "normals", "reach", "box")), owner)
    size = np.array([form.size for form in forms])
    gap += SAFE * height
    value = None
    for _ in range(ROUNDS):
        one, other, away, room = parts.lines(corners, gap + 2 * trust, gap + 3 * trust)
        found = _solve(corners, size, height, width, trust, one, other, away, room - gap)
        if found is None:
            return None
        before, (moves, value) = value, found
        corners = corners + moves
        if value <= 0.0 or before is not None and before - value < 1e-4 * before:
            break
    return corners, value


class _Parts:
    """The convex parts of all shapes, and the shape that owns each."""

    def __init__(self, corners: np.ndarray, normals: np.ndarray, reach: np.ndarray,
                 box: np.ndarray, owner: np.ndarray):
        self.corners, self.normals, self.reach = corners, normals, reach
        self.box, self.owner = box, owner

    def lines(self, at: np.ndarray, near: float, most: float) -> tuple[np.ndarray, ...]:
        """For each pair of parts of two shapes whose boxes come near: the shapes (k,), (k,),
        the unit vector (k, 2) from one to the other, and the room (k,) between them along it,
        where that is less than most."""
        x0, y0, x1, y1 = (self.box + np.tile(at[self.owner], 2)).T
        close = ((x0[:, None] < x1 + near) & (x0 < x1[:, None] + near)
                 & (y0[:, None] < y1 + near) & (y0 < y1[:, None] + near)
                 & (self.owner[:, None] < self.owner))
        p, q = np.nonzero(close)
        apart = at[self.owner[q]] - at[self.owner[p]]
        room_p, side_p = self._room(p, q, apart)
        room_q, side_q = self._room(q, p, -apart)
        first = room_p >= room_q
        away = np.where(first[:, None], self.normals[p, side_p], -self.normals[q, side_q])
        room = np.where(first, room_p, room_q)
        kept = room < most
        return self.owner[p][kept], self.owner[q][kept], away[kept], room[kept]

    def _room(self, p: np.ndarray, q: np.ndarray,
              apart: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The most room between part p and part q beyond a side of p, and that side."""
        normals = self.normals[p]
        room = (np.einsum("kmi,kvi->kmv", normals, self.corners[q]).min(axis=2) - self.reach[p]
                + np.einsum("kmi,ki->km", normals, apart))
        side = room.argmax(axis=1)
        return room[np.arange(len(p)), side], side


def _solve(corners: np.ndarray, size: np.ndarray, height: float, width: float | None,
           trust: float, one: np.ndarray, other: np.ndarray, away: np.ndarray,
           spare: np.ndarray) -> tuple[np.ndarray, float] | None:
    """The moves (n, 2), and the least width or the least sum of failures."""
    from scipy.optimize import linprog
    from scipy.sparse import coo_matrix

    n, k = len(corners), len(one)
    row = np.arange(k)
    rows, columns = [np.tile(row, 4)], [np.concatenate([2 * one, 2 * one + 1, 2 * other,
                                                        2 * other + 1])]
    values, bound = [np.concatenate([*away.T, *-away.T])], spare
    high = np.minimum(trust, np.array([np.inf, height]) - size - corners)
    if width is None:
        more = 1
        rows.append(np.tile(k + np.arange(n), 2))
        columns.append(np.concatenate([2 * np.arange(n), np.full(n, 2 * n)]))
        values.append(np.repeat([1.0, -1.0], n))
        bound = np.concatenate([bound, -(corners + size)[:, 0]])
    else:
        more = k
        rows.append(row)
        columns.append(2 * n + row)
        values.append(-np.ones(k))
        high[:, 0] = np.minimum(high[:, 0], width - size[:, 0] - corners[:, 0])
    low = np.minimum(np.maximum(-trust, -corners), high)
    cost = np.r_[np.zeros(2 * n), np.ones(more)]
    limits = np.concatenate([np.stack([low.ravel(), high.ravel()], axis=1),
                             np.tile([0.0, np.inf], (more, 1))])
    matrix = coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
                        shape=(len(bound), 2 * n + more)).tocsr()
    found = linprog(cost, A_ub=matrix, b_ub=bound, bounds=limits, method="highs")
    if found.x is None:
        return None
    return found.x[: 2 * n].reshape(n, 2), float(found.fun)
