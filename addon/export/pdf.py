"""The templates at full size as one PDF."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..core.model import Pattern, Sheet
from ..core.nest import paper_size, printable
from .backs import back_pages
from .canvas import Canvas
from .cover import front_pages
from .drawing import draw_sheet
from .pages import page_marks, tile_name
from .position import Positions
from .strokes import Drawing


def write_pattern_pdf(pattern: Pattern, path: str | Path) -> None:
    """Write pages for the scale check, the page map and the legend, then every page of
    templates at 1:1.

    Vector lines in mm; typefaces embedded; asks viewers not to scale; pages
    numbered i, ii, … before and 1, 2, … for the templates; a bookmark for each
    page and each template on it. Where the settings ask for it, what is cut on the back
    follows, mirrored, on pages "back 1" and so on. The same pattern gives the same bytes.
    """
    settings = pattern.settings
    canvas = Canvas(settings.title)
    size = paper_size(settings)
    for n, drawing in enumerate(front_pages(pattern)):
        canvas.page(size, *(("r", 1) if n == 0 else ()))
        if n == 0:
            canvas.bookmark("Scale check, page map, legend")
        canvas.draw(drawing)
    positions = Positions(pattern)
    tiled: dict[str, tuple[np.ndarray, Drawing]] = {}
    for n, sheet in enumerate(pattern.pages):
        canvas.page(sheet.size, *(("D", 1) if n == 0 else ()))
        _page(canvas, sheet, pattern, positions, tiled)
    if settings.back_side:
        backs, tiled = back_pages(pattern), {}
        for sheet in backs.pages:
            canvas.page(sheet.size, "D", int(sheet.name.split()[-1]), "back ")
            _page(canvas, sheet, backs, positions, tiled)
    canvas.write(path)


def _page(canvas: Canvas, sheet: Sheet, pattern: Pattern, positions: Positions,
          tiled: dict[str, tuple[np.ndarray, Drawing]]) -> None:
    """Bookmarks and templates of a page that has been begun."""
    canvas.bookmark(sheet.name[:1].upper() + sheet.name[1:])
    for placement in sheet.placements:
        part = f", {tile_name(sheet.tile)}" if sheet.tile else ""
        canvas.bookmark(placement.piece + part, 1)
    # Words may stand outside the window of a page with whole templates, never lines.
    canvas.draw(_drawn(sheet, pattern, positions, tiled),
                clip=printable(pattern.settings, sheet.size) if sheet.tile else None)
    canvas.draw(page_marks(sheet, pattern))


def _drawn(sheet: Sheet, pattern: Pattern, positions: Positions,
           tiled: dict[str, tuple[np.ndarray, Drawing]]) -> Drawing:
    """The sheet; the tiles of one template show one drawing, each another part of it."""
    if not sheet.tile:
        return draw_sheet(sheet, pattern, positions=positions)
    (placement,) = sheet.placements
    if placement.piece not in tiled:
        tiled[placement.piece] = (
            placement.offset, draw_sheet(sheet, pattern, positions=positions))
    first, drawing = tiled[placement.piece]
    return drawing.moved(placement.offset - first)
