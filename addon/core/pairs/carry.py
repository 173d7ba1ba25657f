"""Carry each template over to the pieces it serves and letter the mates."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..model import Bend, Fold, Gauge, Mate, Notch, Piece, PieceEdge, PointMark
from .congruence import carried_marks, marks_agree
from .find import Match, matches
from .letters import is_ring, named, rerun


def apply_pairs(pieces: Sequence[Piece], mates: Sequence[Mate],
                lateral: Sequence[float] = (1.0, 0.0, 0.0), used: Collection[str] = (),
                ) -> tuple[tuple[Piece, ...], tuple[Mate, ...]]:
    """Pieces with their templates and lettered edges, and mates with code and letter.

    Mates refer to the pieces' codes and edge indices; their own codes are given anew.
    Mates that correspond in matching pieces share a printed letter and run the same
    way, so notches at equal fractions of them fit one template. A mate that has a letter
    keeps it, as far as that is possible; the others get letters that are not among `used`, in
    order: A, B, … Z, AA without I and O. The unique code is the letter alone or, for several
    mates, C.1, C.2, …  Piece codes stay. Every piece takes over
    the exact lines of its template, moved onto its own flat.
    """
    found, known = matches(pieces, mates, lateral)
    names = named(known, [mate.letter for mate in mates], used)
    way = [known.first(m)[1:] for m in range(len(mates))]
    of = {side: m for m, mate in enumerate(mates) for side in mate.edges}

    lettered = []
    for piece in pieces:
        edges = []
        for k, edge in enumerate(piece.edges):
            m = of.get((piece.code, k))
            edges.append(edge if m is None else _aligned(edge, *way[m], *names[m]))
        lettered.append(replace(piece, edges=tuple(edges)))

    done = []
    for match in found:
        members = [m for m in found if m.template == match.template]
        own = match.piece == match.template
        piece = lettered[match.piece] if own else _carried(
            lettered[match.template], lettered[match.piece], match)
        done.append(replace(
            piece, template=pieces[match.template].code, flipped=match.flipped,
            turn=match.motion.angle,
            copies=sum(not m.flipped for m in members) if own else 0,
            mirrored=sum(m.flipped for m in members) if own else 0))

    by_code = {p.code: p for p in done}
    return tuple(done), tuple(
        _renamed(mate, *names[m], *way[m], by_code) for m, mate in enumerate(mates))


def _aligned(edge: PieceEdge, sign: int, shift: float, code: str, letter: str) -> PieceEdge:
    """The edge with its letter and with fractions that run as its set of mates does."""
    columns = np.column_stack([edge.points, edge.cut, edge.bevel])
    columns, fraction = rerun(columns, edge.fraction, sign, shift, is_ring(edge.points))
    return replace(edge, points=columns[:, :2], cut=columns[:, 2:4], bevel=columns[:, 4],
                   fraction=fraction, mate=code, letter=letter)


def _carried(template: Piece, piece: Piece, match: Match) -> Piece:
    """The piece with the template's lines in place of its own."""
    move = match.motion.apply
    order = slice(None, None, -1) if match.flipped else slice(None)

    def rings(face):
        return tuple(move(ring)[order] for ring in face)

    edges: list[PieceEdge] = list(piece.edges)
    for source, j in zip(template.edges, match.edges, strict=True):
        edges[j] = replace(
            edges[j], points=move(source.points)[order], cut=move(source.cut)[order],
            fraction=source.fraction[order], bevel=source.bevel[order],
            length=source.length, larger=source.larger)
    folds = tuple(Fold(move(f.points), f.fold, f.kind, f.side, f.depth, f.mouth)
                  for f in template.folds)
    notches = tuple(Notch(move(n.point[None])[0],
                          move((n.point + n.inward)[None])[0] - move(n.point[None])[0],
                          n.letter, n.index) for n in template.notches)
    bends = tuple(Bend(move(b.points), b.angle) for b in template.bends)
    gauges = tuple(Gauge(move(g.line), g.profile) for g in template.gauges)
    return replace(piece, front=rings(template.front), back=rings(template.back),
                   point_marks=_marks(template, piece, match), cut=rings(template.cut),
                   edges=tuple(edges), folds=folds, bends=bends,
                   gauges=gauges,
                   notches=notches,
                   area=template.area)


def _marks(template: Piece, piece: Piece, match: Match) -> tuple[PointMark, ...]:
    """The piece's own marks, with their own names, where the template has them."""
    own = list(piece.point_marks)
    points, alongs = carried_marks(template, match.motion)
    for j, point, along in zip(marks_agree(template, piece, match.motion) or (), points, alongs,
                               strict=True):
        own[j] = replace(own[j], point=point, along=along)
    return tuple(own)


def _renamed(mate: Mate, code: str, letter: str, sign: int, shift: float,
             pieces: dict[str, Piece]) -> Mate:
    """The mate under its new name, its curve run as its set of mates does."""
    lengths = [pieces[c].edges[k].length for c, k in mate.edges]
    curve = mate.curve
    if len(curve) > 1:
        along = mesh.arc_length(curve)
        curve, fraction = rerun(curve, along / max(along[-1], 1e-12), sign, shift, is_ring(curve))
        curve = curve if fraction[-1] > fraction[0] else curve[::-1]
    return replace(mate, code=code, letter=letter, lengths=lengths, curve=curve,
                   gap=abs(lengths[0] - lengths[1]))
