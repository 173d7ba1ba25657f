"""The key to the marks, printed with every set since no standard covers foam."""

from __future__ import annotations

import numpy as np

from .fonts import text_width
from .labels import ASCENT
from .strokes import MIN_SIZE, Drawing, Stroke, Text

LINES = (
    ("cut", "Cut straight through on this line."),
    ("bevel", "Bevel: outline of the smaller face. 45° F>B: cut the edge 45° off square, "
              "the front face stays larger (B>F: the back face)."),
    ("trench", "Trench: cut a V part-way in. F or B: from the front or the back face; "
               "then its depth, its width at the face and the fold it closes to."),
    ("score", "Score line: a shallow cut from the face named, F or B."),
    ("bend", "Bend here without cutting."),
    ("notch", "Notch A2 meets notch A2 of the mating edge. Edge A is glued to edge A."),
    ("arrow", "UP: this way is up on the wearer."),
)
NOTES = (
    "F is the front, the outside of the suit; B is the back. "
    "Every template shows the front.",
    "“1 mirrored”: turn the template over, trace it, and mark the front on that side.",
)
_SAMPLE, _GAP, _STEP = 26.0, 5.0, 5.2


def legend(width: float = 180.0) -> Drawing:
    """A sample of every kind of line with its meaning; lower left corner at the origin,
    no wider than `width` mm (at least 80)."""
    if width < 80.0:
        raise ValueError("a legend needs a width of 80 mm")
    strokes, texts, y = [], [Text("text", "What the marks mean", (0.0, -5.0 * ASCENT), 5.0,
                                  anchor="start", bold=True)], -10.5
    for layer, words in LINES:
        strokes += _sample(layer, y + MIN_SIZE * 0.35)
        for line in _wrapped(words, width - _SAMPLE - _GAP):
            texts.append(Text("text", line, (_SAMPLE + _GAP, y), anchor="start"))
            y -= _STEP
        y -= 4.0 if layer == "notch" else 1.2
    for words in NOTES:
        for line in _wrapped(words, width):
            texts.append(Text("text", line, (0.0, y), anchor="start"))
            y -= _STEP
        y -= 1.2
    low = min(text.point[1] for text in texts) - MIN_SIZE * 0.25
    return Drawing(tuple(strokes), tuple(texts)).moved((0.0, -low))


def height(drawing: Drawing) -> float:
    """Height of a legend, mm."""
    return float(max(t.point[1] + t.size * ASCENT for t in drawing.texts))


def _sample(layer: str, y: float) -> list[Stroke]:
    line = [(0.0, y), (_SAMPLE, y)]
    if layer == "notch":
        return [Stroke("cut", line), Stroke("notch", [(_SAMPLE / 2, y), (_SAMPLE / 2, y - 6.0)])]
    if layer == "arrow":
        barb = [(_SAMPLE - 3.5, y + 1.6), (_SAMPLE, y), (_SAMPLE - 3.5, y - 1.6)]
        return [Stroke("arrow", line), Stroke("arrow", barb)]
    if layer == "bevel":
        return [Stroke("cut", line), Stroke("bevel", np.array(line) - (0.0, 4.0))]
    return [Stroke(layer, line)]


def _wrapped(words: str, width: float) -> list[str]:
    """The words broken into lines no wider than width mm."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_width(longer, MIN_SIZE) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
