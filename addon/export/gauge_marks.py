"""The marks by which a gauge's card is held in its place on a piece."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .strokes import Stroke

ARM, ACROSS = 4.0, 2.5  # mm, half the size of a cross on a template
TICK = 6.0  # mm, on a card
ENDS = ("a", "", "b")  # names of start, middle and end


@dataclass(frozen=True, eq=False)
class GaugeMark:
    """One mark: point (2,), along (2,) the way from which words keep off, strokes, word."""

    point: np.ndarray
    along: np.ndarray
    strokes: tuple[Stroke, ...]
    word: str

    def spots(self, extent: np.ndarray) -> list[np.ndarray]:
        """Places for the middle of its word, of extent (2,), nearest first."""
        side = np.array((-self.along[1], self.along[0]))
        reach = [np.abs(way) @ extent / 2 for way in (self.along, side)]
        return [self.point + side * sign * (reach[1] + gap) + self.along * (shift * reach[0])
                for gap in (1.5, 3.5, 6.0, 9.0) for shift in (0.0, 1.0, -1.0)
                for sign in (1.0, -1.0)]


def on_template(line: np.ndarray, number: int) -> list[GaugeMark]:
    """A cross at the start, middle and end of a line (2, 2), the first and last with a name."""
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    side = np.array((-along[1], along[0]))
    marks = []
    for share, end in zip((0.0, 0.5, 1.0), ENDS, strict=True):
        point = line[0] + share * (line[1] - line[0])
        strokes = tuple(Stroke("arrow", [point - way * arm, point + way * arm])
                        for way, arm in ((along, ARM), (side, ACROSS)))
        marks.append(GaugeMark(point, along, strokes, f"G{number}{end}" if end else ""))
    return marks


def on_card(points: np.ndarray, inward: np.ndarray) -> list[GaugeMark]:
    """A tick inward from the rim at each mark of a card, points and ways (k, 2): three of a
    piece's profile, the two ends of a rod, or none."""
    names = ENDS if len(points) == len(ENDS) else ENDS[::2]
    return [GaugeMark(point + way * TICK / 2, way,
                      (Stroke("arrow", [point, point + way * TICK]),), end)
            for point, way, end in zip(points, inward, names, strict=False)]
