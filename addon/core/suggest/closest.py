"""The nearest points of a surface whose faces are of one size."""

from __future__ import annotations

import numpy as np

from .. import mesh

NEAR = 16  # faces looked at for each point, those whose middles are nearest


def closest(points: np.ndarray, vertices: np.ndarray, faces: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray]:
    """For points (k, 3) the nearest ones (k, 3) on the surface, and their faces (k,).

    Only faces whose middles are near are looked at, which is exact for faces of like size and
    points within about that of the surface.
    """
    from scipy.spatial import cKDTree

    near = min(NEAR, len(faces))
    index = cKDTree(vertices[faces].mean(axis=1)).query(points, near)[1].reshape(-1, near)
    corner = vertices[faces[index.ravel()]]
    weights = mesh.nearest_weights(corner, np.repeat(points, near, axis=0))
    there = np.einsum("ij,ijk->ik", weights, corner).reshape(len(points), near, 3)
    best = np.argmin(((there - points[:, None]) ** 2).sum(axis=2), axis=1)
    rows = np.arange(len(points))
    return there[rows, best], index[rows, best]
