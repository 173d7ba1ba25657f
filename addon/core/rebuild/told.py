"""What the maker should know of a suit that was put together again."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..locate import locate
from ..model import TRENCH, Pattern, Piece, PieceEdge, Rebuilt, RebuiltPiece
from ..units import format_angle, format_length

# What a hand that cuts and glues foam loses anyway (common practice, no source).
RMS, MOST = 1.0, 3.0  # mm that a piece comes out otherwise, by area and at most
MISMATCH = 0.5  # mm between the two edges of a seam, as formed
FOLD = np.radians(3.0)  # of a seam
OFFSET = 1.5  # mm that the line of a trench lies aside


def findings(pattern: Pattern, rebuilt: Rebuilt) -> tuple[Finding, ...]:
    """What comes out otherwise than a hand would anyway, and the parts that tapes hold."""
    return (*_pieces(pattern, rebuilt), *_mates(pattern, rebuilt), *_trenches(pattern, rebuilt),
            *_open(pattern, rebuilt))


def _pieces(pattern: Pattern, rebuilt: Rebuilt) -> Iterator[Finding]:
    unit = pattern.settings.unit
    for found in rebuilt.pieces:
        if found.rms <= RMS and found.most <= MOST:
            continue
        yield Finding(
            "comes-out-otherwise", WARNING,
            f"{found.code} comes out up to {format_length(found.most, unit)} beside the sculpt, "
            f"{format_length(found.rms, unit)} over all of it.",
            "Where that matters, form it over something of the right shape and hold it by its "
            "gauges and tapes until it is cold; or give it a seam, dart or trench there.",
            faces=_far(pattern.piece(found.code), found), piece=found.code)


def _far(piece: Piece, found: RebuiltPiece) -> np.ndarray:
    """Faces of the sculpt where a piece comes out too far; where none does by itself, the fifth
    of them that is furthest."""
    far = np.linalg.norm(found.moved, axis=1)[piece.faces].mean(axis=1)
    chosen = far > MOST
    return piece.source_face[chosen if chosen.any() else far >= np.quantile(far, 0.8)]


def _mates(pattern: Pattern, rebuilt: Rebuilt) -> Iterator[Finding]:
    known = {mate.code: mate for mate in pattern.mates}
    for found in rebuilt.mates:
        codes = " and ".join(dict.fromkeys(code for code, _ in known[found.code].edges))
        where = f"{known[found.code].letter} of {codes}"
        faces = _beside(pattern, found.code)
        if found.mismatch > MISMATCH:
            yield Finding(
                "lengths-differ-formed", WARNING,
                f"Once formed, the two edges of {where} differ by "
                f"{format_length(found.mismatch, pattern.settings.unit)}.",
                "Spread the difference between the notches when you glue.", faces=faces)
        if abs(found.fold) > FOLD:
            yield Finding(
                "fold-otherwise", WARNING,
                f"The seam {where} closes to a fold that is {format_angle(abs(found.fold))} "
                f"{'more' if found.fold > 0 else 'less'} than sculpted.",
                "Hold it at its angle while the cement is young, and check the bevels first.",
                faces=faces)


def _beside(pattern: Pattern, mate: str) -> np.ndarray:
    """Faces of the sculpt with a vertex on a seam, in the pieces that it joins."""
    known = next(m for m in pattern.mates if m.code == mate)
    found = []
    for code in dict.fromkeys(code for code, _ in known.edges):
        piece = pattern.piece(code)
        near = _near(piece.vertices, known.curve)
        found.append(piece.source_face[near[piece.faces].any(axis=1)])
    return np.unique(np.concatenate(found))


def _near(points: np.ndarray, curve: np.ndarray) -> np.ndarray:
    from scipy.spatial import cKDTree

    step = np.linalg.norm(np.diff(curve, axis=0), axis=1).max(initial=1.0)
    return cKDTree(curve).query(points)[0] <= step / 2


def _trenches(pattern: Pattern, rebuilt: Rebuilt) -> Iterator[Finding]:
    for found in rebuilt.trenches:
        if found.offset > OFFSET:
            piece = pattern.piece(found.piece)
            fold = [f for f in piece.folds if f.kind == TRENCH][found.number]
            size = format_length(found.offset, pattern.settings.unit)
            yield Finding(
                "trench-beside-its-line", WARNING,
                f"Trench {found.number + 1} of {found.piece} folds up to {size} beside the line "
                "of the sculpt.",
                "Check that the piece is formed before its trench is closed.",
                faces=_under(piece, fold.points), piece=found.piece)


def _open(pattern: Pattern, rebuilt: Rebuilt) -> Iterator[Finding]:
    for part in rebuilt.open_parts:
        held = [tape for tape in pattern.tapes if tape.ends[0][0] in part]
        if not held:
            continue
        ends = [(code, pattern.piece(code).edges[edge], share)
                for tape in held for code, edge, share in tape.ends]
        under = [_under(pattern.piece(code), _on_edge(edge, share)[None])
                 for code, edge, share in ends]
        names = part[0] if len(part) == 1 else f"The part of {part[0]} to {part[-1]}"
        names = names if len(part) != 2 else f"The part of {part[0]} and {part[1]}"
        yield Finding(
            "open-part", NOTE,
            f"{names} has free edges, so it could be bent open or shut.",
            "Hold it at the tapes while the glue sets; the plan tells their widths.",
            faces=np.unique(np.concatenate(under)), piece=part[0] if len(part) == 1 else "")


def _under(piece: Piece, points: np.ndarray) -> np.ndarray:
    """Faces of the sculpt under points (k, 2) of a flat piece."""
    return np.unique(piece.source_face[locate(piece.flat, piece.faces, points)[0]])


def _on_edge(edge: PieceEdge, share: float) -> np.ndarray:
    order = np.argsort(edge.fraction, kind="stable")
    return np.array([np.interp(share, edge.fraction[order], x[order]) for x in edge.points.T])
