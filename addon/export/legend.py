"""The key to the marks, printed with every set since no standard covers foam."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from .fonts import text_width
from .labels import ASCENT
from .mark_strokes import cross
from .strokes import MIN_SIZE, Drawing, Stroke, Text

LINES = (
    ("cut", "Cut straight through on this line."),
    ("allowance", "Allowance: room outside the cut line. Cut here first, and down to the cut "
                  "line when the piece has been tried on."),
    ("bevel", "Bevel: outline of the smaller face. 45° F>B: cut the edge 45° off square, "
              "the front face stays larger (B>F: the back face). A short line across the bevel "
              "parts two angles; 20–25° changes evenly from one to the other."),
    ("finish", "Seam finish on the front face. Chamfer: from this line to as far down the edge, at "
               "an angle. Set back: straight down from this line to the depth noted, and in from "
               "the edge."),
    ("trench", "Trench: cut a V part-way in, deepest on the middle line. F or B: from the front "
               "or the back face; then its depth, its width at the face (between the dashed "
               "lines, where it is wide enough to draw) and the fold it closes to."),
    ("score", "Score line: a shallow cut from the face named, F or B."),
    ("bend", "Bend line: no cut. Bend 30° back: what lies beside the line goes back, away from "
             "the front (forward: towards it), 30° in all about this line."),
    ("notch", "Notch A2 meets notch A2 of the mating edge. Edge A is glued to edge A."),
    ("hole", "Hole or slot: punch it, or cut it out."),
    ("drill", "Centre of a rivet, or a point to be drilled or pierced; the dashed circle round it "
              "is the rivet's dome."),
    ("outline", "Outline of what is laid on here and not cut: a dome, a circle, hook-and-loop."),
    ("placement", "Placement: the piece named is glued on this face, its edge on the line, its "
                  "notches on the ticks. “E1 on A1” is meant for piece A1."),
    ("arrow", "UP: this way is up on the wearer."),
    ("grain", "GRAIN: lay this along the grain of the foam."),
    ("position", "Where the piece is worn: hatched in the small picture."),
)
NOTES = (
    "F is the front, the outside of the suit; B is the back. "
    "Every template shows the front.",
    "“cut 1 + 1 mirrored”: cut one as drawn; for the other turn the template over, trace it, and "
    "mark the front on that side. “cut 2”: both as drawn. “also A4 turned 90°”: A4 is cut from "
    "this template too, and its own up is 90° from the arrow.",
)
CARDS = {  # notes of what a set may have none of
    "gauge":
        "Crosses G1a, G1b and one between them: the piece is bent or heated until the curved edge "
        "of the card G1 lies on its inside there, end a at a and b at b. Mark them on the inside "
        "of the foam.",
    "tape":
        "Ticks T1a and T1b on an open rim: while the glue sets, hold the rim so that these are as "
        "far apart as the build plan says, straight across. “A4 T1a” is meant for piece A4.",
}
_SAMPLE, _GAP, _STEP = 26.0, 5.0, 5.2


def legend(width: float = 180.0, without: Collection[str] = ()) -> Drawing:
    """A sample of every kind of line with its meaning; lower left corner at the origin,
    no wider than `width` mm (at least 80). without: layers, and kinds of CARDS,
    that no sheet of the set has."""
    if width < 80.0:
        raise ValueError("a legend needs a width of 80 mm")
    strokes, texts, y = [], [Text("text", "What the marks mean", (0.0, -5.0 * ASCENT), 5.0,
                                  anchor="start", bold=True)], -10.5
    for layer, words in LINES:
        if layer in without:
            continue
        strokes += _sample(layer, y + MIN_SIZE * 0.35)
        for line in _wrapped(words, width - _SAMPLE - _GAP):
            texts.append(Text("text", line, (_SAMPLE + _GAP, y), anchor="start"))
            y -= _STEP
        y = min(y, min(s.points[:, 1].min() for s in strokes) - 1.0 - MIN_SIZE * ASCENT)
        y -= 1.2
    for words in (*NOTES, *(note for kind, note in CARDS.items() if kind not in without)):
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
    if layer in ("arrow", "grain"):
        ends = [(_SAMPLE, -3.5), (0.0, 3.5)][: 2 if layer == "grain" else 1]
        barbs = [Stroke(layer, [(x + back, y + 1.6), (x, y), (x + back, y - 1.6)])
                 for x, back in ends]
        return [Stroke(layer, line), *barbs]
    if layer == "hole":
        turn = np.radians(np.arange(0, 360, 15))
        ring = np.stack([_SAMPLE / 2 + 2.5 * np.cos(turn), y + 2.5 * np.sin(turn)], axis=1)
        return [Stroke(layer, ring, closed=True)]
    if layer == "drill":
        return [Stroke(layer, cross(np.array((_SAMPLE / 2, y)), np.array((1.0, 0.0))))]
    if layer == "bevel":
        return [Stroke("cut", line), Stroke("bevel", np.array(line) - (0.0, 4.0))]
    if layer == "finish":
        return [Stroke("cut", line), Stroke(layer, np.array(line) - (0.0, 4.0))]
    if layer == "trench":
        sides = [Stroke("mouth", np.array(line) + (0.0, away)) for away in (1.8, -1.8)]
        return [Stroke("trench", line), *sides]
    if layer == "position":
        frame = np.array([(8.0, y - 3.5), (18.0, y - 3.5), (18.0, y + 1.5), (8.0, y + 1.5)])
        half = [Stroke(layer, [(x, y - 3.5), (x + 5.0, y + 1.5)]) for x in np.arange(8.0, 13.1)]
        return [Stroke(layer, frame, closed=True), *half]
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
