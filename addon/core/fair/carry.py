"""From a faired line in space to the pieces beside it: the same points on every flat.

A faired point lies up to the tolerance beside the vertex it comes from, often a little
outside the region. Each side writes it in the barycentric coordinates of one of its own
faces close by, carried on past the face's edge where need be, so the line is a linear
map of the region's vertices and moves with them to the flat.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..model import Border, Line, Region

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

STILL = 1e-9  # mm: a point that moved less has not moved


def curve(region: Region, line: Border | Line) -> np.ndarray:
    """The points (k, 3) of a border, trench or score line in space, faired where it zigzags."""
    return line.faired if len(line.faired) else region.vertices[line.vertices]


def border_map(region: Region, line: Border | Line) -> csr_matrix:
    """The line as a map (k, n) of the region's vertices.

    `border_map @ region.vertices` is `curve`, dropped on the planes of the region's own
    faces; `border_map @ flat.points` is the line on the flat. Rows of points that were
    left alone pick their vertex and nothing else.
    """
    from scipy.sparse import csr_matrix

    count = len(line.vertices)
    moved, face, weights = _anchors(region, line)
    columns = np.repeat(line.vertices[:, None], 3, axis=1)
    values = np.tile([1.0, 0.0, 0.0], (count, 1))
    columns[moved], values[moved] = region.faces[face], weights
    chosen = values != 0
    return csr_matrix((values[chosen], (np.nonzero(chosen)[0], columns[chosen])),
                      shape=(count, len(region.vertices)))


def faired_lengths(region: Region, lengths: np.ndarray, border: Border) -> np.ndarray:
    """Length (k-1,) of each segment of a border's faired line, of lengths (m, 3) opposite each
    face's corners, such as those of the neutral layer.

    A segment that moved has its length in space times the stretch from the sculpt's faces
    at its two ends to triangles of these lengths, in its own direction.
    """
    rest = mesh.along(lengths, border.half)
    moved, face, _ = _anchors(region, border)
    if not len(moved):
        return rest
    step = np.diff(curve(region, border), axis=0)
    space = np.linalg.norm(
        region.vertices[np.roll(region.faces[face], -2, axis=1)]
        - region.vertices[np.roll(region.faces[face], -1, axis=1)], axis=2)
    total, ends = np.zeros(len(step)), np.zeros(len(step))
    for segment in (moved - 1, moved):  # no end of an open line ever moves
        inside = (segment >= 0) & (segment < len(step))
        at, where = segment[inside], face[inside]
        part = _coordinates(region, where, step[at], origin=False)
        total[at] += np.sqrt(_squared(part, lengths[where])
                             / np.maximum(_squared(part, space[inside]), 1e-300))
        ends[at] += 1
    return np.where(ends > 0, np.linalg.norm(step, axis=1) * total / np.maximum(ends, 1), rest)


def _squared(part: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    """Squared length (k,) of vectors with barycentric coordinates (k, 3), which sum to 0, in
    triangles with lengths (k, 3) opposite their corners: -(a^2 y z + b^2 z x + c^2 x y)
    (barycentric distance formula)."""
    products = np.roll(part, -1, axis=1) * np.roll(part, -2, axis=1)
    return np.maximum(-(products * lengths**2).sum(axis=1), 0.0)


def _anchors(region: Region, line: Border | Line) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The points (j,) that moved, the face (j,) each is written in and its coordinates (j, 3)."""
    if not len(line.faired):
        return np.empty(0, int), np.empty(0, int), np.empty((0, 3))
    points = line.faired
    away = np.linalg.norm(points - region.vertices[line.vertices], axis=1)
    moved = np.flatnonzero(away > STILL)
    point, face = _nearby(region, line, moved)
    goal = points[moved[point]]
    part = _coordinates(region, face, goal)
    corner = region.vertices[region.faces[face]]
    normal, area = mesh.face_normals(region.vertices, region.faces[face])
    opposite = np.linalg.norm(np.roll(corner, -2, 1) - np.roll(corner, -1, 1), axis=2)
    height = 2 * area[:, None] / np.maximum(opposite, 1e-300)
    beyond = np.maximum(-part, 0.0)
    # In mm: how far outside the face, dearer on a thin face, and how far off its plane.
    miss = (beyond * height).max(axis=1) * (1 + beyond.max(axis=1))
    miss += np.abs(np.einsum("ij,ij->i", goal - corner[:, 0], normal))
    miss[area <= 0] = np.inf
    order = np.lexsort((face, miss, point))
    best = order[np.searchsorted(point[order], np.arange(len(moved)))]
    return moved, face[best], part[best]


def _coordinates(region: Region, face: np.ndarray, points: np.ndarray, origin: bool = True
                 ) -> np.ndarray:
    """Barycentric coordinates (k, 3) of points dropped on planes of faces (k,).

    origin False: of vectors, whose coordinates sum to 0.
    """
    a, b, c = (region.vertices[region.faces[face, i]] for i in range(3))
    u, v = b - a, c - a
    w = points - a if origin else points
    dot = lambda p, q: np.einsum("ij,ij->i", p, q)  # noqa: E731
    uu, uv, vv, uw, vw = dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)
    scale = np.maximum(uu * vv - uv**2, 1e-300)
    second, third = (vv * uw - uv * vw) / scale, (uu * vw - uv * uw) / scale
    return np.stack([float(origin) - second - third, second, third], axis=1)


def _nearby(region: Region, line: Border | Line, moved: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray]:
    """Pairs (j,) of a moved point, as its place in `moved`, and a face two steps from it.

    The steps go round inner vertices and those of the line itself, so that the other
    bank of a dart is never near.
    """
    from scipy.sparse import csr_matrix

    faces, count = region.faces, len(region.vertices)
    passing = np.ones(count, dtype=bool)
    passing[np.concatenate([border.vertices for border in region.borders])] = False
    near = np.zeros(count, dtype=bool)
    near[line.vertices] = True
    for _ in range(2):
        close = np.flatnonzero(near[faces].any(axis=1))
        near[faces[close]] = True
    at = csr_matrix((np.ones(3 * len(close), np.int32),
                     (faces[close].ravel(), np.repeat(np.arange(len(close)), 3))),
                    shape=(count, len(close)))
    last = len(line.vertices) - 1
    ring = line.vertices[0] == line.vertices[last]
    place, vertex = [np.arange(len(moved))], [line.vertices[moved]]
    for step in (-1, 1):
        beside = (moved + step) % last if ring else moved + step
        inner = np.ones(len(moved), bool) if ring else (beside > 0) & (beside < last)
        place.append(np.flatnonzero(inner))
        vertex.append(line.vertices[beside[inner]])
    place, vertex = np.concatenate(place), np.concatenate(vertex)
    of_point = csr_matrix((np.ones(len(place), np.int32), (place, vertex)),
                          shape=(len(moved), count))
    star = csr_matrix((np.ones(len(moved), np.int32),
                       (np.arange(len(moved)), line.vertices[moved])),
                      shape=(len(moved), count)) @ at
    wider = (star @ at.T).tocsr()
    wider.data[~passing[wider.indices]] = 0
    pairs = ((of_point + wider) @ at).tocoo()
    kept = pairs.data != 0
    return pairs.row[kept].astype(np.int64), close[pairs.col[kept]]
