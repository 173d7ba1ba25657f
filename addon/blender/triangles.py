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
    mesh.loops.foreach_get("vertex_index", corner)
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    loops = widened(loops, polygon, points.reshape(-1, 3).astype(np.float64)[corner])
    return Triangles(corner.astype(np.int64)[loops], loops, polygon)


def widened(loops: np.ndarray, polygon: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Triangles (t, 3) of the same polygons (t,), where thin ones have got another diagonal with
    which they are wider. places (l, 3): of the corners."""
    thin = _width(places[loops]) < THIN
    thin &= np.bincount(polygon, minlength=1)[polygon] > 1
    found = loops.copy()
    for face in np.unique(polygon[thin]).tolist():
        first, last = np.searchsorted(polygon, [face, face + 1])
        _widen(found[first:last], places)
    return found


def _widen(found: np.ndarray, places: np.ndarray) -> None:
    """The same for the triangles of one polygon, in place."""
    changed = True
    while changed:  # each turn makes the thinner of two wider, so this ends
        changed = False
        for k in np.flatnonzero(_width(places[found]) < THIN).tolist():
            sides = np.linalg.norm(places[np.roll(found[k], -1)] - places[found[k]], axis=1)
            a, c, b = np.roll(found[k], -int(sides.argmax())).tolist()
            beside = next((j for j in range(len(found)) if j != k and {a, c} <= {*found[j]}), None)
            if beside is None:
                continue
            d = int(next(v for v in found[beside] if v not in (a, c)))
            new, pair = np.array([(a, d, b), (d, c, b)]), [k, beside]
            if _width(places[new]).min() > _width(places[found[pair]]).min():
                found[pair] = new
                changed = True


def _width(corners: np.ndarray) -> np.ndarray:
    """Height over longest side (t,) of triangles (t, 3, 3)."""
    sides = np.roll(corners, -1, axis=1) - corners
    longest = np.maximum(np.einsum("tij,tij->ti", sides, sides).max(axis=1), 1e-300)
    return np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1) / longest
