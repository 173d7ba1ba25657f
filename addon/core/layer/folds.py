"""Folds: the angle from one side's normals to the other's at seams and trenches."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .. import mesh
from ..fair import curve
from ..model import Border, Cut, Line, Region
from .surface import Surface


def fold_angle(tangent: np.ndarray, normal: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Signed fold (k,) from one side's normals to the other's, seen from the one side.

    tangent (k, 3) runs with the side's foam on its left. Convex folds are positive:
    atan2(o . n', n . n') with n, n' square to the tangent T and o = T x n, which points away
    from the foam (derived).
    """
    tangent = tangent / np.maximum(np.linalg.norm(tangent, axis=1), 1e-300)[:, None]
    flat = lambda n: n - np.einsum("ij,ij->i", n, tangent)[:, None] * tangent  # noqa: E731
    normal, other = flat(normal), flat(other)
    outward = np.cross(tangent, normal)
    return np.arctan2(np.einsum("ij,ij->i", outward, other), np.einsum("ij,ij->i", normal, other))


def _corners(region: Region, half: np.ndarray) -> np.ndarray:
    """Leaf corners (k, 2) at the start and at the end of half-edges (k,)."""
    leaf = region.leaf.ravel()
    return np.stack([leaf[half], leaf[mesh.after(half)]], axis=1)


def line_corners(region: Region, line: Line) -> tuple[np.ndarray, np.ndarray]:
    """Leaf corners (k-1, 2) at both ends of each edge of a line, on its left and its right."""
    return _corners(region, line.left), _corners(region, line.right)[:, ::-1]


def line_fold(region: Region, line: Line, normals: np.ndarray) -> np.ndarray:
    """Fold (k,) at each vertex of a trench or score line."""
    left, right = line_corners(region, line)
    points = curve(region, line)
    fold = [fold_angle(np.diff(points, axis=0), normals[left[:, e]], normals[right[:, e]])
            for e in (0, 1)]
    total = np.append(fold[0], 0.0) + np.append(0.0, fold[1])
    shared = np.full(len(points), 2.0)
    shared[[0, -1]] = 1.0
    return total / shared


def border_fold(cut: Cut, fits: Sequence[Surface], index: int, border_index: int) -> np.ndarray:
    region = cut.regions[index]
    border = region.borders[border_index]
    if border.seam < 0:
        return np.zeros(len(border.vertices))
    seam = cut.seams[border.seam]
    other_index, other_border = seam.sides[1 if border.forward else 0]
    other = cut.regions[other_index]
    mine = _border_normals(region, border, fits[index].normals)
    theirs = _border_normals(other, other.borders[other_border], fits[other_index].normals)
    points = curve(region, border)
    return fold_angle(_tangents(points), mine, theirs[::-1])


def _border_normals(region: Region, border: Border, normals) -> np.ndarray:
    """Normals (k, 3) at a border's vertices; where trenches meet it, the mean of the leaves."""
    corner = _corners(region, border.half)
    total = np.concatenate([normals[corner[:, 0]], np.zeros((1, 3))])
    total[1:] += normals[corner[:, 1]]
    return total / np.linalg.norm(total, axis=1)[:, None]


def _tangents(points: np.ndarray) -> np.ndarray:
    """Directions (k, 3) along a polyline; a ring closes on itself."""
    if len(points) > 2 and np.allclose(points[0], points[-1]):
        wrapped = np.concatenate([points[-2:-1], points, points[1:2]])
        return wrapped[2:] - wrapped[:-2]
    return np.gradient(points, axis=0)
