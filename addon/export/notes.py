"""The words of a template: letters, notes, label and arrows, each where it finds room."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon

from . import placement
from .labels import CLEAR, Block, Line, Path, Space, boxes, readable
from .leaders import Leaders
from .mark_strokes import notes as mark_notes
from .strokes import MIN_SIZE, Stroke, Text
from .words import bend_blocks, finish_blocks, fold_blocks, label_blocks, label_lines

if TYPE_CHECKING:
    from .template import Template

NARROW = 1.5  # a trench with a mouth below this is drawn as one line, mm
_TARGETS = (0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92)  # of a path, that a leader may point to
REPEATED = 40.0  # mm of a line on a tile that get a note of their own there


class Notes:
    """The words of one template, and the strokes that belong to them.

    What must stand at one place comes first, what may stand anywhere later; notes that find
    no room in the piece stand outside with a leader.
    """

    def __init__(self, template: Template, inside: Space, outside: Space):
        self.template, self.source, self.place = template, template.source, template.place
        self.piece, self.turned = template.piece, template.turned
        self.pattern, self.mat = template.pattern, template.mat
        self.joints, self.positions = template.joints, template.positions
        self.body, self.inside, self.outside = template.body, inside, outside
        self.leaders = Leaders(self.body, inside, outside, template.allowance)
        # Bend lines give way to words, but words stand beside them where they can.
        lines = [shapely.LineString(self.place.ring(bend.points)) for bend in self.source.bends
                 if not template.back]
        quiet = inside.region.difference(shapely.union_all(lines).buffer(CLEAR, quad_segs=2))
        self._spaces = (Space(quiet, inside.taken), inside) if lines else (inside,)
        self.near = np.zeros(2)  # where the label stands
        self.texts: list[Text] = []
        self.strokes: list[Stroke] = []
        self.waiting: list[tuple[Block, Path]] = []  # notes with no room in the piece
        steps = [self._edge_letters, self._notch_letters, self._gauge_notes, self._tape_notes,
                 self._mark_notes, self._placement_notes,
                 self._fold_notes, self._finish_notes, self._bevel_notes, self._grain_arrow,
                 self._label, self._up_arrow]
        for put in steps if template.back or self.piece.gauge_of else (
                *steps, self._bend_notes, self._picture):
            put()
        for block, path in self.waiting:
            targets = path.at(np.array(_TARGETS) * path.length)
            any(self._point_out(block, target, across)
                for across in (False, True) for target in targets)

    def _say(self, texts: tuple[Text, ...]) -> bool:
        self.texts += texts
        return bool(texts)

    def _point_out(self, block: Block, target=None, across: bool = False) -> bool:
        leader, texts = self.leaders.point_out(block, target, across)
        if leader is not None:
            self.strokes.append(leader)
        return self._say(texts)

    def _parts(self, path: Path, least: float) -> list[Path]:
        """The path, or on tiles its part on each: what is noted there is noted on each of them."""
        return path.within(self.joints.windows, least) if self.joints else [path]

    def _edge_letters(self) -> None:
        thickness = self.source.stock.thickness
        for edge in sorted(self.source.edges, key=lambda e: e.length):
            if not edge.letter or len(edge.cut) < 2:
                continue
            path = Path(self.place.ring(edge.cut), self.place.left)
            band = min(float(np.abs(np.tan(edge.bevel)).max()) * thickness, 20.0)
            for part in self._parts(path, REPEATED):
                self._edge_letter(edge.letter, part, band)

    def _edge_letter(self, letter: str, path: Path, band: float) -> None:
        for size in (5.5, 4.5, MIN_SIZE):
            block = Block(Line(letter, size, bold=True))
            gaps = np.array((2.0, 1.0, 3.0, 4.5, 7.0, 10.0))
            if band > 1.0:
                gaps = np.append(gaps + band, 1.0)
            if self._say(self.inside.put(block, *path.spots(
                    block.extent, np.sort(gaps), upright=True, reach=(0.08, 0.92)))):
                return
        self.waiting.append((Block(Line(letter, bold=True)), path))

    def _notch_letters(self) -> None:
        for notch in self.source.notches:
            block = Block(Line(f"{notch.letter}{notch.index}"))
            root, inward = self.place.ring(notch.point[None])[0], self.template.inward(notch)
            tick, side = self.template.tick(notch), np.array((-inward[1], inward[0]))
            half = np.abs(inward) @ block.extent / 2, np.abs(side) @ block.extent / 2
            spots = [root + inward * (tick + gap + half[0]) for gap in (1.0, 2.0)]
            spots += [root + inward * max(tick, half[0] + gap) + side * sign * (1.1 + half[1])
                      for gap in (1.2, 3.0, 6.0, 10.0) for sign in (1, -1)]
            self._say(self.inside.put(block, spots))

    def _gauge_notes(self) -> None:
        for mark in self.template.gauge_marks:
            if not mark.word:
                continue
            block = Block(Line(mark.word))
            if not self._say(self.inside.put(block, mark.spots(block.extent))):
                self.waiting.append((block, Path(np.array([mark.point, mark.point + mark.along]))))

    def _tape_notes(self) -> None:
        for mark in self.template.tape_marks:
            block = Block(Line(mark.word))
            if not self._say(self.inside.put(block, mark.spots(block.extent))):
                self.waiting.append((block, Path(np.array([mark.point, mark.point + mark.inward]))))

    def _mark_notes(self) -> None:
        for note in () if self.template.back else mark_notes(
                self.source, self.place.ring, self.pattern.settings.unit):
            block = Block(Line(note.word))
            if not self._say(self.inside.put(block, note.spots(block.extent))):
                self.waiting.append((block, Path(np.array([note.point, note.point + (0.1, 0.0)]))))

    def _placement_notes(self) -> None:
        if self.template.back:
            return
        for word, point, way in placement.words(self.source, self.place.ring):
            block = Block(Line(word))
            half = np.abs(way) @ block.extent / 2
            side = np.array((-way[1], way[0]))
            spots = [point + way * (half + gap) + side * aside for gap in (0.8, 2.0, 4.0)
                     for aside in (0.0, 4.0, -4.0)]
            if word.startswith("place "):
                spots = [point + np.array((dx, dy)) for dy in (0, 6, -6, 12, -12)
                         for dx in (0, 8, -8, 20, -20)]
            if not self._say(self.inside.put(block, spots)):
                self.waiting.append((block, Path(np.array([point, point + way]))))

    def _fold_notes(self) -> None:
        for fold in self.template.folds:
            mouth = fold.mouth / 2 if fold.mouth >= NARROW else 0.0
            self._line_notes(fold.points, fold_blocks(fold, self.pattern.settings.unit), mouth)

    def _finish_notes(self) -> None:
        for one in () if self.template.back else self.source.finishes:
            blocks = finish_blocks(one, self.pattern.settings.unit)
            self._line_notes(one.points, [blocks[0], *blocks], 0.0)

    def _bend_notes(self) -> None:
        for bend in self.source.bends:
            self._line_notes(bend.points, bend_blocks(bend), 0.0)

    def _line_notes(self, points: np.ndarray, blocks: list[Block], half: float) -> None:
        """One of the blocks beside a line that is `half` wide to either side."""
        for path in self._parts(Path(self.place.ring(points)), REPEATED):
            for block in blocks:
                if self._say(self.inside.put(block, *path.spots(
                        block.extent, np.array((1.2, 2.5, 5.0)) + half, reach=(0.1, 0.9),
                        both=True))):
                    break
            else:
                self.waiting.append((blocks[1], path))

    def _bevel_notes(self) -> None:
        for edge in self.source.edges:
            path = Path(self.place.ring(edge.cut), self.place.left)
            for stretch in self.template.stretches(edge):
                block = Block(Line(stretch.note))
                gaps = np.array((1.2, 3.0, 5.0, 8.0, 11.0, 14.0, 18.0))
                for part in self._parts(path.part(stretch.start, stretch.end), REPEATED):
                    if not self._say(self.inside.put(block, *part.spots(block.extent, gaps))):
                        self.waiting.append((block, part))

    def _label(self) -> None:
        lines = label_lines(self.turned, self.pattern, self.mat, self.template.back)
        sizes, axis = label_blocks(lines), _long_axis(self.body)
        # A card is a strip along its axis: words that lie across it find no room.
        turns = () if self.piece.gauge_of else readable(axis + np.radians(np.arange(15, 180, 15)))
        level = [(shape, 0.0) for shape in (0, 1, 2)]
        turned = [(shape, angle) for angle in (axis, *turns) for shape in (0, 1, 2, 3)]
        for space in self._spaces:
            spots, room = space.roomiest()
            # Large where there is room for it; where bend lines must break, no larger than need be.
            quiet, broken = space is not self.inside, len(self._spaces) > 1
            tried = sizes[:-1] if quiet else sizes[broken:]

            # Where the smallest first finds room, or none, the larger ones need not look before.
            first: dict[tuple[int, float], int | None] = {}

            def put(blocks, shape, angle, space=space, spots=spots, room=room, first=first,
                    least=tried[-1]):
                if blocks is not least and put(least, shape, angle) is None:
                    return None
                # A box as high as h needs h / 2 round its middle.
                fit = spots[: np.searchsorted(-room, -blocks[shape].height / 2)]
                start = first.get((shape, angle)) or 0
                if blocks is least and (shape, angle) in first:
                    return first[shape, angle]
                spot = space.find(blocks[shape].extent, fit[start:], angle)
                spot = None if spot is None else start + spot
                if blocks is least:
                    first[shape, angle] = spot
                return spot

            # Level if it can be, even if smaller; turned words are read with the head aslant.
            for ways in (level, turned):
                for blocks in tried if ways is level else tried[sizes[0] is tried[0]:]:
                    for shape, angle in ways if blocks is not sizes[0] else ways[:1]:
                        if (spot := put(blocks, shape, angle)) is not None:
                            self._say(space.put(blocks[shape], spots[spot:spot + 1], angle))
                            self.near = self.texts[-1].point
                            return
        self._short_label(sizes[-1], spots, (0.0, axis, *turns))
        self.near = np.array(self.body.representative_point().coords[0])

    def _short_label(self, labels: tuple[Block, ...], spots: np.ndarray,
                     angles: tuple[float, ...]) -> bool:
        """Where the label has no room inside: outside, in some shape, else line by line inside,
        of which the code alone must find a place."""
        code, *rest = labels[0].lines
        least = Block(Line(code.text, bold=True))
        if any(map(self._point_out, labels)):
            return True
        for block, angle in ((b, a) for b in (Block(code), least) for a in angles):
            if self._say(self.inside.put(block, spots, angle)):
                near = spots[np.argsort(np.hypot(*(spots - self.texts[-1].point).T))]
                for line in rest:
                    any(self._say(self.inside.put(Block(line), near, a))
                        for a in (angle, *angles[:2], readable(angle + np.pi / 2)))
                return True
        return self._point_out(least) or self._point_out(least, across=True)

    def _up_arrow(self) -> None:
        """An arrow that points up on the wearer, with the word UP at its foot."""
        up = self.place.direction(self.piece.up_on_template)
        if np.hypot(*up) > 1e-6:
            self._arrow("arrow", up, "UP", self.near, (24.0, 16.0, 10.0))

    def _grain_arrow(self) -> None:
        """A double arrow along the grain of the foam, which runs along the piece's own y."""
        if self.source.stock.grain:
            centre = np.array(self.body.representative_point().coords[0])
            self._arrow("grain", self.place.direction((0.0, 1.0)), "GRAIN", centre,
                        (60.0, 40.0, 24.0, 14.0))

    def _arrow(self, layer: str, way: np.ndarray, word: str, near: np.ndarray,
               lengths: tuple[float, ...]) -> None:
        """An arrow of one of the lengths near a place, a word at its foot; of the grain with a
        barb at either end."""
        way = way / np.hypot(*way)
        foot = Block(Line(word, bold=True))
        square = float(np.hypot(*foot.extent)) + 0.8
        side = np.array((way[1], -way[0]))
        for space in (*self._spaces, self.outside):
            inside = space is not self.outside
            spots = space.roomiest()[0] if inside else self.leaders.round_about(18.0)
            spots = spots[np.argsort(np.hypot(*(spots - near).T), kind="stable")]
            for length in lengths if inside else (12.0,):
                extent = (max(square, 5.0), length + square)
                turn = float(np.arctan2(-way[0], way[1]))
                spot = space.find(extent, spots, turn)
                if spot is None:
                    continue
                centre = spots[spot]
                space.take(boxes(centre, turn, extent)[0])
                tail = centre + way * (square - (length + square) / 2 + 0.5)
                tip = tail + way * (length - 1.0)
                ends = [(tip, way), (tail, -way)] if layer == "grain" else [(tip, way)]
                self.strokes.append(Stroke(layer, [tail, tip]))
                self.strokes += [Stroke(layer, [end - out * 3.5 + side * 1.6, end,
                                                end - out * 3.5 - side * 1.6])
                                 for end, out in ends]
                self._say(foot.texts(tail - way * (square / 2), 0.0))
                return

    def _picture(self) -> None:
        """The small picture of where the piece is worn, near the label, where there is room."""
        picture = self.positions and self.positions.picture(self.piece.code)
        if not picture:
            return
        extent = np.array(picture.size) + 2.0
        for space in self._spaces:
            spots = space.roomiest()[0]
            spots = spots[np.argsort(np.hypot(*(spots - self.near).T), kind="stable")]
            spot = space.find(extent, spots)
            if spot is not None:
                space.take(boxes(spots[spot], 0.0, extent)[0])
                corner = spots[spot] - np.array(picture.size) / 2
                self.strokes += picture.drawing.moved(corner).strokes
                return


def _long_axis(body: Polygon) -> float:
    """Angle of the long side of the smallest rectangle round a piece, readable."""
    corners = shapely.get_coordinates(body.minimum_rotated_rectangle)
    sides = np.diff(corners[:3], axis=0)
    long = sides[np.argmax(np.hypot(*sides.T))]
    return float(readable(np.arctan2(long[1], long[0])))
