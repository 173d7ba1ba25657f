"""The triangles of a mesh, none of them without area where its polygon has some.

Blender divides a polygon with corners in a straight row so that a triangle may lie on that row
alone. To the maker there is no fault in such a polygon, so another diagonal is taken.
"""

from __future__ import annotations

from dataclasses import dataclass

import bpy
import numpy as np

THIN = 1e-4  # height over longest side; single precision makes a row straight to 1e-6 or so


@dataclass(frozen=True, eq=False)
class Triangles:
    """vertices and loops (t, 3): of the corners; polygon (t,): the face each is of."""

    vertices: np.ndarray
    loops: np.ndarray
    polygon: np.ndarray


def triangles(mesh: bpy.types.Mesh) -> Triangles:
    """Those of a mesh outside Edit Mode."""
    mesh.calc_loop_triangles()
    count = len(mesh.loop_triangles)
    loops, polygon = np.empty(3 * count, dtype=np.int32), np.empty(count, dtype=np.int32)
    mesh.loop_triangles.foreach_get("loops", loops)
    mesh.loop_triangles.foreach_get("polygon_index", polygon)
    loops, polygon = loops.reshape(-1, 3).astype(np.int64), polygon.astype(np.int64)
    corner = np.empty(len(mesh.loops), dtype=np.int32)
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    if count:  # an empty mesh has no such attributes, which are read much faster than elements
        mesh.attributes[".corner_vert"].data.foreach_get("value", corner)
        mesh.attributes["position"].data.foreach_get("vector", points)
    loops = widened(loops, polygon, points.reshape(-1, 3), corner)
    return Triangles(corner.astype(np.int64)[loops], loops, polygon)


def widened(loops: np.ndarray, polygon: np.ndarray, points: np.ndarray, corner: np.ndarray
            ) -> np.ndarray:
    """Triangles (t, 3) of the same polygons (t,), where thin ones have got another diagonal with
    which they are wider. points (n, 3); corner (l,): the point at each corner."""
    thin = np.flatnonzero(_width(points, corner[loops]) < THIN)
    if not len(thin):
        return loops
    found, exact = loops.copy(), points.astype(np.float64)
    for face in np.unique(polygon[thin]).tolist():
        first, last = np.searchsorted(polygon, [face, face + 1])
        _widen(found[first:last], exact, corner)
    return found


def _widen(found: np.ndarray, points: np.ndarray, corner: np.ndarray) -> None:
    """The same for the triangles of one polygon, in place."""
    changed = True
    while changed:  # each turn makes the thinner of two wider, so this ends
        changed = False
        for k in np.flatnonzero(_width(points, corner[found]) < THIN).tolist():
            own = points[corner[found[k]]]
            sides = np.linalg.norm(np.roll(own, -1, axis=0) - own, axis=1)
            a, c, b = np.roll(found[k], -int(sides.argmax())).tolist()
            beside = next((j for j in range(len(found)) if j != k and {a, c} <= {*found[j]}), None)
            if beside is None:
                continue
            d = int(next(v for v in found[beside] if v not in (a, c)))
            new, pair = np.array([(a, d, b), (d, c, b)]), [k, beside]
            was, now = (_width(points, corner[some]).min() for some in (found[pair], new))
            if now > was:
                found[pair] = new
                changed = True


def _width(points: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Height over longest side (t,) of triangles (t, 3) of points (n, 3)."""
    a, b, c = (points[corners[:, k]].T for k in range(3))  # by coordinate: far sooner than in rows
    with np.errstate(over="ignore", invalid="ignore"):  # what lies nowhere is told elsewhere
        u, v = b - a, c - a
        double = sum((u[i] * v[j] - u[j] * v[i]) ** 2 for i, j in ((0, 1), (1, 2), (2, 0)))
        longest = np.maximum.reduce([sum(side * side) for side in (u, v, v - u)])
        return np.sqrt(double) / np.maximum(longest, 1e-30)
