"""A surface of foam on which something may lie, and how high over its outer face places are."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .. import mesh

ALONG = 0.7  # cosine between two faces that lie on one another
BESIDE, SLOPE = 1.0, 0.2  # mm, and share of its distance, by which a place may lie off a normal
STEPS = 20  # samples along a part's longest side, about
MOST = 8  # samples along the side of one triangle


@dataclass(frozen=True, eq=False)
class Heights:
    """Of places over a ground: height (k,) over its outer face in mm, infinite where it is not
    under them; normal (k, 3) of the ground there; aside (k,): how far the place lies past its
    rim, mm; face (k,) and weights (k, 3) of the nearest point."""

    height: np.ndarray
    normal: np.ndarray
    aside: np.ndarray
    face: np.ndarray
    weights: np.ndarray


class Ground:
    """Vertices (n, 3) and faces (m, 3) of foam whose outer face lies `front` mm further out.

    nearest: makes of both what tells the nearest points, see trace.Surface.
    """

    def __init__(self, vertices: np.ndarray, faces: np.ndarray, front: float, nearest: Callable):
        used, local = np.unique(faces, return_inverse=True)
        self.vertices, self.faces, self.front = vertices[used], local.reshape(-1, 3), front
        self.low, self.high = self.vertices.min(axis=0), self.vertices.max(axis=0)
        self._nearest = nearest

    @cached_property
    def _normals(self) -> np.ndarray:
        return mesh.vertex_normals(self.vertices, self.faces, len(self.vertices))

    @cached_property
    def _surface(self) -> object:
        return self._nearest(self.vertices, self.faces)

    def near(self, points: np.ndarray, reach: float) -> bool:
        """Whether any of points (k, 3) may be within a distance."""
        return bool((points.min(0) <= self.high + reach).all()
                    and (points.max(0) >= self.low - reach).all())

    def edge(self) -> float:
        """Length of a usual edge, mm."""
        corner = self.vertices[self.faces]
        return float(np.median(np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2)))

    def heights(self, points: np.ndarray, normals: np.ndarray | None = None) -> Heights:
        """Of points (k, 3), which face along normals (k, 3) where those are given."""
        foot = self._surface.nearest(points)
        normal = np.einsum("ij,ijk->ik", foot.weights, self._normals[self.faces[foot.face]])
        normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
        away = points - foot.points
        up = np.einsum("ij,ij->i", away, normal)
        aside = np.linalg.norm(away - up[:, None] * normal, axis=1)
        height = up - self.front
        height[aside > BESIDE + SLOPE * np.abs(up)] = np.inf
        if normals is not None:
            height[np.einsum("ij,ij->i", normal, normals) < ALONG] = np.inf
        return Heights(height, normal, aside, foot.face, foot.weights)


def samples(vertices: np.ndarray, faces: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places (k, 3) spread over a surface, its normals (k, 3) there and the area of each (k,)."""
    corner = vertices[faces]
    normals, area = mesh.face_normals(vertices, faces)
    step = np.linalg.norm(np.ptp(vertices[faces.ravel()], axis=0)) / STEPS
    side = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1)
    parts = np.clip(np.ceil(side / max(step, 1e-9)), 1, MOST).astype(int)
    places, facing, sizes = [], [], []
    for n in np.unique(parts):
        # Middles of the upright small triangles of an n-fold division.
        i, j = (k.ravel() for k in np.meshgrid(np.arange(n), np.arange(n)))
        i, j = i[i + j < n], j[i + j < n]
        u, v = (i + 1 / 3) / n, (j + 1 / 3) / n
        weights = np.stack([1 - u - v, u, v], axis=1)
        own = np.flatnonzero(parts == n)
        places.append(np.einsum("sj,fjk->fsk", weights, corner[own]).reshape(-1, 3))
        facing.append(np.repeat(normals[own], len(weights), axis=0))
        sizes.append(np.repeat(area[own] / len(weights), len(weights)))
    return np.concatenate(places), np.concatenate(facing), np.concatenate(sizes)
