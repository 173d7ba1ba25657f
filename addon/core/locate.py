"""In which triangle of a flat mesh a point lies."""

from __future__ import annotations

import numpy as np

NEAREST = 4, 24  # triangles tried for a point, those whose middles are nearest


def locate(flat: np.ndarray, faces: np.ndarray, points: np.ndarray
           ) -> tuple[np.ndarray, np.ndarray]:
    """The triangle (k,) of a mesh with points (n, 2) and faces (m, 3) about each of the points
    (k, 2), and its barycentric weights (k, 3) there.

    Outside the mesh, those of a triangle close by carried on, with negative weights.
    """
    from scipy.spatial import cKDTree

    corner = flat[faces]
    tree = cKDTree(corner.mean(axis=1))
    face, weight = np.empty(len(points), dtype=np.int64), np.full((len(points), 3), -np.inf)
    for tried in NEAREST:
        lost = np.flatnonzero(weight.min(axis=1) < -1e-9)
        if not len(lost):
            break
        tried = min(tried, len(corner))
        near = tree.query(points[lost], k=tried)[1].reshape(len(lost), tried)
        found = _weights(corner[near], points[lost])
        best = np.argmax(found.min(axis=2), axis=1)
        row = np.arange(len(lost))
        face[lost], weight[lost] = near[row, best], found[row, best]
    return face, weight


def _weights(corner: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Barycentric coordinates (k, t, 3) of points (k, 2) in triangles (k, t, 3, 2)."""
    a, b, c = (corner[:, :, i] for i in range(3))
    at = points[:, None]
    whole = _cross(b - a, c - a)
    found = np.stack([_cross(b - at, c - at), _cross(c - at, a - at), _cross(a - at, b - at)],
                     axis=-1)
    return found / np.where(whole == 0, 1e-300, whole)[..., None]


def _cross(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
