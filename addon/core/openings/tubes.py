"""Short, straight cuts between the rims of a tube."""

from __future__ import annotations

import numpy as np

from .. import mesh
from .surface import Surface

GIVE = 0.05  # strain that foam gives a closed ring before it is called a tube
DETOUR = 4.0  # times its length that an edge at the rim of a hole costs: holes stay whole
TURN = 1.0  # lengths of edge that a turn by a right angle costs: straight runs come first


def tube_cut(surface: Surface, give: float = GIVE) -> np.ndarray:
    """Edges (k, 2) of cuts, like a tree, that join every tube-like rim to the outer one.

    surface: without handles. Empty where every rim but the outer one is a hole in
    something that lies flat. A negative give joins all the rims.
    """
    rims = surface.loops
    if len(rims) < 2:
        return np.empty((0, 2), dtype=np.int64)
    turns = _turns(surface)
    lengths = [mesh.polyline_length(surface.vertices[np.append(r, r[:1])]) for r in rims]
    outer = max(range(len(rims)), key=lambda k: (round(turns[k], 6), lengths[k]))
    joined, cuts = [rims[outer]], []
    missing = [rims[k] for k, strain in enumerate(_strains(surface, outer, turns, lengths))
               if k != outer and strain > give]
    while missing:
        path = _straightest(surface, np.concatenate(joined), np.concatenate(missing))
        cuts.append(np.stack([path[:-1], path[1:]], axis=1))
        reached = next(k for k, rim in enumerate(missing) if path[-1] in rim)
        joined += [path, missing.pop(reached)]
    return surface.inner(np.concatenate([np.empty((0, 2), dtype=np.int64), *cuts]))


def _turns(surface: Surface) -> list[float]:
    """By how much each rim turns, foam on its left: 2 pi round a flat disc, -2 pi round a
    hole in it, 0 at the end of a tube. The sum of pi - inner angle over the rim is the
    boundary's term in the theorem of Gauss and Bonnet."""
    angle = np.bincount(surface.faces.ravel(),
                        mesh.corner_angles(surface.vertices, surface.faces).ravel())
    return [float((np.pi - angle[rim]).sum()) for rim in surface.loops]


def _strains(surface: Surface, outer: int, turns: list[float],
             lengths: list[float]) -> list[float]:
    """About the strain that it would take to lay the surface round each rim flat.

    A collar of width w round a rim of length L whose turn is off by d must lose d w in
    length from its one side to the other, half of it from each: d w / 2 L, as a ring cut
    from a cylinder shows. Beyond the rim's own radius, a wide collar costs no more.
    """
    from scipy.sparse.csgraph import dijkstra

    rims = surface.loops
    distance = dijkstra(surface.graph, indices=rims[outer], min_only=True)
    return [abs(turn + 2 * np.pi) * min(distance[rim].min(), length / (2 * np.pi)) / (2 * length)
            for rim, turn, length in zip(rims, turns, lengths, strict=True)]


def _straightest(surface: Surface, sources: np.ndarray, targets: np.ndarray) -> np.ndarray:
    """Vertices (k,) of the cheapest path from any of the sources to any of the targets.

    A place on it is an edge with its direction, so that turns can be charged for.
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import dijkstra

    free = ~surface.inside
    edges = surface.edges[free]
    edges = np.concatenate([edges, edges[:, ::-1]])
    order = np.argsort(edges[:, 0], kind="stable")
    edges = edges[order]
    cost, length = (np.tile(x[free], 2)[order] for x in (surface.cost, surface.length))
    holes = np.setdiff1d(surface.edges[surface.rim], np.append(sources, targets))
    cost = np.where(np.isin(edges, holes).any(axis=1), DETOUR * length, cost)
    way = (surface.vertices[edges[:, 1]] - surface.vertices[edges[:, 0]]) / length[:, None]
    count, n = len(edges), len(surface.vertices)
    bounds = np.searchsorted(edges[:, 0], np.arange(n + 1))
    onward = np.diff(bounds)[edges[:, 1]]
    here = np.repeat(np.arange(count), onward)
    there = np.arange(len(here)) - np.repeat(np.cumsum(onward) - onward, onward)
    there += np.repeat(bounds[edges[:, 1]], onward)
    turned = 1 - np.einsum("ij,ij->i", way[here], way[there])
    step = cost[there] + TURN * turned * (length[here] + length[there]) / 2
    starts = np.flatnonzero(np.isin(edges[:, 0], sources))
    network = csr_matrix(
        (np.append(step, cost[starts]),
         (np.append(here, np.full(len(starts), count)), np.append(there, starts))),
        shape=(count + 1, count + 1))
    distance, before = dijkstra(network, indices=count, return_predecessors=True)
    ends = np.flatnonzero(np.isin(edges[:, 1], targets))
    place = int(ends[np.argmin(distance[ends])])
    path = [int(edges[place, 1])]
    while place != count:
        path.append(int(edges[place, 0]))
        place = int(before[place])
    return np.array(path[::-1], dtype=np.int64)
