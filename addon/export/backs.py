"""Sheets as they are seen from behind, for what is cut on the back of pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..core.model import Pattern, Placement, Sheet
from .template import cut_on_back


def back_of(sheet: Sheet) -> Sheet:
    """The sheet turned over about its upright middle line, as a page is turned in a book: laid
    on the back of the pieces, line falls on line."""
    width = sheet.size[0]
    placements = tuple(
        Placement(p.piece, -p.angle, (width - p.offset[0], p.offset[1]), not p.mirrored)
        for p in sheet.placements)
    tile = sheet.tile
    if tile:
        code, row, column, rows, columns = tile
        tile = code, row, columns + 1 - column, rows, columns
    outline = tuple((np.asarray(ring) * (-1.0, 1.0) + (width, 0.0))[::-1]
                    for ring in sheet.outline)
    return replace(sheet, name=f"back of {sheet.name}", placements=placements, tile=tile,
                   outline=outline, back=True)


def back_pages(pattern: Pattern) -> Pattern:
    """The pattern with the backs of its pages, in order: of templates on which something is cut
    from behind, and no other."""
    source = {p.code: pattern.piece(p.template) if p.template in pattern.index else p
              for p in (*pattern.pieces, *pattern.cards)}
    pages, order = [], {}
    for sheet in pattern.pages:
        kept = tuple(p for p in sheet.placements if cut_on_back(source[p.piece]))
        if kept:
            pages.append(back_of(replace(sheet, placements=kept)))
            order.setdefault(pages[-1].tile and pages[-1].tile[0], len(order))
    # Tiles are read from the left, and left is right on the back.
    pages.sort(key=lambda s: (order[s.tile[0]], *s.tile[1:3]) if s.tile else (-1, 0, 0))
    return replace(pattern, pages=tuple(pages))
