"""Fair curves on a surface: through picks without a kink, bent as little as may be.

A polyline on the surface minimises the sum of its squared second differences while it passes
through the picks; in turns it is solved for near its tangent planes and put back on the surface
(splines in manifolds, Hofer and Pottmann 2004, Energy-minimizing splines in manifolds).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .. import mesh
from .line import SurfaceLine, through
from .surface import Surface

FINE, MOST = 16, 240  # points to a leg, and to a line
ROUNDS, SETTLED = 15, 1e-3  # the largest move that still matters, as a share of a step
SAME = 1e-6  # of the length of the line: picks nearer than this are one
STIFF = 1e3  # of the pull to the tangent planes


def fair_through(surface: Surface, picks: np.ndarray, closed: bool = False) -> SurfaceLine:
    """A fair curve through picks (p, 3), each moved to the nearest point of the surface first.

    Picks in the same place count once. Of two picks, and of one, as `through`. Raises FoamError
    `no-line` as that does.
    """
    straight = through(surface, picks, closed)
    legs = np.diff(mesh.arc_length(straight.points)[straight.picks])
    if len(legs) < 2 or not legs.sum() > 0:
        return straight
    apart = legs > SAME * legs.sum()
    if not apart.all():  # picks in one place would ask for two directions at once
        kept = apart if straight.closed else np.append(apart, True)
        return fair_through(surface, straight.points[straight.picks[:len(kept)][kept]], closed)
    points, fixed, step = _spread(straight)
    for _ in range(ROUNDS):
        foot = surface.nearest(points, exact=False)
        normals, _ = mesh.face_normals(surface.vertices, surface.faces[foot.face])
        moved = _relaxed(points, normals, fixed, step, straight.closed)
        moved = surface.nearest(moved).points
        moved[fixed] = points[fixed]
        change = np.linalg.norm(moved - points, axis=1).max()
        points = moved
        if change < SETTLED * step.min():
            break
    line = through(surface, points, straight.closed)
    ends = np.append(fixed, len(points)) if straight.closed else fixed
    return replace(line, picks=line.picks[ends])


def _spread(line: SurfaceLine) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points (n, 3) evenly along each leg of a line, which of them (p,) are its picks, and the
    lengths of the steps, of a closed line also of the last one back."""
    along = mesh.arc_length(line.points)
    stops = along[line.picks]
    legs = np.diff(stops)
    size = max(np.median(legs) / FINE, along[-1] / MOST)
    count = np.maximum(2, np.round(legs / size).astype(np.int64))
    place = np.concatenate([a + (b - a) * np.arange(n) / n for a, b, n in
                            zip(stops, stops[1:], count, strict=False)])
    fixed = np.cumsum([0, *count])
    if line.closed:
        fixed = fixed[:-1]
    else:
        place = np.append(place, along[-1])
    points = np.stack([np.interp(place, along, x) for x in line.points.T], axis=1)
    return points, fixed, np.repeat(legs / count, count)


def _relaxed(points: np.ndarray, normals: np.ndarray, fixed: np.ndarray, step: np.ndarray,
             closed: bool) -> np.ndarray:
    """The points (n, 3) moved near their tangent planes to where the line bends least."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import spsolve

    count = len(points)
    middle = np.arange(0 if closed else 1, count if closed else count - 1)
    before, after = step[middle - 1], step[middle]
    rows = np.repeat(np.arange(len(middle)), 3)
    columns = np.stack([middle - 1, middle, middle + 1], axis=1) % count
    weight = np.sqrt(2 / (before + after))
    values = np.stack([1 / before, -1 / before - 1 / after, 1 / after], axis=1) * weight[:, None]
    bend = sp.csr_matrix((values.ravel(), (rows, columns.ravel())), shape=(len(middle), count))
    energy = sp.kron(bend.T @ bend, sp.identity(3))
    planes = sp.bsr_matrix((normals[:, :, None] * normals[:, None, :], np.arange(count),
                            np.arange(count + 1)))
    matrix = (energy + STIFF * energy.diagonal().max() * planes).tocsr()
    free = np.ones(count, dtype=bool)
    free[fixed] = False
    free = np.repeat(free, 3)
    shift = np.zeros(3 * count)
    shift[free] = spsolve(matrix[free][:, free].tocsc(), -(energy @ points.ravel())[free])
    return points + shift.reshape(-1, 3)
