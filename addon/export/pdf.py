"""The templates at full size as one PDF."""

from __future__ import annotations

from pathlib import Path

from ..core.model import Pattern
from ..core.nest import paper_size, printable
from .canvas import Canvas
from .cover import front_pages
from .drawing import draw_sheet
from .pages import page_marks, tile_name


def write_pattern_pdf(pattern: Pattern, path: str | Path) -> None:
    """Write pages for the scale check, the page map and the legend, then every page of
    templates at 1:1.

    Vector lines in mm; typefaces embedded; asks viewers not to scale; pages
    numbered i, ii, … before and 1, 2, … for the templates; a bookmark for each
    page and each template on it. The same pattern gives the same bytes.
    """
    settings = pattern.settings
    canvas = Canvas(settings.title)
    size, window = paper_size(settings), printable(settings)
    for n, drawing in enumerate(front_pages(pattern)):
        canvas.page(size, *(("r", 1) if n == 0 else ()))
        if n == 0:
            canvas.bookmark("Scale check, page map, legend")
        canvas.draw(drawing)
    for n, sheet in enumerate(pattern.pages):
        canvas.page(sheet.size, *(("D", 1) if n == 0 else ()))
        canvas.bookmark(sheet.name[:1].upper() + sheet.name[1:])
        for placement in sheet.placements:
            part = f", {tile_name(sheet.tile)}" if sheet.tile else ""
            canvas.bookmark(placement.piece + part, 1)
        # Words may stand outside the window of a page with whole templates, never lines.
        canvas.draw(draw_sheet(sheet, pattern), clip=window if sheet.tile else None)
        canvas.draw(page_marks(sheet, pattern))
    canvas.write(path)
