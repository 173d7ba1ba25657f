"""Flat pieces in rows, upright, twins side by side: to be looked at, not to be cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..model import Piece, Placement

_WIDTHS = 60  # widths that are tried


def beside(pieces: Iterable[Piece], height: float, gap: float) -> tuple[Placement, ...]:
    """Placements in the narrowest block of rows no higher than `height` mm, or in one row.

    The order of the pieces is kept, but for equal and mirrored ones, which follow one
    another. Lower left corner of the block at the origin; `gap` mm between pieces.
    """
    groups = _groups(pieces)
    found = None
    for width in _widths(groups, gap):
        found = _rows(groups, width, gap)
        if found[1][1] <= height:
            break
    return found[0] if found else ()


def squared(pieces: Iterable[Piece], gap: float) -> tuple[tuple[Placement, ...], float]:
    """Placements in a square with its lower left corner at the origin, and its side in mm.

    `gap` mm between pieces and half of it along the sides.
    """
    groups = sorted(_groups(pieces), key=lambda g: -max(_extent(p)[1][1] for p in g))
    if not groups:
        return (), 0.0
    tried = [_rows(groups, width, gap) for width in _widths(groups, gap)]
    placements, size = min(tried, key=lambda found: max(found[1]))
    margin = np.full(2, gap / 2)
    return (tuple(Placement(p.piece, 0.0, p.offset + margin) for p in placements),
            float(max(size) + gap))


def _groups(pieces: Iterable[Piece]) -> list[list[Piece]]:
    groups: dict[str, list[Piece]] = {}
    for piece in pieces:
        groups.setdefault(piece.template or piece.code, []).append(piece)
    return list(groups.values())


def _extent(piece: Piece) -> tuple[np.ndarray, np.ndarray]:
    """Lower left corner (2,) and size (2,) of all that belongs to a piece."""
    points = np.concatenate([piece.flat, *piece.front, *piece.back, *piece.cut])
    return points.min(axis=0), np.ptp(points, axis=0)


def _widths(groups: Sequence[Sequence[Piece]], gap: float) -> np.ndarray:
    wide = [_extent(piece)[1][0] for group in groups for piece in group]
    return np.geomspace(max(wide), sum(wide) + gap * len(wide), _WIDTHS) if wide else np.empty(0)


def _rows(groups: Sequence[Sequence[Piece]], width: float,
          gap: float) -> tuple[tuple[Placement, ...], np.ndarray]:
    """Rows from the top down, and the size (2,) of the block.

    A group starts a row of its own rather than be parted, and is parted only where it is
    wider than a row.
    """
    rows: list[list[tuple[Piece, float]]] = [[]]
    x = 0.0
    for group in groups:
        sizes = [_extent(piece)[1][0] for piece in group]
        whole = sum(sizes) + gap * (len(sizes) - 1)
        if rows[-1] and x + whole > width:
            rows.append([])
            x = 0.0
        for piece, size in zip(group, sizes, strict=True):
            if rows[-1] and x + size > width:
                rows.append([])
                x = 0.0
            rows[-1].append((piece, x))
            x += size + gap
    placements, y, widest = [], 0.0, 0.0
    for row in reversed(rows):
        for piece, x in row:
            low, size = _extent(piece)
            placements.append(Placement(piece.code, 0.0, (x, y) - low))
            widest = max(widest, x + size[0])
        y += max(_extent(piece)[1][1] for piece, _ in row) + gap
    return tuple(placements), np.array([widest, y - gap])
