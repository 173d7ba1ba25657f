"""The template of one piece: its lines first, then its words where they find room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon

from ..core.model import TRENCH, Fold, Notch, Pattern, Piece, PieceEdge, Placement
from .bevels import bevel_stretches
from .joints import Joints
from .labels import CLEAR, Block, Line, Path, Space, boxes, readable
from .position import Positions
from .strokes import MIN_SIZE, Drawing, Stroke, Text
from .words import bend_blocks, fold_blocks, label_blocks, label_lines

TICK = 6.0  # length of a notch, mm
OUTSIDE = 150.0  # how far from a piece its words may stand, mm
LEADER = 80.0  # a leader longer than this is lost on the sheet, mm
NARROW = 1.5  # a trench with a mouth below this is drawn as one line, mm
REPEATED = 40.0  # mm of a line on a tile that get a note of their own there
_AWAY = (6.0, 9.0, 14.0, 20.0, 28.0, 40.0, 60.0, 90.0, 130.0)  # mm from the piece to a spot
_SAME = 0.1  # bevel and cut lines nearer than this are one line, mm


class _Place:
    """How a piece's own coordinates come onto the sheet."""

    def __init__(self, piece: Piece, placement: Placement | None):
        self.points: Callable = placement.apply if placement else np.asarray
        self.origin = self.points(np.zeros((1, 2)))[0]
        self.left = -1.0 if placement and placement.mirrored else 1.0  # side of the foam

    def ring(self, points) -> np.ndarray:
        return np.asarray(self.points(points), dtype=float)

    def direction(self, vector) -> np.ndarray:
        return self.points(np.asarray(vector, dtype=float)[None])[0] - self.origin


class Template:
    """One piece on its way to paper: first its lines, then its words round them."""

    def __init__(self, piece: Piece, pattern: Pattern, placement: Placement | None = None,
                 kerf: bool = False, mat: bool = False, joints: Joints | None = None,
                 positions: Positions | None = None):
        self.piece = piece
        known = piece.template and piece.template in pattern.index
        self.source = pattern.piece(piece.template) if known else piece
        self.pattern, self.mat = pattern, mat
        self.joints, self.positions = joints, positions
        self.turned = replace(piece, flipped=placement.mirrored) if placement else piece
        self.place = _Place(self.source, placement)
        self.rings = [self.place.ring(ring) for ring in self.source.cut]
        self.body = _polygon(self.rings)
        self.kerf = self.source.stock.kerf if kerf else 0.0
        self.near = np.zeros(2)  # where the label stands
        self.texts: list[Text] = []
        self.strokes: list[Stroke] = []
        self.waiting: list[tuple[Block, np.ndarray]] = []  # notes with no room in the piece

    def lay_lines(self) -> None:
        """Draw the lines, and find where words may stand between them."""
        self._lines()
        lines = shapely.union_all([_line(s) for s in self.strokes])
        room = self.body.difference(lines.buffer(CLEAR, quad_segs=2))
        self.inside = Space(self.joints.clear(room) if self.joints else room)

    def drawn(self, outside: Space) -> Drawing:
        self.outside = outside
        self.lay_lines()
        for put in (self._edge_letters, self._notch_letters, self._fold_notes,
                    self._bevel_notes, self._grain_arrow, self._label, self._bend_notes,
                    self._picture):
            put()
        for block, target in self.waiting:
            self._point_out(block, target)
        self._bends()
        return Drawing(tuple(self.strokes), tuple(self.texts))

    # --- lines

    def _lines(self) -> None:
        for part in _grown(self.body, self.kerf / 2) if self.kerf else [self.rings]:
            self.strokes += [Stroke("cut", ring, closed=True, hole=i > 0)
                             for i, ring in enumerate(part)]
        self.strokes += [Stroke("bevel", line) for line in self._bevel_lines()]
        for edge in self.source.edges:
            self.strokes += self._bevel_ends(edge)
        for fold in self.source.folds:
            layer = "trench" if fold.kind == TRENCH else "score"
            self.strokes.append(Stroke(layer, self.place.ring(fold.points)))
            self.strokes += self._mouth(fold)
        for notch in self.source.notches:
            root, inward = self.place.ring(notch.point[None])[0], self._inward(notch)
            self.strokes.append(Stroke("notch", [root, root + inward * self._tick(notch)]))

    def _bends(self) -> None:
        """The bend lines, last, since they only guide the eye: broken where something stands."""
        if not self.source.bends:
            return
        stands = shapely.union_all(self.inside.taken).buffer(CLEAR, quad_segs=2)
        for bend in self.source.bends:
            line = _line(Stroke("bend", self.place.ring(bend.points))).difference(stands)
            self.strokes += [Stroke("bend", shapely.get_coordinates(part))
                             for part in shapely.get_parts(line) if part.length > 2.0]

    def _mouth(self, fold: Fold) -> list[Stroke]:
        """The two lines where the walls of a trench meet the face it is cut from."""
        if fold.mouth < NARROW:
            return []
        path = Path(self.place.ring(fold.points))
        _, across = path.frames(path.arc, 2.0)
        reach = (fold.depth * np.tan(np.abs(fold.fold) / 2))[:, None] * across
        sides = [LineString(path.points + sign * reach) for sign in (1.0, -1.0)]
        return [Stroke("mouth", shapely.get_coordinates(part)) for side in sides
                for part in shapely.get_parts(side.intersection(self.body))
                if part.geom_type == "LineString"]

    def _bevel_lines(self) -> list[np.ndarray]:
        """The smaller face's outline, wherever it is not the cut line itself."""
        near = self.body.boundary.buffer(_SAME, quad_segs=2)
        lines = []
        for ring in (*self.source.front, *self.source.back):
            if len(ring) < 3:  # a bevel that leaves nothing of the smaller face
                continue
            ring = self.place.ring(ring)
            rest = LineString([*ring, ring[0]]).difference(near)
            rest = shapely.line_merge(rest) if isinstance(rest, MultiLineString) else rest
            lines += [np.array(g.coords) for g in shapely.get_parts(rest) if g.length > 1.0]
        return lines

    def _bevel_ends(self, edge: PieceEdge) -> list[Stroke]:
        """Short lines across the bevel where its angle changes."""
        runs = bevel_stretches(edge)
        path, strokes = Path(self.place.ring(edge.cut), self.place.left), []
        for before, after in zip(runs[:-1], runs[1:], strict=True):
            if before.square and after.square:
                continue
            angle = np.interp(before.end, path.arc, edge.bevel)
            width = max(abs(np.tan(angle)) * self.source.stock.thickness, 2.0)
            root = path.at(np.array([before.end]))
            _, across = path.frames(np.array([before.end]), 2.0)
            strokes.append(Stroke("bevel", [root[0], root[0] + across[0] * width]))
        return strokes

    def _inward(self, notch: Notch) -> np.ndarray:
        return self.place.direction(notch.inward)

    def _tick(self, notch: Notch) -> float:
        """Length of a notch: shorter where the piece is slender."""
        root, inward = self.place.ring(notch.point[None])[0], self._inward(notch)
        ray = LineString([root + inward * 0.05, root + inward * 3 * TICK])
        parts = shapely.get_parts(ray.intersection(self.body))
        depth = parts[0].length if len(parts) else 0.0
        return float(min(depth / 3, TICK))

    # --- words

    def _say(self, texts: tuple[Text, ...]) -> bool:
        self.texts += texts
        return bool(texts)

    def _later(self, block: Block, path: Path, fraction: float) -> None:
        """Keep a note about a place on a path until the label has found its room."""
        self.waiting.append((block, path.at(np.array([fraction * path.length]))[0]))

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
        self._later(Block(Line(letter, bold=True)), path, 0.5)

    def _notch_letters(self) -> None:
        for notch in self.source.notches:
            block = Block(Line(f"{notch.letter}{notch.index}"))
            root, inward = self.place.ring(notch.point[None])[0], self._inward(notch)
            tick, side = self._tick(notch), np.array((-inward[1], inward[0]))
            half = np.abs(inward) @ block.extent / 2, np.abs(side) @ block.extent / 2
            spots = [root + inward * (tick + gap + half[0]) for gap in (1.0, 2.0)]
            spots += [root + inward * max(tick, half[0] + gap) + side * sign * (1.1 + half[1])
                      for gap in (1.2, 3.0, 6.0, 10.0) for sign in (1, -1)]
            self._say(self.inside.put(block, spots))

    def _fold_notes(self) -> None:
        for fold in self.source.folds:
            mouth = fold.mouth / 2 if fold.mouth >= NARROW else 0.0
            self._line_notes(fold.points, fold_blocks(fold, self.pattern.settings.unit), mouth)

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
                self._later(blocks[1], path, 0.5)

    def _bevel_notes(self) -> None:
        for edge in self.source.edges:
            path = Path(self.place.ring(edge.cut), self.place.left)
            for stretch in bevel_stretches(edge):
                if not stretch.note:
                    continue
                block = Block(Line(stretch.note))
                gaps = np.array((1.2, 3.0, 5.0, 8.0, 11.0, 14.0, 18.0))
                for part in self._parts(path.part(stretch.start, stretch.end), REPEATED):
                    if not self._say(self.inside.put(block, *part.spots(block.extent, gaps))):
                        self._later(block, part, 0.5)

    def _picture(self) -> None:
        """The small picture of where the piece is worn, near the label, where there is room."""
        picture = self.positions and self.positions.picture(self.piece.code)
        if not picture:
            return
        extent = np.array(picture.size) + 2.0
        spots = self.inside.roomiest()[0]
        spots = spots[np.argsort(np.hypot(*(spots - self.near).T), kind="stable")]
        spot = self.inside.find(extent, spots)
        if spot is not None:
            self.inside.take(boxes(spots[spot], 0.0, extent)[0])
            corner = spots[spot] - np.array(picture.size) / 2
            self.strokes += picture.drawing.moved(corner).strokes

    def _label(self) -> None:
        lines = label_lines(self.turned, self.pattern, self.mat)
        spots, room = self.inside.roomiest()
        sizes, axis = label_blocks(lines), _long_axis(self.body)
        turns = readable(axis + np.radians(np.arange(15, 180, 15)))
        level = [(shape, 0.0) for shape in (0, 1, 2)]
        turned = [(shape, angle) for angle in (axis, *turns) for shape in (0, 1, 2, 3)]
        for size, blocks in enumerate(sizes):
            for shape, angle in [*level, *turned] if size else level[:1]:
                # A box as high as h needs h / 2 round its middle.
                fit = spots[: np.searchsorted(-room, -blocks[shape].height / 2)]
                if self._say(self.inside.put(blocks[shape], fit, angle)):
                    self.near = self.texts[-1].point
                    return self._up_arrow()
        self._short_label(sizes[-1][0], spots, (0.0, axis, *turns))
        self.near = np.array(self.body.representative_point().coords[0])
        self._up_arrow()

    def _short_label(self, label: Block, spots: np.ndarray, angles: tuple[float, ...]) -> bool:
        """Where the label has no room inside: outside, else its code alone wherever it goes."""
        code = label.lines[0]
        least = Block(Line(code.text, bold=True))
        return (self._point_out(label)
                or any(self._say(self.inside.put(block, spots, angle))
                       for block in (Block(code), least) for angle in angles)
                or self._point_out(least) or self._point_out(least, across=True))

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
        for space, sizes in ((self.inside, lengths), (self.outside, (12.0,))):
            spots = space.roomiest()[0] if space is self.inside else self._round_about(18.0)
            spots = spots[np.argsort(np.hypot(*(spots - near).T), kind="stable")]
            for length in sizes:
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

    def _round_about(self, reach: float = OUTSIDE) -> np.ndarray:
        """Spots (k, 2) outside the piece, near ones first."""
        return np.concatenate([spots for away, spots in self._rings_about if away < reach])

    @cached_property
    def _rings_about(self) -> list[tuple[float, np.ndarray]]:
        """Spots every few mm on rings at growing distances from the piece."""
        rings = []
        for away in (a for a in _AWAY if a < OUTSIDE):
            ring = Polygon(self.body.exterior).buffer(away, quad_segs=4).exterior
            steps = np.arange(0.0, ring.length, 6.0)
            rings.append((away, shapely.get_coordinates(
                shapely.line_interpolate_point(ring, steps))))
        return rings

    @cached_property
    def _ground(self) -> shapely.Geometry:
        """Where leaders may run: the piece and what lies free about it."""
        ground = shapely.union(self.outside.region, self.body.buffer(2 * CLEAR))
        shapely.prepare(ground)
        return ground

    def _point_out(self, block: Block, target=None, across: bool = False) -> bool:
        """Set a block outside the piece and join it by a leader line to `target` (2,),
        or to the nearest part of the piece; across: even over other pieces."""
        spots = self._round_about()
        if target is not None:
            away = np.hypot(*(spots - target).T)
            near = np.argsort(away, kind="stable")
            spots = spots[near[away[near] < LEADER]]
        words = shapely.STRtree(self.inside.taken + self.outside.taken)

        def clear(some: np.ndarray) -> np.ndarray:
            leaders = self._leaders(spots[some], block, target)
            good = np.full(len(some), True) if across else shapely.contains(self._ground, leaders)
            good[words.query(leaders, "dwithin", 0.4)[0]] = False
            return good

        spot = self.outside.find(block.extent, spots, also=clear)
        if spot is None:
            return False
        leader = self._leaders(spots[spot:spot + 1], block, target)[0]
        texts = self.outside.put(block, spots[spot:spot + 1])
        self.inside.take(leader)
        self.outside.take(leader)
        self.strokes.append(Stroke("text", shapely.get_coordinates(leader)))
        return self._say(texts)

    def _leaders(self, spots: np.ndarray, block: Block, target) -> np.ndarray:
        """Lines (k,) from a block at each spot to its target, or a little way into the piece."""
        frames = boxes(spots, 0.0, block.extent + 1.2)
        aim = self.body if target is None else shapely.Point(target)
        ends = shapely.get_coordinates(shapely.shortest_line(frames, aim)).reshape(-1, 2, 2)
        if target is None:
            into = ends[:, 1] - ends[:, 0]
            into /= np.maximum(np.hypot(*into.T), 1e-9)[:, None]
            ends[:, 1] += 2.0 * into
        return shapely.linestrings(ends)


def _long_axis(body: Polygon) -> float:
    """Angle of the long side of the smallest rectangle round a piece, readable."""
    corners = shapely.get_coordinates(body.minimum_rotated_rectangle)
    sides = np.diff(corners[:3], axis=0)
    long = sides[np.argmax(np.hypot(*sides.T))]
    return float(readable(np.arctan2(long[1], long[0])))


def _line(stroke: Stroke) -> LineString:
    points = stroke.points
    return LineString([*points, points[0]] if stroke.closed else points)


def _polygon(rings: list[np.ndarray]) -> Polygon:
    """The material within the first ring and outside the others."""
    body = Polygon(rings[0], rings[1:])
    if body.is_valid:
        return body
    # A flat that overlaps itself is found fault with elsewhere; here words need one plain place.
    # What is repaired may be a collection that holds several polygons in one of its parts.
    parts = shapely.get_parts(shapely.get_parts(shapely.make_valid(body)))
    return max(parts, key=lambda part: part.area)


def _grown(body: Polygon, by: float) -> list[list[np.ndarray]]:
    """Rings of a piece, per part, with its outside grown and its holes shrunk by `by` mm."""
    grown = body.buffer(by, join_style="mitre", mitre_limit=4.0)
    return [[np.array(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)]
            for part in shapely.get_parts(grown)]
