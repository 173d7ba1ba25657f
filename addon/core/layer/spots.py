"""Spots where the surface turns more tightly than the foam is thick, over less than the foam."""

from __future__ import annotations

import numpy as np

from .. import mesh

SHARE = 0.01  # of a region: what more of it turns too tightly is no spot
LEAST = 0.05  # of its chord: no side in a spot is shorter


def bridged(points: np.ndarray, faces: np.ndarray, lengths: np.ndarray, thickness: float
            ) -> tuple[np.ndarray, np.ndarray]:
    """Rest lengths (m, 3) without sides of no length in spots that do not matter, and the faces
    (k,) of these spots, which the maker is told of.

    A spot is connected faces (m, 3) of points (n, 3), together no larger than the thickness
    squared; foam bridges it, as a verdict spares it. Where all spots are more than SHARE of the
    region, or one is larger, all lengths stay as they are, to be refused.
    """
    tight = np.flatnonzero((lengths <= 0).any(axis=1))
    if not len(tight):
        return lengths, tight
    area = mesh.face_normals(points, faces)[1]
    beside = mesh.edge_faces(faces[tight])[1]
    _, spot = mesh.components(len(tight), beside)
    size = np.bincount(spot, area[tight])
    if size.max() > thickness**2 or size.sum() > SHARE * area.sum():
        return lengths, tight[:0]
    corner = points[faces]
    side = np.linalg.norm(np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)
    return np.where(lengths <= 0, LEAST * side, lengths), tight
