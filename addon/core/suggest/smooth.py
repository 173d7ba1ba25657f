"""Seams as smooth curves: their vertices relax along the curve and stay on the surface.

The vertices round about follow, so that faces keep their shape. Vertices of rims and creases
stay, and so does any whose face would collapse or turn over.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .. import mesh
from .closest import closest
from .working import Working

STEPS, EVERY = 40, 4  # of relaxing, and how often points are put back on the surface
RINGS = 3  # of vertices beside a seam that follow
THIN, TURNED = 0.1, 0.4  # of its area, and cosine: what is left of a face that is still sound


def relaxed(working: Working, seams: np.ndarray, still: np.ndarray | None = None) -> np.ndarray:
    """Points (n, 3) after the seams (e,) bool have relaxed. still: vertices (n,) that stay."""
    from scipy.sparse import csr_matrix, diags

    points, count = working.points, len(working.points)
    edges = working.edges[seams]
    both = lambda e: csr_matrix(  # noqa: E731
        (np.ones(2 * len(e)), (e.ravel(), e[:, ::-1].ravel())), shape=(count, count))
    line = both(edges)
    degree = np.asarray(line.sum(axis=1)).ravel()
    fixed = np.zeros(count, dtype=bool) if still is None else still.copy()
    rim = mesh.twins(working.faces) < 0
    start, end, _ = mesh.half_edges(working.faces)
    fixed[start[rim]] = fixed[end[rim]] = True
    fixed[working.edges[working.crease].ravel()] = True
    fixed |= degree == 1  # the tip of a dart
    around = both(working.edges)
    ring = np.asarray(around.sum(axis=1)).ravel()
    mean_line = diags(1 / np.maximum(degree, 1)) @ line
    mean_ring = diags(1 / np.maximum(ring, 1)) @ around
    near = degree > 0
    for _ in range(RINGS):
        near = near | (around @ near.astype(float) > 0)
    on = (degree > 1) & ~fixed
    beside = near & (degree == 0) & ~fixed
    moving = np.flatnonzero(on | beside)
    if not len(moving):
        return points
    normals, area = mesh.face_normals(points, working.faces)
    mirror = vertex_images(working)
    now = points.copy()
    for step in range(1, STEPS + 1):
        new = now.copy()
        new[on] = 0.4 * now[on] + 0.6 * (mean_line @ now)[on]
        new[beside] = 0.5 * now[beside] + 0.5 * (mean_ring @ now)[beside]
        if step % EVERY == 0:
            new[moving] = closest(new[moving], points, working.faces)[0]
            new = mirror(new)
        now = _sound(working.faces, now, new, normals, area)
    return now


def vertex_images(working: Working) -> Callable[[np.ndarray], np.ndarray]:
    """A function that makes points (n, 3) exactly symmetric, after those of the first half."""
    if not working.symmetric:
        return lambda points: points
    half = working.half
    own = working.faces[half].ravel()
    other = working.faces[working.image[half]][:, ::-1].ravel()
    apart = working.points[own] - working.points[other]
    far = int(np.argmax((apart**2).sum(axis=1)))
    across = apart[far] / np.linalg.norm(apart[far])
    middle = float(((working.points[own[far]] + working.points[other[far]]) / 2) @ across)

    def mirrored(points: np.ndarray) -> np.ndarray:
        points = points.copy()
        points[other] = points[own] - 2 * np.outer(points[own] @ across - middle, across)
        both = own[own == other]
        points[both] -= np.outer(points[both] @ across - middle, across)
        return points

    return mirrored


def _sound(faces: np.ndarray, before: np.ndarray, after: np.ndarray, normals: np.ndarray,
           area: np.ndarray) -> np.ndarray:
    """The points after a step, but those of faces it would spoil as they were before."""
    for _ in range(8):
        turned, size = mesh.face_normals(after, faces)
        bad = (np.einsum("ij,ij->i", turned, normals) < TURNED) | (size < THIN * area)
        if not bad.any():
            return after
        after = after.copy()
        spoilt = np.unique(faces[bad])
        after[spoilt] = before[spoilt]
    return before


def turning(points: np.ndarray, edges: np.ndarray) -> float:
    """Mean turn in degrees per 100 mm of lines made of edges (k, 2); junctions do not count."""
    turn = length = 0.0
    for line in mesh.chains(edges) if len(edges) else []:
        step = np.diff(points[line], axis=0)
        size = np.linalg.norm(step, axis=1)
        cosine = np.einsum("ij,ij->i", step[:-1], step[1:]) / np.maximum(
            size[:-1] * size[1:], 1e-300)
        turn += float(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))).sum())
        length += float(size.sum())
    return 100 * turn / max(length, 1e-9)
