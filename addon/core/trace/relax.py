"""From a first way to one close to the shortest: a polyline relaxed on the surface.

Dijkstra's way keeps to a few directions and may run many faces beside the shortest line, and
a strip moves but one face at a time. So points spread along it are drawn tight first, all at
once: they minimise the sum of squared steps in their tangent planes, are put back on the
surface, and so on (as for splines in manifolds, Hofer and Pottmann 2004).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from .graph import push

if TYPE_CHECKING:
    from .surface import Surface

LONG = 16  # faces: shorter strips are shifted as fast
MOST = 48  # points
STEPS, SETTLED = 8, 0.05  # the largest move that still matters, as a share of a step


def relaxed(surface: Surface, strip: list[int], start: np.ndarray, goal: np.ndarray) -> list[int]:
    """A strip nearer to the shortest line from start to goal (3,); the same one where the
    surface does not let it be found."""
    if len(strip) < LONG:
        return strip
    centres = surface.vertices[surface.faces[strip[1:-1]]].mean(axis=1)
    line = np.concatenate([[start], centres, [goal]])
    along = mesh.arc_length(line)
    count = min(MOST, max(4, len(strip) // 4))
    even = np.linspace(0.0, along[-1], count + 1)
    points = np.stack([np.interp(even, along, x) for x in line.T], axis=1)
    foot = surface.nearest(points[1:-1], exact=False)
    for _ in range(STEPS):
        points[1:-1] = foot.points
        normals, _ = mesh.face_normals(surface.vertices, surface.faces[foot.face])
        moved = tightened(points, normals)
        foot = surface.nearest(moved, exact=False)
        if np.abs(foot.points - points[1:-1]).max() < SETTLED * along[-1] / count:
            break
    stops = [strip[0], *foot.face.tolist(), strip[-1]]
    points[1:-1] = foot.points
    found = [strip[0]]
    for a, b, p, q in zip(stops, stops[1:], points, points[1:], strict=False):
        onward = walk(surface, a, b, p, q) or surface.graph.strip((a, p), (b, q))
        if not onward:
            return strip  # a point has come to lie on another part
        for face in onward:
            push(found, face)
    return found


def tightened(points: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """The inner points (k-2, 3) of a polyline, moved at right angles to normals (k-2, 3) so that
    the sum of squared steps is least."""
    from scipy.linalg import solveh_banded

    inner = len(normals)
    least = np.eye(3)[np.abs(normals).argmin(axis=1)]
    u = np.cross(normals, least)
    u /= np.maximum(np.linalg.norm(u, axis=1), 1e-300)[:, None]
    frame = np.stack([u, np.cross(normals, u)], axis=1)  # (inner, 2, 3)
    pull = points[:-2] - 2 * points[1:-1] + points[2:]
    right = np.einsum("ijk,ik->ij", frame, pull).ravel()
    between = np.einsum("ijk,ilk->ijl", frame[:-1], frame[1:])  # coupling of neighbours
    bands = np.zeros((4, 2 * inner))  # upper form: bands[3 + i - j, j] = matrix[i, j]
    bands[3] = 2.0
    for i in range(2):
        for j in range(2):
            bands[3 - (2 + j - i), 2 + j::2] = -between[:, i, j]
    step = solveh_banded(bands, right).reshape(inner, 2)
    return points[1:-1] + np.einsum("ij,ijk->ik", step, frame)


def walk(surface: Surface, a: int, b: int, start: np.ndarray, goal: np.ndarray) -> list[int]:
    """Faces after a up to b, met straight ahead; empty where that does not lead there."""
    if a == b:
        return [b]
    normals, _ = mesh.face_normals(surface.vertices, surface.faces[[a, b]])
    ahead = goal - start
    across = np.cross(normals.sum(axis=0), ahead)
    reach, faces, here, entry = float(ahead @ ahead), [], a, -1
    for _ in range(200):
        corner = surface.vertices[surface.faces[here]] - start
        side, far = (corner @ across).tolist(), (corner @ ahead).tolist()
        best, door = -np.inf, -1
        for i in range(3):
            j = (i + 1) % 3
            if (side[i] > 0) == (side[j] > 0) or 3 * here + i == entry:
                continue
            forward = far[i] + (far[j] - far[i]) * side[i] / (side[i] - side[j])
            if forward > best:
                best, door = forward, 3 * here + i
        if door < 0 or best > 1.5 * reach:
            return []
        entry = int(surface.twin[door])
        if entry < 0:
            return []
        here = entry // 3
        faces.append(here)
        if here == b:
            return faces
    return []
