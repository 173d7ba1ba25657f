"""A sheet as SVG: millimetres, one group per kind of line, for cutting and for looking."""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from ..core.model import Pattern, Sheet
from .curves import is_straight
from .drawing import TITLE, combined, draw_placed, frame
from .fonts import FALLBACK, placed_outlines, text_width
from .legend import height as legend_height
from .legend import legend
from .strokes import LAYERS, STYLE, Drawing, Stroke, Text

ABSENT_FROM_MATS = ("allowance", "position")  # layers of lines


def svg(sheet: Sheet, pattern: Pattern, text_as_outlines: bool = False,
        drawn: Sequence[Drawing] | None = None) -> str:
    """The sheet as an SVG document for direct cutting, at true size.

    Cut lines are moved by half the stock's kerf into the waste. A mat keeps its
    lower left corner; a strip above it carries the title. text_as_outlines: for
    cutters that know no typefaces. drawn: what `draw_placed` found for the sheet with the
    kerf, where it is known already.
    """
    width, height = sheet.size
    if sheet.kind == "mat":
        height += TITLE
    drawn = draw_placed(sheet, pattern, kerf=True) if drawn is None else drawn
    whole = combined([*drawn, frame(sheet, pattern)])
    return svg_of(whole, (width, height), sheet.name, text_as_outlines)


def legend_svg() -> str:
    """What the marks on mats mean, as an SVG document that needs no typeface."""
    drawing = legend(180.0, ABSENT_FROM_MATS)
    size = 200.0, legend_height(drawing) + 20.0
    return svg_of(drawing.moved((10.0, 10.0)), size, "What the marks mean",
                  text_as_outlines=True)


def svg_of(drawing: Drawing, size: tuple[float, float], title: str,
           text_as_outlines: bool = False) -> str:
    """Any drawing as an SVG document of size (w, h) mm, the drawing's origin bottom left."""
    width, height = size
    out = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(width)}mm" height="{_n(height)}mm"'
        f' viewBox="0 0 {_n(width)} {_n(height)}">',
        f"<title>{escape(title)}</title>",
    ]
    for layer in LAYERS:
        part = drawing.on(layer)
        if not part.strokes and not part.texts:
            continue
        pen, dashes = STYLE[layer]
        dash = f' stroke-dasharray="{" ".join(map(_n, dashes))}"' if dashes else ""
        out.append(f'<g id="{layer}" fill="none" stroke="#000" stroke-width="{_n(pen)}"'
                   f' stroke-linecap="butt" stroke-linejoin="round"{dash}>')
        out += [_path(stroke, height) for stroke in part.strokes]
        out.append("</g>")
        if part.texts:
            style = "" if text_as_outlines else f" font-family={quoteattr(FALLBACK)}"
            out.append(f'<g id="{layer}-words" fill="#000" stroke="none"{style}>')
            write = _drawn_text if text_as_outlines else _text
            out += [write(text, height) for text in part.texts]
            out.append("</g>")
    out.append("</svg>\n")
    return "\n".join(out)


def _n(value: float) -> str:
    """A number to a thousandth of a millimetre without idle zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _d(points: np.ndarray, height: float, closed: bool) -> str:
    pairs = [f"{_n(x)} {_n(height - y)}" for x, y in points.tolist()]
    return "M" + "L".join(pairs) + ("Z" if closed else "")


def _path(stroke: Stroke, height: float) -> str:
    d = (_d(stroke.points, height, stroke.closed) if stroke.curve is None
         else _curved(stroke.curve, height, stroke.closed))
    return f'<path d="{d}"/>'


def _curved(curve: np.ndarray, height: float, closed: bool) -> str:
    """Bézier curves (n, 4, 2) as path data, straight ones as lines."""
    out = ["M" + _pair(curve[0, 0], height)] if len(curve) else []
    for part in curve:
        out.append("L" + _pair(part[3], height) if is_straight(part)
                   else "C" + " ".join(_pair(point, height) for point in part[1:]))
    return "".join(out) + ("Z" if closed else "")


def _pair(point: np.ndarray, height: float) -> str:
    return f"{_n(point[0])} {_n(height - point[1])}"


def _text(text: Text, height: float) -> str:
    x, y = text.point[0], height - text.point[1]
    turn = math.degrees(-text.angle)
    rotate = f' transform="rotate({_n(turn)} {_n(x)} {_n(y)})"' if abs(turn) > 1e-4 else ""
    anchor = "" if text.anchor == "start" else f' text-anchor="{text.anchor}"'
    weight = ' font-weight="bold"' if text.bold else ""
    # Where the typeface is not at hand another one is to take no more room than this.
    fit = _n(text_width(text.text, text.size, text.bold))
    return (f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(text.size)}"{anchor}{weight}'
            f' textLength="{fit}" lengthAdjust="spacingAndGlyphs"{rotate}>'
            f"{escape(text.text)}</text>")


def _drawn_text(text: Text, height: float) -> str:
    d = "".join(_d(contour, height, True) for contour in placed_outlines(text))
    return f'<path aria-label={quoteattr(text.text)} d="{d}"/>' if d else ""
