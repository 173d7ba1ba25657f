"""The outlines of pieces as polygons whose corners meet those of their mates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import TRENCH, Mate, Piece, PieceEdge

CORNER = np.radians(20.0)  # a turn of an outline that must stay a corner
SAME = 1e-4  # mm: points nearer than this are one
CLOSE, APART = 0.05, 0.4  # of the spacing: places nearer are one; an even step is left out


@dataclass(frozen=True, eq=False)
class Sampled:
    """One piece, sampled: edges (k, 2) points of each of its edges in loop order, at
    fractions (k,) of the seam; loops: the edges of each ring, in order, the outer one first;
    trenches: points (k, 2) of each, and folds (k,) there."""

    edges: tuple[np.ndarray, ...]
    fractions: tuple[np.ndarray, ...]
    loops: tuple[tuple[int, ...], ...]
    trenches: tuple[np.ndarray, ...]
    folds: tuple[np.ndarray, ...]


class Samples:
    """Where the edges of all pieces are sampled; mates at the same places, whatever is added.

    spacing: about how far apart, mm.
    """

    def __init__(self, pieces: Sequence[Piece], mates: Sequence[Mate], spacing: float):
        self.pieces, self.spacing = pieces, spacing
        number = {piece.code: k for k, piece in enumerate(pieces)}
        # Edges that are glued share one list of places.
        self.places: dict[tuple[int, int], list[float]] = {}
        self._length: dict[int, float] = {}
        self._steps: dict[int, int] = {}
        for mate in mates:
            shared: list[float] = []
            for code, edge in mate.edges:
                self.places[number[code], edge] = shared
        for p, piece in enumerate(pieces):
            for e, edge in enumerate(piece.edges):
                own = self.places.setdefault((p, e), [])
                own += [*edge.fraction[mesh.corners(edge.points, spacing / 3, CORNER)]]
                length = mesh.polyline_length(edge.points)
                self._length[id(own)] = max(length, self._length.get(id(own), 0.0))
                least = 3 if _closed(edge.points) else 1
                self._steps.setdefault(id(own), max(least, round(length / spacing)))
            for fold in piece.folds:
                if fold.kind == TRENCH:
                    for end in (fold.points[0], fold.points[-1]):
                        self._join(p, end)
        self.lines = [[_even(f.points, spacing) for f in piece.folds if f.kind == TRENCH]
                      for piece in pieces]

    def _join(self, p: int, point: np.ndarray) -> None:
        """A place where a trench ends on an edge."""
        for e, edge in enumerate(self.pieces[p].edges):
            at, away = _nearest(edge, point)
            if away < SAME * 10:
                self.places[p, e].append(at)

    def refine(self, p: int, e: int, segment: int) -> None:
        """A further place in the middle of a segment of an edge, as it is sampled now."""
        fractions = self.fractions(p, e)
        self.places[p, e].append(float(fractions[segment:segment + 2].mean()))

    def refine_line(self, p: int, number: int, segment: int) -> None:
        line = self.lines[p][number]
        self.lines[p][number] = np.insert(line, segment + 1, line[segment:segment + 2].mean(axis=0),
                                          axis=0)

    def fractions(self, p: int, e: int) -> np.ndarray:
        """Places (k,) on an edge, in its loop order."""
        shared = self.places[p, e]
        unit = self.spacing / max(self._length[id(shared)], 1e-9)
        kept = np.unique(np.concatenate([[0.0, 1.0], np.clip(shared, 0.0, 1.0)]))
        kept = kept[np.append(True, np.diff(kept) > CLOSE * unit)]
        kept[-1] = 1.0
        even = np.linspace(0.0, 1.0, self._steps[id(shared)] + 1)[1:-1]
        clear = np.abs(even[:, None] - kept).min(axis=1) > APART * unit
        places = np.sort(np.concatenate([kept, even[clear]]))
        return places if _rising(self.pieces[p].edges[e]) else places[::-1]

    def of(self, p: int) -> Sampled:
        piece = self.pieces[p]
        fractions = tuple(self.fractions(p, e) for e in range(len(piece.edges)))
        points = tuple(_at(edge, f) for edge, f in zip(piece.edges, fractions, strict=True))
        trenches = [f for f in piece.folds if f.kind == TRENCH]
        lines = tuple(self.lines[p])
        folds = tuple(_carried(f.points, f.fold, line)
                      for f, line in zip(trenches, lines, strict=True))
        return Sampled(points, fractions, _loops(piece.edges), lines, folds)


def _closed(points: np.ndarray) -> bool:
    return float(np.linalg.norm(points[0] - points[-1])) < SAME


def _rising(edge: PieceEdge) -> bool:
    return bool(edge.fraction[-1] >= edge.fraction[0])


def _at(edge: PieceEdge, fractions: np.ndarray) -> np.ndarray:
    order = slice(None) if _rising(edge) else slice(None, None, -1)
    own = edge.fraction[order]
    return np.stack([np.interp(fractions, own, x) for x in edge.points[order].T], axis=1)


def _nearest(edge: PieceEdge, point: np.ndarray) -> tuple[float, float]:
    """Place on an edge that is nearest to a point, and how far that is."""
    start, step = edge.points[:-1], np.diff(edge.points, axis=0)
    size = np.maximum((step**2).sum(axis=1), 1e-300)
    share = np.clip(((point - start) * step).sum(axis=1) / size, 0.0, 1.0)
    away = np.linalg.norm(start + share[:, None] * step - point, axis=1)
    k = int(np.argmin(away))
    f = edge.fraction
    return float(f[k] + share[k] * (f[k + 1] - f[k])), float(away[k])


def _even(line: np.ndarray, spacing: float) -> np.ndarray:
    arc = mesh.arc_length(line)
    steps = np.linspace(0.0, arc[-1], max(1, round(arc[-1] / spacing)) + 1)
    return np.stack([np.interp(steps, arc, x) for x in line.T], axis=1)


def _carried(points: np.ndarray, values: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Values (k,) at points of a polyline, at the points of one sampled from it."""
    arc, other = mesh.arc_length(points), mesh.arc_length(line)
    return np.interp(other * arc[-1] / max(other[-1], 1e-300), arc, values)


def _loops(edges: Sequence[PieceEdge]) -> tuple[tuple[int, ...], ...]:
    """The edges that follow one another round each ring, the longest ring first."""
    left = list(range(len(edges)))
    rings = []
    while left:
        ring = [left.pop(0)]
        while not np.allclose(edges[ring[-1]].points[-1], edges[ring[0]].points[0], atol=SAME):
            end = edges[ring[-1]].points[-1]
            onward = min(left, key=lambda e: np.linalg.norm(edges[e].points[0] - end))
            left.remove(onward)
            ring.append(onward)
        rings.append(tuple(ring))
    def length(ring):
        return sum(mesh.polyline_length(edges[e].points) for e in ring)

    return tuple(sorted(rings, key=length, reverse=True))
