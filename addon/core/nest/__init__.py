"""Pieces on mats of foam, and templates on pages of paper.

    raster   lays shapes down in equal rectangles, without a clock
    shapes   what a piece covers, where it fits, and the check that nothing overlaps
    part     butt_lines: seams that part pieces larger than a mat
    mats     nest_mats: every piece of foam on a mat of its stock
    pages    pack_pages: every template once on paper, large ones in tiles
    rows     beside, squared: every piece flat and upright in rows, to be looked at
"""

from .mats import nest_mats
from .pages import PAPERS, pack_pages, paper_size, printable, tile_window
from .part import butt_lines, parted
from .rows import beside, squared
from .shapes import foam_of, overlaps

__all__ = ["PAPERS", "beside", "butt_lines", "foam_of", "nest_mats", "overlaps", "pack_pages",
           "paper_size", "parted", "printable", "squared", "tile_window"]
