"""What is drawn of a suit that is built step by step, as arrays: pure numpy, without Blender.

Every piece is a thick body by itself, so that it can be left out, moved and lit by itself.
Positions are in Blender units in the world, as in `draw_data`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core import mesh
from ..core.model import Pattern
from ..core.order.solids import Solids, solids
from ..core.order.stages import Stage, parted, stages
from . import colours
from .draw_data import MATE, PIECE, Drawn, Label, single
from .line_styles import dash_length, inked

SMOOTH = np.cos(np.radians(40.0))  # faces that meet more sharply are shaded apart
STANDS, LIT = np.array(colours.srgb("d9d4c6")), np.array(colours.srgb("e8a33d"))
REACH = 0.1  # of the suit's size, by which one part is drawn off another when fully apart


@dataclass(frozen=True, eq=False)
class Body:
    """A piece: drawn with its rims and code, and the same lit; code: of it. The seams at which it
    is joined, by the codes of their mates, each drawn as it is to be glued, with its letter."""

    code: str
    plain: Drawn
    lit: Drawn
    seams: dict[str, Drawn]


@dataclass(frozen=True, eq=False)
class Build:
    """bodies by code; stages: one for each step; parted: of each piece how its part is drawn off
    (3,), and reach: the length of one such step, in Blender units."""

    bodies: dict[str, Body]
    stages: tuple[Stage, ...]
    parted: dict[str, np.ndarray]
    reach: float

    def shown(self, number: int, apart: float) -> list[tuple[Drawn, np.ndarray]]:
        """What is drawn at a step, from 0 on, and how far it is moved (3,). apart: from 0, as it
        is, to 1."""
        stage = self.stages[number]
        found = []
        for code in stage.standing:
            body = self.bodies[code]
            off = self.offset(code, number, apart)
            found.append((body.lit if code in stage.lit else body.plain, off))
            found += [(seam, off) for mate, seam in body.seams.items() if mate in stage.step.mates]
        return found

    def offset(self, code: str, number: int, apart: float) -> np.ndarray:
        """How far a piece that stands at a step is moved."""
        return apart * self.reach * (self.stages[number].apart[code] + self.parted[code])


def build(pattern: Pattern, unit: float) -> Build:
    """Of a pattern with its steps. unit: Blender units in one mm."""
    bodies = solids(pattern.pieces, pattern.mates, whole=True)
    size = float(np.linalg.norm(np.ptp(bodies.points, axis=0)))
    dash = unit * dash_length(bodies.points)
    return Build({piece.code: _body(pattern, bodies, k, unit, dash)
                  for k, piece in enumerate(pattern.pieces)},
                 stages(pattern.steps, pattern.pieces, pattern.mates), parted(pattern.parts),
                 REACH * size * unit)


def _body(pattern: Pattern, bodies: Solids, number: int, unit: float, dash: float) -> Body:
    piece = pattern.pieces[number]
    used, faces = np.unique(bodies.faces[bodies.owner == number], return_inverse=True)
    points, faces = bodies.points[used], faces.reshape(-1, 3)
    points, normals, faces = _shaded(points, faces)
    rims = inked("rim", [unit * line for line in _rims(piece)], dash)
    label = _label(piece, unit)
    plain, lit = (_drawn(unit * points, normals, faces, tint, {"rim": rims}, (label,))
                  for tint in (STANDS, LIT))
    seams = {}
    for mate in pattern.mates:
        if piece.code in {code for code, _ in mate.edges}:
            curve = unit * mate.curve
            letter = () if piece.code != mate.edges[0][0] else (_letter(piece, mate, unit),)
            seams[mate.code] = _drawn(np.empty((0, 3)), np.empty((0, 3)),
                                      np.empty((0, 3), dtype=int), STANDS,
                                      {"seam": inked("seam", [curve], dash)}, letter)
    return Body(piece.code, plain, lit, seams)


def _drawn(points, normals, faces, tint, lines, labels) -> Drawn:
    return Drawn(single(points), single(normals), faces.astype(np.int32),
                 single(np.tile(tint, (len(faces), 1))), np.full(len(faces), np.nan), lines,
                 labels, 1.0)


def _shaded(points: np.ndarray, faces: np.ndarray
            ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points with their normals, and faces: corners at sharp edges have points of their own."""
    flat, _ = mesh.face_normals(points, faces)
    round_ = mesh.vertex_normals(points, faces)
    sharp = np.einsum("ijk,ik->ij", round_[faces], flat) < SMOOTH
    own = len(points) + np.arange(np.count_nonzero(sharp))
    corners = faces.copy()
    corners[sharp] = own
    return (np.concatenate([points, points[faces[sharp]]]),
            np.concatenate([round_, np.repeat(flat, sharp.sum(axis=1), axis=0)]), corners)


def _rims(piece) -> list[np.ndarray]:
    start, end, _ = mesh.half_edges(piece.faces)
    rim = mesh.twins(piece.faces) < 0
    return [piece.vertices[chain] for chain in mesh.chains(np.stack([start, end], 1)[rim])]


def _label(piece, unit: float) -> Label:
    """The code, on the outside and on the inside, where the piece is roomiest."""
    from scipy.spatial import cKDTree

    middle = piece.vertices[piece.faces].mean(axis=1)
    normals = mesh.face_normals(piece.vertices, piece.faces)[0]
    rims = np.concatenate(_rims(piece) or [piece.vertices[:1]])
    room = cKDTree(rims).query(middle)[0]
    at = int(np.argmax(room))
    inner = middle[at] - piece.stock.thickness * normals[at]
    return Label(piece.code, PIECE, single(unit * np.stack([middle[at], inner])),
                 single(np.stack([normals[at], -normals[at]])), np.full(2, unit * room[at]))


def _letter(piece, mate, unit: float) -> Label:
    """The letter at the middle of a seam, to be read from either side."""
    from scipy.spatial import cKDTree

    arc = mesh.arc_length(mate.curve)
    place = np.array([np.interp(arc[-1] / 2, arc, x) for x in mate.curve.T])
    normal = mesh.vertex_normals(piece.vertices, piece.faces)[
        cKDTree(piece.vertices).query(place)[1]]
    inner = place - piece.stock.thickness * normal
    return Label(mate.letter, MATE, single(unit * np.stack([place, inner])),
                 single(np.stack([normal, -normal])), np.full(2, unit * arc[-1] / 2))
