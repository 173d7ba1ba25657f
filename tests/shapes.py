"""Surfaces with known geometry for the tests: vertices (n, 3) mm and triangles (m, 3)."""

from __future__ import annotations

from itertools import product

import numpy as np

from addon.core import mesh
from addon.core.model import SEAM, TRENCH, Sculpt

GOLDEN = (1 + 5**0.5) / 2


def grid(columns: int, rows: int) -> np.ndarray:
    """Triangles of a grid of points stored row by row, counter-clockwise from above."""
    i = np.arange(columns * rows).reshape(rows, columns)
    quad = np.stack([i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]], axis=-1).reshape(-1, 4)
    return np.concatenate([quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]])


def surface(f, u, v) -> tuple[np.ndarray, np.ndarray]:
    """Grid on f(u, v) -> (x, y, z) over the given parameter values."""
    uu, vv = np.meshgrid(u, v)
    x, y, z = np.broadcast_arrays(*f(uu, vv))
    return np.stack([x, y, z], axis=-1).reshape(-1, 3).astype(float), grid(len(u), len(v))


def cylinder(radius, arc, height, columns=49, rows=13):
    return surface(lambda a, z: (radius * np.cos(a), radius * np.sin(a), z),
                   np.linspace(0, arc, columns), np.linspace(0, height, rows))


def cone(half_angle, near, far, columns=97, rows=13, arc=2 * np.pi):
    """Cone opened along one line, between slant distances near and far from its tip (up)."""
    return surface(
        lambda a, s: (s * np.sin(half_angle) * np.cos(a), s * np.sin(half_angle) * np.sin(a),
                      -s * np.cos(half_angle)),
        np.linspace(0, arc, columns), np.linspace(far, near, rows))


def cap(radius, angle, rings=24):
    """Spherical cap about +z of polar angle `angle`: six triangles round the pole, then rings."""
    points, faces, ring = [np.array([[0.0, 0.0, radius]])], [], [0]
    first = 1
    for k in range(1, rings + 1):
        t, a = angle * k / rings, np.arange(6 * k) * np.pi / (3 * k)
        points.append(radius * np.stack(
            [np.sin(t) * np.cos(a), np.sin(t) * np.sin(a), np.full(6 * k, np.cos(t))], axis=1))
        outer, inner = list(range(first, first + 6 * k)), ring
        for side, j in product(range(6), range(k)):
            a0, a1 = outer[side * k + j], outer[(side * k + j + 1) % (6 * k)]
            b0 = inner[(side * (k - 1) + j) % len(inner)]
            faces.append((b0, a0, a1))
            if j < k - 1:
                faces.append((b0, a1, inner[(side * (k - 1) + j + 1) % len(inner)]))
        ring, first = outer, first + 6 * k
    return np.concatenate(points), np.array(faces)


def spokes(vertices, faces, number: int = 6) -> np.ndarray:
    """Edges (k, 2) of a cap's `number` (1, 2, 3 or 6) straight meridians."""
    edges, _ = mesh.edge_faces(faces)
    x, y, z = vertices.T
    turn = np.arctan2(y, x) * number / (2 * np.pi)
    on = (np.abs(turn - np.round(turn)) < 1e-6) | (np.hypot(x, y) < 1e-9)
    a, b = edges.T
    same = (np.hypot(x[a], y[a]) < 1e-9) | (np.hypot(x[b], y[b]) < 1e-9) | (
        np.abs(np.round(turn[a]) - np.round(turn[b])) % number == 0)
    return edges[on[a] & on[b] & same & (np.abs(z[a] - z[b]) > 1e-9)]


def roof(length, depth, fold, columns=11, rows=7):
    """Two flat wings of the given length, folded by `fold` (convex positive) along y.

    Returns vertices, faces and the edges (k, 2) of the fold.
    """
    s = np.linspace(0, length, columns)
    x = np.concatenate([s, length + s[1:] * np.cos(fold)])
    z = np.concatenate([np.zeros(columns), -s[1:] * np.sin(fold)])
    wide = len(x)
    points = np.array([[a, y, b] for y in np.linspace(0, depth, rows)
                       for a, b in zip(x, z, strict=True)])
    middle = columns - 1 + wide * np.arange(rows)
    return points, grid(wide, rows), np.stack([middle[:-1], middle[1:]], axis=1)


def box(width=140.0, depth=100.0, height=90.0, step=10.0):
    """Four walls without floor or lid, and the vertical edges of its corners."""
    n, m, rows = (round(x / step) for x in (width, depth, height))
    loop = np.array([(x * step, 0) for x in range(n)] + [(width, y * step) for y in range(m)]
                    + [(width - x * step, depth) for x in range(n)]
                    + [(0, depth - y * step) for y in range(m)], dtype=float)
    count = len(loop)
    points = np.concatenate([np.column_stack([loop, np.full(count, k * step)])
                             for k in range(rows + 1)])
    i = np.arange((rows + 1) * count).reshape(rows + 1, count)
    right = np.roll(i, -1, axis=1)
    quads = np.stack([i[:-1], right[:-1], right[1:], i[1:]], axis=2).reshape(-1, 4)
    corner = [np.stack([i[:-1, k], i[1:, k]], axis=1) for k in (0, n, n + m, 2 * n + m)]
    return (points, np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])), corner


def hull(points) -> tuple[np.ndarray, np.ndarray]:
    """Convex hull of points, wound outward."""
    from scipy.spatial import ConvexHull

    points = np.asarray(points, dtype=float)
    found = ConvexHull(points)
    faces = found.simplices.astype(np.int64)
    normals, _ = mesh.face_normals(points, faces)
    inside = np.einsum("ij,ij->i", normals, found.equations[:, :3]) < 0
    faces[inside] = faces[inside][:, ::-1]
    return points, faces


def platonic(name: str, edge: float) -> tuple[np.ndarray, np.ndarray]:
    """A Platonic solid of the given edge length."""
    signs = np.array(list(product((-1, 1), repeat=2)))
    flat = lambda p: np.concatenate([np.roll(p, k, axis=1) for k in range(3)])  # noqa: E731
    points = {
        "tetrahedron": np.array([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)]),
        "cube": np.array(list(product((-1, 1), repeat=3))),
        "octahedron": flat(np.array([(1, 0, 0), (-1, 0, 0)])),
        "icosahedron": flat(np.column_stack([np.zeros(4), signs[:, 0], signs[:, 1] * GOLDEN])),
        "dodecahedron": np.concatenate([
            np.array(list(product((-1, 1), repeat=3))),
            flat(np.column_stack([np.zeros(4), signs[:, 0] / GOLDEN, signs[:, 1] * GOLDEN]))]),
    }[name].astype(float)
    gaps = np.linalg.norm(points[:, None] - points[None], axis=2)
    return hull(points * edge / gaps[gaps > 1e-9].min())


def sculpt(shape, seams=(), trenches=(), **more) -> Sculpt:
    """A sculpt with the given seam and trench edges."""
    seams = np.asarray(seams, dtype=int).reshape(-1, 2)
    trenches = np.asarray(trenches, dtype=int).reshape(-1, 2)
    return Sculpt.plain(*shape, np.concatenate([seams, trenches]),
                        [SEAM] * len(seams) + [TRENCH] * len(trenches), **more)


MESHINGS = ("regular", "jittered", "random")


def disc(meshing: str, rings: int, seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """The unit disc in the plane, with points (n, 2) and triangles, in one of MESHINGS.

    All have the same rim of 6 `rings` points. Inside, the points stand in rings, or are moved
    from there by up to a quarter of the spacing, or are thrown at random, no nearer to each
    other than half of it; the last two are Delaunay triangulations.
    """
    from scipy.spatial import Delaunay, cKDTree

    points, faces = cap(1.0, 1.0, rings)
    ring = np.hypot(points[:, 0], points[:, 1])
    flat = points[:, :2] * (np.arccos(points[:, 2]) / np.maximum(ring, 1e-9))[:, None]
    if meshing == "regular":
        return flat, faces
    rng = np.random.default_rng(seed)
    inner, rim = flat[: -6 * rings], flat[-6 * rings :]
    if meshing == "jittered":
        inner = inner + rng.uniform(-0.25, 0.25, inner.shape) / rings
    else:
        tried = rng.uniform(-1, 1, (20 * len(inner), 2))
        tried = tried[np.hypot(*tried.T) < 1 - 0.6 / rings]
        alone = np.ones(len(tried), dtype=bool)
        for i, j in sorted(cKDTree(tried).query_pairs(0.5 / rings)):  # the first comer stays
            alone[j] &= not alone[i]
        inner = tried[alone][: len(inner)]
    flat = np.concatenate([inner, rim])
    return flat, Delaunay(flat).simplices  # wound counter-clockwise in the plane


def raised(f, plane) -> tuple[np.ndarray, np.ndarray]:
    """The surface f(x, y) -> (x, y, z) on a triangulated part of the plane."""
    points, faces = plane
    x, y, z = np.broadcast_arrays(*f(*points.T))
    return np.stack([x, y, z], axis=1), faces
