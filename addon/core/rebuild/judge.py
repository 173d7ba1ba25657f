"""The rebuilt suit beside the sculpt: how far each piece, seam and trench came out otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..locate import locate
from ..model import (
    TRENCH,
    Mate,
    Pattern,
    Piece,
    PieceEdge,
    Rebuilt,
    RebuiltMate,
    RebuiltPiece,
    RebuiltTrench,
)
from .assembly import GLUED, HINGED, Assembly
from .shell import Shell


@dataclass(frozen=True, eq=False)
class Standing:
    """One part of the suit, put together: the pattern of its pieces, the shell at rest, and
    where its vertices stand (n, 3)."""

    pattern: Pattern
    shell: Shell
    x: np.ndarray


def judged(meant: Pattern, parts: Sequence[Standing]) -> Rebuilt:
    """What came of each part, laid on the sculpt as well as may be without turning it inside
    out. meant: the pattern whose pieces know where they were on the sculpt."""
    pieces: list[RebuiltPiece] = []
    mates: list[RebuiltMate] = []
    trenches: list[RebuiltTrench] = []
    squares, area, open_parts = 0.0, 0.0, []
    for part in parts:
        assembly = part.shell.assembly
        here = [meant.piece(piece.code) for piece in part.pattern.pieces]
        goal = np.empty_like(part.x)
        for p, piece in enumerate(here):
            own = assembly.of_vertex == p
            goal[own] = solid(piece, part.pattern.pieces[p], assembly.flat[own])
        face = moved_onto(part.shell.hold.face_points(part.x), goal, part.shell.mass)
        for p, piece in enumerate(here):
            pieces.append(_piece(piece, part, p, face))
            weight = mesh.face_normals(piece.vertices, piece.faces)[1].sum()
            squares, area = squares + weight * pieces[-1].rms**2, area + weight
        mates += _mates(part, meant)
        trenches += _trenches(part, here, face, goal)
        glued = {side for mate in part.pattern.mates for side in mate.edges}
        if any((p.code, e) not in glued for p in part.pattern.pieces for e in range(len(p.edges))):
            open_parts.append(tuple(p.code for p in here))
    return Rebuilt(tuple(pieces), tuple(mates), tuple(trenches),
                   float(np.sqrt(squares / max(area, 1e-300))),
                   max(piece.most for piece in pieces), tuple(open_parts))


def solid(meant: Piece, built: Piece, points: np.ndarray) -> np.ndarray:
    """Where points (k, 2) of a piece as it was built belong on the sculpt (k, 3)."""
    face, weight = locate(built.flat, built.faces, points)
    return np.einsum("ki,kij->kj", weight, meant.vertices[meant.faces[face]])


def moved_onto(points: np.ndarray, others: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Points (n, 3) moved and turned, never mirrored, to lie on others as well as may be
    (Kabsch 1976)."""
    w = weight / weight.sum()
    here, there = w @ points, w @ others
    u, _, vt = np.linalg.svd((points - here).T @ ((others - there) * w[:, None]))
    turn = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))]) @ vt
    return (points - here) @ turn + there


def _piece(meant: Piece, part: Standing, p: int, face: np.ndarray) -> RebuiltPiece:
    """How far the piece's own vertices came out from where they are on the sculpt."""
    assembly, built = part.shell.assembly, part.pattern.pieces[p]
    faces = assembly.faces[assembly.of_face == p]
    inner = np.stack([np.bincount(built.faces.ravel(), np.repeat(c, 3), len(built.flat))
                      for c in built.flat[built.faces].mean(axis=1).T], axis=1)
    inner /= np.bincount(built.faces.ravel(), minlength=len(built.flat))[:, None]
    at, weight = locate(assembly.flat, faces, built.flat + 1e-3 * (inner - built.flat))
    moved = np.einsum("ki,kij->kj", weight, face[faces[at]]) - meant.vertices
    far = np.linalg.norm(moved, axis=1)
    area = np.bincount(meant.faces.ravel(), np.repeat(
        mesh.face_normals(meant.vertices, meant.faces)[1], 3), len(far))
    return RebuiltPiece(meant.code, moved, float(np.sqrt(np.average(far**2, weights=area))),
                        float(far.max()))


def _mates(part: Standing, meant: Pattern) -> Iterator[RebuiltMate]:
    """Lengths of both edges of each seam as formed, before any glue; its fold, but for what the
    facets beside it bend, beside what was meant: the mean of that third of it that is furthest
    out."""
    assembly = part.shell.assembly
    number = {piece.code: p for p, piece in enumerate(part.pattern.pieces)}
    bent = part.shell.angles(part.x) - part.shell.mould
    formed = _formed_lengths(assembly)
    for m, mate in enumerate(part.pattern.mates):
        lengths = [_touching(part.pattern.pieces[number[code]].edges[edge],
                             formed(assembly.edges[number[code]][edge][0]))
                   for code, edge in mate.edges]
        own = np.flatnonzero((assembly.kind == GLUED) & (assembly.number == m))
        wrong = bent[own] - _meant_fold(meant, mate, part)
        means = [third.mean() for third in np.array_split(wrong, 3) if len(third)]
        yield RebuiltMate(mate.code, abs(lengths[0] - lengths[1]),
                          float(max(means, key=abs, default=0.0)))


def _formed_lengths(assembly: Assembly) -> Callable[[np.ndarray], float]:
    """Length along half-edges (k, 2) of a piece's rim once it is formed."""
    count = len(assembly.flat)
    start, end = assembly.faces.ravel(), np.roll(assembly.faces, -1, axis=1).ravel()
    size = np.linalg.norm(np.roll(assembly.rest, -1, axis=1) - assembly.rest, axis=2).ravel()
    known = dict(zip((start * count + end).tolist(), size.tolist(), strict=True))
    return lambda run: sum(known[key] for key in (run[:, 0] * count + run[:, 1]).tolist())


def _touching(edge: PieceEdge, formed: float) -> float:
    """Length of the line in which an edge of that formed length touches its mate."""
    return formed * edge.length / mesh.polyline_length(edge.points)


def _meant_fold(meant: Pattern, mate: Mate, part: Standing) -> np.ndarray:
    """Fold (k,) between the pieces of a mate as it was meant, at the middle of each hinge."""
    number = {piece.code: p for p, piece in enumerate(part.pattern.pieces)}
    both = []
    for code, e in mate.edges:
        edge = meant.piece(code).edges[e]
        order = np.argsort(edge.fraction)
        places = part.shell.assembly.edges[number[code]][e][1]
        both.append(np.interp(places, edge.fraction[order], edge.bevel[order]))
    fold = both[0] + both[1][::-1]
    return (fold[:-1] + fold[1:]) / 2


def _trenches(part: Standing, meant: Sequence[Piece], face: np.ndarray, goal: np.ndarray
              ) -> Iterator[RebuiltTrench]:
    """How far the line of each trench came out from the sculpt's, once the piece itself is laid
    on its place."""
    assembly = part.shell.assembly
    for t, (p, number) in enumerate(assembly.trenches):
        own = assembly.of_vertex == p
        moved = np.empty_like(face)
        moved[own] = moved_onto(face[own], goal[own], part.shell.mass[own])
        line = np.unique(assembly.hinge[(assembly.kind == HINGED) & (assembly.number == t)][:, :2])
        fold = [f for f in meant[p].folds if f.kind == TRENCH][number]
        sculpted = solid(meant[p], meant[p], fold.points)
        yield RebuiltTrench(meant[p].code, number, float(_distance(moved[line], sculpted).max()))


def _distance(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Distance (k,) of points (k, 3) from a polyline (j, 3)."""
    start, step = line[:-1], np.diff(line, axis=0)
    size = np.maximum((step**2).sum(axis=1), 1e-300)
    share = np.clip(np.einsum("kji,ji->kj", points[:, None] - start, step) / size, 0.0, 1.0)
    near = start + share[..., None] * step
    return np.linalg.norm(points[:, None] - near, axis=2).min(axis=1)
