"""Polygons in space -> triangles on the same corners."""

from __future__ import annotations

import numpy as np


def triangulate(points: np.ndarray, corners: np.ndarray,
                sizes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Triangles (m, 3) and the polygon (m,) of each, in the order of the polygons.

    corners (k,) are the polygons' point indices one after another, sizes (p,) their
    numbers of corners. Triangles are wound like their polygon.
    """
    first = np.cumsum(sizes) - sizes
    three, four = np.flatnonzero(sizes == 3), np.flatnonzero(sizes == 4)
    faces = [corners[first[three, None] + np.arange(3)],
             _split_quads(points, corners[first[four, None] + np.arange(4)])]
    polygon = [three, np.repeat(four, 2)]
    for p in np.flatnonzero(sizes > 4):
        ring = corners[first[p]:first[p] + sizes[p]]
        faces.append(ring[_clip_ears(_flatten(points[ring]))])
        polygon.append(np.full(sizes[p] - 2, p))
    polygon = np.concatenate(polygon)
    order = np.argsort(polygon, kind="stable")
    return np.concatenate(faces)[order].astype(np.int64), polygon[order]


def _split_quads(points: np.ndarray, quads: np.ndarray) -> np.ndarray:
    """Two triangles (2q, 3) a quad, cut along the diagonal that leaves the larger smaller one."""
    p = points[quads]
    with np.errstate(invalid="ignore", over="ignore"):  # corners may lie nowhere
        normal = np.cross(p[:, 2] - p[:, 0], p[:, 3] - p[:, 1])

        def area(i: int, j: int, k: int) -> np.ndarray:
            cross = np.cross(p[:, j] - p[:, i], p[:, k] - p[:, i])
            return np.einsum("ij,ij->i", cross, normal)

        straight = np.minimum(area(0, 1, 2), area(0, 2, 3))
        other = np.minimum(area(1, 2, 3), area(1, 3, 0))
        turn = other > straight + 1e-6 * np.abs(straight)  # rounding must not choose
    split = np.where(turn[:, None], [1, 2, 3, 1, 3, 0], [0, 1, 2, 0, 2, 3])
    return np.take_along_axis(quads, split, axis=1).reshape(-1, 3)


def _flatten(ring: np.ndarray) -> np.ndarray:
    """The polygon (k, 3) in its mean plane (k, 2), counter-clockwise; normal after Newell."""
    ring = ring - ring[0]
    with np.errstate(invalid="ignore", over="ignore"):
        normal = np.cross(ring, np.roll(ring, -1, axis=0)).sum(axis=0)
        axis = np.zeros(3)
        axis[np.argmin(np.abs(normal))] = 1.0
        u = np.cross(axis, normal)
        v = np.cross(normal, u)
        length = [max(np.linalg.norm(w), np.finfo(float).tiny) for w in (u, v)]
        return ring @ np.stack([u / length[0], v / length[1]], axis=1)


def _clip_ears(ring: np.ndarray) -> np.ndarray:
    """Triangles (k - 2, 3) of a counter-clockwise polygon (k, 2), by clipping ears.

    Of all ears that hold no other corner the one with the shortest cut goes first. A
    polygon that crosses itself has none at some point; its rest is cut as it comes.
    """
    left = np.arange(len(ring))
    faces = []
    while len(left) > 3:
        before, after = np.roll(left, 1), np.roll(left, -1)
        a, b, c = ring[before], ring[left], ring[after]
        convex = _cross(b - a, c - b) > 0
        order = np.argsort(((c - a) ** 2).sum(axis=1), kind="stable")
        ear = next((i for i in order[convex[order]]
                    if not _holds(a[i], b[i], c[i], ring[left])), 0)
        faces.append((before[ear], left[ear], after[ear]))
        left = np.delete(left, ear)
    return np.array([*faces, left])


def _holds(a: np.ndarray, b: np.ndarray, c: np.ndarray, points: np.ndarray) -> bool:
    """Whether a point other than a, b and c lies in the triangle or on its border."""
    inside = ((_cross(b - a, points - a) >= 0) & (_cross(c - b, points - b) >= 0)
              & (_cross(a - c, points - c) >= 0))
    for corner in (a, b, c):
        inside &= (points != corner).any(axis=1)
    return bool(inside.any())


def _cross(u: np.ndarray, v: np.ndarray) -> np.ndarray:
    return u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
