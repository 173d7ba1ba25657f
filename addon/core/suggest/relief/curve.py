"""From a way along the ground's edges to a smooth line on the sculpt."""

from __future__ import annotations

import numpy as np

from ... import mesh
from ...trace import Surface, through
from .ground import Ground
from .lines import Path

EVERY = 0.5  # of the ground's edges: spacing of the line's points
ROUNDS = 40  # of smoothing, each half-way to the mean of the neighbours
NEAR = 0.15  # of an edge: a line that crosses it nearer to its end goes through the end
COARSE = 4.0  # mm: edges from which on crossings near their ends are moved there


def smooth_line(ground: Ground, path: Path, held: np.ndarray, surface: Surface) -> np.ndarray:
    """Points (k, 3) on the surface of a smooth line along a path.

    held (e,): edges of the ground that the line stays on, such as creases. The ends stay.
    """
    way = list(path.vertices)
    corners = ground.points[way]
    along = mesh.arc_length(corners)
    spacing = EVERY * float(np.median(ground.length))
    count = max(int(round(along[-1] / spacing)), 2)
    at = np.linspace(0.0, along[-1], count + 1)
    points = np.stack([np.interp(at, along, x) for x in corners.T], axis=1)
    on = held[ground.numbers(path.edges)]
    segment = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(way) - 2)
    fixed = on[segment]
    fixed[[0, -1]] = True
    free = ~fixed
    for step in range(ROUNDS):
        middle = (points[:-2] + points[2:]) / 2
        moved = points.copy()
        moved[1:-1] += 0.5 * (middle - points[1:-1])
        points[free] = moved[free]
        if step % 10 == 9 and free.any():
            points[free] = surface.nearest(points[free]).points
    return points


def between_edges(points: np.ndarray, surface: Surface) -> np.ndarray:
    """The points (k, 3) where a line crosses the edges of a coarse mesh, none close to a vertex
    but in it: so its cut leaves no thin triangles, on which curvature cannot be told.

    On a fine mesh, the line as it is.
    """
    line = through(surface, points)
    corner = surface.vertices[surface.faces[line.face]]
    long = np.linalg.norm(corner - np.roll(corner, 1, axis=1), axis=2).max(axis=1)
    if np.median(long) < COARSE:
        return points
    weights = line.weights
    crossing = (weights <= 0).any(axis=1)
    if crossing.sum() < 2:
        return points
    weights, face = weights[crossing], line.face[crossing]
    kept = np.ones(len(face), dtype=bool)
    at = np.where(weights.max(axis=1) > 1 - NEAR,
                  surface.faces[face, weights.argmax(axis=1)], -1)
    corners = surface.faces[face]
    for k in np.flatnonzero(at >= 0):  # what crosses the other edges of that vertex goes, too
        weights[k] = corners[k] == at[k]
        for step in (-1, 1):
            j = k + step
            while 0 < j < len(face) - 1 and at[j] < 0 and (
                    weights[j] @ (corners[j] == at[k]) > 0.5):
                kept[j] = False
                j += step
    points = np.einsum("ij,ijk->ik", weights, surface.vertices[corners])[kept]
    apart = np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-6
    return points[np.append(True, apart)]
