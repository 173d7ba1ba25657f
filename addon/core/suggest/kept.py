"""Seams and trenches that a sculpt has already, followed onto the working surface.

Its faces are parts of the sculpt's, so an edge that parts two of these faces with a mark between
them carries that mark.
"""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..model import SEAM, Sculpt
from .refine import Shape
from .symmetry import ALIKE, SNAP

STEP = 3.0  # mm between the points at which lines are compared with their mirror image


class Kept:
    """Marked edges (k, 2) of some faces (f,) of a sculpt that are not at a rim of these, and the
    two faces (k, 2) beside each."""

    def __init__(self, sculpt: Sculpt, faces: np.ndarray, kind: int):
        flags = (sculpt.kinds & kind) != 0
        if kind != SEAM:
            flags &= (sculpt.kinds & SEAM) == 0
        count = len(sculpt.vertices)
        edges, beside = mesh.edge_faces(sculpt.faces[faces])
        on = np.isin(mesh.edge_keys(edges, count), mesh.edge_keys(sculpt.edges[flags], count))
        self.edges, self.beside = edges[on], faces[beside[on]]
        self.ends = sculpt.vertices[self.edges]  # (k, 2, 3)

    def alike(self, across: np.ndarray, middle: float) -> bool:
        """Are the lines their own image in the plane at `middle` along across (3,)?"""
        from scipy.spatial import cKDTree

        if not len(self.edges):
            return True
        length = np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1)
        number = np.maximum(np.ceil(length / STEP), 1).astype(np.int64)
        which = np.repeat(np.arange(len(number)), number)
        t = (np.arange(len(which)) - np.repeat(np.cumsum(number) - number, number) + 0.5
             ) / number[which]
        points = self.ends[which, 0] + t[:, None] * (self.ends[which, 1] - self.ends[which, 0])
        image = points - 2 * np.outer(points @ across - middle, across)
        size = float(np.linalg.norm(np.ptp(self.ends.reshape(-1, 3), axis=0)))
        return bool(cKDTree(points).query(image)[0].max() < ALIKE * size + 2 * STEP)

    def on(self, shape: Shape, across: np.ndarray, middle: float | None) -> np.ndarray:
        """The edges (k, 2) of a shape along which these lie; middle: of the plane in which it
        was mirrored, None where it was not."""
        if not len(self.edges):
            return np.empty((0, 2), dtype=np.int64)
        edges, beside = mesh.edge_faces(shape.faces)
        source = shape.source[beside]
        count = int(max(self.beside.max(), shape.source.max())) + 1
        found = np.isin(mesh.edge_keys(source, count), mesh.edge_keys(self.beside, count))
        found &= source[:, 0] != source[:, 1]
        if middle is not None:  # there both sides are parts of the same face and its image
            half = len(shape.faces) // 2
            plane = (beside[:, 0] < half) != (beside[:, 1] < half)
            found |= plane & np.isin(source[:, 0], self.on_plane(across, middle))
        return edges[found]

    def on_plane(self, across: np.ndarray, middle: float) -> np.ndarray:
        """The sculpt's faces (k,) with a side among these that lies in the mirror plane."""
        away = np.abs(self.ends @ across - middle).max(axis=1)
        length = np.linalg.norm(self.ends[:, 1] - self.ends[:, 0], axis=1)
        return np.unique(self.beside[away < SNAP * length])


def opened(shape: Shape, seams: np.ndarray) -> tuple[Shape, np.ndarray]:
    """A shape cut open along edges (k, 2) that are creases of it, and of each vertex (n,) the one
    of the shape before."""
    faces, sewn = mesh.cut_along(shape.faces, seams, len(shape.points))
    return Shape(shape.points[sewn], faces, shape.leaf, shape.normals, shape.source), sewn
