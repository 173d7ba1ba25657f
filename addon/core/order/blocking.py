"""Which piece is in the way of which, for a translation in each of many directions.

A body that moves away for good along a direction d passes through another one exactly if some
line along d meets a point of the other beyond a point of its own. The arcs "i is blocked by j"
make the directional blocking graph of d; over all directions, the non-directional one (Wilson and
Latombe, Geometric reasoning about mechanical assembly, Artificial Intelligence 71, 1994).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Mate, Piece
from .solids import Solids, solids

CELLS = 9000  # about so many cells see all the foam
FINEST, COARSEST = 2.0, 9.0  # mm, bounds of a cell
TOUCH = 1.0  # mm by which bodies that only touch may seem to lie in one another
GIVE = 1.0  # mm by which foam is pressed aside at the edge of what passes it
SPECK = 5.0  # cells: less than that is nothing
SAME = math.radians(4.0)  # two pieces that face alike within this share a direction
NEAR = math.radians(25.0)  # further directions are no nearer to one another


@dataclass(frozen=True, eq=False)
class Blocking:
    """ways (d, 3): unit directions, each with its opposite; bars (d, n, n): how far piece i is
    blocked by piece j along each, as a share of what foam gives: more than 1 is in the way."""

    ways: np.ndarray
    bars: np.ndarray


def blocking(pieces: Sequence[Piece], mates: Sequence[Mate], bodies: Solids | None = None
             ) -> Blocking:
    """What blocks what, along directions that the pieces and their seams suggest."""
    bodies = bodies or solids(pieces, mates)
    half = directions(pieces, mates, bodies)
    number = {p.code: k for k, p in enumerate(pieces)}
    seam = np.zeros((len(pieces), len(pieces)))
    for mate in mates:
        a, b = (number[code] for code, _ in mate.edges)
        seam[[a, b], [b, a]] += float(np.mean(mate.lengths))
    cell = float(np.clip(math.sqrt(bodies.area / CELLS), FINEST, COARSEST))
    give = np.maximum(GIVE * seam, SPECK * cell**2)
    area = np.array([in_the_way(bodies, way, cell) for way in half])
    bars = area.reshape(-1, *seam.shape) / give
    # Moving i by -d is blocked by j exactly where moving j by d is blocked by i.
    return Blocking(np.concatenate([half, -half]),
                    np.concatenate([bars, bars.transpose(0, 2, 1)]).astype(np.float32))


def directions(pieces: Sequence[Piece], mates: Sequence[Mate], bodies: Solids) -> np.ndarray:
    """Unit vectors (d, 3), of each pair of opposite ones one: outward of each piece, and away
    from its seams, square to it and aslant. They turn with the pieces."""
    number = {p.code: k for k, p in enumerate(pieces)}
    exact, slant = list(bodies.normals), []
    for mate in mates:
        for code, _ in mate.edges:
            k = number[code]
            normal = bodies.normals[k]
            away = bodies.middles[k] - (mate.curve.min(0) + mate.curve.max(0)) / 2
            along = mate.curve[-1] - mate.curve[0]
            away = away - (away @ normal) * normal
            if np.linalg.norm(along) > 1.0:
                along = along / np.linalg.norm(along)
                away = away - (away @ along) * along
            if np.linalg.norm(away) > 1.0:
                away = away / np.linalg.norm(away)
                slant += [away, normal + away, normal - away]
    found = _thinned(_thinned(np.empty((0, 3)), exact, SAME), slant, NEAR)
    return found if len(found) else np.eye(3)


def _thinned(known: np.ndarray, more: list[np.ndarray], angle: float) -> np.ndarray:
    """The directions known and those of `more` that are no nearer than an angle to any, or to
    its opposite."""
    found = list(known)
    for vector in more:
        size = np.linalg.norm(vector)
        if size > 1e-9 and (not found or np.abs(np.array(found) @ (vector / size)).max()
                            < math.cos(angle)):
            found.append(vector / size)
    return np.array(found).reshape(-1, 3)


def in_the_way(bodies: Solids, way: np.ndarray, cell: float) -> np.ndarray:
    """Area (n, n), mm², seen along a direction, in which body i would pass through body j."""
    count = len(bodies.normals)
    place, owner, low, high = shadow(bodies, way, cell)
    area = np.zeros(count * count)
    for k in range(1, len(place)):
        same = np.flatnonzero(place[k:] == place[:-k])
        if not len(same):
            break
        one, other = same, same + k
        for i, j in ((one, other), (other, one)):
            hit = high[j] > low[i] + TOUCH
            area += np.bincount(owner[i[hit]] * count + owner[j[hit]], minlength=count * count)
    return area.reshape(count, count) * cell**2


def shadow(bodies: Solids, way: np.ndarray, cell: float
           ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """What lines along a direction meet, through the middles of the cells of a grid square to it:
    cell, body, least and largest height along the direction (k,), in the order of the cells."""
    across = np.linalg.svd(way[None])[2][1:]
    flat = bodies.points @ across.T / cell
    height = bodies.points @ way
    start = np.floor(flat.min(0)).astype(np.int64)
    wide = int(np.ceil(flat[:, 1].max())) - start[1] + 2
    corner = flat[bodies.faces] - start
    low = np.ceil(corner.min(1) - 0.5).astype(np.int64)
    size = np.maximum(np.floor(corner.max(1) - 0.5).astype(np.int64) - low + 1, 0)
    times = size[:, 0] * size[:, 1]
    face = np.repeat(np.arange(len(times)), times)
    nth = np.arange(len(face)) - np.repeat(np.cumsum(times) - times, times)
    i = low[face, 0] + nth // np.maximum(size[face, 1], 1)
    j = low[face, 1] + nth % np.maximum(size[face, 1], 1)
    a, b, c = corner[:, 0], corner[:, 1], corner[:, 2]
    u, v = b - a, c - a
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    solid = np.abs(double) > 1e-9
    inverse = np.where(solid, 1 / np.where(solid, double, 1.0), 0.0)
    x, y = i + 0.5 - a[face, 0], j + 0.5 - a[face, 1]
    s = (x * v[face, 1] - y * v[face, 0]) * inverse[face]
    t = (u[face, 0] * y - u[face, 1] * x) * inverse[face]
    inside = solid[face] & (s >= 0) & (t >= 0) & (s + t <= 1)
    face, s, t = face[inside], s[inside], t[inside]
    z = height[bodies.faces[face]]
    z = z[:, 0] + s * (z[:, 1] - z[:, 0]) + t * (z[:, 2] - z[:, 0])
    count = len(bodies.normals)
    key = (i[inside] * wide + j[inside]) * count + bodies.owner[face]
    order = np.argsort(key, kind="stable")
    key, z = key[order], z[order]
    first = np.flatnonzero(np.append(True, key[1:] != key[:-1])) if len(key) else np.empty(0, int)
    if not len(first):
        empty = np.empty(0)
        return np.empty(0, int), np.empty(0, int), empty, empty
    return (key[first] // count, key[first] % count, np.minimum.reduceat(z, first),
            np.maximum.reduceat(z, first))
