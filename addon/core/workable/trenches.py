"""Trenches that leave no room for each other or for the edge of their piece."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from .. import mesh
from ..errors import WARNING, Finding
from ..model import FRONT, TRENCH, Fold, Line, Piece, Region
from ..units import format_length

# Near a place where two lines meet their mouths must overlap: as far as half a mouth over
# tan(angle / 2) along each. Twice the mouth forgives that for angles down to 28 degrees.
JUNCTION = 2.0
STEP = 0.1  # spacing, in thicknesses, at which a trench is looked at
TOUCH = 0.01  # thicknesses by which mouths may overlap: rounding, not foam


@dataclass(frozen=True, eq=False)
class Trench:
    """A trench with its points (k, 2), half its mouth (k,), d tan(f/2) for depth d and fold f,
    and the place (k,) along it."""

    fold: Fold
    line: Line
    points: np.ndarray
    half: np.ndarray
    along: np.ndarray

    def away_from(self, vertex: int, reach: float) -> np.ndarray:
        """Which points (k,) lie further than reach along the line from one of its ends."""
        far = np.ones(len(self.along), dtype=bool)
        if self.line.vertices[0] == vertex:
            far &= self.along > reach
        if self.line.vertices[-1] == vertex:
            far &= self.along[-1] - self.along > reach
        return far


def crowded_trenches(piece: Piece, region: Region) -> list[Finding]:
    """`trenches-overlap`: two mouths on one face that overlap away from where the lines meet."""
    from scipy.spatial import cKDTree

    found = []
    t = piece.stock.thickness
    for a, b in combinations(_trenches(piece, region), 2):
        if a.fold.side != b.fold.side:
            continue
        common = set(a.line.vertices[[0, -1]].tolist()) & set(b.line.vertices[[0, -1]].tolist())
        reach = JUNCTION * max(a.fold.mouth, b.fold.mouth)
        mine, theirs = np.ones(len(a.along), bool), np.ones(len(b.along), bool)
        for vertex in common:
            mine &= a.away_from(vertex, reach)
            theirs &= b.away_from(vertex, reach)
        if not (mine.any() and theirs.any()):
            continue
        far, near = cKDTree(b.points[theirs]).query(a.points[mine])
        needed = a.half[mine] + b.half[theirs][near]
        worst = int(np.argmax(needed - far))
        if needed[worst] - far[worst] <= TOUCH * t:
            continue
        found.append(Finding(
            "trenches-overlap", WARNING,
            f"Two trenches cut from the {a.fold.side}, {format_length(a.fold.mouth)} and "
            f"{format_length(b.fold.mouth)} wide, lie {format_length(far[worst])} apart; their "
            f"mouths need {format_length(needed[worst])}.",
            "Move them apart, or make one trench of both.",
            edges=np.concatenate([_edges(region, x.line) for x in (a, b)]), piece=piece.code))
    return found


def trenches_over_edges(piece: Piece, region: Region) -> list[Finding]:
    """`trenches-overlap`: a mouth that runs out over an edge of the piece, other than at the
    trench's ends."""
    import shapely

    found = []
    t = piece.stock.thickness
    for trench in _trenches(piece, region):
        rings = piece.front if trench.fold.side == FRONT else piece.back
        face = shapely.make_valid(shapely.Polygon(rings[0], rings[1:]))
        places = shapely.points(trench.points)
        room = shapely.distance(places, face.boundary)
        room = np.where(shapely.contains(face, places), room, -room)
        far = np.ones(len(room), dtype=bool)
        for end in (0, -1):
            vertex = int(trench.line.vertices[end])
            if trench.line.vertices[0] != trench.line.vertices[-1]:
                far &= trench.away_from(vertex, JUNCTION * trench.fold.mouth + abs(room[end]))
        lack = np.where(far, trench.half - room, -np.inf)
        worst = int(np.argmax(lack))
        if lack[worst] <= TOUCH * t:
            continue
        found.append(Finding(
            "trenches-overlap", WARNING,
            f"A trench cut from the {trench.fold.side}, {format_length(trench.fold.mouth)} wide, "
            f"runs over the edge of the piece: it lies {format_length(max(room[worst], 0.0))} "
            f"from it and needs {format_length(trench.half[worst])}.",
            "Move the trench further in, or make it the seam.",
            edges=_edges(region, trench.line), piece=piece.code))
    return found


def _trenches(piece: Piece, region: Region) -> list[Trench]:
    found = []
    step = STEP * piece.stock.thickness
    for line, fold in zip(region.lines, piece.folds, strict=True):
        if fold.kind != TRENCH or fold.mouth <= 0:
            continue
        drawn = mesh.arc_length(fold.points)
        along = np.linspace(0.0, drawn[-1], max(int(np.ceil(drawn[-1] / step)), 1) + 1)
        points = np.stack([np.interp(along, drawn, x) for x in fold.points.T], axis=1)
        half = fold.depth * np.tan(np.abs(np.interp(along, drawn, fold.fold)) / 2)
        found.append(Trench(fold, line, points, half, along))
    return found


def _edges(region: Region, line: Line) -> np.ndarray:
    """The line's edges (k, 2) on the sculpt."""
    source = region.source_vertex[line.vertices]
    return np.stack([source[:-1], source[1:]], axis=1)
