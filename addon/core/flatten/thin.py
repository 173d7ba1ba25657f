"""Some of the vertices of a flat mesh, evenly spread, and the triangles that join them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

NEAR_RIM = 0.6  # of the spacing: no inner vertex lies nearer to the rim's


def double_area(corners: np.ndarray) -> np.ndarray:
    """Twice the area of triangles (m, 3) in the plane; negative where turned over."""
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    return (np.conj(u) * v).imag


def plane(points: np.ndarray) -> np.ndarray:
    """Complex points (n,) as coordinates (n, 2)."""
    return np.stack([points.real, points.imag], axis=1)


def thinned(start: np.ndarray, loops: Sequence[np.ndarray], spacing: float
            ) -> tuple[np.ndarray, np.ndarray] | None:
    """Fine vertices picked (c,) and faces (f, 3) of them; None where the outline is not
    followed."""
    from scipy.spatial import Delaunay, cKDTree

    marks = [_every(start[loop], spacing) for loop in loops]
    for _ in range(8):
        rim = np.concatenate([loop[mark] for loop, mark in zip(loops, marks, strict=True)])
        if len(np.unique(rim)) < len(rim):
            return None  # a loop that passes twice through a vertex
        inner = _one_per_cell(start, np.setdiff1d(np.arange(len(start)), np.concatenate(loops)),
                              spacing)
        clear = cKDTree(plane(start[rim])).query(plane(start[inner]))[0] > NEAR_RIM * spacing
        picked = np.concatenate([rim, inner[clear]])
        at = start[picked]
        tree = Delaunay(plane(at))
        there = _edge_keys(tree.simplices, len(picked))
        missing, first = False, 0
        for k, mark in enumerate(marks):
            own = first + np.arange(len(mark))
            lost = ~np.isin(_keys(own, np.roll(own, -1), len(picked)), there)
            missing |= lost.any()
            first += len(mark)
            after = np.append(mark[1:], mark[0] + len(loops[k]))
            middle = ((mark + after) // 2)[lost & (after - mark > 1)] % len(loops[k])
            marks[k] = np.union1d(mark, middle)
        if not missing:
            break
    else:
        return None
    faces = tree.simplices.astype(np.int64)
    double = double_area(at[faces])
    faces = np.where(double[:, None] < 0, faces[:, ::-1], faces)
    rings = np.split(at[: len(rim)], np.cumsum([len(mark) for mark in marks])[:-1])
    around = _winding(rings, at[faces].mean(axis=1))
    kept = (around > 0) & (np.abs(double) > 1e-3 * spacing**2)
    # The rim of what is kept must be the outline, edge for edge.
    keys, count = np.unique(_edge_keys(faces[kept], len(picked)), return_counts=True)
    if around.max() > 1 or (count == 1).sum() != len(rim) or len(
            np.unique(faces[kept])) != len(picked):
        return None
    return picked, faces[kept]


def _keys(a: np.ndarray, b: np.ndarray, count: int) -> np.ndarray:
    return np.minimum(a, b) * count + np.maximum(a, b)


def _edge_keys(faces: np.ndarray, count: int) -> np.ndarray:
    faces = faces.astype(np.int64)
    return _keys(faces.ravel(), np.roll(faces, -1, axis=1).ravel(), count)


def _every(loop: np.ndarray, spacing: float) -> np.ndarray:
    """Indices of points of a closed line about `spacing` apart, at least eight if it has them."""
    step = np.abs(np.roll(loop, -1) - loop)
    along = np.cumsum(step) - step
    number = min(max(round(step.sum() / spacing), 8), len(loop))
    return np.unique(np.searchsorted(along, np.arange(number) * step.sum() / number)
                     .clip(0, len(loop) - 1))


def _one_per_cell(points: np.ndarray, inner: np.ndarray, spacing: float) -> np.ndarray:
    """Of the inner vertices the one nearest to the middle of each cell of a staggered grid."""
    at = points[inner]
    row = np.round(at.imag / (spacing * np.sqrt(3) / 2))
    shift = (row % 2) / 2
    column = np.round(at.real / spacing - shift)
    off = np.hypot(at.real - (column + shift) * spacing, at.imag - row * spacing * np.sqrt(3) / 2)
    key = (row - row.min(initial=0)) * (np.ptp(column) + 1 if len(column) else 1) + column
    order = np.lexsort((off, key))
    first = np.append(True, np.diff(key[order]) != 0)[: len(order)]
    return np.sort(inner[order[first]])


def _winding(rings: Sequence[np.ndarray], points: np.ndarray) -> np.ndarray:
    """How often the rings wind round each point (k,): crossings of a ray to the right."""
    total = np.zeros(len(points), dtype=np.int64)
    for ring in rings:
        for a, b in zip(ring, np.roll(ring, -1), strict=True):
            up = (a.imag <= points.imag) & (b.imag > points.imag)
            down = (b.imag <= points.imag) & (a.imag > points.imag)
            left = (np.conj(b - a) * (points - a)).imag
            total += (up & (left > 0)).astype(np.int64) - (down & (left < 0))
    return total
