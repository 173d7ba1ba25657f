"""How each seam is held together: the maker's choice, in sizes.

Two edges are glued butt to butt unless something else was chosen. Hook-and-loop is sewn to
webbing, which is glued to the foam, since its backing bonds poorly (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import BUTT, HOOK, OVERLAP, SPACER, STRAP, Join, JoinSizes, Mate, Piece
from .blocks import blocks
from .check import join_findings
from .finishes import finished
from .laps import lapped

__all__ = ["blocks", "by_letter", "finished", "join_findings", "join_of", "joined", "lapped"]

FILLED = 0.8  # of a short seam, which patches or straps take up at most


def joined(mates: Sequence[Mate], kinds: Sequence[str], pieces: Sequence[Piece], sizes: JoinSizes,
           up: np.ndarray) -> list[Mate]:
    """The mates with the joins that were chosen for them, "" for none."""
    known = {p.code: p for p in pieces}
    return [replace(mate, join=join_of(kind, mate, known, sizes, up)) if kind else mate
            for mate, kind in zip(mates, kinds, strict=True)]


def by_letter(mates: Sequence[Mate], held: Sequence[tuple[str, str]], pieces: Sequence[Piece],
              sizes: JoinSizes, up: np.ndarray) -> list[Mate]:
    """The mates with the kinds of joins that were chosen by their letters, in place of marked
    ones. Raises FoamError `no-such-seam` for a letter that no mate has."""
    chosen = dict(held)
    unknown = [letter for letter in chosen if letter not in {m.letter for m in mates}]
    if unknown:
        known = ", ".join(dict.fromkeys(m.letter for m in mates)) or "none"
        raise FoamError(Finding("no-such-seam", ERROR, f"There is no seam lettered “{unknown[0]}”.",
                                f"Choose of these letters: {known}."))
    return joined(mates, [chosen.get(m.letter, "") for m in mates], pieces, sizes, up)


def join_of(kind: str, mate: Mate, pieces: dict[str, Piece], sizes: JoinSizes,
            up: np.ndarray) -> Join:
    """The join of a kind for one seam. A piece cannot be laid over itself, nor a dart be undone:
    those stay glued butt to butt."""
    a, b = (code for code, _ in mate.edges)
    if a == b or kind in ("", BUTT):
        return Join()
    length = mesh.polyline_length(mate.curve)
    if kind in (OVERLAP, SPACER):
        over, under = _order(pieces[a], pieces[b], up)
        gap = sizes.spacer if kind == SPACER else 0.0
        lift = under.stock.thickness + gap
        return Join(kind, over.code, sizes.lap, lift, _longer(mate, under, lift), gap)
    count = max(1, math.ceil(length / sizes.spacing))
    along = min(sizes.webbing if kind == STRAP else sizes.patch[0], FILLED * length / count)
    if kind == HOOK:
        return Join(kind, count=count, patch=(along, sizes.patch[1]), webbing=2 * count * along,
                    width=sizes.patch[1])
    if kind == STRAP:
        return Join(kind, count=count, patch=(along, sizes.tail), width=sizes.webbing,
                    webbing=count * (2 * sizes.tail + sizes.slack))
    raise ValueError(f"unknown kind of join {kind!r}")


def _order(a: Piece, b: Piece, up: np.ndarray) -> tuple[Piece, Piece]:
    """The piece that lies over the other one, and that: the higher one sheds what falls on it;
    of two at one height the larger."""
    def rank(piece: Piece) -> tuple:
        height = piece.vertices @ up
        return round(float(height.min() + height.max()) / 2), round(piece.area)

    return (b, a) if rank(b) > rank(a) else (a, b)


def _longer(mate: Mate, under: Piece, lift: float) -> float:
    """By how much the seam's line is longer `lift` mm further out than it is on the sculpt."""
    from scipy.spatial import cKDTree

    normals, area = mesh.face_normals(under.vertices, under.faces)
    outward = np.zeros_like(under.vertices)
    np.add.at(outward, under.faces.ravel(), np.repeat(normals * area[:, None], 3, axis=0))
    outward /= np.maximum(np.linalg.norm(outward, axis=1), 1e-300)[:, None]
    _, near = cKDTree(under.vertices).query(mate.curve)
    normals = outward[near]
    if len(normals) > 2 and not np.allclose(mate.curve[0], mate.curve[-1]):
        # At a rim a vertex knows the face on one side only, half a step behind.
        normals[0], normals[-1] = 2 * normals[1] - normals[2], 2 * normals[-2] - normals[-3]
        normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    raised = mate.curve + lift * normals
    return float(mesh.polyline_length(raised) - mesh.polyline_length(mate.curve))
