"""Short loops that cut a handle or a tunnel open."""

from __future__ import annotations

import numpy as np

from .. import mesh
from .surface import Surface

ROOTS = 8  # places, far from one another, from which short loops are looked for
CLOSER = 4  # times that the search is repeated from the far side of the best loop


def handle_loop(surface: Surface) -> np.ndarray:
    """Edges (k, 2) of a short loop that does not divide a surface with handles.

    The shortest through one vertex lies in that vertex's tree of shortest paths and one
    more edge, which a spanning tree of the faces tells (Erickson and Whittlesey 2005);
    several vertices are tried, then the far side of the best loop.
    """
    from scipy.sparse.csgraph import dijkstra

    n = len(surface.vertices)
    away, best, root = np.full(n, np.inf), (np.inf, np.empty((0, 2), int), 0), 0
    for _ in range(ROOTS):
        distance, before = dijkstra(surface.graph, indices=root, return_predecessors=True)
        best = min(best, _shortest(surface, distance, before), key=lambda found: found[0])
        away = np.minimum(away, distance)
        root = int(np.argmax(away))
    for _ in range(CLOSER):
        distance, before = dijkstra(surface.graph, indices=best[2], return_predecessors=True)
        found = _shortest(surface, distance, before)
        if found[0] >= best[0] * (1 - 1e-9):
            break
        best = found
    return surface.inner(best[1])


def _shortest(surface: Surface, distance: np.ndarray,
              before: np.ndarray) -> tuple[float, np.ndarray, int]:
    """Cost, edges (k, 2) and furthest vertex of the shortest such loop through the root."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import minimum_spanning_tree

    a, b = surface.edges.T
    in_tree = ((before[a] == b) | (before[b] == a)) & ~surface.inside
    cost = distance[a] + distance[b] + surface.cost
    # Every boundary loop is filled with a face of its own, or loops round it would count.
    m = len(surface.faces)
    faces = surface.beside.copy()
    for k, loop in enumerate(surface.loops):
        faces[surface.rim & np.isin(a, loop), 1] = m + k
    # The faces' tree crosses the edges with the longest loops, those inside a face first.
    rank = np.empty(len(cost))
    rank[np.lexsort((-cost, ~surface.inside))] = np.arange(1, len(cost) + 1)
    free = np.flatnonzero(~in_tree)
    free = free[np.argsort(rank[free])]
    total = m + len(surface.loops)
    _, first = np.unique(mesh.edge_keys(faces[free], total), return_index=True)
    across = free[first]  # of the edges between the same two faces the one with the longest loop
    dual = csr_matrix((rank[across], faces[across].T), shape=(total, total))
    crossed = np.zeros(len(cost) + 1, dtype=bool)
    crossed[minimum_spanning_tree(dual).data.astype(int)] = True
    closing = free[~crossed[rank[free].astype(int)]]
    best = closing[np.argmin(cost[closing])]
    sides = [_path(before, int(vertex)) for vertex in surface.edges[best]]
    # What the two ways to the root have in common is no part of the loop.
    while len(sides[0]) > 1 and len(sides[1]) > 1 and sides[0][-2] == sides[1][-2]:
        sides = [side[:-1] for side in sides]
    loop = np.array([*sides[0][::-1], *sides[1][:-1]])
    length = cost[best] - 2 * distance[sides[0][-1]]
    return float(length), np.stack([loop, np.roll(loop, -1)], axis=1), int(sides[0][0])


def _path(before: np.ndarray, vertex: int) -> list[int]:
    path = [vertex]
    while before[vertex] >= 0:
        vertex = int(before[vertex])
        path.append(vertex)
    return path
