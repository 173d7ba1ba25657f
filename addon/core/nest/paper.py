"""Paper: its sizes, the part of a page that is drawn in, and which part of it is a tile's own."""

from __future__ import annotations

import math

from ..errors import ERROR, Finding, FoamError
from ..model import Settings, Sheet
from ..units import format_length

PAPERS = {  # mm, upright: ISO 216, and ANSI/ASME Y14.1 A (Letter) and B (Tabloid)
    "A4": (210.0, 297.0), "A3": (297.0, 420.0), "A2": (420.0, 594.0), "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0), "Letter": (215.9, 279.4), "Tabloid": (279.4, 431.8),
}
ROLL = "Roll"  # paper of a given width, off which every page is cut as long as it needs to be
LONGEST = 5000.0  # mm of a page off a roll; no PDF page may exceed 200 in (ISO 32000-1, annex C)
MITRE = 2.0  # the line of an allowance goes this many times as far out at sharp corners, no more
WIDE = 120.0  # least width in mm, which takes a check square of 4 in and a ruler beside it
FOOT = 14.0  # least height kept free at the lower edge, for the line that names the page


def on_roll(settings: Settings) -> bool:
    """Whether the paper comes off a roll."""
    return settings.paper.strip().lower() == ROLL.lower()


def paper_size(settings: Settings) -> tuple[float, float]:
    """Width and height of the paper, upright; of a roll, those of a page of words.

    Raises FoamError `unknown-paper`.
    """
    if on_roll(settings):
        return settings.roll, max(settings.roll / math.sqrt(2), PAPERS["A4"][1])
    for name, size in PAPERS.items():
        if name.lower() == settings.paper.strip().lower():
            return size
    raise FoamError(Finding(
        "unknown-paper", ERROR, f"“{settings.paper}” is not a paper size we know.",
        f"Choose one of {', '.join((*PAPERS, ROLL))}."))


def paper_name(settings: Settings) -> str:
    """What the paper is called in a sentence."""
    if on_roll(settings):
        return f"paper {format_length(settings.roll, settings.unit)} wide off a roll"
    return settings.paper


def printable(settings: Settings, size: tuple[float, float] | None = None,
              ) -> tuple[float, float, float, float]:
    """The window (x0, y0, x1, y1) of a page that templates are drawn in. size: of the page,
    where it is not that of the paper.

    Raises FoamError `page-too-small` where margins and overlap leave no room.
    """
    w, h = size or paper_size(settings)
    window = (settings.margin, max(settings.margin, FOOT), w - settings.margin, h - settings.margin)
    wide, high = window[2] - window[0], window[3] - window[1]
    if size and on_roll(settings):  # its page may be as short as a template
        high = math.inf
    if not (wide >= max(2 * settings.overlap, WIDE) and high >= max(2 * settings.overlap, 50.0)):
        raise FoamError(Finding(
            "page-too-small", ERROR,
            f"A margin of {format_length(settings.margin, settings.unit)} and an overlap of "
            f"{format_length(settings.overlap, settings.unit)} leave no room on "
            f"{paper_name(settings)}.",
            f"Make both smaller, or choose larger paper: {format_length(WIDE, settings.unit)} must "
            "be free across."))
    return window


def tile_window(sheet: Sheet, settings: Settings) -> tuple[float, float, float, float]:
    """The part (x0, y0, x1, y1) of a tile's page that no other tile is responsible for.

    Neighbouring tiles meet on these lines, which run down the middle of the
    overlap; where there is no neighbour the part reaches to the window's rim.
    """
    _, row, column, rows, columns = sheet.tile
    x0, y0, x1, y1 = printable(settings, sheet.size)
    half = settings.overlap / 2
    return (x0 + half * (column > 1), y0 + half * (row < rows),
            x1 - half * (column < columns), y1 - half * (row > 1))
