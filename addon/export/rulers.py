"""Check squares and rulers, the things on paper that are measured."""

from __future__ import annotations

import numpy as np

from .strokes import MIN_SIZE, Drawing, Stroke, Text

ACROSS = 14.0  # mm, room a ruler needs
_AXIS = ACROSS / 2
_CAPS = 2.5  # height of figures, mm
INCH = 25.4


def square(side: float, label: str) -> Drawing:
    """A square with its size written along two sides; upper left corner at the origin."""
    corners = [(0, 0), (side, 0), (side, -side), (0, -side)]
    return Drawing(
        (Stroke("arrow", corners, closed=True),),
        (Text("text", label, (side / 2, -side + 2.0), 5.0, bold=True),
         Text("text", label, (side - 2.0, -side / 2), 5.0, np.pi / 2, bold=True)))


def ruler(corner: tuple[float, float], length: float, upright: bool) -> Drawing:
    """A line from `corner` upwards (or to the right) with millimetres on its outer side and
    inches on the other. It takes ACROSS mm, right of the corner (or above it)."""
    strokes, texts = [], []

    def at(along: float, across: float) -> tuple[float, float]:
        x, y = (across, along) if upright else (along, across)
        return corner[0] + x, corner[1] + y

    def tick(along: float, size: float) -> None:
        strokes.append(Stroke("text", [at(along, _AXIS), at(along, _AXIS + size)]))

    def figure(words: str, along: float, across: float) -> None:
        # Along the line; turned figures stand to the left of their baseline.
        across = across + _CAPS if upright else across
        texts.append(Text("text", words, at(along, across), MIN_SIZE,
                          np.pi / 2 if upright else 0.0))

    for mm in range(int(length) + 1):
        tick(mm, -3.2 if mm % 10 == 0 else -2.4 if mm % 5 == 0 else -1.5)
        if mm % 10 == 0 and 0 < mm <= length - 4:
            figure("10 mm" if mm == 10 else str(mm), mm, _AXIS - 3.8 - _CAPS)
    for eighth in range(int(length / INCH * 8) + 1):
        tick(eighth * INCH / 8, 3.2 if eighth % 8 == 0 else 2.4 if eighth % 4 == 0 else 1.5)
        if eighth % 8 == 0 and 0 < eighth * INCH / 8 <= length - 4:
            figure("1 in" if eighth == 8 else str(eighth // 8), eighth * INCH / 8, _AXIS + 3.8)
    strokes.append(Stroke("arrow", [at(0, _AXIS), at(int(length), _AXIS)]))
    return Drawing(tuple(strokes), tuple(texts))
