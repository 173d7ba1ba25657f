"""Whether a layout is sound, looked at apart from whatever made it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ..errors import ERROR, Finding
from ..model import Piece, Sheet
from .shapes import placed

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

NEAR = 1e-6  # mm, and mm2 of overlap: what rounding may do


def foam_of(sheet: Sheet) -> BaseGeometry:
    """The whole of a sheet, or of the offcut that it is."""
    from shapely import Polygon, box

    return (Polygon(sheet.outline[0], sheet.outline[1:]) if sheet.outline
            else box(0, 0, *sheet.size))


def overlaps(sheet: Sheet, pieces: Iterable[Piece], gap: float = 0.0,
             rim: float = 0.0) -> list[tuple[str, str]]:
    """What is wrong with a layout, found without the packer: pairs of codes that lie nearer
    than the gap (0: that overlap), and (code, "") for a piece that leaves the sheet or comes
    nearer to its rim than `rim`, mm.

    A page that shows one tile of a piece is never wrong.
    """
    from shapely.strtree import STRtree

    if sheet.tile:
        return []
    known = {piece.code: piece for piece in pieces}
    by_code = {code: known.get(piece.template, piece) for code, piece in known.items()}
    codes = [p.piece for p in sheet.placements]
    shapes = [placed(p, by_code[p.piece]) for p in sheet.placements]
    foam = foam_of(sheet)
    allowed, edge = foam.buffer(NEAR), foam.boundary
    wrong = [(code, "") for code, shape in zip(codes, shapes, strict=True)
             if not allowed.covers(shape) or shape.distance(edge) < rim - NEAR]
    grown = [shape.buffer(gap) if gap else shape for shape in shapes]
    for i, j in STRtree(shapes).query(grown, predicate="intersects").T:
        if i < j and (shapes[i].distance(shapes[j]) < gap - NEAR
                      or shapes[i].intersection(shapes[j]).area > NEAR):
            wrong.append((codes[i], codes[j]))
    return wrong


def proved(sheets: Sequence[Sheet], pieces: Sequence[Piece], gap: float, rim: float,
           wanted: Counter[str]) -> list[Finding]:
    """What is wrong with the sheets of one stock: pieces too near to each other or to a rim, and
    pieces that do not lie as often as wanted (code -> number).

    There is nothing unless the packer has a fault, which must not reach the foam.
    """
    wrong = []
    for sheet in sheets:
        for one, other in overlaps(sheet, pieces, gap, rim):
            wrong.append((one, f"On {sheet.name} {one} and {other} lie on each other or too close "
                               "together." if other else
                               f"On {sheet.name} {one} lies too close to the rim."))
    laid = Counter(p.piece for sheet in sheets for p in sheet.placements)
    wrong += [(code, f"{code} lies {laid[code]} times on the sheets and is needed "
                     f"{wanted[code]} times.")
              for code in sorted(laid | wanted) if laid[code] != wanted[code]]
    return [Finding("bad-layout", ERROR, message,
                    "Do not cut from these sheets. Choose another layout number in the settings "
                    "and write the templates again; and please tell us, for this is a fault of "
                    "ours.", piece=code) for code, message in wrong]
