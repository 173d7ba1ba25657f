"""Surfaces that are hard to lay flat: vertices (n, 3) mm, triangles (m, 3), seam edges (k, 2)."""

from __future__ import annotations

import heapq

import numpy as np

from addon.core import mesh

from .shapes import cap, grid, surface

NO_SEAMS = np.empty((0, 2), dtype=np.int64)


def spiral_ramp(turns, near=40.0, far=60.0, pitch=60.0, columns=160, rows=5):
    """A strip that winds up round the z axis. Flat, it would go round more than once."""
    return surface(lambda a, r: (r * np.cos(a), r * np.sin(a), pitch * a / (2 * np.pi)),
                   np.linspace(0, 2 * np.pi * turns, columns), np.linspace(far, near, rows))


def rolled_sheet(turns, near=30.0, pitch=12.0, height=60.0, columns=160, rows=5):
    """A sheet rolled into a spiral: flat it is a plain rectangle."""
    return surface(lambda a, z: ((near + pitch * a / (2 * np.pi)) * np.cos(a),
                                 (near + pitch * a / (2 * np.pi)) * np.sin(a), z),
                   np.linspace(0, 2 * np.pi * turns, columns), np.linspace(0, height, rows))


def flat_spiral(turns, near=30.0, pitch=25.0, width=15.0, columns=160, rows=4):
    """A spiral strip that lies in the plane and overlaps nothing."""
    return surface(lambda a, w: ((near + w + pitch * a / (2 * np.pi)) * np.cos(a),
                                 (near + w + pitch * a / (2 * np.pi)) * np.sin(a), 0 * a),
                   np.linspace(0, 2 * np.pi * turns, columns), np.linspace(width, 0, rows))


def stretched_sheet(ratio, side=100.0, points=9):
    """Cells `ratio` times as long as they are wide, on a gentle cylinder."""
    radius = side * ratio**0.5
    long = np.linspace(0, side * ratio**0.5, points)
    return surface(lambda x, y: (radius * np.sin(x / radius), y, radius * np.cos(x / radius)),
                   long, np.linspace(0, side / ratio**0.5, points))


def graded_sheet(ratio, points=12, side=200.0):
    """A sheet whose cells shrink from one corner to the other, the first `ratio` times as long."""
    at = np.concatenate([[0], np.cumsum(np.geomspace(1, 1 / ratio, points))])
    at *= side / at[-1]
    return surface(lambda x, y: (x, y, 0.0005 * x * y), at, at)


def needles(number=60, side=200.0, thin=1e-4):
    """A sheet of triangles as long as it is, with a row of points almost on a line."""
    x = np.linspace(0, side, number)
    top = np.stack([x, np.full(number, side), 0 * x], axis=1)
    low = np.stack([x, 0 * x, 0 * x], axis=1)
    bottom = np.stack([x, np.full(number, -thin), 0 * x], axis=1)
    return np.concatenate([bottom, low, top]), grid(number, 3)


def strip(number, width=10.0, length=400.0, wave=20.0):
    """A strip one triangle wide that waves up and down."""
    s = np.linspace(0, 1, number)
    x, y, z = s * length, width * (np.arange(number) % 2), wave * np.sin(4 * np.pi * s)
    i = np.arange(number - 2)
    odd = (i % 2 == 1)[:, None]
    faces = np.where(odd, np.stack([i, i + 1, i + 2], axis=1), np.stack([i, i + 2, i + 1], axis=1))
    return np.stack([x, y, z], axis=1), faces


def fan(number=500, radius=100.0, height=0.0, arc=2 * np.pi):
    """Triangles about one point, closed where the arc is a whole turn."""
    whole = np.isclose(arc, 2 * np.pi)
    a = np.linspace(0, arc, number + 1)[: number if whole else number + 1]
    rim = np.stack([radius * np.cos(a), radius * np.sin(a), 0 * a], axis=1)
    i = np.arange(number)
    return (np.concatenate([[[0, 0, height]], rim]),
            np.stack([0 * i, 1 + i, 1 + (i + 1) % len(a)], axis=1))


def bowl(points, radius=180.0):
    """Points (n, 2) of a plane lifted to a shallow bowl."""
    return np.column_stack([points, (points**2).sum(axis=1) / (2 * radius)])


def holed(holes, side=200.0, points=25):
    """A shallow bowl with `holes` by `holes` square holes."""
    at = np.linspace(-side / 2, side / 2, points)
    flat, faces = surface(lambda x, y: (x, y, 0 * x), at, at)
    cell = flat[faces][:, :, :2].mean(axis=1) / side + 0.5
    inside = np.abs(cell * holes % 1 - 0.5).max(axis=1) < 0.26
    used, local = np.unique(faces[~inside], return_inverse=True)
    return bowl(flat[used, :2]), local.reshape(-1, 3)


def comb(teeth, side=200.0, points=33):
    """A bent sheet with slots from one side."""
    at = np.linspace(0, side, points)
    flat, faces = surface(lambda x, y: (x, y, 0 * x), at, at)
    x, y, _ = flat[faces].mean(axis=1).T
    slot = (np.floor(x / side * (2 * teeth + 1)) % 2 == 1) & (y > side / 5)
    used, local = np.unique(faces[~slot], return_inverse=True)
    x, y, _ = flat[used].T
    return (np.column_stack([x, 80 * np.sin(y / 80), 80 * np.cos(y / 80)])[:, [0, 1, 2]],
            local.reshape(-1, 3))


def spikes(height, number=3, side=200.0, points=19):
    """A sheet with steep narrow spikes, each of one raised vertex."""
    at = np.linspace(0, side, points)
    flat, faces = surface(lambda x, y: (x, y, 0 * x), at, at)
    step = points // (number + 1)
    row = np.arange(1, number + 1) * step
    flat[(row[:, None] * points + row).ravel(), 2] = height
    return flat, faces


def horn(length, radius=30.0, points=40, around=24):
    """A tall paraboloid about its tip: a disc whose rim is far shorter than it is deep."""
    flat, faces = cap(1.0, 1.0, points)
    r = np.arccos(np.clip(flat[:, 2], -1, 1))
    turn = np.arctan2(flat[:, 1], flat[:, 0])
    return np.stack([radius * np.sqrt(r) * np.cos(turn), radius * np.sqrt(r) * np.sin(turn),
                     -length * r], axis=1), faces


def noisy(amount, side=200.0, points=21, seed=0):
    """A sheet whose vertices lie at random heights."""
    at = np.linspace(0, side, points)
    flat, faces = surface(lambda x, y: (x, y, 0 * x), at, at)
    flat[:, 2] = np.random.default_rng(seed).normal(scale=amount, size=len(flat))
    return flat, faces


def open_box(side=100.0, points=7):
    """Five sides of a cube without a mark: 90-degree creases and a rim."""
    t = np.linspace(-1, 1, points)
    u, v = (a.ravel() for a in np.meshgrid(t, t))
    one = np.ones_like(u)
    sides = [(u, v, one), (one, u, v), (-one, -u, v), (-u, one, v), (u, -one, v)]
    points_, faces = [], []
    for k, s in enumerate(sides):
        points_.append(np.stack(s, axis=1))
        faces.append(grid(points, points) + k * points**2)
    merged, number = np.unique(np.round(np.concatenate(points_), 9), axis=0, return_inverse=True)
    return merged * side / 2, number.ravel()[np.concatenate(faces)]


def blob(rough, size=100.0, rings=14, seed=0):
    """A smooth closed lump: a sphere with random low harmonics in its radius."""
    rng = np.random.default_rng(seed)
    lower, faces = cap(1.0, np.pi * (1 - 1 / (2 * rings)), rings)
    rim = np.arange(len(lower) - 6 * rings, len(lower))
    faces = np.concatenate([faces, np.stack(
        [np.roll(rim, -1), rim, np.full(len(rim), len(lower))], axis=1)])
    unit = np.concatenate([lower, [[0, 0, -1.0]]])
    waves = rng.normal(size=(6, 3))
    swell = np.sin(2 * unit @ waves.T + rng.uniform(0, 6, 6)).mean(axis=1)
    return unit * (size * (1 + rough * swell))[:, None], faces


# --- seams -------------------------------------------------------------------


def patches(vertices, faces, number, seed=0) -> np.ndarray:
    """Label (m,) of each face: patches grown from faces far apart, all at one pace.

    Seeds are chosen one by one, each the farthest from those before along the surface; every
    face goes to the nearest. Crude on purpose: borders zigzag and patches wrap round.
    """
    _, beside = mesh.edge_faces(faces)
    middle = vertices[faces].mean(axis=1)
    step = np.linalg.norm(middle[beside[:, 0]] - middle[beside[:, 1]], axis=1)
    near = [[] for _ in range(len(faces))]
    for (f, g), d in zip(beside.tolist(), step.tolist(), strict=True):
        near[f].append((g, d))
        near[g].append((f, d))
    distance, label = np.full(len(faces), np.inf), np.full(len(faces), -1)
    face = int(np.random.default_rng(seed).integers(len(faces)))
    k = 0
    while k < number or not np.isfinite(distance).all():  # every part has a seed of its own
        distance[face], label[face] = 0.0, k
        queue = [(0.0, face)]
        while queue:
            d, f = heapq.heappop(queue)
            if d > distance[f]:
                continue
            for g, s in near[f]:
                if d + s < distance[g]:
                    distance[g], label[g] = d + s, k
                    heapq.heappush(queue, (d + s, g))
        face = int(np.argmax(distance))
        k += 1
    return label


def borders(faces, label) -> np.ndarray:
    """Edges (k, 2) between faces of unlike label."""
    edges, beside = mesh.edge_faces(faces)
    return np.sort(edges[label[beside[:, 0]] != label[beside[:, 1]]], axis=1)


def random_walks(faces, number, steps, seed=0) -> np.ndarray:
    """Edges (k, 2) of walks along the mesh that start anywhere, cross and end anywhere."""
    rng = np.random.default_rng(seed)
    edges, _ = mesh.edge_faces(faces)
    near: dict[int, list[int]] = {}
    for a, b in edges.tolist():
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    found = []
    for _ in range(number):
        at = int(rng.choice(list(near)))
        for _ in range(steps):
            to = int(rng.choice(near[at]))
            found.append((at, to))
            at = to
    return np.unique(np.sort(np.array(found).reshape(-1, 2), axis=1), axis=0)
