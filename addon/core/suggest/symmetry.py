"""The mirror plane of a sculpt, and a mesh whose two halves are exactly alike."""

from __future__ import annotations

import numpy as np

from .. import mesh
from .closest import closest
from .creases import sharp_edges
from .refine import Shape, split

ALIKE, ALIKE_SHARE = 0.01, 0.97  # of the size, by which this share of the area may lie off
SNAP = 0.2  # of its edge: a point this near to the plane is moved onto it


def plane_of(shape: Shape, across: np.ndarray) -> float | None:
    """Where along `across` (3,) the plane lies that mirrors the shape on itself, or None."""
    height = shape.points @ across
    middle = float((height.min() + height.max()) / 2)
    size = float(np.linalg.norm(np.ptp(shape.points, axis=0)))
    normals, area = mesh.face_normals(shape.points, shape.faces)
    centre = shape.points[shape.faces].mean(axis=1)
    image = centre - 2 * np.outer(centre @ across - middle, across)
    there, face = closest(image, shape.points, shape.faces)
    off = np.linalg.norm(there - image, axis=1)
    turned = normals - 2 * np.outer(normals @ across, across)
    alike = (off < ALIKE * size) & (np.einsum("ij,ij->i", turned, normals[face]) > 0.5)
    return middle if area[alike].sum() > ALIKE_SHARE * area.sum() else None


def mirrored(shape: Shape, across: np.ndarray, middle: float, split_at: np.ndarray = ()
             ) -> tuple[Shape, np.ndarray]:
    """The half in front of the plane and its mirror image, and of each face (m,) its image.

    The first half of the faces lies in front. Vertices on the plane are shared. split_at (k,):
    faces of the sculpt whose sides in the plane are creases, whether they fold or not.
    """
    shape = _halved(shape, across, middle)
    height = shape.points @ across - middle
    on = np.abs(height) < 1e-9
    front = shape.part((height[shape.faces].max(axis=1) > 1e-9)
                       & (height[shape.faces].min(axis=1) > -1e-9))
    height = front.points @ across - middle
    on = np.abs(height) < 1e-9
    count = len(front.points)
    image = np.arange(count, 2 * count)
    image[on] = np.flatnonzero(on)
    points = np.concatenate([front.points, front.points - 2 * np.outer(height, across)])
    back = image[front.faces][:, ::-1]
    faces = np.concatenate([front.faces, back])
    used, faces = np.unique(faces, return_inverse=True)
    faces = faces.reshape(-1, 3)
    points = points[used]
    number = np.full(2 * count, -1)
    number[used] = np.arange(len(used))
    creases = front.creases()
    creases = np.concatenate([number[creases], number[image[creases]],
                              _ridge(points, faces, front.source, split_at)])
    m = len(front.faces)
    whole = Shape.of(points, faces, creases, np.tile(front.source, 2))
    return whole, np.concatenate([np.arange(m, 2 * m), np.arange(m)])


def _halved(shape: Shape, across: np.ndarray, middle: float) -> Shape:
    """With every edge that crosses the plane split there, and points near it moved onto it."""
    from dataclasses import replace

    edges, _ = mesh.edge_faces(shape.faces)
    length = np.linalg.norm(shape.points[edges[:, 1]] - shape.points[edges[:, 0]], axis=1)
    shortest = np.full(len(shape.points), np.inf)
    np.minimum.at(shortest, edges.ravel(), np.repeat(length, 2))
    height = shape.points @ across - middle
    near = np.abs(height) < SNAP * np.where(np.isfinite(shortest), shortest, 0.0)
    shape = replace(shape, points=shape.points - np.outer(np.where(near, height, 0.0), across))
    height = np.where(near, 0.0, height)
    a = height[shape.faces]
    b = np.roll(a, -1, axis=1)
    crossing = a * b < 0
    share = np.divide(a, a - b, out=np.full(a.shape, 0.5), where=crossing)
    if crossing.any():
        shape = split(shape, crossing, share)
    height = shape.points @ across - middle
    new = np.arange(len(height)) >= len(near)
    put = new | np.append(near, np.zeros(new.sum(), bool))
    return replace(shape, points=shape.points - np.outer(np.where(put, height, 0.0), across))


def _ridge(points: np.ndarray, faces: np.ndarray, source: np.ndarray, split_at: np.ndarray
           ) -> np.ndarray:
    """Edges (k, 2) of the plane where the two halves meet in a crease."""
    m = len(faces) // 2
    edges, beside = mesh.edge_faces(faces)
    between = (beside[:, 0] < m) != (beside[:, 1] < m)
    chosen = np.isin(source[beside.min(axis=1) % m], split_at)
    return edges[between & (chosen | sharp_edges(points, faces))]
