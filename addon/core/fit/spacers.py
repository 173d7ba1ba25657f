"""Where blocks of foam would keep a floating piece off the body, and how high they are."""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..model import Pattern, Piece, PieceFit, Spacer
from .clearance import inner_face

FLOATS = 12.0  # mm of mean clearance from which a piece is taken to float
LOW, HIGH = 5.0, 80.0  # mm a spacer may be high; lower ones are no use, higher ones wobble
WIDE = 40.0  # mm across a spacer
RIM = 15.0  # mm that it stays away from the piece's rim, besides half of its width
EACH = 25_000.0  # mm2 of foam that one more spacer holds
FEWEST, MOST = 3, 6  # three hold a piece steady


def spacers(pattern: Pattern, fits: tuple[PieceFit, ...]) -> tuple[Spacer, ...]:
    """Spacers for every piece that floats, as far apart as they can be."""
    return tuple(spacer for piece, fit in zip(pattern.pieces, fits, strict=True)
                 if fit.mean >= FLOATS and fit.least >= 0 for spacer in _of(piece, fit))


def _of(piece: Piece, fit: PieceFit) -> list[Spacer]:
    from scipy.spatial import cKDTree

    inner = inner_face(piece)
    rim = np.unique(mesh.half_edges(piece.faces)[0][mesh.twins(piece.faces) < 0])
    away = cKDTree(inner[rim]).query(inner)[0] if len(rim) else np.full(len(inner), np.inf)
    # A block stands on the body with all of its end: its height is the least clearance there.
    near = cKDTree(inner).query_ball_point(inner, WIDE / 2)
    height = np.array([fit.clearance[some].min() for some in near])
    able = np.flatnonzero((away >= RIM + WIDE / 2) & (height >= LOW) & (height <= HIGH))
    if len(able) < FEWEST:
        return []
    count = int(np.clip(FEWEST + piece.area // EACH, FEWEST, MOST))
    middle = inner[able].mean(axis=0)
    chosen = [int(np.argmax(np.linalg.norm(inner[able] - middle, axis=1)))]
    apart = np.linalg.norm(inner[able] - inner[able[chosen[0]]], axis=1)
    while len(chosen) < count and apart.max() >= 2 * WIDE:
        chosen.append(int(np.argmax(apart)))
        apart = np.minimum(apart, np.linalg.norm(inner[able] - inner[able[chosen[-1]]], axis=1))
    return [Spacer(piece.code, inner[k], piece.flat[k], float(height[k])) for k in able[chosen]]
