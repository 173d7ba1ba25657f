"""The pages of templates: a line that names each page, and on tiles the marks to join them by."""

from __future__ import annotations

import math

from ..core.model import Pattern, Sheet
from ..core.nest import printable, tile_window
from .fonts import text_width
from .strokes import MIN_SIZE, Drawing, Stroke, Text

BAR = 50.0  # length of the small scale at the foot of every page, mm
BASE = 5.2  # baseline of the foot line above the paper's edge: most printers reach it
_ARM = 4.0  # half the size of a register cross
_INSET = 14.0  # of register crosses from the window's rim, along the line they lie on


def row_name(row: int) -> str:
    """A, B, ... Z, AA, AB for rows 1, 2, ... from the top."""
    name = ""
    while row:
        row, rest = divmod(row - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def tile_name(tile: tuple) -> str:
    """Such as "row A, column 2"."""
    return f"row {row_name(tile[1])}, column {tile[2]}"


def tile_sheets(pattern: Pattern, code: str) -> list[Sheet]:
    """The pages of one tiled piece, in order."""
    return [s for s in pattern.pages if s.tile and s.tile[0] == code]


def page_marks(sheet: Sheet, pattern: Pattern) -> Drawing:
    """All that is printed on a page besides the templates."""
    tile = _tile_marks(sheet, pattern) if sheet.tile else Drawing()
    return foot(sheet, pattern) + tile


def foot(sheet: Sheet, pattern: Pattern) -> Drawing:
    """Title, page, stock and scale at the left, a bar of 50 mm to measure at the right."""
    x0, _, x1, _ = printable(pattern.settings, sheet.size)
    stocks = dict.fromkeys(pattern.piece(p.piece).stock.name for p in sheet.placements)
    scale = "scale 1:1"
    if pattern.settings.mock_up:
        scale = f"MOCK-UP at {pattern.settings.mock_up} scale: cut no foam from it"
    if sheet.back:
        forms = [f"{sheet.name}  ·  {scale}  ·  lay on the back, print up"]
    else:
        page = f"{sheet.name} of {len(pattern.pages)}  ·  {scale}"
        forms = [f"{page}  ·  {', '.join(stocks)}", f"{page}  ·  {len(stocks)} stocks, see labels"]
        forms = forms if len(stocks) > 1 else forms[:1]
    if sheet.tile:
        forms = [f"{sheet.tile[0]}  ·  {words}" for words in forms]
    bar, label = x1 - BAR, f"{BAR:g} mm"
    room, bold = bar - x0 - text_width(label, MIN_SIZE) - 6.0, bool(pattern.settings.mock_up)
    # Stocks are counted rather than cut short, where they have no room beside the title.
    words = next((words for words in forms if text_width(
        f"{pattern.settings.title}  ·  {words}", MIN_SIZE, bold) <= room), forms[-1])
    title = shortened(pattern.settings.title, room - text_width(f"  ·  {words}", MIN_SIZE, bold),
                      MIN_SIZE, bold)
    if len(title) < min(len(pattern.settings.title), 8):
        title = ""  # a stump of a title says nothing
    words = shortened(f"{title}  ·  {words}" if title else words, room, MIN_SIZE, bold)
    middle = BASE + 1.2
    return Drawing(
        (Stroke("arrow", [(bar, middle), (x1, middle)]),
         *(Stroke("arrow", [(x, middle - 1.5), (x, middle + 1.5)]) for x in (bar, x1))),
        (Text("text", words, (x0, BASE), anchor="start", bold=bold),
         Text("text", label, (bar - 1.5, BASE), anchor="end")))


def shortened(words: str, width: float, size: float = MIN_SIZE, bold: bool = False) -> str:
    """The words, cut with an ellipsis to no more than width mm; "" where not even that fits."""
    if text_width(words, size, bold) <= width:
        return words
    while words and text_width(words.rstrip() + "…", size, bold) > width:
        words = words[:-1]
    return words.rstrip() + "…" if words else ""


def _tile_marks(sheet: Sheet, pattern: Pattern) -> Drawing:
    """Dashed lines where pages meet, crosses that fall on each other, and the pages' names."""
    code, row, column, _, _ = sheet.tile
    tiles = tile_sheets(pattern, code)
    by_place = {s.tile[1:3]: s for s in tiles}
    x0, y0, x1, y1 = printable(pattern.settings, sheet.size)
    mx0, my0, mx1, my1 = tile_window(sheet, pattern.settings)
    inside = pattern.settings.margin < 8.0  # no room in the margin: write on the template
    out = -MIN_SIZE * 0.7 - 0.8 if inside else 1.4
    low = 1.0 if inside else -MIN_SIZE * 0.7 - 0.8
    number = tiles.index(sheet) + 1
    strokes, texts = [], [Text(
        "text", f"{code}  ·  {number}/{len(tiles)}  ·  {tile_name(sheet.tile)}",
        (x0, y1 + out), anchor="start", bold=True)]
    # Neighbour, the line where it meets this page, and where its name stands.
    sides = (
        ((row, column - 1), ((mx0, y0), (mx0, y1)), ((x0 - out, (y0 + y1) / 2), 90)),
        ((row, column + 1), ((mx1, y0), (mx1, y1)), ((x1 + out, (y0 + y1) / 2), -90)),
        ((row - 1, column), ((x0, my1), (x1, my1)), (((x0 + x1) / 2, y1 + out), 0)),
        ((row + 1, column), ((x0, my0), (x1, my0)), (((x0 + x1) / 2, y0 + low), 0)),
    )
    for place, line, (point, degrees) in sides:
        if place not in by_place:
            continue
        strokes.append(Stroke("guide", line))
        strokes += _crosses(line)
        other = by_place[place]
        texts.append(Text("text", f"joins {other.name}, {tile_name(other.tile)}", point,
                          angle=math.radians(degrees)))
    return Drawing(tuple(strokes), tuple(texts))


def _crosses(line) -> list[Stroke]:
    """Two crosses near the ends of a line, where the neighbouring page has them too."""
    (ax, ay), (bx, by) = line
    strokes = []
    for x, y in (((ax, ay + _INSET), (bx, by - _INSET)) if ax == bx else
                 ((ax + _INSET, ay), (bx - _INSET, by))):
        strokes += [Stroke("notch", [(x - _ARM, y), (x + _ARM, y)]),
                    Stroke("notch", [(x, y - _ARM), (x, y + _ARM)])]
    return strokes

