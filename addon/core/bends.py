"""How tightly a region bends: its smallest radius and the folds that carry no mark."""

from __future__ import annotations

import math

import numpy as np

from . import mesh
from .errors import WARNING, Finding
from .model import Layer, Region
from .stock import Stock

BEND_SHARE = 0.005  # of the piece may bend more tightly: corners and noise
CREASE_FOLD, CREASE_RADIUS = math.radians(20.0), 25.0
CREASE_ALWAYS = math.radians(55.0)


def findings(region: Region, layer: Layer, stock: Stock, side: str, code: str) -> list[Finding]:
    """What the bends of one piece give the maker to think about."""
    return _creases(region, code)


def smallest_radius(region: Region, layer: Layer, area: np.ndarray, stock: Stock, side: str
                    ) -> tuple[float, int]:
    """Inside radius of the tightest bend, and the face where it is.

    The inside of a convex bend is the back of the foam, of a concave one the front.
    """
    front, back = stock.depths(side)
    bend = layer.curvature[region.leaf]  # (m, 3, 2)
    with np.errstate(divide="ignore", over="ignore"):
        radius = np.abs(1 / bend) - np.where(bend > 0, back, front)
    per_face = np.maximum(radius.min(axis=2).mean(axis=1), 0.0)
    order = np.argsort(per_face, kind="stable")
    beyond = np.cumsum(area[order]) > BEND_SHARE * area.sum()
    index = order[int(np.argmax(beyond))]
    return float(per_face[index]), int(index)


def _creases(region: Region, code: str) -> list[Finding]:
    """Unmarked edges folded more sharply than a smooth surface would be sampled."""
    edges, beside = mesh.edge_faces(region.leaf)
    if len(edges) == 0:
        return []
    corner = np.empty(region.leaf.max() + 1, dtype=np.int64)
    corner[region.leaf] = region.faces
    normals, area = mesh.face_normals(region.vertices, region.faces)
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    fold = np.arctan2(np.linalg.norm(np.cross(n1, n2), axis=1), np.einsum("ij,ij->i", n1, n2))
    ends = region.vertices[corner[edges]]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    height = 2 * area[beside].sum(axis=1) / (3 * np.maximum(length, 1e-12))
    radius = height / np.maximum(fold, 1e-9)
    sharp = ((fold > CREASE_FOLD) & (radius < CREASE_RADIUS)) | (fold > CREASE_ALWAYS)
    if not sharp.any():
        return []
    return [Finding("unmarked-fold", WARNING,
                    f"The surface folds by up to {math.degrees(fold[sharp].max()):.0f}° along "
                    "edges that carry no mark.",
                    "Mark them as a trench if the foam is to fold there, or as a seam.",
                    edges=region.source_vertex[corner[edges[sharp]]], piece=code)]
