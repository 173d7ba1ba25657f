"""The records a drawing is made of, and how each kind of line looks.

Millimetres, y up. SVG, DXF and PDF style these records and add nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

LAYERS = ("cut", "allowance", "bevel", "finish", "trench", "mouth", "score", "bend", "notch",
          "hole", "drill", "outline", "placement", "arrow", "grain", "position", "text", "guide")

# Layer: (line width, dash pattern as alternating lengths of ink and gap), mm. Widths and line
# types follow ISO 128: wide 0.5, thin 0.25; long-dash double-dot, dashed, dash-dot, continuous.
STYLE: dict[str, tuple[float, tuple[float, ...]]] = {
    "cut": (0.5, ()),
    "allowance": (0.25, (6.0, 1.5)),
    "bevel": (0.25, ()),
    "finish": (0.25, (0.6, 0.9)),
    "trench": (0.25, (9.0, 1.25, 0.5, 1.25, 0.5, 1.25)),
    "mouth": (0.18, (2.0, 1.0)),
    "score": (0.25, (4.0, 1.25, 0.5, 1.25)),
    "bend": (0.25, ()),
    "notch": (0.35, ()),
    "hole": (0.5, ()),
    "drill": (0.25, ()),
    "outline": (0.25, (1.5, 1.0)),
    "placement": (0.25, (3.0, 0.8)),
    "arrow": (0.25, ()),
    "grain": (0.25, ()),
    "position": (0.13, ()),
    "text": (0.18, ()),
    "guide": (0.18, (2.0, 2.0)),
}

# Smallest size of text. At 3.6 mm em the capitals of our typeface are 2.5 mm high: lettering
# height 2.5 of ISO 3098 (from memory).
MIN_SIZE = 3.6


@dataclass(frozen=True, eq=False)
class Stroke:
    """A line on a layer: points (k, 2); closed joins the last point to the first;
    hole: a cut line with the waste inside; curve: the same line as Bézier curves (n, 4, 2), one
    after another, for the formats that have them, None where it is straight from point to
    point."""

    layer: str
    points: np.ndarray
    closed: bool = False
    hole: bool = False
    curve: np.ndarray | None = None

    def __post_init__(self):
        if self.layer not in LAYERS:
            raise ValueError(f"unknown layer {self.layer!r}")
        object.__setattr__(self, "points", np.asarray(self.points, dtype=float).reshape(-1, 2))


@dataclass(frozen=True, eq=False)
class Text:
    """One line of text.

    point (2,): on the baseline, at the text's start, middle or end as anchor
    says; size: of the font (its em), mm; angle: of the baseline, radians.
    The characters are ones the typeface has (see fonts.legible).
    """

    layer: str
    text: str
    point: np.ndarray
    size: float = MIN_SIZE
    angle: float = 0.0
    anchor: str = "middle"
    bold: bool = False

    def __post_init__(self):
        if self.layer not in LAYERS:
            raise ValueError(f"unknown layer {self.layer!r}")
        if self.anchor not in ("start", "middle", "end"):
            raise ValueError(f"unknown anchor {self.anchor!r}")
        object.__setattr__(self, "point", np.asarray(self.point, dtype=float).reshape(2))


@dataclass(frozen=True, eq=False)
class Drawing:
    """Strokes and texts, in the order they are drawn."""

    strokes: tuple[Stroke, ...] = ()
    texts: tuple[Text, ...] = ()

    def __add__(self, other: Drawing) -> Drawing:
        return Drawing(self.strokes + other.strokes, self.texts + other.texts)

    def moved(self, offset: Sequence[float]) -> Drawing:
        """The same drawing, shifted by offset (2,)."""
        offset = np.asarray(offset, dtype=float)
        return Drawing(
            tuple(replace(s, points=s.points + offset,
                          curve=None if s.curve is None else s.curve + offset)
                  for s in self.strokes),
            tuple(replace(t, point=t.point + offset) for t in self.texts),
        )

    def on(self, layer: str) -> Drawing:
        """What lies on one layer."""
        return Drawing(
            tuple(s for s in self.strokes if s.layer == layer),
            tuple(t for t in self.texts if t.layer == layer),
        )


def combined(drawings: Iterable[Drawing]) -> Drawing:
    """Several drawings as one."""
    drawings = tuple(drawings)
    return Drawing(
        tuple(s for d in drawings for s in d.strokes),
        tuple(t for d in drawings for t in d.texts),
    )
