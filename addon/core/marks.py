"""Notches: ticks across both edges of a mate that can be brought together in one way only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .model import Mate, Notch, Piece, PieceEdge, Settings

CLEAR = 8.0  # mm of an edge's ends without a notch, or CLEAR_SHARE of a short one
CLEAR_SHARE = 0.15
GOLDEN = 0.6180339887498949


def add_notches(pieces: Sequence[Piece], mates: Sequence[Mate], settings: Settings
                ) -> tuple[Piece, ...]:
    """The pieces with their notches.

    A notch stands at the same fraction of the seam on both mates. Mates that share
    a letter share their fractions, so one template serves all of them.
    """
    fractions: dict[str, np.ndarray] = {}
    for mate in mates:
        if mate.letter not in fractions:
            fractions[mate.letter] = notch_fractions(
                float(np.mean(mate.lengths)), settings.notch_spacing, len(fractions))
    return tuple(replace(piece, notches=tuple(
        notch for edge in piece.edges if edge.mate
        for notch in _notches(edge, fractions[edge.letter]))) for piece in pieces)


def notch_fractions(length: float, spacing: float, number: int) -> np.ndarray:
    """Rising fractions (k,) of a seam at which its notches stand.

    About `spacing` mm apart, never evenly: the gaps between them are all different, and
    so is each from the gap it would meet if one edge were turned round. `number` counts
    the seams of the pattern and gives each its own gaps.
    """
    clear = min(CLEAR, CLEAR_SHARE * length) / length
    count = max(1, round((1 - 2 * clear) * length / spacing))
    # Gaps grow along the seam by more than a third, and a little differently on every seam;
    # being in rising order they cannot equal their own mirror image.
    own = (number * GOLDEN) % 1.0
    gaps = 1.0 + (0.35 + 0.15 * own) * np.arange(count + 1) / max(count, 1)
    gaps[-1] += 0.2 + 0.3 * own
    return clear + (1 - 2 * clear) * np.cumsum(gaps)[:-1] / gaps.sum()


def _notches(edge: PieceEdge, fractions: np.ndarray) -> list[Notch]:
    falling = edge.fraction[0] > edge.fraction[-1]
    order = slice(None, None, -1) if falling else slice(None)
    known, line = edge.fraction[order], edge.cut[order]
    points = np.stack([np.interp(fractions, known, x) for x in line.T], axis=1)
    step = 1e-3
    ahead = np.stack([np.interp(fractions + step, known, x) for x in line.T], axis=1)
    behind = np.stack([np.interp(fractions - step, known, x) for x in line.T], axis=1)
    along = (ahead - behind) * (-1 if falling else 1)
    along /= np.linalg.norm(along, axis=1)[:, None]
    inward = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return [Notch(p, n, edge.letter, k)
            for k, (p, n) in enumerate(zip(points, inward, strict=True))]
