"""Flat pieces in rows, upright, twins side by side: to be looked at, not to be cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Piece, Placement

_WIDTHS = 60  # widths that are tried


def beside(pieces: Iterable[Piece], height: float, gap: float) -> tuple[Placement, ...]:
    """Placements in the narrowest block of rows no higher than `height` mm, or in one row.

    The order of the pieces is kept, but for equal and mirrored ones, which follow one
    another. Lower left corner of the block at the origin; `gap` mm between pieces.
    """
    groups, found = _groups(pieces), ()
    for width in _widths(groups, gap):
        found, size = _rows(groups, width, gap)
        if size[1] <= height:
            break
    return found


def squared(pieces: Iterable[Piece], gap: float) -> tuple[tuple[Placement, ...], float]:
    """Placements in a square with its lower left corner at the origin, and its side in mm.

    `gap` mm between pieces and half of it along the sides.
    """
    groups = sorted(_groups(pieces), key=lambda group: -max(box.size[1] for box in group))
    if not groups:
        return (), 0.0
    tried = [_rows(groups, width, gap) for width in _widths(groups, gap)]
    placements, size = min(tried, key=lambda found: max(found[1]))
    margin = np.full(2, gap / 2)
    return (tuple(Placement(p.piece, 0.0, p.offset + margin) for p in placements),
            float(max(size) + gap))


@dataclass(frozen=True, eq=False)
class _Box:
    """What a piece takes up: lower left corner (2,) and size (2,) of all that belongs to it."""

    code: str
    low: np.ndarray
    size: np.ndarray


def _groups(pieces: Iterable[Piece]) -> list[list[_Box]]:
    groups: dict[str, list[_Box]] = {}
    for piece in pieces:
        points = np.concatenate([piece.flat, *piece.front, *piece.back, *piece.cut])
        groups.setdefault(piece.template or piece.code, []).append(
            _Box(piece.code, points.min(axis=0), np.ptp(points, axis=0)))
    return list(groups.values())


def _widths(groups: Sequence[Sequence[_Box]], gap: float) -> np.ndarray:
    wide = [box.size[0] for group in groups for box in group]
    return np.geomspace(max(wide), sum(wide) + gap * len(wide), _WIDTHS) if wide else np.empty(0)


def _rows(groups: Sequence[Sequence[_Box]], width: float,
          gap: float) -> tuple[tuple[Placement, ...], np.ndarray]:
    """Rows from the top down, and the size (2,) of the block.

    A group starts a row of its own rather than be parted, and is parted only where it is
    wider than a row.
    """
    rows: list[list[tuple[_Box, float]]] = [[]]
    x = 0.0
    for group in groups:
        whole = sum(box.size[0] for box in group) + gap * (len(group) - 1)
        needs = [whole, *(box.size[0] for box in group[1:])]
        for box, need in zip(group, needs, strict=True):
            if rows[-1] and x + need > width:
                rows.append([])
                x = 0.0
            rows[-1].append((box, x))
            x += box.size[0] + gap
    placements, y, widest = [], 0.0, 0.0
    for row in reversed(rows):
        for box, x in row:
            placements.append(Placement(box.code, 0.0, (x, y) - box.low))
            widest = max(widest, x + box.size[0])
        y += max(box.size[1] for box, _ in row) + gap
    return tuple(placements), np.array([widest, y - gap])
