"""The pieces as thick bodies, coarse enough to be looked at from many sides.

Vertices of the sculpt that lie close together in the same pieces become one, so that what two
pieces share stays shared: their mitred faces lie on one another exactly. The inner face of the
foam is where the planes of all pieces that meet at a vertex, moved inward by the thickness, meet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import INNER, MIDDLE, Mate, Piece

CELLS = 2500  # about so many coarse cells cover all pieces
FINEST, COARSEST = 4.0, 30.0  # mm, bounds of a cell
WHOLE = 1e-3  # mm, a cell in which there is one vertex
SMALL = 5.0  # cells: a piece no larger keeps all its vertices
SHARPEST = 3.0  # thicknesses by which a mitre reaches inward at most


@dataclass(frozen=True, eq=False)
class Solids:
    """Bodies (n) of pieces: points (p, 3) and triangles (m, 3), owner (m,) of each triangle;
    normals (n, 3) and middles (n, 3) of the pieces; area: of all of them, mm²."""

    points: np.ndarray
    faces: np.ndarray
    owner: np.ndarray
    normals: np.ndarray
    middles: np.ndarray
    area: float


def solids(pieces: Sequence[Piece], mates: Sequence[Mate] = (), whole: bool = False) -> Solids:
    """The bodies of pieces, in their order, with the flaps of overlaps. whole: with every vertex
    of theirs, to be seen."""
    area = sum(p.area for p in pieces)
    cell = WHOLE if whole else float(np.clip(math.sqrt(area / CELLS), FINEST, COARSEST))
    local, sheets = _coarse(pieces, cell)
    inward = _offsets(pieces, local, sheets)
    points, faces, owner, count = [], [], [], 0
    for k, (piece, (_, keys), (place, triangles)) in enumerate(
            zip(pieces, local, sheets, strict=True)):
        depth = inward[keys] * piece.stock.thickness
        out = {INNER: 1.0, MIDDLE: 0.5}.get(piece.side, 0.0)
        top, bottom = place + out * depth, place - (1 - out) * depth
        body = np.concatenate([triangles, triangles[:, ::-1] + len(place),
                               _walls(triangles, len(place))])
        points += [top, bottom]
        faces.append(body + count)
        owner.append(np.full(len(body), k))
        count += 2 * len(place)
    for number, flap, triangles in _flaps(pieces, mates):
        points.append(flap), faces.append(triangles + count)
        owner.append(np.full(len(triangles), number))
        count += len(flap)
    normals = np.array([_facing(p) for p in pieces]).reshape(-1, 3)
    middles = np.array([(p.vertices.min(0) + p.vertices.max(0)) / 2 for p in pieces])
    return Solids(np.concatenate(points), np.concatenate(faces), np.concatenate(owner), normals,
                  middles.reshape(-1, 3), area)


def _facing(piece: Piece) -> np.ndarray:
    """Mean outward direction of a piece; the zero vector where it goes all round."""
    normals, area = mesh.face_normals(piece.vertices, piece.faces)
    mean = (normals * area[:, None]).sum(0) / max(area.sum(), 1e-300)
    size = np.linalg.norm(mean)
    return mean / size if size > 0.1 else np.zeros(3)


def _coarse(pieces: Sequence[Piece], cell: float) -> tuple[list, list]:
    """Per piece the vertices it keeps with their numbers over all pieces, and its coarse mesh."""
    meets: dict[int, list[int]] = {}
    where: dict[int, np.ndarray] = {}
    for k, piece in enumerate(pieces):
        for vertex, point in zip(piece.source_vertex.tolist(), piece.vertices, strict=True):
            found = meets.setdefault(vertex, [])
            if not found or found[-1] != k:
                found.append(k)
            where.setdefault(vertex, point)
    small = [np.linalg.norm(np.ptp(p.vertices, axis=0)) < SMALL * cell for p in pieces]
    ends = _corners(pieces)
    label: dict[tuple, int] = {}
    number = {}
    for vertex in sorted(meets):
        owners = tuple(meets[vertex])
        alone = vertex in ends or any(small[k] for k in owners)
        key = ((vertex,) if alone else
               (*np.floor(where[vertex] / cell).astype(int).tolist(), *owners, "cell"))
        number[vertex] = label.setdefault(key, vertex)
    local, sheets = [], []
    for piece in pieces:
        keys = np.array([number[v] for v in piece.source_vertex.tolist()])
        # A vertex that is cut open along a dart is there twice in its piece, at one place.
        used, back = np.unique(keys, return_inverse=True)
        place = np.array([where[v] for v in used.tolist()])
        triangles = back.reshape(-1)[piece.faces]
        whole = ((triangles[:, 0] != triangles[:, 1]) & (triangles[:, 1] != triangles[:, 2])
                 & (triangles[:, 2] != triangles[:, 0]))
        local.append((piece, used))
        sheets.append((place, np.unique(triangles[whole], axis=0)))
    every = sorted({v for _, used in local for v in used.tolist()})
    rank = {v: i for i, v in enumerate(every)}
    return [(p, np.array([rank[v] for v in used.tolist()])) for p, used in local], sheets


def _corners(pieces: Sequence[Piece]) -> set[int]:
    """Vertices in which three pieces meet, or a seam meets a rim."""
    count: dict[int, set] = {}
    for k, piece in enumerate(pieces):
        for vertex in piece.source_vertex.tolist():
            count.setdefault(vertex, set()).add(k)
    return {v for v, owners in count.items() if len(owners) > 2}


def _offsets(pieces: Sequence[Piece], local: list, sheets: list) -> np.ndarray:
    """Vectors (v, 3) that lead from the inner to the outer face, for a thickness of 1."""
    total = 1 + max((int(keys.max()) for _, keys in local if len(keys)), default=0)
    of: list[list[np.ndarray]] = [[] for _ in range(total)]
    for (_, keys), (place, triangles) in zip(local, sheets, strict=True):
        normals, area = mesh.face_normals(place, triangles)
        sums = np.zeros_like(place)
        np.add.at(sums, triangles.ravel(), np.repeat(normals * area[:, None], 3, axis=0))
        size = np.linalg.norm(sums, axis=1)
        for key, vector, long in zip(keys.tolist(), sums, size, strict=True):
            if long > 1e-12:
                of[key].append(vector / long)
    found = np.zeros((total, 3))
    for key, normals in enumerate(of):
        if not normals:
            continue
        vector = (normals[0] if len(normals) == 1 else
                  np.linalg.pinv(np.array(normals), rcond=0.2) @ np.ones(len(normals)))
        found[key] = vector / max(1.0, np.linalg.norm(vector) / SHARPEST)
    return found


def _walls(triangles: np.ndarray, count: int) -> np.ndarray:
    """Triangles between the two faces of a sheet along its boundary."""
    if not len(triangles):
        return np.empty((0, 3), dtype=np.int64)
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    keys = mesh.edge_keys(sides, count)
    _, first, times = np.unique(keys, return_index=True, return_counts=True)
    a, b = sides[first[times == 1]].T
    return np.concatenate([np.stack([b, a, a + count], 1), np.stack([b, a + count, b + count], 1)])


def _flaps(pieces: Sequence[Piece], mates: Sequence[Mate]):
    """Of each overlap: the number of the piece over, points and triangles of what lies over the
    other piece, one thickness further out."""
    number = {p.code: k for k, p in enumerate(pieces)}
    for mate in mates:
        if not mate.join.over:
            continue
        codes = [code for code, _ in mate.edges]
        if not set(codes) <= set(number):
            continue
        under = pieces[number[next(c for c in codes if c != mate.join.over)]]
        over = pieces[number[mate.join.over]]
        from scipy.spatial import cKDTree

        steps = max(1, int(mesh.polyline_length(mate.curve) // 20.0))
        line = mate.curve[np.unique(np.linspace(0, len(mate.curve) - 1, steps + 1).astype(int))]
        normals, area = mesh.face_normals(under.vertices, under.faces)
        outward = np.zeros_like(under.vertices)
        np.add.at(outward, under.faces.ravel(), np.repeat(normals * area[:, None], 3, axis=0))
        outward /= np.maximum(np.linalg.norm(outward, axis=1), 1e-300)[:, None]
        normal = outward[cKDTree(under.vertices).query(line)[1]]
        along = np.gradient(line, axis=0)
        across = np.cross(normal, along)
        across /= np.maximum(np.linalg.norm(across, axis=1), 1e-300)[:, None]
        middle = under.vertices.mean(0) - line.mean(0)
        across *= 1.0 if across.mean(0) @ middle > 0 else -1.0
        face = {INNER: under.stock.thickness, MIDDLE: under.stock.thickness / 2}.get(under.side, 0)
        low = line + normal * (face + mate.join.gap)
        far = low + across * mate.join.lap
        rise = normal * over.stock.thickness
        ring = np.stack([low, far, far + rise, low + rise], axis=1).reshape(-1, 3)
        triangles = []
        for k in range(len(line) - 1):
            for i in range(4):
                a, b = 4 * k + i, 4 * k + (i + 1) % 4
                triangles += [(a, b, b + 4), (a, b + 4, a + 4)]
        yield number[over.code], ring, np.array(triangles, dtype=np.int64).reshape(-1, 3)
