"""Pieces as many small slabs of foam, to tell how deep a point is in one of them.

Inside a piece they are round, at its rim they are oblong and end there, so that pieces that only
touch at their rims are not taken for being in one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import Piece

SPACING = 8.0  # mm, about, from slab to slab, and the radius of each


@dataclass(frozen=True, eq=False)
class Slabs:
    """Slabs (n): points (n, 3) in the middle of the foam, normals (n, 3), half their thickness
    (n,), radius (n,); at a rim, inward and along (n, 3) unit vectors, else 0, and half the length
    (n,) along it; piece (n,) the number of its piece."""

    points: np.ndarray
    normals: np.ndarray
    half: np.ndarray
    radius: np.ndarray
    inward: np.ndarray
    along: np.ndarray
    length: np.ndarray
    piece: np.ndarray

    def of(self, wanted: np.ndarray) -> Slabs:
        """Those that are wanted (n,)."""
        return Slabs(*(getattr(self, name)[wanted] for name in self.__dataclass_fields__))

    def faces(self) -> tuple[np.ndarray, np.ndarray]:
        """Points (k, 3) on the outer and the inner face and half-way between at rims, and the
        pieces (k,) of these."""
        step, rim = self.half[:, None] * self.normals, self.length > 0
        return (np.concatenate([self.points + step, self.points - step, self.points[rim]]),
                np.concatenate([self.piece, self.piece, self.piece[rim]]))

    def depth(self, points: np.ndarray, slab: np.ndarray) -> np.ndarray:
        """How deep (k,) points (k, 3) are in slabs (k,); below 0 how far they are away."""
        off = points - self.points[slab]
        across = np.einsum("ij,ij->i", off, self.normals[slab])
        inward = np.einsum("ij,ij->i", off, self.inward[slab])
        along = np.einsum("ij,ij->i", off, self.along[slab])
        rim = self.length[slab] > 0
        flat = np.sqrt(np.maximum(np.einsum("ij,ij->i", off, off) - across**2, 0.0))
        over = np.abs(across) - self.half[slab]
        out = np.where(rim, -inward, -np.inf)
        beside = np.where(rim, np.hypot(np.maximum(np.abs(along) - self.length[slab], 0.0),
                                        np.maximum(inward - self.radius[slab], 0.0)),
                          np.maximum(flat - self.radius[slab], 0.0))
        inside = -np.maximum(over, out)
        apart = np.sqrt(np.maximum(over, 0.0)**2 + np.maximum(out, 0.0)**2 + beside**2)
        return np.where((beside <= 0) & (inside >= 0), inside, -apart)


def slabs(pieces: Sequence[Piece]) -> Slabs:
    """The slabs of pieces, numbered in their order."""
    made = [_of(piece, number) for number, piece in enumerate(pieces)]
    return Slabs(*(np.concatenate([getattr(some, name) for some in made])
                   for name in Slabs.__dataclass_fields__))


def _of(piece: Piece, number: int) -> Slabs:
    normals = mesh.vertex_normals(piece.vertices, piece.faces, len(piece.vertices))
    out, inner = piece.stock.depths(piece.side)
    middle = piece.vertices + (out - inner) / 2 * normals
    half = piece.stock.thickness / 2
    rim, along, inward, length = _rim(middle, piece.faces, normals)
    points, facing = _inside(middle, piece.faces, normals)
    radius = np.minimum(SPACING, _off_rim(points, rim, along, length))
    kept = radius > SPACING / 4
    points, facing, radius = points[kept], facing[kept], radius[kept]
    edge = np.cross(along, inward)
    zero = np.zeros_like(points)
    return Slabs(np.concatenate([rim, points]), np.concatenate([edge, facing]),
                 np.full(len(rim) + len(points), half),
                 np.concatenate([np.full(len(rim), SPACING), radius]),
                 np.concatenate([inward, zero]), np.concatenate([along, zero]),
                 np.concatenate([length, np.zeros(len(points))]),
                 np.full(len(rim) + len(points), number))


def _rim(points: np.ndarray, faces: np.ndarray, normals: np.ndarray
         ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Middles (k, 3) of short stretches of the rim, unit vectors (k, 3) along it and inward from
    it, and half their lengths (k,)."""
    start, end, _ = mesh.half_edges(faces)
    free = mesh.twins(faces) < 0
    a, b = points[start[free]], points[end[free]]
    size = np.linalg.norm(b - a, axis=1)
    count = np.maximum(np.ceil(size / SPACING).astype(int), 1)
    edge = np.repeat(np.arange(len(a)), count)
    nth = np.arange(len(edge)) - np.repeat(np.cumsum(count) - count, count)
    t = ((nth + 0.5) / count[edge])[:, None]
    normal = (normals[start[free]] + normals[end[free]])[edge]
    along = ((b - a) / np.maximum(size, 1e-12)[:, None])[edge]
    inward = np.cross(normal, along)  # faces lie on the left of their edges
    inward /= np.maximum(np.linalg.norm(inward, axis=1), 1e-12)[:, None]
    return (1 - t) * a[edge] + t * b[edge], along, inward, (size / count)[edge] / 2


def _off_rim(points: np.ndarray, rim: np.ndarray, along: np.ndarray, length: np.ndarray
             ) -> np.ndarray:
    """Distances (k,) of points (k, 3) from the nearest stretches of the rim."""
    from scipy.spatial import cKDTree

    if not len(rim):
        return np.full(len(points), np.inf)
    near = cKDTree(rim).query(points, k=np.arange(1, min(4, len(rim)) + 1))[1]
    off = points[:, None] - rim[near]
    far = np.einsum("ijk,ijk->ij", off, along[near])
    past = np.maximum(np.abs(far) - length[near], 0.0)
    beside = np.einsum("ijk,ijk->ij", off, off) - far**2
    return np.sqrt(np.maximum(beside, 0.0) + past**2).min(axis=1)


def _inside(points: np.ndarray, faces: np.ndarray, normals: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 3) all over a surface, no farther apart than SPACING, with normals (k, 3)."""
    corners = points[faces]
    size = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    parts = np.maximum(np.ceil(size / SPACING).astype(int), 1)
    places, facing = [points], [normals]
    for n in np.unique(parts):
        some = faces[parts == n]
        i, j = np.divmod(np.arange(n * n), n)
        low = i + j < n  # the other small triangles stand on their heads
        u = np.where(low, i + 1 / 3, n - i - 1 / 3) / n
        v = np.where(low, j + 1 / 3, n - j - 1 / 3) / n
        weights = np.stack([1 - u - v, u, v], axis=1)
        places.append(np.einsum("wk,fkx->fwx", weights, points[some]).reshape(-1, 3))
        facing.append(np.einsum("wk,fkx->fwx", weights, normals[some]).reshape(-1, 3))
    place, normal = np.concatenate(places), np.concatenate(facing)
    cell = np.floor(place / (SPACING / 2)).astype(np.int64)
    first = np.sort(np.unique(cell, axis=0, return_index=True)[1])
    normal = normal[first]
    return place[first], normal / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
