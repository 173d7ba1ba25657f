"""Every template once on paper: small ones packed together, large ones in tiles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np

from ..errors import ERROR, Finding, FoamError
from ..model import Piece, Placement, Settings, Sheet
from ..units import format_length
from .proof import proved
from .raster import pack
from .shapes import fitting_angle, footprint, good_angles, turned_extents

PAPERS = {  # mm, upright: ISO 216, and ANSI/ASME Y14.1 A (Letter) and B (Tabloid)
    "A4": (210.0, 297.0), "A3": (297.0, 420.0), "A2": (420.0, 594.0), "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0), "Letter": (215.9, 279.4), "Tabloid": (279.4, 431.8),
}
GAP = 5.0  # between templates on a page, for the scissors
FOOT = 14.0  # least height kept free at the lower edge, for the line that names the page
LINE = 1.0  # a tile counts as empty when nothing of the piece comes this near
TILE_ANGLES = np.radians(np.arange(0.0, 180.0, 5.0))


def paper_size(settings: Settings) -> tuple[float, float]:
    """Width and height of the paper, upright. Raises FoamError `unknown-paper`."""
    for name, size in PAPERS.items():
        if name.lower() == settings.paper.strip().lower():
            return size
    raise FoamError(Finding(
        "unknown-paper", ERROR, f"“{settings.paper}” is not a paper size we know.",
        f"Choose one of {', '.join(PAPERS)}."))


def printable(settings: Settings) -> tuple[float, float, float, float]:
    """The window (x0, y0, x1, y1) of a page that templates are drawn in.

    Raises FoamError `page-too-small` where margins and overlap leave no room.
    """
    w, h = paper_size(settings)
    window = (settings.margin, max(settings.margin, FOOT), w - settings.margin, h - settings.margin)
    least = min(window[2] - window[0], window[3] - window[1])
    if not least >= max(2 * settings.overlap, 50.0):
        raise FoamError(Finding(
            "page-too-small", ERROR,
            f"A margin of {format_length(settings.margin, settings.unit)} and an overlap of "
            f"{format_length(settings.overlap, settings.unit)} leave no room on "
            f"{settings.paper}.", "Make both smaller, or choose larger paper."))
    return window


def pack_pages(pieces: Iterable[Piece],
               settings: Settings) -> tuple[tuple[Sheet, ...], tuple[Finding, ...]]:
    """Lay every template on pages of `settings.paper`, upright.

    A template that fits a page at any turn is never split; those are packed
    together. Larger ones follow, each in tiles that overlap by
    `settings.overlap`, at the turn that needs the fewest; tiles that show nothing
    are left out. Sheet.tile is (code, row, column, rows, columns), counted from 1
    at the top left. Pages are named "page 1" and so on, in order; those that are packed
    are looked at again without the packer (`proved`).
    """
    window = printable(settings)
    room = np.array([window[2] - window[0], window[3] - window[1]])
    templates = [p for p in pieces if p.template in ("", p.code) and p.copies + p.mirrored]
    small, large = [], []
    for piece in templates:
        fits = fitting_angle(footprint(piece), room)
        (large if fits is None else small).append(piece)

    pages: list[tuple[tuple[Placement, ...], tuple | None]] = []
    pages += [(page, None) for page in _packed(small, room, window, settings)]
    for piece in large:
        pages += _tiles(piece, room, window, settings.overlap)
    size = paper_size(settings)
    sheets = tuple(Sheet("page", f"page {n}", size, placements, None, tile)
                   for n, (placements, tile) in enumerate(pages, 1))
    whole = [sheet for sheet in sheets if not sheet.tile]
    rim = min(window[0], window[1])
    return sheets, tuple(proved(whole, templates, GAP, rim, Counter(p.code for p in small)))


def _packed(pieces: list[Piece], room, window, settings: Settings) -> list[tuple[Placement, ...]]:
    shapes = [footprint(piece) for piece in pieces]
    angles = [[*good_angles(s), fitting_angle(s, room)] for s in shapes]
    # Half the gap is kept to the window's rim as well; the margin is free enough without it.
    frame = tuple(room + GAP)
    full = max(1.0, sum(s.area for s in shapes) / np.prod(frame))  # pages, were there no waste
    spots = pack(frame, GAP, shapes, angles, settings.nest_seconds / full, settings.seed)
    pages: dict[int, list[Placement]] = {}
    for piece, spot in zip(pieces, spots, strict=True):
        offset = np.array(spot.offset) - GAP / 2 + window[:2]
        pages.setdefault(spot.bin, []).append(Placement(piece.code, spot.angle, offset))
    return [tuple(page) for page in pages.values()]  # pages follow the order of the pieces


def tile_window(tile: tuple, settings: Settings) -> tuple[float, float, float, float]:
    """The part (x0, y0, x1, y1) of a tile's page that no other tile is responsible for.

    Neighbouring tiles meet on these lines, which run down the middle of the
    overlap; where there is no neighbour the part reaches to the window's rim.
    """
    _, row, column, rows, columns = tile
    x0, y0, x1, y1 = printable(settings)
    half = settings.overlap / 2
    return (x0 + half * (column > 1), y0 + half * (row < rows),
            x1 - half * (column < columns), y1 - half * (row > 1))


def _tiles(piece: Piece, room: np.ndarray, window, overlap: float):
    """The pages of one large piece, row by row from the top left."""
    best = None
    shape = footprint(piece)
    step = room - overlap
    for angle in dict.fromkeys([*good_angles(shape)[:8], *TILE_ANGLES]):
        extent = turned_extents(shape, np.array([angle]))[0] + 2 * LINE
        counts = np.maximum(np.ceil((extent - overlap) / step - 1e-9), 1).astype(int)
        for corner, shown in _grids(shape, angle, extent, counts, room, step, overlap):
            square = min(angle % (np.pi / 2), -angle % (np.pi / 2)) < 1e-9
            key = (len(shown), not square, int(np.prod(counts)))
            if best is None or key < best[0]:
                best = (key, angle, counts, corner, shown)
    _, angle, (columns, rows), corner, shown = best
    pages = []
    for row, column in sorted(shown):
        offset = np.array(window[:2]) - corner - np.array([column - 1, rows - row]) * step
        placement = Placement(piece.code, float(angle), offset)
        pages.append(((placement,), (piece.code, row, column, int(rows), int(columns))))
    return pages


def _grids(shape, angle, extent, counts, room, step, overlap):
    """Ways to lay the grid of tiles over the turned shape: its lower left corner and the tiles
    (row, column) that show something."""
    import shapely
    from shapely import affinity

    turned = affinity.rotate(shape, angle, origin=(0, 0), use_radians=True)
    low = np.array(turned.bounds[:2]) - LINE
    slack = (counts - 1) * step + room - extent
    grown = turned.buffer(LINE, quad_segs=2)
    shapely.prepare(grown)
    columns, rows = counts
    column, row = (g.ravel() for g in np.meshgrid(np.arange(columns), np.arange(rows)))
    for fx in (0.5, 0.0, 1.0, 0.25, 0.75):
        for fy in (0.5, 0.0, 1.0, 0.25, 0.75):
            corner = low - slack * (fx, fy)
            x0 = corner[0] + column * step[0] + np.where(column > 0, overlap / 2, 0)
            y0 = corner[1] + row * step[1] + np.where(row > 0, overlap / 2, 0)
            x1 = corner[0] + column * step[0] + room[0] - np.where(
                column < columns - 1, overlap / 2, 0)
            y1 = corner[1] + row * step[1] + room[1] - np.where(row < rows - 1, overlap / 2, 0)
            seen = shapely.intersects(grown, shapely.box(x0, y0, x1, y1))
            yield corner, [(int(rows - r), int(c + 1)) for c, r in
                           zip(column[seen], row[seen], strict=True)]
