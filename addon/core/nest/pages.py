"""Every template once on paper: small ones packed together, large ones in tiles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import numpy as np

from ..errors import Finding
from ..model import Piece, Placement, Settings, Sheet
from .pack import pack
from .paper import LONGEST, MITRE, on_roll, paper_size, printable
from .proof import proved
from .shapes import fitting_angle, footprint, good_angles, turned_extents

GAP = 5.0  # between templates on a page, for the scissors
LINE = 1.0  # a tile counts as empty when nothing of the piece comes this near
TILE_ANGLES = np.radians(np.arange(0.0, 180.0, 5.0))


def pack_pages(pieces: Iterable[Piece],
               settings: Settings) -> tuple[tuple[Sheet, ...], tuple[Finding, ...]]:
    """Lay every template on pages of `settings.paper`, upright.

    Where the settings ask for an allowance a template is that much larger all round.
    Pages off a roll are as long as what lies on them. A template that fits a page at
    any turn is never split; those are packed together. Larger ones follow, each in tiles
    that overlap by `settings.overlap`, at the turn that needs the fewest; tiles that show
    nothing are left out. Sheet.tile is (code, row, column, rows, columns), counted from 1
    at the top left. Pages are named "page 1" and so on, in order; those that are packed
    are looked at again without the packer (`proved`).
    """
    window = printable(settings)
    if on_roll(settings):
        window = printable(settings, (settings.roll, LONGEST))
    room = np.array([window[2] - window[0], window[3] - window[1]])
    templates = [p for p in pieces if p.template in ("", p.code) and p.copies + p.mirrored]
    shapes = {p.code: _shape(p, settings) for p in templates}
    small, large = [], []
    for piece in templates:
        fits = fitting_angle(shapes[piece.code], room)
        (large if fits is None else small).append(piece)

    packed = _off_roll if on_roll(settings) else _packed
    pages: list[tuple[tuple[Placement, ...], tuple | None, tuple[float, float]]] = [
        (page, None, size) for page, size in packed(small, shapes, room, window, settings)]
    for piece in large:
        pages += _tiles(piece.code, shapes[piece.code], room, window, settings)
    sheets = tuple(Sheet("page", f"page {n}", size, placements, None, tile)
                   for n, (placements, tile, size) in enumerate(pages, 1))
    whole = [sheet for sheet in sheets if not sheet.tile]
    rim = min(window[0], window[1])
    return sheets, tuple(proved(whole, templates, GAP, rim, Counter(p.code for p in small)))


def _shape(piece: Piece, settings: Settings):
    """The paper a template takes."""
    shape = footprint(piece)
    if settings.allowance > 0 and not piece.gauge_of:
        shape = shape.buffer(settings.allowance, join_style="mitre", mitre_limit=MITRE)
    return shape


_Page = tuple[tuple[Placement, ...], tuple[float, float]]


def _packed(pieces: list[Piece], shapes: dict, room, window, settings: Settings) -> list[_Page]:
    """Placements and size of each page."""
    outlines = [shapes[piece.code] for piece in pieces]
    angles = [[*good_angles(s), fitting_angle(s, room)] for s in outlines]
    # Half the gap is kept to the window's rim as well; the margin is free enough without it.
    frame = tuple(room + GAP)
    full = max(1.0, sum(s.area for s in outlines) / np.prod(frame))  # pages, were there no waste
    spots = pack(frame, GAP, outlines, angles, settings.nest_seconds / full, settings.seed)
    pages: dict[int, list[Placement]] = {}
    for piece, spot in zip(pieces, spots, strict=True):
        offset = np.array(spot.offset) - GAP / 2 + window[:2]
        pages.setdefault(spot.bin, []).append(Placement(piece.code, spot.angle, offset))
    size = paper_size(settings)
    return [(tuple(page), size) for page in pages.values()]  # in the order of the pieces


def _off_roll(pieces: list[Piece], shapes: dict, room, window, settings: Settings) -> list[_Page]:
    """Placements and size of each page off a roll.

    The packer fills a rectangle from its left: that end is the top of the page, which is cut
    off below the lowest template.
    """
    if not pieces:
        return []
    outlines = [shapes[piece.code] for piece in pieces]
    quarter = np.pi / 2
    lying = (room[1], room[0])
    angles = [[*good_angles(s), fitting_angle(s, room) + quarter] for s in outlines]
    least = max(float(turned_extents(s, np.array(a[-1:]))[0][0])
                for s, a in zip(outlines, angles, strict=True))
    guess = 1.7 * sum(s.area for s in outlines) / room[0] + 0.5 * least
    length = min(max(guess, least) + GAP, lying[0] + GAP)
    spots = pack((length, lying[1] + GAP), GAP, outlines, angles, settings.nest_seconds,
                 settings.seed)
    pages: dict[int, list[tuple[Piece, float, np.ndarray]]] = {}
    for piece, spot in zip(pieces, spots, strict=True):
        x, y = spot.offset
        pages.setdefault(spot.bin, []).append((piece, spot.angle - quarter, np.array((y, -x))))
    found = []
    for page in pages.values():
        boxes = [_bounds(shapes[piece.code], angle) for piece, angle, _ in page]
        low = min(box[1] + offset[1] for box, (_, _, offset) in zip(boxes, page, strict=True))
        high = max(box[3] + offset[1] for box, (_, _, offset) in zip(boxes, page, strict=True))
        shift = np.array((window[0] - GAP / 2, window[1] - low))
        size = settings.roll, float(window[1] + high - low + settings.margin)
        found.append((tuple(Placement(piece.code, angle, offset + shift)
                            for piece, angle, offset in page), size))
    return found


def _bounds(shape, angle: float) -> tuple[float, float, float, float]:
    """Bounds of a shape after a turn about the origin."""
    from shapely import affinity

    return affinity.rotate(shape, angle, origin=(0, 0), use_radians=True).bounds


def _tiles(code: str, shape, room: np.ndarray, window, settings: Settings):
    """The pages of one large piece, row by row from the top left."""
    best, overlap, roll = None, settings.overlap, on_roll(settings)
    for angle in dict.fromkeys([*good_angles(shape)[:8], *TILE_ANGLES]):
        extent = turned_extents(shape, np.array([angle]))[0] + 2 * LINE
        page = np.array((room[0], min(extent[1], room[1]))) if roll else room
        counts = np.maximum(np.ceil((extent - overlap) / (page - overlap) - 1e-9), 1).astype(int)
        for corner, shown in _grids(shape, angle, extent, counts, page, overlap):
            square = min(angle % (np.pi / 2), -angle % (np.pi / 2)) < 1e-9
            key = (len(shown), not square, int(np.prod(counts)))
            if best is None or key < best[0]:
                best = (key, angle, counts, corner, shown, page)
    _, angle, (columns, rows), corner, shown, page = best
    step, pages = page - overlap, []
    size = (settings.roll, float(window[1] + page[1] + settings.margin)) if roll \
        else paper_size(settings)
    for row, column in sorted(shown):
        offset = np.array(window[:2]) - corner - np.array([column - 1, rows - row]) * step
        pages.append(((Placement(code, float(angle), offset),),
                      (code, row, column, int(rows), int(columns)), size))
    return pages


def _grids(shape, angle, extent, counts, room, overlap):
    """Ways to lay the grid of tiles over the turned shape: its lower left corner and the tiles
    (row, column) that show something."""
    import shapely
    from shapely import affinity

    step = room - overlap
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
