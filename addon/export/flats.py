"""A piece as it is looked at flat on the screen: its lines, and few words, as large as fit."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import Pattern, Piece
from .labels import Block, Line, Path
from .strokes import Drawing
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
        for edge in sorted(self.source.edges, key=lambda e: e.length):
            if edge.letter and len(edge.cut) > 1:
                self._letter(edge.letter, Path(self.place.ring(edge.cut), self.place.left))
        spots, room = self.inside.roomiest()
        for size in _CODE:
            block = Block(Line(self.piece.code, size, bold=True))
            if self._say(self.inside.put(block, spots[room >= block.height / 2])):
                break
        return Drawing(tuple(self.strokes), tuple(self.texts))

    def _letter(self, letter: str, path: Path) -> None:
        for size in _LETTER:
            block = Block(Line(letter, size, bold=True))
            spots = path.spots(block.extent, (3.0, 6.0, 10.0, 16.0), upright=True,
                               reach=(0.08, 0.92))
            if self._say(self.inside.put(block, *spots)):
                return
