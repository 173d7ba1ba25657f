"""A part as a load: points all over its foam, in a frame in which it takes up little room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations, product

import numpy as np

from ..model import Mate, Part, Pattern
from ..order.solids import solids

PITCH = 4.0  # mm, about, between points on a face
SMALLER = 0.98  # of the box about it as it is worn, from which turning a part askew is worth it
FACES = 400  # of the hull that are tried as sides of the box about a part

# The 24 rotations that bring axes onto axes.
UPRIGHT = tuple(
    turn for order in permutations(range(3)) for signs in product((1.0, -1.0), repeat=3)
    if np.linalg.det(turn := np.diag(signs)[:, list(order)]) > 0)


@dataclass(frozen=True, eq=False)
class Load:
    """part; frame (3, 3): its axes, unit vectors in the sculpt; points (3, n) along these; low and
    high (3,) of them; volume of its foam, mm3; longest: distance of any two of its points, mm."""

    part: Part
    frame: np.ndarray
    points: np.ndarray
    low: np.ndarray
    high: np.ndarray
    volume: float
    longest: float

    @property
    def size(self) -> np.ndarray:
        """Of the box about it (3,), mm."""
        return self.high - self.low


def loads(pattern: Pattern, parts: Sequence[Part]) -> list[Load]:
    """The parts, in their order."""
    up, front = pattern.sculpt.up, pattern.sculpt.front
    axes = np.stack([np.cross(up, front), -front, up])  # to the left, to the back and up
    return [_load(pattern, part, pattern.mates, axes) for part in parts]


def load_of(part: Part, vertices: np.ndarray, faces: np.ndarray, volume: float,
            axes: np.ndarray = UPRIGHT[0]) -> Load:
    """A part of this surface (n, 3), (m, 3), as a load; axes (3, 3): along which it stands as it
    is worn."""
    from scipy.spatial import ConvexHull
    from scipy.spatial.distance import pdist

    points = _sampled(vertices, faces)
    try:
        hull = ConvexHull(vertices)
        corners, normals = vertices[hull.vertices], hull.equations[:, :3]
    except Exception as error:  # QhullError has no public name in every release
        if type(error).__name__ != "QhullError":
            raise
        corners, normals = np.unique(vertices, axis=0), np.empty((0, 3))  # flat: as it stands
    frame = _frame(corners, normals, axes)
    some = corners if len(corners) < 2000 else corners[:: len(corners) // 2000 + 1]
    along = np.ascontiguousarray(frame @ points.T)
    return Load(part, frame, along, along.min(axis=1), along.max(axis=1), volume,
                float(pdist(some).max()))


def _load(pattern: Pattern, part: Part, mates: Sequence[Mate], axes: np.ndarray) -> Load:
    pieces = [pattern.piece(code) for code in part.pieces]
    own = set(part.pieces)
    body = solids(pieces, [m for m in mates if {code for code, _ in m.edges} <= own], whole=True)
    return load_of(part, body.points, body.faces,
                   sum(p.area * p.stock.thickness for p in pieces), axes)


def _sampled(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Points (k, 3) on a surface, its vertices among them, no more than PITCH apart."""
    corners = vertices[faces]
    size = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    parts = np.maximum(np.ceil(size / PITCH).astype(int), 1)
    found = [vertices]
    for n in np.unique(parts):
        i, j = (axis.ravel() for axis in np.meshgrid(np.arange(n + 1), np.arange(n + 1)))
        inside = i + j <= n
        weights = np.stack([n - i - j, i, j], axis=1)[inside] / n
        found.append(np.einsum("wk,fkx->fwx", weights, corners[parts == n]).reshape(-1, 3))
    every = np.concatenate(found)
    # One of those that lie in a tenth of the pitch is enough.
    cell = np.round((every - every.min(axis=0)) / (PITCH / 10)).astype(np.int64)
    wide = cell.max(axis=0) + 1
    _, first = np.unique((cell[:, 0] * wide[1] + cell[:, 1]) * wide[2] + cell[:, 2],
                         return_index=True)
    return every[np.sort(first)]


def _frame(corners: np.ndarray, normals: np.ndarray, axes: np.ndarray) -> np.ndarray:
    """Of boxes about corners (k, 3) that stand along the axes (3, 3), or with a side on a face of
    the hull, the axes of the smallest one. (The smallest of all has two sides that hold edges of
    the hull: O'Rourke 1985; with a side on a face it is nearly as small.)"""
    import shapely

    best, least = axes, SMALLER * float(np.prod(np.ptp(corners @ axes.T, axis=0)))
    largest = np.argmax(np.abs(normals), axis=1)
    alike = np.round(normals * np.sign(normals[np.arange(len(normals)), largest])[:, None], 3)
    known = normals[np.sort(np.unique(alike, axis=0, return_index=True)[1])]
    for normal in known[:: len(known) // FACES + 1]:
        across = np.linalg.svd(normal[None])[2][1:]
        flat = shapely.MultiPoint(corners @ across.T).minimum_rotated_rectangle
        if flat.geom_type != "Polygon":
            continue
        ring = shapely.get_coordinates(flat)
        side = (ring[1] - ring[0]) / max(np.linalg.norm(ring[1] - ring[0]), 1e-12)
        one = side @ across
        frame = np.stack([one, np.cross(normal, one), normal])
        room = float(np.prod(np.ptp(corners @ frame.T, axis=0)))
        if room < least - 1.0:
            best, least = frame, room
    return best
