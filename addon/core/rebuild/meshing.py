"""Triangles of a flat piece, made from its outline and its trenches alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import ERROR, Finding, FoamError
from .sampled import SAME, Sampled, Samples

CLEAR = 0.55  # of the spacing: no inner point lies nearer to an outline or a trench
ROUNDS = 12  # of dividing what the triangles do not follow


@dataclass(frozen=True, eq=False)
class FlatMesh:
    """Points (n, 2) and triangles (m, 3) of one flat piece; edges and trenches: the points
    (k,) along each, in order; folds (k,) of each trench there."""

    points: np.ndarray
    faces: np.ndarray
    edges: tuple[np.ndarray, ...]
    trenches: tuple[np.ndarray, ...]
    folds: tuple[np.ndarray, ...]


def flat_meshes(samples: Samples) -> list[FlatMesh]:
    """A mesh of every piece, in which mates have the same number of points.

    Raises FoamError `not-rebuilt` for a piece whose outline cannot be filled.
    """
    done: dict[int, FlatMesh] = {}
    todo = set(range(len(samples.pieces)))
    for _ in range(ROUNDS):
        again = set()
        for p in sorted(todo):
            sampled = samples.of(p)
            done[p], missing = _mesh(sampled, samples.spacing)
            for what, number, segment in missing:
                if what == "edge":
                    samples.refine(p, number, segment)
                    shared = samples.places[p, number]
                    again |= {q for (q, _), places in samples.places.items() if places is shared}
                else:
                    samples.refine_line(p, number, segment)
                    again.add(p)
        if not again:
            return [done[p] for p in range(len(samples.pieces))]
        todo = again
    piece = samples.pieces[min(todo)]
    raise FoamError(Finding(
        "not-rebuilt", ERROR, f"The outline of {piece.code} is too intricate to be put together "
        "again.", "Smooth its seams, or leave this object out.", faces=piece.source_face,
        piece=piece.code))


def triangles(lengths: np.ndarray) -> np.ndarray:
    """Corners (m, 3) in the complex plane of triangles with sides (m, 3) opposite each corner,
    by the law of cosines."""
    a, b, c = lengths.T
    x = (c**2 + b**2 - a**2) / (2 * c)
    y = np.sqrt(np.maximum(b**2 - x**2, (1e-4 * c) ** 2))
    return np.stack([np.zeros_like(a) + 0j, c + 0j, x + 1j * y], axis=1)


def _mesh(sampled: Sampled, spacing: float) -> tuple[FlatMesh, list[tuple[str, int, int]]]:
    """The mesh, and the segments of edges and trenches that its triangles do not follow."""
    import shapely
    from scipy.spatial import Delaunay, cKDTree
    from shapely.geometry import Polygon

    points: list[np.ndarray] = []
    edges: list[np.ndarray] = [np.empty(0, dtype=np.int64)] * len(sampled.edges)
    rings = []
    count = 0
    for loop in sampled.loops:
        first, ring = count, []
        for e in loop:
            own = len(sampled.edges[e]) - 1
            points.append(sampled.edges[e][:-1])
            edges[e] = np.arange(count, count + own + 1)
            ring.append(sampled.edges[e][:-1])
            count += own
        edges[loop[-1]][-1] = first
        rings.append(np.concatenate(ring))
    body = Polygon(rings[0], rings[1:])
    at = np.concatenate(points)
    trenches = []
    for line in sampled.trenches:
        away, near = cKDTree(at).query(line)
        known = away < 10 * SAME
        index = near.astype(np.int64)
        index[~known] = len(at) + np.arange((~known).sum())
        at = np.concatenate([at, line[~known]])
        trenches.append(index)
    grid = _grid(at.min(axis=0), at.max(axis=0), spacing)
    if len(grid):
        free = shapely.contains_xy(body, *grid.T)
        lines = shapely.union_all([body.boundary, *(shapely.LineString(t)
                                                    for t in sampled.trenches)])
        free &= shapely.distance(shapely.points(grid), lines) > CLEAR * spacing
        at = np.concatenate([at, grid[free]])
    faces = Delaunay(at).simplices.astype(np.int64)
    a, b, c = (at[faces[:, k]] for k in range(3))
    double = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    faces[double < 0] = faces[double < 0][:, ::-1]
    inside = shapely.contains_xy(body, *((a + b + c) / 3).T) & (np.abs(double) > 1e-9 * spacing**2)
    faces = faces[inside]
    half = np.concatenate([faces[:, [k, (k + 1) % 3]] for k in range(3)])
    there = set(map(tuple, half.tolist()))
    missing = []
    for e, run in enumerate(edges):
        missing += [("edge", e, k) for k in range(len(run) - 1)
                    if (int(run[k]), int(run[k + 1])) not in there]
    for t, run in enumerate(trenches):
        missing += [("trench", t, k) for k in range(len(run) - 1)
                    if (int(run[k]), int(run[k + 1])) not in there]
    return FlatMesh(at, faces, tuple(edges), tuple(trenches), sampled.folds), missing


def _grid(low: np.ndarray, high: np.ndarray, spacing: float) -> np.ndarray:
    """Corners (k, 2) of equilateral triangles over a rectangle."""
    rows = np.arange(low[1] + spacing / 2, high[1], spacing * np.sqrt(3) / 2)
    columns = np.arange(low[0], high[0] + spacing, spacing)
    x = columns + spacing / 2 * (np.arange(len(rows)) % 2)[:, None]
    return np.stack([x, np.broadcast_to(rows[:, None], x.shape)], axis=2).reshape(-1, 2)
