"""An illustration as SVG inside a page."""

from __future__ import annotations

from html import escape

import numpy as np

from ..fonts import FALLBACK
from .illustration import Area, Illustration, Lines, Shape

_ROUND = 1.0  # mm of white round all


def inline_svg(illustration: Illustration) -> str:
    """The picture, as large as its place; what it shows is told by what is round it."""
    (width, height), beside = illustration.size, illustration.beside + _ROUND
    shapes = "".join(_shape(shape, height) for shape in illustration.shapes)
    return (f'<svg viewBox="{_n(-beside)} {-_ROUND:g} {_n(width + 2 * beside)} '
            f'{_n(height + 2 * _ROUND)}" aria-hidden="true" focusable="false" '
            'stroke-linejoin="round" stroke-linecap="round" font-weight="bold" '
            f'font-family="{escape(FALLBACK)}">{shapes}</svg>')


def _shape(shape: Shape, height: float) -> str:
    if isinstance(shape, Area):
        return (f'<path fill="{tone(shape.grey)}" fill-rule="evenodd" '
                f'd="{"".join(_d(ring, height, True) for ring in shape.rings)}"/>')
    if isinstance(shape, Lines):
        dashes = f' stroke-dasharray="{" ".join(map(_n, shape.dashes))}"' if shape.dashes else ""
        return (f'<path fill="none" stroke="{tone(shape.grey)}" stroke-width="{_n(shape.width)}"'
                f'{dashes} d="{"".join(_d(line, height, shape.closed) for line in shape.lines)}"/>')
    anchor = "" if shape.anchor == "start" else f' text-anchor="{shape.anchor}"'
    return (f'<text x="{_n(shape.x)}" y="{_n(height - shape.y)}" font-size="{_n(shape.size)}"'
            f"{anchor}>{escape(shape.text)}</text>")


def _d(points: np.ndarray, height: float, closed: bool) -> str:
    pairs = (f"{_n(x)} {_n(height - y)}" for x, y in np.asarray(points).tolist())
    return "M" + "L".join(pairs) + ("Z" if closed else "")


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def tone(grey: float) -> str:
    """A grey level as a colour."""
    return "#" + f"{round(255 * grey):02x}" * 3
