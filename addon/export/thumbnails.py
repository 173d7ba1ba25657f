"""Small pictures of the pages: which template is where."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..core.model import Pattern, Sheet
from ..core.nest import printable, tile_window
from .blocks import Block, heading, paragraph
from .flow import wrapped
from .fonts import cap_height, text_width
from .labels import ASCENT
from .pages import tile_sheets
from .strokes import MIN_SIZE, Drawing, Stroke, Text, combined

WIDTH = 33.0  # of a page's picture, mm
TALL = 120.0  # at most, of a page's or a joined sheet's, mm
GAP = 6.0
_LINE = MIN_SIZE * 1.3


def page_map(pattern: Pattern, width: float) -> list[Block]:
    """The pages that carry whole templates in rows, then each large template with its tiles."""
    blocks = [heading("Where each template is", width)]
    packed = [s for s in pattern.pages if not s.tile]
    blocks += _rows([_page(sheet, pattern) for sheet in packed], width)
    tiled = list(dict.fromkeys(s.tile[0] for s in pattern.pages if s.tile))
    if tiled:
        blocks.append(paragraph(
            "These templates are larger than a page. Join their pages as drawn; page numbers "
            "stand in the parts.", width, keep=True))
        # Low ones first: a row is as high as its highest picture.
        tiled.sort(key=lambda code: tile_sheets(pattern, code)[0].tile[3])
        blocks += _rows([_tiled(code, pattern) for code in tiled], width)
    if blocks[-1].keep:
        blocks.append(paragraph("There are no pages of templates.", width))
    return blocks


def _rows(pictures: list[tuple[Block, float]], width: float) -> list[Block]:
    """Pictures, each with its width, side by side as far as they go."""
    rows, row, x = [], [], 0.0
    for block, wide in pictures:
        if row and x + wide > width + 1e-6:
            rows.append(row)
            row, x = [], 0.0
        row.append((block, x))
        x += wide + GAP
    rows += [row] if row else []
    return [Block(combined(b.drawing.moved((at, 0.0)) for b, at in row),
                  max(b.height for b, _ in row), 5.0) for row in rows]


def _page(sheet: Sheet, pattern: Pattern) -> tuple[Block, float]:
    """One page with the outlines on it and the codes below."""
    w, h = sheet.size
    scale = min(WIDTH / w, TALL / h)
    strokes = [_frame(w * scale, h * scale)]
    texts = []
    for placement in sheet.placements:
        rings = [placement.apply(r) * scale for r in pattern.piece(placement.piece).cut]
        strokes += [_outline(ring) for ring in rings]
        texts += _inside(placement.piece, rings)
    drawing = Drawing(tuple(strokes), tuple(texts)).moved((0.0, -h * scale))
    return _captioned(drawing, h * scale, sheet.name,
                      ", ".join(p.piece for p in sheet.placements), WIDTH)


def _tiled(code: str, pattern: Pattern) -> tuple[Block, float]:
    """A large template on its joined pages."""
    tiles = tile_sheets(pattern, code)
    _, _, _, rows, columns = tiles[0].tile
    x0, y0, x1, y1 = printable(pattern.settings, tiles[0].size)
    step = np.array([x1 - x0, y1 - y0]) - pattern.settings.overlap
    size = step * (columns, rows) + pattern.settings.overlap
    scale = min(0.75 * WIDTH / (x1 - x0), 170.0 / size[0], TALL / size[1])
    corners = [np.array([s.tile[2] - 1, rows - s.tile[1]]) * step - (x0, y0) for s in tiles]
    rings = [(tiles[0].placements[0].apply(ring) + corners[0]) * scale
             for ring in pattern.piece(code).cut]
    strokes, texts = [_outline(ring) for ring in rings], []
    drawn = shapely.MultiLineString([[*ring, ring[0]] for ring in rings])
    for sheet, corner in zip(tiles, corners, strict=True):
        low, high = np.array(tile_window(sheet, pattern.settings)).reshape(2, 2)
        a, b = (low + corner) * scale, (high + corner) * scale
        strokes.append(Stroke("text", [a, (b[0], a[1]), b, (a[0], b[1])], closed=True))
        texts.append(_number(sheet.name.removeprefix("page "), a, b, drawn))
    wide, tall = size * scale
    drawing = Drawing(tuple(strokes), tuple(texts)).moved((0.0, -tall))
    words = f"{tiles[0].name}" + (f" to {tiles[-1].name}" if len(tiles) > 1 else "")
    return _captioned(drawing, tall, code, words, max(wide, WIDTH))


def _number(words: str, low: np.ndarray, high: np.ndarray, lines) -> Text:
    """A page's number in its part (low, high) of a joined sheet, off the lines if it can be."""
    half = np.array([text_width(words, MIN_SIZE, True), cap_height(MIN_SIZE)]) / 2
    inner = (low + half + 1.2, high - half - 1.2)
    spots = [np.array([inner[i][0], inner[j][1]]) for j in (1, 0) for i in (0, 1)]
    spots.append((low + high) / 2)
    spot = max(spots, key=lambda s: min(
        lines.distance(shapely.box(*(s - half), *(s + half))), 0.8))
    return Text("text", words, (spot[0], spot[1] - half[1]), bold=True)


def _captioned(drawing: Drawing, tall: float, name: str, words: str, wide: float):
    """A picture with a bold name and a line or more of words below it."""
    lines = wrapped(words, wide)
    texts = [Text("text", name, (0.0, -tall - 4.2), anchor="start", bold=True)]
    texts += [Text("text", line, (0.0, -tall - 4.2 - _LINE * (n + 1)), anchor="start")
              for n, line in enumerate(lines)]
    below = 4.2 + _LINE * len(lines) + MIN_SIZE * (1 - ASCENT) + 0.5
    return Block(drawing + Drawing((), tuple(texts)), tall + below), wide


def _frame(w: float, h: float) -> Stroke:
    return Stroke("text", [(0, 0), (w, 0), (w, h), (0, h)], closed=True)


def _outline(ring: np.ndarray) -> Stroke:
    """A ring as a thin line, without points that a small picture cannot show."""
    thin = Polygon(ring).simplify(0.05).exterior
    return Stroke("arrow", shapely.get_coordinates(thin)[:-1], closed=True)


def _inside(code: str, rings: list[np.ndarray]) -> list[Text]:
    """The code inside a small outline, where it has room; it stands below the picture anyway."""
    body = Polygon(rings[0], rings[1:])
    half = text_width(code, MIN_SIZE) / 2 + 0.6
    caps = cap_height(MIN_SIZE)
    for spot in (body.centroid, body.representative_point()):
        box = shapely.box(spot.x - half, spot.y - caps / 2 - 0.6,
                          spot.x + half, spot.y + caps / 2 + 0.6)
        if body.contains(box):
            return [Text("text", code, (spot.x, spot.y - caps / 2))]
    return []
