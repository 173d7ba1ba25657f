"""Where to part a closed shell in two halves."""

from __future__ import annotations

from itertools import product

import numpy as np

from .. import mesh
from .surface import Surface

SMOOTHING = (0.03, 0.01, 0.003, 0.0)  # price of the parting line per root of the area
ALIKE = 0.01  # shadows whose sizes differ by less are taken for equally large
UNITS = 10**8  # whole numbers that the area is counted in; flows want integers


def parting_line(surface: Surface) -> np.ndarray:
    """Edges (k, 2) that divide a closed shell into two connected halves.

    The halves are what is seen from the front and from behind in the direction of the
    largest shadow. Of all ways to divide the faces the one is taken that is cheapest in
    the area seen from the wrong side (foreshortened) plus the cost of the line: a
    minimum cut (Boykov and Kolmogorov 2004), so the line is short and ignores small bumps.
    """
    normals, area = surface.normals
    seen = area * (normals @ _view(normals, area))
    for smoothing in SMOOTHING:
        front = _cheapest(surface, seen, smoothing)
        if front.any() and not front.all():
            break
    front = _two_halves(surface, front)
    a, b = surface.beside.T
    return surface.edges[front[a] != front[b]]


def _view(normals: np.ndarray, area: np.ndarray) -> np.ndarray:
    """Direction (3,) in which a closed surface casts its largest shadow.

    The shadow's area is half of the sum of |n . view| area, a convex function of the view, so
    turning the view to the mean normal of what it sees only enlarges it. Of equal
    shadows, as a ball has, the first in the order of the principal axes counts.
    """
    _, axes = np.linalg.eigh(np.einsum("i,ij,ik->jk", area, normals, normals))
    axes = axes[:, ::-1].T
    axes *= np.sign(axes[np.arange(3), np.abs(axes).argmax(axis=1)])[:, None]
    steps = sorted((s for s in product((0, 1, -1), repeat=3) if s > (0, 0, 0)),
                   key=lambda s: (sum(map(abs, s)), [-x for x in s]))
    views = np.array(steps, dtype=float) @ axes
    for _ in range(20):
        views /= np.linalg.norm(views, axis=1)[:, None]
        views = (np.sign(normals @ views.T) * area[:, None]).T @ normals
    shadow = np.linalg.norm(views, axis=1)
    best = int(np.argmax(shadow >= (1 - ALIKE) * shadow.max()))
    return views[best] / max(shadow[best], 1e-300)


def _cheapest(surface: Surface, seen: np.ndarray, smoothing: float) -> np.ndarray:
    """Faces (m,) in front: those on the source's side of a minimum cut."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    m = len(seen)
    line = surface.cost * smoothing * surface.size / surface.area * UNITS
    line = np.where(surface.inside, 10 * UNITS, np.minimum(line, UNITS))
    pull = np.abs(seen) / surface.area * UNITS
    a, b = surface.beside.T
    before, behind = np.flatnonzero(seen > 0), np.flatnonzero(seen < 0)
    rows = np.concatenate([a, b, np.full(len(before), m), behind])
    columns = np.concatenate([b, a, before, np.full(len(behind), m + 1)])
    capacity = np.concatenate([line, line, pull[before], pull[behind]]).astype(np.int32)
    network = csr_matrix((capacity, (rows, columns)), shape=(m + 2, m + 2))
    left = network - maximum_flow(network, m, m + 1).flow
    left.data[left.data < 0] = 0
    left.eliminate_zeros()
    reached = breadth_first_order(left, m, return_predecessors=False)
    front = np.zeros(m + 2, dtype=bool)
    front[reached] = True
    return front[:m]


def _two_halves(surface: Surface, front: np.ndarray) -> np.ndarray:
    """The division in which the largest part in front and what it leaves are both in one."""
    front = _largest(surface, front)
    return ~_largest(surface, ~front)


def _largest(surface: Surface, chosen: np.ndarray) -> np.ndarray:
    """The largest connected group (m,) of the chosen faces."""
    links = surface.beside[chosen[surface.beside].all(axis=1)]
    _, group = mesh.components(len(chosen), links)
    size = np.bincount(group, surface.normals[1] * chosen)
    return chosen & (group == np.argmax(size))
