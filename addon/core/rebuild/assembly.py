"""The pieces in hand, side by side: triangles as they are to be formed, hinges, and what is glued.

Nothing here knows where anything was on the sculpt. A vertex stands for a point of the layer
that keeps its length; the face of the foam that the sculpt is lies `lift` off along the
normal. Where pieces are glued, and across a trench, it is those faces that meet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..locate import locate
from ..model import TRENCH, Pattern, Piece
from .meshing import FlatMesh, flat_meshes, triangles
from .sampled import Samples

SAMPLE = 2.5  # mm between places at which the strain map is read
INSIDE, GLUED, HINGED = 0, 1, 2  # kinds of hinges: within a piece, along a seam, along a trench


@dataclass(frozen=True, eq=False)
class Assembly:
    """Pieces as cut, before they stand in space. n vertices, m triangles, h hinges, k ties.

    flat (n, 2), faces (m, 3), of_face (m,) and of_vertex (n,): number of the piece; rest
    (m, 3, 2): corners of each triangle once it is formed; lift (n,): from the vertex to the
    sculpt's face, mm along the normal. hinge (h, 6): both ends and the third corner of the
    triangle on the left, the same of the one on the right (whose ends run alike); kind (h,);
    fold (h,) as cut, 0 inside; number (h,): of the mate or trench, -1 inside. tie (k, 2): vertices
    that are glued; weight (k,): length that each stands for, mm. bank (b,): vertices beside a
    trench; back (b,): how far each lies behind its line, mm; ends (b, 2): two vertices between
    which the bank runs there, the foam on its left. trenches: (piece, number in it) of each.
    """

    flat: np.ndarray
    faces: np.ndarray
    of_face: np.ndarray
    of_vertex: np.ndarray
    rest: np.ndarray
    lift: np.ndarray
    hinge: np.ndarray
    kind: np.ndarray
    fold: np.ndarray
    number: np.ndarray
    tie: np.ndarray
    weight: np.ndarray
    bank: np.ndarray
    back: np.ndarray
    ends: np.ndarray
    edges: tuple[tuple[tuple[np.ndarray, np.ndarray], ...], ...]
    trenches: tuple[tuple[int, int], ...]


def assembled(pattern: Pattern, spacing: float, formed: bool = True) -> Assembly:
    """The pieces of a pattern as they are in the maker's hands.

    spacing: of the triangles' corners, mm. formed: each part stretched as the strain map says;
    else as flat as it was cut.
    """
    pieces = pattern.pieces
    samples = Samples(pieces, pattern.mates, spacing)
    meshes = flat_meshes(samples)
    parts = [_Part.of(piece, own, samples, p)
             for p, (piece, own) in enumerate(zip(pieces, meshes, strict=True))]
    start = np.cumsum([0, *(len(part.flat) for part in parts)])
    ties, hinges = _Ties(), _Hinges()
    number = {piece.code: p for p, piece in enumerate(pieces)}
    for m, mate in enumerate(pattern.mates):
        (p, e), (q, f) = ((number[code], edge) for code, edge in mate.edges)
        _glue(parts, start, (p, e), (q, f), m, ties, hinges)
    trenches = []
    for p, part in enumerate(parts):
        hinges.inside(part, start[p])
        for t, line in enumerate(part.lines):
            _hinge(part, start[p], line, len(trenches), ties, hinges)
            trenches.append((p, t))
    of_vertex = np.repeat(np.arange(len(parts)), np.diff(start))
    faces = np.concatenate([part.faces + s for part, s in zip(parts, start, strict=False)])
    rest = np.concatenate([part.rest(formed) for part in parts])
    return Assembly(
        np.concatenate([part.flat for part in parts]), faces,
        np.repeat(np.arange(len(parts)), [len(part.faces) for part in parts]), of_vertex, rest,
        np.array([_lift(piece) for piece in pieces])[of_vertex],
        *hinges.arrays(), *ties.arrays(), tuple(
            tuple((run + s, at)
                  for run, at in zip(part.edges, part.places, strict=True))
            for part, s in zip(parts, start, strict=False)), tuple(trenches))


def _lift(piece: Piece) -> float:
    """From the layer that keeps its length out to the sculpt's face, mm.

    The layer is taken in the middle of the foam; where `neutral` is another share, it lies off
    that to one side or the other by the sign of the bend, a millimetre or less.
    """
    return piece.stock.thickness / 2 - piece.stock.depths(piece.side)[0]


@dataclass(frozen=True, eq=False)
class _Line:
    """A trench: half-edges (k, 2) along its left and right bank, both with the foam on their
    left and so in opposite order; folds (k + 1,) and how far each end lies back from it."""

    left: np.ndarray
    right: np.ndarray
    fold: np.ndarray
    back: np.ndarray


@dataclass(frozen=True, eq=False)
class _Part:
    """One piece, meshed and cut open along its trenches."""

    piece: Piece
    flat: np.ndarray
    faces: np.ndarray
    edges: tuple[np.ndarray, ...]  # half-edges (k, 2) along each edge of the piece
    places: tuple[np.ndarray, ...]  # shares of the seam at their ends
    lines: tuple[_Line, ...]
    third: dict[tuple[int, int], int]  # half-edge -> the corner opposite

    @classmethod
    def of(cls, piece: Piece, own: FlatMesh, samples: Samples, p: int) -> _Part:
        banks = [np.stack([run[:-1], run[1:]], axis=1) for run in own.trenches]
        faces, source = mesh.cut_along(
            own.faces, np.concatenate(banks) if banks else np.empty((0, 2), int), len(own.points))
        half = {}
        for face, cut in zip(own.faces.tolist(), faces.tolist(), strict=True):
            for k in range(3):
                half[face[k], face[(k + 1) % 3]] = cut[k], cut[(k + 1) % 3]
        third = {}
        for cut in faces.tolist():
            for k in range(3):
                third[cut[k], cut[(k + 1) % 3]] = cut[(k + 2) % 3]
        edges = tuple(np.array([half[a, b] for a, b in zip(run[:-1].tolist(), run[1:].tolist(),
                                                          strict=True)])
                      for run in own.edges)
        lines = []
        folds = [f for f in piece.folds if f.kind == TRENCH]
        for run, fold, line in zip(own.trenches, own.folds, folds, strict=True):
            pairs = list(zip(run[:-1].tolist(), run[1:].tolist(), strict=True))
            web = piece.stock.thickness - line.depth
            lines.append(_Line(np.array([half[a, b] for a, b in pairs]),
                               np.array([half[b, a] for a, b in pairs]), fold,
                               _behind(fold, web, piece)))
        places = tuple(samples.fractions(p, e) for e in range(len(edges)))
        return cls(piece, own.points[source], faces, edges, places, tuple(lines), third)

    def rest(self, formed: bool) -> np.ndarray:
        """Corners (m, 3, 2) of the triangles, each in a plane of its own."""
        corner = self.flat[self.faces]
        if not formed:
            return corner
        start, end, key = mesh.half_edges(self.faces)
        _, first, edge = np.unique(key, return_index=True, return_inverse=True)
        lengths = formed_lengths(self.piece, self.flat[start[first]], self.flat[end[first]])[edge]
        # Half-edge 3 f + i lies opposite corner i + 2.
        corners = triangles(np.roll(lengths.reshape(-1, 3), -1, axis=1))
        return np.stack([corners.real, corners.imag], axis=2)


def _behind(fold: np.ndarray, web: float, piece: Piece) -> np.ndarray:
    """How far (k,) the banks of a trench lie from its line on the sculpt's face: half of what
    the trench takes from the flat, thick-foam's web (tan(f/2) - k f/2), less the cut-back of
    a face that is not the outer one of the fold."""
    half = np.abs(fold) / 2
    front, back = piece.stock.depths(piece.side)
    return (web * (np.tan(half) - piece.stock.neutral * half)
            - np.where(fold > 0, front, back) * np.tan(half))


def formed_lengths(piece: Piece, start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Lengths (k,) of straight lines of the flat, from start to end (k, 2), once it is formed: the
    sum of |U d| along each, U being the strain map."""
    step = end - start
    count = max(1, int(np.ceil(np.linalg.norm(step, axis=1).max(initial=0.0) / SAMPLE)))
    share = (np.arange(count) + 0.5) / count
    points = (start[:, None] + share[:, None] * step[:, None]).reshape(-1, 2)
    xx, xy, yy = _taken(piece)[locate(piece.flat, piece.faces, points)[0]].T
    x, y = np.repeat(step, count, axis=0).T
    return np.hypot(xx * x + xy * y, xy * x + yy * y).reshape(-1, count).mean(axis=1)


def _taken(piece: Piece) -> np.ndarray:
    """The strain map (m, 3) as far as the heated foam takes it."""
    xx, xy, yy = piece.strain.T
    values, axes = np.linalg.eigh(np.stack([np.stack([xx, xy], 1), np.stack([xy, yy], 1)], 1))
    limits = piece.stock.heated
    values = np.clip(values, 1 - limits.compress, 1 + limits.stretch)
    u = np.einsum("mij,mj,mkj->mik", axes, values, axes)
    return np.stack([u[:, 0, 0], u[:, 0, 1], u[:, 1, 1]], axis=1)


# --- what holds pieces together -----------------------------------------------


class _Ties:
    """What is glued, and the banks of trenches, as they are found."""

    def __init__(self):
        self.rows, self.banks = [], []

    def add(self, left, right, start, end):
        """Half-edges that are glued, each with its foam on the left; lengths that their first
        and last point stand for."""
        self.rows += [(a, b, w) for a, b, w in ((left[0], right[1], start),
                                                (left[1], right[0], end)) if a != b]

    def bank(self, path, back):
        """A bank of a trench: vertices (k,) with the foam on their left, and how far each lies
        behind the line."""
        inner = zip(path, back, [path[0], *path[:-1]], [*path[1:], path[-1]], strict=True)
        self.banks += list(inner)

    def arrays(self):
        rows = np.array(self.rows, dtype=float).reshape(-1, 3)
        banks = np.array(self.banks, dtype=float).reshape(-1, 4)
        tie, bank, ends = (x.astype(np.int64) for x in (rows[:, :2], banks[:, 0], banks[:, 2:]))
        return tie, rows[:, 2], bank, banks[:, 1], ends


class _Hinges:
    """Hinges as they are found."""

    def __init__(self):
        self.rows, self.folds = [], []

    def add(self, left, third_left, right, third_right, kind, fold, number):
        """left and right: half-edges, each with its own foam on the left."""
        self.rows.append((left[0], left[1], third_left, right[1], right[0], third_right, kind,
                          number))
        self.folds.append(fold)

    def inside(self, part, start):
        for (a, b), c in part.third.items():
            if a < b and (b, a) in part.third:
                self.add((start + a, start + b), start + c, (start + b, start + a),
                         start + part.third[b, a], INSIDE, 0.0, -1)

    def arrays(self):
        rows = np.array(self.rows, dtype=np.int64).reshape(-1, 8)
        return rows[:, :6], rows[:, 6], np.array(self.folds), rows[:, 7]


def _glue(parts, start, one, other, number, ties, hinges) -> None:
    """Tie two edges of a mate, whose segments run against each other."""
    (p, e), (q, f) = one, other
    left = parts[p].edges[e]
    right = parts[q].edges[f][::-1]
    bevel = [_carried(parts[k].piece.edges[x], parts[k].places[x]) for k, x in (one, other)]
    bevel[1] = bevel[1][::-1]
    fold = bevel[0] + bevel[1]
    for k in range(len(left)):
        a, b = left[k] + start[p], right[k] + start[q]
        length = np.linalg.norm(np.diff(parts[p].flat[left[k]], axis=0))
        hinges.add(a, parts[p].third[tuple(left[k].tolist())] + start[p], b,
                   parts[q].third[tuple(right[k].tolist())] + start[q], GLUED,
                   (fold[k] + fold[k + 1]) / 2, number)
        ties.add(a, b, length / 2, length / 2)


def _carried(edge, places) -> np.ndarray:
    order = slice(None) if edge.fraction[-1] >= edge.fraction[0] else slice(None, None, -1)
    return np.interp(places, edge.fraction[order], edge.bevel[order])


def _hinge(part, start, line, number, ties, hinges) -> None:
    for k in range(len(line.left)):
        a, b = line.left[k] + start, line.right[k] + start
        length = np.linalg.norm(np.diff(part.flat[line.left[k]], axis=0))
        hinges.add(a, part.third[tuple(line.left[k].tolist())] + start, b,
                   part.third[tuple(line.right[k].tolist())] + start, HINGED,
                   (line.fold[k] + line.fold[k + 1]) / 2, number)
        ties.add(a, b, length / 2, length / 2)
    # The right bank's half-edges run against the line; both have the foam on their left.
    for bank, back in ((line.left, line.back), (line.right[::-1], line.back[::-1])):
        path = np.append(bank[:, 0], bank[-1:, 1]) + start
        ties.bank(path, back)
