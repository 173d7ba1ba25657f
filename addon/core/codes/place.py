"""Where a piece lies on the sculpt, apart from how its vertices and faces are numbered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .. import mesh
from ..model import PrintedPiece, Region

POINTS = 48  # that stand for a piece
SAME = 0.6  # of what two pieces cover together, both cover: they are one and the same
NEAR = 16  # faces looked at for each point
SPREAD = 6000  # points by which the faces near a place are found
REACH, LEAST_REACH = 0.25, 10.0  # share of a piece's size, and mm, that a surface may have moved
OTHER_OBJECT = 1.0  # mm by which an object of another name must be nearer


def place(vertices: np.ndarray, faces: np.ndarray, count: int = POINTS
          ) -> tuple[np.ndarray, np.ndarray, float]:
    """Points (count, 3) spread evenly over a surface, its centre of area (3,) and its area."""
    size = mesh.face_normals(vertices, faces)[1]
    middle = size @ vertices[faces].mean(axis=1) / max(size.sum(), 1e-300)
    return _spread(vertices, faces, size, count)[0], middle, float(size.sum())


def _spread(vertices: np.ndarray, faces: np.ndarray, size: np.ndarray, count: int
            ) -> tuple[np.ndarray, np.ndarray]:
    """Points (count, 3), each for an equal part of the area, and the faces they lie on."""
    total = np.cumsum(size)
    face = np.searchsorted(total, (np.arange(count) + 0.5) / count * total[-1])
    face = np.minimum(face, len(faces) - 1)
    # The R2 sequence fills the square evenly; its upper half is folded onto the triangle.
    u, v = (np.arange(1, count + 1)[:, None] * (0.7548776662466927, 0.5698402909980532) % 1.0).T
    over = u + v > 1
    u, v = np.where(over, 1 - u, u), np.where(over, 1 - v, v)
    weights = np.stack([1 - u - v, u, v], axis=1)
    return np.einsum("ij,ijk->ik", weights, vertices[faces[face]]), face


class Ground:
    """The regions of a cut as one surface on which places are looked up.

    names: of the regions' objects. Lengths are divided by scale.
    """

    def __init__(self, regions: Sequence[Region], names: Sequence[str], scale: float):
        from scipy.spatial import cKDTree

        starts = np.cumsum([0, *(len(r.vertices) for r in regions)])
        self.vertices = np.concatenate([r.vertices for r in regions]) / scale
        self.faces = np.concatenate([r.faces + s for r, s in zip(regions, starts, strict=False)])
        self.region = np.repeat(np.arange(len(regions)), [len(r.faces) for r in regions])
        self.names = np.asarray(names)
        size = mesh.face_normals(self.vertices, self.faces)[1]
        self.area = np.bincount(self.region, size, len(regions))
        weighted = size[:, None] * self.vertices[self.faces].mean(axis=1)
        total = np.stack([np.bincount(self.region, w, len(regions)) for w in weighted.T], axis=1)
        self.middle = total / np.maximum(self.area, 1e-300)[:, None]
        points, face = _spread(self.vertices, self.faces, size, SPREAD)
        middles = self.vertices[self.faces].mean(axis=1)
        self._face = np.concatenate([face, np.arange(len(self.faces))])
        self._tree = cKDTree(np.concatenate([points, middles]))

    def alike(self, pieces: Sequence[PrintedPiece]) -> np.ndarray:
        """Of what each piece (row) and each region (column) cover together, the share that both
        cover; 0 where it is less than SAME."""
        shares = np.zeros((len(pieces), len(self.area)))
        for row, piece in enumerate(pieces):
            distance, region = self._nearest(piece.places, piece.object)
            near = distance <= max(REACH * np.sqrt(piece.area), LEAST_REACH)
            both = np.bincount(region[near], minlength=len(self.area)) * (
                piece.area / len(piece.places))
            both = np.minimum(both, self.area)
            shares[row] = both / (piece.area + self.area - both)
        return np.where(shares >= SAME, shares, 0.0)

    def spread(self, where: np.ndarray, middle: np.ndarray) -> np.ndarray:
        """Second moments of area (3, 3) of some regions about a place."""
        face = where[self.region]
        corner = self.vertices[self.faces[face]] - middle
        size = mesh.face_normals(self.vertices, self.faces[face])[1]
        whole = corner.sum(axis=1)
        # The exact moments of a triangle: those of its corners, and of their sum.
        return (np.einsum("f,fci,fcj->ij", size, corner, corner)
                + np.einsum("f,fi,fj->ij", size, whole, whole)) / 12

    def feet(self, points: np.ndarray) -> np.ndarray:
        """The points (k, 3) of the surface nearest to some points."""
        foot, _ = self._near(points)
        best = np.argmin(np.linalg.norm(foot - points[:, None], axis=2), axis=1)
        return foot[np.arange(len(points)), best]

    def _nearest(self, points: np.ndarray, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Distance (k,) of points from the surface, and the region (k,) that is nearest."""
        foot, face = self._near(points)
        distance = np.linalg.norm(foot - points[:, None], axis=2)
        region = self.region[face]
        best = np.argmin(distance + OTHER_OBJECT * (self.names[region] != name), axis=1)
        row = np.arange(len(points))
        return distance[row, best], region[row, best]

    def _near(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """For each point the places (k, NEAR, 3) on faces (k, NEAR) near it that are nearest."""
        near = min(NEAR, len(self._face))
        face = self._face[self._tree.query(points, near)[1].reshape(-1, near)]
        corners = self.vertices[self.faces[face.ravel()]]
        weights = mesh.nearest_weights(corners, np.repeat(points, near, axis=0))
        return np.einsum("ij,ijk->ik", weights, corners).reshape(len(points), near, 3), face
