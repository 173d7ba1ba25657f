"""Folds too sharp for foam to bend round: there a piece ends, or has a trench."""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..model import TRENCH, Line
from ..stock import Stock

BEND, SURE = np.radians(20.0), np.radians(50.0)  # a fold that may be a crease; one that is
TIGHTER = 1.1  # times the smallest radius the foam bends to heated: what bends less is no crease
STRIP = 1.2  # thicknesses: a strip between creases that is narrower is no piece
ACROSS = 0.7  # of the strip that an edge stands for: a fold across a strip is shorter
RUN = 3.0  # thicknesses: a crease that is shorter is noise
CORNER, WINDOW = np.radians(45.0), 8.0  # a crease that turns more within this many mm ends there


def creases_of(points: np.ndarray, faces: np.ndarray, stock: Stock, side: str) -> np.ndarray:
    """Edges (k, 2) where the surface folds more sharply than foam can bend.

    An edge of length l between faces of areas A, B stands for a strip h = 2 (A + B) / 3 l wide,
    which bends by the fold at a radius of h over the fold.
    """
    edges, beside = mesh.edge_faces(faces)
    front, back = stock.depths(side)
    inside = stock.heated.radius * stock.thickness
    sharp = sharp_edges(points, faces, TIGHTER * (inside + back), TIGHTER * (inside + front))
    if not sharp.any():
        return edges[sharp]
    length, strip = _strips(points, faces, edges, beside)
    sharp |= _across_strips(points, faces, edges, beside, sharp, length < ACROSS * strip)
    _, run = mesh.components(len(points), edges[sharp])
    run = run[edges[:, 0]]
    total = np.bincount(run[sharp], length[sharp], run.max() + 1)
    sharp &= total[run] > RUN * stock.thickness
    return edges[sharp & ~_beside_strips(faces, beside, sharp, length, points, stock)]


def _across_strips(points: np.ndarray, faces: np.ndarray, edges: np.ndarray, beside: np.ndarray,
                   sharp: np.ndarray, short: np.ndarray) -> np.ndarray:
    """Which edges (e,) fold a strip between creases straight across: of those (e,) that are much
    shorter than the bend for which they could stand."""
    met = np.zeros(len(points), dtype=bool)
    met[edges[sharp]] = True
    fold = np.abs(folds(points, faces, edges, beside))
    return short & (fold > BEND) & met[edges].all(axis=1)


def _strips(points: np.ndarray, faces: np.ndarray, edges: np.ndarray, beside: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray]:
    """Length (e,) of edges, and the width (e,) of the strip that each stands for."""
    _, area = mesh.face_normals(points, faces)
    length = np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1)
    return length, 2 * area[beside].sum(axis=1) / (3 * np.maximum(length, 1e-300))


def _beside_strips(faces: np.ndarray, beside: np.ndarray, sharp: np.ndarray, length: np.ndarray,
                   points: np.ndarray, stock: Stock) -> np.ndarray:
    """Which edges (e,) bound a strip too narrow to be a piece of foam: its creases are the
    rounded edge of something, and neither seams nor trenches."""
    number, patch = mesh.components(len(faces), beside[~sharp])
    area = np.bincount(patch, mesh.face_normals(points, faces)[1], number)
    outline = np.zeros(number)
    for side in (0, 1):
        outline += np.bincount(patch[beside[sharp, side]], length[sharp], number)
    rim = np.flatnonzero(mesh.twins(faces) < 0)
    ends = points[faces.ravel()[rim]], points[faces.ravel()[mesh.after(rim)]]
    outline += np.bincount(patch[rim // 3], np.linalg.norm(ends[1] - ends[0], axis=1), number)
    narrow = 2 * area < STRIP * stock.thickness * outline
    return narrow[patch[beside]].any(axis=1)


def sharp_edges(points: np.ndarray, faces: np.ndarray, convex: float = 0.0, concave: float = 0.0
                ) -> np.ndarray:
    """Which inner edges (e,) fold by more than SURE, or by BEND at less than the radius given for
    their sense."""
    edges, beside = mesh.edge_faces(faces)
    fold = folds(points, faces, edges, beside)
    radius = np.where(fold > 0, convex, concave)
    fold = np.abs(fold)
    _, strip = _strips(points, faces, edges, beside)
    return (fold > SURE) | ((fold > BEND) & (strip < radius * fold))


def folds(points: np.ndarray, faces: np.ndarray, edges: np.ndarray, beside: np.ndarray
          ) -> np.ndarray:
    """Angle (e,) between the faces beside each edge, convex positive."""
    normals, _ = mesh.face_normals(points, faces)
    along = points[edges[:, 1]] - points[edges[:, 0]]
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-300)[:, None]
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    return np.arctan2(np.einsum("ij,ij->i", np.cross(n1, n2), along),
                      np.einsum("ij,ij->i", n1, n2))


def crease_lines(points: np.ndarray, faces: np.ndarray, creases: np.ndarray) -> list[Line]:
    """Inner edges (k, 2) as lines, ending at their junctions and corners."""
    start, end, _ = mesh.half_edges(faces)
    twin = mesh.twins(faces)
    count = len(points)
    directed = start * count + end
    order = np.argsort(directed)
    lines = []
    for path in mesh.chains(creases):
        cuts = mesh.corners(points[path], WINDOW, CORNER)
        ends = [0, *cuts.tolist(), len(path) - 1]
        half = order[np.searchsorted(directed[order], path[:-1] * count + path[1:])]
        lines += [Line(path[a:b + 1], half[a:b], twin[half[a:b]], TRENCH)
                  for a, b in zip(ends, ends[1:], strict=False)]
    return lines
