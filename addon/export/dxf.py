"""A sheet as DXF R2010 in millimetres, with the layers of ASTM D6673 for sewn products.

| layer | what it holds here                                                      |
|-------|-------------------------------------------------------------------------|
| 1     | boundary: the outline of each piece, closed, one SPLINE or LWPOLYLINE   |
| 4     | notches                                                                 |
| 7     | grain, where the foam has one                                           |
| 8     | internal lines that are not cut through: bevel lines (continuous),      |
|       | trenches (line type TRENCH) and their mouths (MOUTH), score lines       |
|       | (SCORE), bends, leaders, and outlines of what is laid on (OUTLINE)      |
| 11    | internal cut-outs: the holes, closed                                    |
| 13    | drill holes: a POINT at each rivet and drill point                      |
| 15    | annotation, in 7-bit ASCII, and the arrow that points up                |
| FINISH | chamfers and steps along seams; not part of the standard             |
| MAT   | the edge of the mat; not part of the standard, never to be cut          |

One block per piece, inserted once at its place, neither turned nor scaled.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Sequence

from ..core.model import Pattern, Sheet
from .curves import is_straight
from .drawing import draw_placed, frame
from .fonts import ascii_text, cap_height, placed_outlines
from .mark_strokes import CENTRE
from .strokes import STYLE, Drawing, Stroke, Text

LAYERS = {"1": "boundary", "4": "notches", "7": "grain line", "8": "internal line, not cut",
          "11": "internal cut-out", "13": "drill hole",
          "15": "annotation", "PLACEMENT": "where other pieces are glued on",
          "FINISH": "chamfers and steps along seams",
          "MAT": "edge of the mat"}
_LAYER_OF = {"allowance": "8", "bevel": "8", "finish": "FINISH", "trench": "8", "mouth": "8",
             "score": "8", "bend": "8", "text": "8", "notch": "4", "arrow": "15", "grain": "7",
             "position": "15", "hole": "11", "drill": "13", "outline": "8",
             "placement": "PLACEMENT", "guide": "MAT"}
_LINETYPES = {"allowance": "ALLOWANCE", "trench": "TRENCH", "mouth": "MOUTH", "score": "SCORE",
              "outline": "OUTLINE", "placement": "PLACEMENT", "finish": "FINISH", "guide": "GUIDE"}

# Bold or not: text style and its font, one that most programs have; its letters are about as wide
# as those that the words were set for.
_STYLES = {False: ("WORDS", "arial.ttf"), True: ("BOLD", "arialbd.ttf")}


def dxf(sheet: Sheet, pattern: Pattern, text_as_outlines: bool = False,
        drawn: Sequence[Drawing] | None = None) -> str:
    """The sheet as the text of a DXF file for direct cutting, at true size.

    Cut lines are moved by half the stock's kerf into the waste. text_as_outlines: draw the
    outlines of letters, closed, for cutters that pass over words. drawn: what `draw_placed`
    found for the sheet with the kerf, where it is known already.
    """
    import ezdxf

    doc = ezdxf.new("R2010", units=ezdxf.units.MM)
    doc.header["$MEASUREMENT"] = 1  # metric line types
    for name, words in LAYERS.items():
        doc.layers.add(name).description = words
    for layer, name in _LINETYPES.items():
        dashes = [d if i % 2 == 0 else -d for i, d in enumerate(STYLE[layer][1])]
        doc.linetypes.add(name, [sum(STYLE[layer][1]), *dashes], description=layer)
    for name, font in _STYLES.values():
        doc.styles.add(name, font=font)
    space, used = doc.modelspace(), set()
    drawn = draw_placed(sheet, pattern, kerf=True) if drawn is None else drawn
    for placement, drawing in zip(sheet.placements, drawn, strict=True):
        name = _block_name(placement.piece, used)
        block = doc.blocks.new(name)
        _write(block, drawing.moved(-placement.offset), text_as_outlines)
        space.add_blockref(name, tuple(placement.offset), dxfattribs={"layer": "1"})
    _write(space, frame(sheet, pattern), text_as_outlines)
    out = io.StringIO()
    doc.write(out)
    return out.getvalue()


def _block_name(code: str, used: set[str]) -> str:
    base = re.sub(r"[^A-Za-z0-9_-]", "_", ascii_text(code)) or "PIECE"
    name, number = base, 1
    while name.upper() in used:
        number += 1
        name = f"{base}-{number}"
    used.add(name.upper())
    return name


def _write(target, drawing: Drawing, text_as_outlines: bool) -> None:
    for stroke in drawing.strokes:
        if stroke.layer == "drill":
            target.add_point(stroke.points[CENTRE].tolist(), dxfattribs=_attributes(stroke))
        elif stroke.curve is None:
            target.add_lwpolyline(stroke.points.tolist(), close=stroke.closed,
                                  dxfattribs=_attributes(stroke))
        elif all(map(is_straight, stroke.curve)):
            corners = [*stroke.curve[:, 0], *stroke.curve[-1:, 3][: not stroke.closed]]
            target.add_lwpolyline([tuple(p) for p in corners], close=stroke.closed,
                                  dxfattribs=_attributes(stroke))
        else:
            _write_spline(target, stroke)
    for text in drawing.texts:
        if text_as_outlines:
            for contour in placed_outlines(text):
                target.add_lwpolyline(contour.tolist(), close=True, dxfattribs={"layer": "15"})
        else:
            _write_text(target, text)


def _write_spline(target, stroke: Stroke) -> None:
    """All curves of a stroke as one cubic B-spline: with knots threefold where they meet its
    control points are theirs."""
    count = len(stroke.curve)
    points = [stroke.curve[0, 0], *stroke.curve[:, 1:].reshape(-1, 2)]
    knots = [0, *(k for k in range(count + 1) for _ in range(3)), count]
    spline = target.add_spline(dxfattribs=_attributes(stroke))
    spline.dxf.degree = 3
    spline.control_points = [(x, y, 0.0) for x, y in points]
    spline.knots = knots
    spline.closed = stroke.closed


def _attributes(stroke: Stroke) -> dict:
    if stroke.layer == "cut":
        layer = "11" if stroke.hole else "1"
    else:
        layer = _LAYER_OF[stroke.layer]
    return {"layer": layer, "linetype": _LINETYPES.get(stroke.layer, "CONTINUOUS"),
            "lineweight": _lineweight(STYLE[stroke.layer][0])}


def _lineweight(mm: float) -> int:
    """The nearest of the widths DXF knows, in hundredths of a millimetre."""
    known = (13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100)
    return min(known, key=lambda w: abs(w - 100 * mm))


def _write_text(target, text: Text) -> None:
    from ezdxf.enums import TextEntityAlignment as Alignment

    align = {"start": Alignment.LEFT, "middle": Alignment.CENTER, "end": Alignment.RIGHT}
    entity = target.add_text(ascii_text(text.text), height=cap_height(text.size, text.bold),
                             rotation=math.degrees(text.angle),
                             dxfattribs={"layer": "15", "style": _STYLES[text.bold][0]})
    entity.set_placement(tuple(text.point), align=align[text.anchor])
