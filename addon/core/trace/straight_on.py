"""Straight on over faces: the end of a straightest line of a given length."""

from __future__ import annotations

import numpy as np

from .. import mesh
from .surface import Surface

MOST = 5000  # faces that one line may cross


def straight_on(surface: Surface, face: int, place: np.ndarray, way: np.ndarray, length: float
                ) -> tuple[int, np.ndarray] | None:
    """Face and place (3,) after `length` mm from a place (3,) of a face in the way (3,), which is
    turned with the faces about each edge that is crossed (Polthier and Schmies 1998); None where
    the surface ends before.
    """
    place, left = np.asarray(place, dtype=float), float(length)
    for _ in range(MOST):
        corners = surface.vertices[surface.faces[face]]
        normal, _ = mesh.face_normals(surface.vertices, surface.faces[face:face + 1])
        way = way - (way @ normal[0]) * normal[0]
        size = np.linalg.norm(way)
        if size < 1e-12:
            return None
        way = way / size
        weights, change = _weights(corners, place, way)
        leaving = change < -1e-12
        steps = np.full(3, np.inf)
        steps[leaving] = np.maximum(weights[leaving], 0.0) / -change[leaving]
        corner = int(np.argmin(steps))
        if steps[corner] >= left:
            return face, place + left * way
        place, left = place + steps[corner] * way, left - steps[corner]
        half = 3 * face + (corner + 1) % 3
        twin = int(surface.twin[half])
        if twin < 0:
            return None
        edge = corners[(corner + 2) % 3] - corners[(corner + 1) % 3]
        edge = edge / np.linalg.norm(edge)
        across = np.cross(edge, normal[0])  # out of this face
        face = twin // 3
        beyond, _ = mesh.face_normals(surface.vertices, surface.faces[face:face + 1])
        way = (way @ edge) * edge + (way @ across) * np.cross(edge, beyond[0])
    return None


def _weights(corners: np.ndarray, place: np.ndarray, way: np.ndarray
             ) -> tuple[np.ndarray, np.ndarray]:
    """Barycentric coordinates (3,) of a place, and how they change per mm along the way."""
    sides = np.stack([corners[1] - corners[0], corners[2] - corners[0]])
    gram = np.linalg.inv(sides @ sides.T)
    second, change = gram @ (sides @ (place - corners[0])), gram @ (sides @ way)
    return np.append(1 - second.sum(), second), np.append(-change.sum(), change)
