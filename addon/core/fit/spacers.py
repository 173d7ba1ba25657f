"""Where blocks of foam would keep a floating piece off the body, and how high they are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .. import mesh
from ..model import Pattern, Piece, PieceFit, Spacer
from .clearance import inner_face

FLOATS = 12.0  # mm of mean clearance from which an object is taken to float
LOW, HIGH = 5.0, 80.0  # mm a spacer may be high; lower ones are no use, higher ones wobble
WIDE = 40.0  # mm across a spacer
RIM = 15.0  # mm that it stays away from the piece's rim, besides half of its width
EACH = 50_000.0  # mm2 of foam that one more spacer holds
FEWEST, MOST = 3, 6  # for each object; three hold it steady


def spacers(pattern: Pattern, fits: Sequence[PieceFit]) -> tuple[Spacer, ...]:
    """Spacers for every object of the suit that floats, as far apart as they can be, none across
    a seam."""
    found = []
    for name in dict.fromkeys(piece.object for piece in pattern.pieces):
        own = [(piece, fit) for piece, fit in zip(pattern.pieces, fits, strict=True)
               if piece.object == name]
        area = sum(piece.area for piece, _ in own)
        if (min(fit.least for _, fit in own) >= 0
                and sum(piece.area * fit.mean for piece, fit in own) >= FLOATS * area):
            count = int(np.clip(FEWEST + area // EACH, FEWEST, MOST))
            found += _apart([place for piece, fit in own for place in _places(piece, fit)], count)
    return tuple(found)


def _places(piece: Piece, fit: PieceFit) -> list[Spacer]:
    """Where on a piece a spacer could stand."""
    from scipy.spatial import cKDTree

    inner = inner_face(piece)
    rim = np.unique(mesh.half_edges(piece.faces)[0][mesh.twins(piece.faces) < 0])
    away = cKDTree(inner[rim]).query(inner)[0] if len(rim) else np.full(len(inner), np.inf)
    # A block stands on the body with all of its end: its height is the least clearance there.
    near = cKDTree(inner).query_ball_point(inner, WIDE / 2)
    height = np.array([fit.clearance[some].min() for some in near])
    able = (away >= RIM + WIDE / 2) & (height >= LOW) & (height <= HIGH)
    return [Spacer(piece.code, inner[k], piece.flat[k], float(height[k]))
            for k in np.flatnonzero(able)]


def _apart(places: list[Spacer], count: int) -> list[Spacer]:
    """Some of the places, each the one farthest from those before."""
    if len(places) < FEWEST:
        return []
    at = np.array([place.point for place in places])
    chosen = [int(np.argmax(np.linalg.norm(at - at.mean(axis=0), axis=1)))]
    apart = np.linalg.norm(at - at[chosen[0]], axis=1)
    while len(chosen) < count and apart.max() >= 2 * WIDE:
        chosen.append(int(np.argmax(apart)))
        apart = np.minimum(apart, np.linalg.norm(at - at[chosen[-1]], axis=1))
    return [places[k] for k in chosen]
