"""The surface in many small patches, whose borders lie where seams like to lie.

Distances are walked from face to face, longer where the surface folds, so that patches end at
folds; seeds are spread by taking the furthest face each time, then moved to the middle of their
patches (Lloyd).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from .working import Working

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

STEEPER = np.radians(30.0) / 3  # a fold that doubles the way across it
CREASED = 60.0  # mm that a crease adds to the way across it
LLOYD = 6


def patches(working: Working, number: int, hard: bool = False) -> np.ndarray:
    """Label (m,) of about `number` patches on each half, the image of a patch being a patch.

    hard: no patch starts on one side of a crease and ends on the other.
    """
    graph = steps(working, hard)
    count = graph.shape[0]
    centre = working.points[working.faces[:count]].mean(axis=1)
    seeds = _spread(graph, number)
    for _ in range(LLOYD):
        label = _nearest(graph, seeds)
        for index in range(len(seeds)):
            mine = np.flatnonzero(label == index)
            middle = np.average(centre[mine], axis=0, weights=working.area[mine])
            seeds[index] = mine[np.argmin(((centre[mine] - middle) ** 2).sum(axis=1))]
    label = _nearest(graph, seeds)
    if working.symmetric:
        label = np.concatenate([label, label + len(seeds)])
    return label


def steps(working: Working, hard: bool = False) -> csr_matrix:
    """Sparse graph (h, h) of the walking distances between the faces of the half."""
    from scipy.sparse import coo_matrix

    count = len(working.half)
    inside = (working.beside < count).all(axis=1)
    if hard:
        inside &= ~working.crease
    a, b = working.beside[inside].T
    centre = working.points[working.faces].mean(axis=1)
    way = np.linalg.norm(centre[a] - centre[b], axis=1)
    way = way * (1 + np.abs(working.fold[inside]) / STEEPER)
    way += np.where(working.crease[inside], CREASED, 0.0)
    return coo_matrix((way, (a, b)), shape=(count, count)).tocsr()


def _spread(graph, number: int) -> np.ndarray:
    """Seeds: one in each connected part, then always the face furthest from all of them."""
    from scipy.sparse.csgraph import connected_components, dijkstra

    _, part = connected_components(graph, directed=False)
    seeds = list(np.unique(part, return_index=True)[1])
    away = dijkstra(graph, directed=False, indices=seeds, min_only=True)
    while len(seeds) < number:
        far = int(np.argmax(away))
        if away[far] <= 0:
            break
        seeds.append(far)
        away = np.minimum(away, dijkstra(graph, directed=False, indices=far))
    return np.array(seeds)


def _nearest(graph, seeds: np.ndarray) -> np.ndarray:
    """Index (h,) of the seed nearest to each face; of equal ones the first."""
    from scipy.sparse.csgraph import dijkstra

    _, _, source = dijkstra(graph, directed=False, indices=seeds, min_only=True,
                            return_predecessors=True)
    place = np.full(graph.shape[0], -1)
    place[seeds] = np.arange(len(seeds))
    return place[source]


def halves(working: Working, faces: np.ndarray, graph: csr_matrix) -> np.ndarray:
    """Which of some faces (k,) of the half lie nearer to one end of the patch than the other."""
    from scipy.sparse.csgraph import dijkstra

    inner = graph[faces][:, faces]
    away = dijkstra(inner, directed=False, indices=0)
    if not np.isfinite(away).all():
        return np.isfinite(away)
    one = int(np.argmax(away))
    first = dijkstra(inner, directed=False, indices=one)
    second = dijkstra(inner, directed=False, indices=int(np.argmax(first)))
    return first <= second


def connected(working: Working, label: np.ndarray) -> np.ndarray:
    """Labels (m,) numbered anew so that each is connected and images stay images."""
    same = label[working.beside[:, 0]] == label[working.beside[:, 1]]
    return mesh.components(len(label), working.beside[same])[1]
