"""What is drawn for a piece and for a sheet: the one description SVG, DXF and PDF share.

Words are set after the lines are placed, so they read from the sheet's bottom
edge however a piece is turned or mirrored, and never cross a line.
"""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon

from ..core.model import Pattern, Piece, Placement, Sheet
from ..core.nest import MITRE
from ..core.units import format_length
from .fonts import legible
from .joints import Joints
from .labels import CLEAR, Space
from .leaders import OUTSIDE
from .legend import legend
from .position import Positions
from .strokes import LAYERS, MIN_SIZE, STYLE, Drawing, Stroke, Text, combined
from .template import Template, allowance

__all__ = ["LAYERS", "MIN_SIZE", "STYLE", "Drawing", "Stroke", "Text", "combined",
           "draw_piece", "draw_placed", "draw_sheet", "frame", "legend"]

TITLE = 8.0  # height of the strip above a mat that carries its title, mm


def draw_piece(piece: Piece, pattern: Pattern, placement: Placement | None = None) -> Drawing:
    """The template of a piece, 1:1, seen from the front; placed as `placement` says."""
    job = Template(piece, pattern, placement)
    return job.drawn(Space(_around([job.body])))


def draw_placed(sheet: Sheet, pattern: Pattern, kerf: bool = False,
                positions: Positions | None = None) -> list[Drawing]:
    """One drawing for each placement of a sheet, in sheet coordinates.

    A placement may name a piece or its template: the template's lines are drawn,
    under the code that is named. kerf: move the cut lines by half the stock's
    kerf into the waste, so that what is cut comes out at true size. positions: draw a
    small picture of where each piece is worn.
    """
    joints = Joints(sheet, pattern) if sheet.tile else None
    jobs = [Template(pattern.piece(p.piece), pattern, p, sheet, kerf, joints, positions)
            for p in sheet.placements]
    waste = _waste(sheet, pattern, [job.body for job in jobs])
    outside = Space(joints.clear(waste) if joints else waste)
    return [job.drawn(outside) for job in jobs]


def draw_sheet(sheet: Sheet, pattern: Pattern, kerf: bool = False,
               positions: Positions | None = None) -> Drawing:
    """Every piece on a sheet; on a mat also its outline and title (see `frame`)."""
    return combined([*draw_placed(sheet, pattern, kerf, positions), frame(sheet, pattern)])


def frame(sheet: Sheet, pattern: Pattern) -> Drawing:
    """The outline of a mat or an offcut, and its title in a strip of TITLE mm above it; none of a
    page."""
    if sheet.kind != "mat":
        return Drawing()
    (w, h), unit = sheet.size, pattern.settings.unit
    size = f"{format_length(w, unit)} × {format_length(h, unit)}"
    scale = "cut no foam from it" if pattern.settings.mock_up else "scale 1:1"
    kerf = sheet.stock.kerf if sheet.stock else 0.0
    cut = [f"cut lines moved outward by half a kerf of {format_length(kerf, unit)}"] * (kerf > 0)
    words = legible(" · ".join((pattern.settings.title, sheet.name, size, scale, *cut)))
    rings = sheet.outline or (((0, 0), (w, 0), (w, h), (0, h)),)
    return Drawing(tuple(Stroke("guide", ring, closed=True) for ring in rings),
                   (Text("text", words, (2.0, h + 2.5), 5.0, anchor="start"),))


def _waste(sheet: Sheet, pattern: Pattern, bodies: list[Polygon]) -> shapely.Geometry:
    """Where words may stand between the pieces of a sheet."""
    room = allowance(sheet, pattern)
    if sheet.tile:  # the words of a tiled piece must agree from page to page
        return _around(bodies, room)
    inset = pattern.settings.margin if sheet.kind == "page" else 2.0
    page = shapely.box(inset, inset, sheet.size[0] - inset, sheet.size[1] - inset)
    return page.difference(_kept_clear(bodies, room))


def _around(bodies: list[Polygon], room: float = 0.0) -> shapely.Geometry:
    everything = shapely.union_all(bodies).buffer(OUTSIDE).bounds
    return shapely.box(*everything).difference(_kept_clear(bodies, room))


def _kept_clear(bodies: list[Polygon], room: float) -> shapely.Geometry:
    """Pieces with an allowance of `room` mm and their holes filled: words about a piece do not
    stand in its holes."""
    whole = [Polygon(body.exterior) for body in bodies]
    if room:
        whole = [w.buffer(room, join_style="mitre", mitre_limit=MITRE) for w in whole]
    return shapely.union_all([w.buffer(CLEAR) for w in whole])
