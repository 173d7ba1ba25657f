"""Pieces on mats of foam, and templates on pages of paper.

    pack     shapes on the fewest rectangles: a first layout, then better ones
    raster   lays shapes down one after another, on a grid of cells
    squeeze  a layout made better: a rectangle less, a shorter one
    separate moves shapes on a lattice until none overlap; depth says how deep they do
    compact  moves shapes exactly, by linear programs over their convex parts
    rules    what the maker's settings ask of layouts
    shapes   what a piece covers, and where it fits
    together which pieces go on one mat
    proof    overlaps: a look at a layout apart from whatever made it
    part     butt_lines: seams that part pieces larger than a mat
    mats     nest_mats: every piece of foam on a mat of its stock
    paper    sizes of paper, and the part of a page that is drawn in
    pages    pack_pages: every template once on paper, large ones in tiles
    rows     beside, squared: every piece flat and upright in rows, to be looked at
"""

from .mats import NESTING, nest_mats
from .pages import pack_pages
from .paper import MITRE, PAPERS, ROLL, paper_name, paper_size, printable, tile_window
from .part import butt_lines, parted
from .proof import foam_of, overlaps
from .rows import beside, squared
from .rules import longest

__all__ = ["MITRE", "NESTING", "PAPERS", "ROLL", "beside", "butt_lines", "foam_of", "longest",
           "nest_mats", "overlaps", "pack_pages", "paper_name", "paper_size", "parted",
           "printable", "squared", "tile_window"]
