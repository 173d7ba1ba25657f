"""A piece as it is looked at flat on the screen: its lines, and few words, as large as fit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..core.model import Pattern, Piece
from .fonts import placed_outlines
from .labels import Block, Line, Path
from .strokes import STYLE, Drawing, Text
from .template import Template

_CODE = (60.0, 45.0, 32.0, 24.0, 18.0, 13.0, 9.0, 6.0)  # sizes of letters that are tried, mm
_LETTER = (14.0, 10.0, 7.0, 5.0)


def sketch(piece: Piece, pattern: Pattern) -> Drawing:
    """The lines of this very piece, 1:1 and seen from the front, its code and its mates' letters.

    Unlike a template it is never that of a mirrored twin.
    """
    return _Sketch(replace(piece, template=piece.code), pattern).sketched()


class _Sketch(Template):
    def sketched(self) -> Drawing:
        self.lay_lines()
        texts: list[Text] = []
        for edge in sorted(self.source.edges, key=lambda e: e.length):
            if edge.letter and len(edge.cut) > 1:
                texts += self._letter(edge.letter,
                                      Path(self.place.ring(edge.cut), self.place.left))
        spots, room = self.inside.roomiest()
        for size in _CODE:
            block = Block(Line(self.piece.code, size, bold=True))
            if code := self.inside.put(block, spots[room >= block.height / 2]):
                texts += code
                break
        return Drawing((*self.strokes, *self.bends()), tuple(texts))

    def _letter(self, letter: str, path: Path) -> tuple[Text, ...]:
        for size in _LETTER:
            block = Block(Line(letter, size, bold=True))
            spots = path.spots(block.extent, (3.0, 6.0, 10.0, 16.0), upright=True,
                               reach=(0.08, 0.92))
            if texts := self.inside.put(block, *spots):
                return texts
        return ()


def lines(drawing: Drawing) -> np.ndarray:
    """All strokes as straight parts (k, 2, 2), broken into the dashes of their layer."""
    parts = [np.empty((0, 2, 2))]
    for stroke in drawing.strokes:
        points = np.append(stroke.points, stroke.points[:1], axis=0) if stroke.closed \
            else stroke.points
        parts.append(_dashed(points, STYLE[stroke.layer][1]))
    return np.concatenate(parts)


def _dashed(points: np.ndarray, pattern: tuple[float, ...]) -> np.ndarray:
    """The inked parts (k, 2, 2) of a polyline under a pattern of ink and gap, mm."""
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = arc
    if pattern:
        steps = np.cumsum(pattern)
        breaks = (np.arange(int(arc[-1] / steps[-1]) + 1)[:, None] * steps[-1] + steps).ravel()
        at = np.unique(np.concatenate([arc, breaks[breaks < arc[-1]]]))
    line = np.stack([np.interp(at, arc, points[:, i]) for i in (0, 1)], axis=1)
    parts = np.stack([line[:-1], line[1:]], axis=1)
    if not pattern:
        return parts
    middle = (at[:-1] + at[1:]) / 2 % steps[-1]
    return parts[np.searchsorted(steps, middle, side="right") % 2 == 0]


def letters(drawing: Drawing) -> list[np.ndarray]:
    """Closed contours (k, 2) of all words; a counter runs the other way round."""
    return [contour for text in drawing.texts for contour in placed_outlines(text)]
