"""Where relief cuts could run: from the places that ask most of the foam to the rims."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ... import mesh
from .ground import Ground

EVENED = 6  # rounds of averaging, so that a spot beside a rim does not count
ARCS = 10  # parts of the rims, for each of which the cheapest way there is looked at
APART = 0.2  # of a rim's length: nearer to each other the ends of a seam do not lie
REACHES = 0.6, 1.0  # shares of the way from the rim to the place that a dart is long
NO_WAY = 1e9  # cost of an edge of a rim, times its length
SHIFTS = 0.15, 0.3, 0.45, 0.6  # of the depth of the piece by which a seam is moved into it
DART, SEAM, SPLIT = "dart", "seam", "split"


@dataclass(frozen=True)
class Path:
    """A cut along edges of the ground: vertices in order from a rim, and what it costs: mm,
    less where it shows less. kind: DART, which ends inside, SEAM, from rim to rim, or SPLIT, a
    seam that takes the place of one that was there."""

    kind: str
    vertices: tuple[int, ...]
    cost: float

    @property
    def edges(self) -> np.ndarray:
        """Edges (k, 2) of the ground."""
        return np.stack([self.vertices[:-1], self.vertices[1:]], axis=1)


def places(ground: Ground, strained: Sequence[np.ndarray]) -> list[int]:
    """A few inner vertices at which relief may do most.

    Two are where the conformal scale of a flat, averaged over some neighbours, is furthest from
    that of the rim, up and down; the others are nearest to points (3,) that are strained.
    """
    inner = np.flatnonzero(~ground.rim)
    if not len(inner):
        return []
    scale = ground.evened(ground.scale, EVENED)[inner]
    ends = sorted((scale.argmax(), scale.argmin()), key=lambda k: -abs(scale[k]))
    near = [((ground.points[inner] - point) ** 2).sum(axis=1).argmin() for point in strained]
    return list(dict.fromkeys(int(inner[k]) for k in (*ends, *near)))


def paths(ground: Ground, cost: np.ndarray, starts: Sequence[int]) -> list[Path]:
    """Darts to the places and full seams through them, the cheapest first.

    cost (e,): of each edge of the ground. A cut touches rims with its ends only.
    """
    from scipy.sparse.csgraph import dijkstra

    (a, b), rim = ground.edges.T, ground.rim
    graph = ground.graph(np.where(rim[a] & rim[b], NO_WAY * ground.length, cost))
    arcs = _Arcs.of(ground)
    found: dict[tuple[int, ...], Path] = {}
    for place in starts:
        far, before = dijkstra(graph, indices=place, return_predecessors=True)
        legs = list(_legs(arcs, rim, place, far, before))
        for path in (*_darts(ground, legs), *_seams(arcs, legs)):
            key = min(path.vertices, path.vertices[::-1])
            if key not in found or path.cost < found[key].cost:
                found[key] = path
    return sorted(found.values(), key=lambda path: (path.cost, path.vertices))


Leg = tuple[float, tuple[int, ...]]  # cost, and vertices from a rim to a place


def _legs(arcs: _Arcs, rim: np.ndarray, place: int, far: np.ndarray, before: np.ndarray
          ) -> Iterator[Leg]:
    """The cheapest way to the place from each part of the rims."""
    for arc in arcs.parts:
        way = [int(arc[np.argmin(far[arc])])]
        while way[-1] != place and before[way[-1]] >= 0:
            way.append(int(before[way[-1]]))
        if way[-1] == place and not rim[way[1:]].any():
            yield float(far[way[0]]), tuple(way)


def _darts(ground: Ground, legs: Sequence[Leg]) -> Iterator[Path]:
    for cost, way in legs:
        along = mesh.arc_length(ground.points[list(way)])
        for reach in REACHES:
            short = way[:int(np.searchsorted(along, reach * along[-1] * (1 + 1e-9), "right"))]
            if len(short) > 1:
                yield Path(DART, short, cost * reach)


def _seams(arcs: _Arcs, legs: Sequence[Leg]) -> Iterator[Path]:
    for (cost, one), (more, two) in combinations(legs, 2):
        if arcs.apart(one[0], two[0]) and not set(one[:-1]) & set(two[:-1]):
            yield Path(SEAM, one + two[-2::-1], cost + more)


def moved(ground: Ground, cost: np.ndarray, line: np.ndarray, mine: np.ndarray
          ) -> list[Path]:
    """Ways beside a seam that was there, further and further inside the piece that fails.

    line (k, 3): the seam; mine (n,): vertices of the ground that are that piece's. The ends may
    slide along the rim as far as the way lies from the seam.
    """
    from scipy.sparse.csgraph import dijkstra
    from scipy.spatial import cKDTree

    (a, b), rim = ground.edges.T, ground.rim
    graph = ground.graph(np.where(rim[a] & rim[b], NO_WAY * ground.length, cost))
    away = cKDTree(line).query(ground.points)[0]
    inner = np.flatnonzero(mine & ~rim)
    found: dict[tuple[int, ...], Path] = {}
    if not len(inner):
        return []
    for share in SHIFTS:
        shift = share * away[inner].max()
        legs = []
        for end in (line[0], line[-1]):
            far = np.linalg.norm(ground.points - end, axis=1)
            near = np.flatnonzero(rim & (far <= max(shift, far[rim].min() * (1 + 1e-9))))
            legs.append(dijkstra(graph, indices=near, min_only=True, return_predecessors=True)[:2])
        (first, before), (second, after) = legs
        beyond = inner[away[inner] >= shift]
        total = (first + second)[beyond]
        if not np.isfinite(total).any():
            continue
        turn = int(beyond[np.argmin(total)])
        one, two = _back(before, turn), _back(after, turn)
        way = (*one[::-1], *two[1:])
        if len(set(way)) == len(way) and not rim[list(way[1:-1])].any():
            found.setdefault(way, Path(SPLIT, way, float(total.min())))
    return list(found.values())


def _back(before: np.ndarray, vertex: int) -> list[int]:
    """The way from a vertex back to where it began."""
    way = [vertex]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return way


@dataclass(frozen=True, eq=False)
class _Arcs:
    """The rims in parts of about equal length: the vertices of each. Of each vertex (n,): which
    rim it lies on, and where along it, as a share of its length."""

    parts: tuple[np.ndarray, ...]
    loop: np.ndarray
    position: np.ndarray

    @classmethod
    def of(cls, ground: Ground) -> _Arcs:
        count = len(ground.points)
        which, position, lengths = np.full(count, -1), np.zeros(count), []
        for k, loop in enumerate(ground.loops):
            along = mesh.arc_length(ground.points[np.append(loop, loop[:1])])
            which[loop], position[loop] = k, along[:-1] / max(along[-1], 1e-300)
            lengths.append(along[-1])
        parts = []
        for loop, length in zip(ground.loops, lengths, strict=True):
            number = max(round(ARCS * length / sum(lengths)), 1)
            part = np.minimum((position[loop] * number).astype(int), number - 1)
            parts += [loop[part == k] for k in np.unique(part)]
        return cls(tuple(parts), which, position)

    def apart(self, a: int, b: int) -> bool:
        """Is a seam from one to the other more than a chip off the rim?"""
        gap = abs(self.position[a] - self.position[b])
        return self.loop[a] != self.loop[b] or min(gap, 1 - gap) >= APART
