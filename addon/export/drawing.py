"""What is drawn for a piece and for a sheet: the one description SVG, DXF and PDF share.

Words are set after the lines are placed, so they read from the sheet's bottom
edge however a piece is turned or mirrored, and never cross a line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon

from ..core.model import TRENCH, Pattern, Piece, Placement, Sheet
from ..core.units import format_length
from .fonts import legible
from .labels import CLEAR, Block, Line, Path, Space, boxes, readable
from .legend import legend
from .strokes import LAYERS, MIN_SIZE, STYLE, Drawing, Stroke, Text, combined
from .words import bevel_note, bevel_stretches, fold_blocks, label_blocks, label_lines

__all__ = ["LAYERS", "MIN_SIZE", "STYLE", "Drawing", "Stroke", "Text", "combined",
           "draw_piece", "draw_placed", "draw_sheet", "frame", "legend"]

TICK = 6.0  # length of a notch, mm
TITLE = 8.0  # height of the strip above a mat that carries its title, mm
_SAME = 0.1  # bevel and cut lines nearer than this are one line, mm
_OUTSIDE = 150.0  # how far from a piece its words may stand, mm


def draw_piece(piece: Piece, pattern: Pattern, placement: Placement | None = None) -> Drawing:
    """The template of a piece, 1:1, seen from the front; placed as `placement` says."""
    around = shapely.box(*Polygon(_placed(piece, placement).ring(piece.cut[0])).buffer(
        _OUTSIDE).bounds)
    return _Template(piece, pattern, placement).drawn(Space(around))


def draw_placed(sheet: Sheet, pattern: Pattern, kerf: bool = False) -> list[Drawing]:
    """One drawing for each placement of a sheet, in sheet coordinates.

    A placement may name a piece or its template: the template's lines are drawn,
    under the code that is named. kerf: move the cut lines by half the stock's
    kerf into the waste, so that what is cut comes out at true size.
    """
    jobs = [_Template(pattern.piece(p.piece), pattern, p, kerf, sheet.kind == "mat")
            for p in sheet.placements]
    outside = Space(_waste(sheet, pattern, [job.body for job in jobs]))
    return [job.drawn(outside) for job in jobs]


def draw_sheet(sheet: Sheet, pattern: Pattern, kerf: bool = False) -> Drawing:
    """Every piece on a sheet; on a mat also its outline and title (see `frame`)."""
    return combined([*draw_placed(sheet, pattern, kerf), frame(sheet, pattern)])


def frame(sheet: Sheet, pattern: Pattern) -> Drawing:
    """A mat's outline, and its title in a strip of TITLE mm above it. Pages have none."""
    if sheet.kind != "mat":
        return Drawing()
    (w, h), unit = sheet.size, pattern.settings.unit
    size = f"{format_length(w, unit)} × {format_length(h, unit)}"
    words = legible("  ·  ".join((pattern.settings.title, sheet.name, size, "scale 1:1")))
    corners = ((0, 0), (w, 0), (w, h), (0, h))
    return Drawing((Stroke("guide", corners, closed=True),),
                   (Text("text", words, (2.0, h + 2.5), 5.0, anchor="start"),))


def _waste(sheet: Sheet, pattern: Pattern, bodies: list[Polygon]) -> shapely.Geometry:
    """Where words may stand between the pieces of a sheet."""
    if sheet.tile:  # the words of a tiled piece must agree from page to page
        area = shapely.box(*shapely.union_all(bodies).buffer(_OUTSIDE).bounds)
    else:
        inset = pattern.settings.margin if sheet.kind == "page" else 2.0
        area = shapely.box(inset, inset, sheet.size[0] - inset, sheet.size[1] - inset)
    return area.difference(shapely.union_all([body.buffer(CLEAR) for body in bodies]))


class _placed:
    """How a piece's own coordinates come onto the sheet."""

    def __init__(self, piece: Piece, placement: Placement | None):
        self.points: Callable = placement.apply if placement else np.asarray
        self.origin = self.points(np.zeros((1, 2)))[0]
        self.left = -1.0 if placement and placement.mirrored else 1.0  # side of the foam

    def ring(self, points) -> np.ndarray:
        return np.asarray(self.points(points), dtype=float)

    def direction(self, vector) -> np.ndarray:
        return self.points(np.asarray(vector, dtype=float)[None])[0] - self.origin


class _Template:
    """One piece on its way to paper: first its lines, then its words round them."""

    def __init__(self, piece: Piece, pattern: Pattern, placement: Placement | None = None,
                 kerf: bool = False, mat: bool = False):
        self.piece = piece
        known = piece.template and piece.template in pattern.index
        self.source = pattern.piece(piece.template) if known else piece
        self.pattern, self.mat = pattern, mat
        self.turned = replace(piece, flipped=placement.mirrored) if placement else piece
        self.place = _placed(self.source, placement)
        self.rings = [self.place.ring(ring) for ring in self.source.cut]
        self.body = _polygon(self.rings)
        self.kerf = self.source.stock.kerf if kerf else 0.0
        self.texts: list[Text] = []
        self.strokes: list[Stroke] = []

    def drawn(self, outside: Space) -> Drawing:
        self.outside = outside
        self._lines()
        lines = shapely.union_all([_line(s) for s in self.strokes])
        self.inside = Space(self.body.difference(lines.buffer(CLEAR, quad_segs=2)))
        for put in (self._edge_letters, self._notch_letters, self._fold_notes,
                    self._bevel_notes, self._label):
            put()
        return Drawing(tuple(self.strokes), tuple(self.texts))

    # --- lines

    def _lines(self) -> None:
        rings = _grown(self.body, self.kerf / 2) if self.kerf else self.rings
        self.strokes += [Stroke("cut", ring, closed=True) for ring in rings]
        self.strokes += [Stroke("bevel", line) for line in self._bevel_lines()]
        for edge in self.source.edges:
            self.strokes += self._bevel_ends(edge)
        for fold in self.source.folds:
            layer = "trench" if fold.kind == TRENCH else "score"
            self.strokes.append(Stroke(layer, self.place.ring(fold.points)))
        for notch in self.source.notches:
            root, inward = self.place.ring(notch.point[None])[0], self._inward(notch)
            self.strokes.append(Stroke("notch", [root, root + inward * self._tick(notch)]))

    def _bevel_lines(self) -> list[np.ndarray]:
        """The smaller face's outline, wherever it is not the cut line itself."""
        near = self.body.boundary.buffer(_SAME, quad_segs=2)
        lines = []
        for ring in (*self.source.front, *self.source.back):
            ring = self.place.ring(ring)
            rest = LineString([*ring, ring[0]]).difference(near)
            rest = shapely.line_merge(rest) if isinstance(rest, MultiLineString) else rest
            lines += [np.array(g.coords) for g in shapely.get_parts(rest) if g.length > 1.0]
        return lines

    def _bevel_ends(self, edge) -> list[Stroke]:
        """Short lines across the bevel where its angle changes."""
        runs = bevel_stretches(edge)[:-1]
        if not runs or np.all(np.abs(edge.bevel) < np.radians(1.0)):
            return []
        path, strokes = Path(self.place.ring(edge.cut), self.place.left), []
        for _, last in runs:
            width = max(abs(np.tan(edge.bevel[last])) * self.source.stock.thickness, 2.0)
            root = path.at(path.arc[[last]])
            _, across = path.frames(path.arc[[last]], 2.0)
            strokes.append(Stroke("bevel", [root[0], root[0] + across[0] * width]))
        return strokes

    def _inward(self, notch) -> np.ndarray:
        return self.place.direction(notch.inward)

    def _tick(self, notch) -> float:
        """Length of a notch: shorter where the piece is slender."""
        root, inward = self.place.ring(notch.point[None])[0], self._inward(notch)
        ray = LineString([root + inward * 0.05, root + inward * 3 * TICK])
        parts = shapely.get_parts(ray.intersection(self.body))
        depth = parts[0].length if len(parts) else 0.0
        return float(np.clip(depth / 3, 2.0, TICK))

    # --- words

    def _say(self, texts: tuple[Text, ...]) -> bool:
        self.texts += texts
        return bool(texts)

    def _edge_letters(self) -> None:
        thickness = self.source.stock.thickness
        for edge in sorted(self.source.edges, key=lambda e: e.length):
            if not edge.letter or len(edge.cut) < 2:
                continue
            path = Path(self.place.ring(edge.cut), self.place.left)
            band = min(float(np.abs(np.tan(edge.bevel)).max()) * thickness, 20.0)
            for size in (5.5, 4.5, MIN_SIZE):
                block = Block(Line(edge.letter, size, bold=True))
                gaps = np.array((2.0, 1.0, 3.0, 4.5, 7.0, 10.0))
                if band > 1.0:
                    gaps = np.append(gaps + band, 1.0)
                if self._say(self.inside.put(block, *path.spots(
                        block.extent, np.sort(gaps), upright=True, reach=(0.08, 0.92)))):
                    break
            else:
                self._point_out(Block(Line(edge.letter, bold=True)),
                                path.at(np.array([path.length / 2]))[0])

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
            path, blocks = Path(self.place.ring(fold.points)), fold_blocks(
                fold, self.pattern.settings.unit)
            for block in blocks:
                if self._say(self.inside.put(block, *path.spots(
                        block.extent, (1.2, 2.5, 5.0), reach=(0.1, 0.9), both=True))):
                    break
            else:
                self._point_out(blocks[1], path.at(np.array([path.length / 2]))[0])

    def _bevel_notes(self) -> None:
        for edge in self.source.edges:
            path = Path(self.place.ring(edge.cut), self.place.left)
            for first, last in bevel_stretches(edge):
                note = bevel_note(edge.bevel[first : last + 1], edge.larger)
                if not note:
                    continue
                block = Block(Line(note))
                reach = path.arc[[first, last]] / max(path.length, 1e-9)
                gaps = np.array((1.2, 3.0, 5.0, 8.0, 11.0, 14.0, 18.0))
                self._say(self.inside.put(block, *path.spots(
                    block.extent, gaps, middle=float(reach.mean()), reach=tuple(reach)))
                ) or self._point_out(block, path.at(np.array([reach.mean() * path.length]))[0])

    def _label(self) -> None:
        lines = label_lines(self.turned, self.pattern, self.mat)
        spots = self.inside.roomiest()
        axis = _long_axis(self.body)
        sizes = label_blocks(lines)
        tries = [(size, shape, angle) for shape, angle in
                 ((0, 0.0), (1, 0.0), (0, axis), (1, axis), (2, axis)) for size in range(len(sizes))
                 if shape == 0 or size]
        # Large before small, but never smaller upright when a turned label could be larger.
        tries.sort(key=lambda t: t[0])
        for size, shape, angle in tries:
            if self._say(self.inside.put(sizes[size][shape], spots, angle)):
                self._up_arrow(np.asarray(self.texts[-1].point))
                return
        block = sizes[-1][0]
        home = self.body.representative_point().coords[0]
        if not self._point_out(block, home):
            for least in (sizes[-2][0].lines[0], Line(lines[0], MIN_SIZE, bold=True)):
                if self._say(self.inside.put(Block(least), spots, 0.0)):
                    break
        self._up_arrow(np.asarray(home))

    def _up_arrow(self, near: np.ndarray) -> None:
        """An arrow that points up on the wearer, with the word UP at its foot."""
        up = self.place.direction(self.source.up)
        if np.hypot(*up) < 1e-6:
            return
        up /= np.hypot(*up)
        foot = Block(Line("UP", bold=True))
        square = float(np.abs(foot.extent).max()) + 1.0
        side = np.array((up[1], -up[0]))
        for space, lengths in ((self.inside, (24.0, 16.0, 10.0)), (self.outside, (12.0,))):
            spots = space.roomiest() if space is self.inside else self._round_about()
            spots = spots[np.argsort(np.hypot(*(spots - near).T), kind="stable")]
            for length in lengths:
                extent = (max(square, 5.0), length + square)
                turn = float(np.arctan2(-up[0], up[1]))
                spot = space.find(extent, spots, turn)
                if spot is None:
                    continue
                centre = spots[spot]
                space.take(boxes(centre, turn, extent)[0])
                tail = centre + up * (square - (length + square) / 2 + 0.5)
                tip = tail + up * (length - 1.0)
                barb = [tip - up * 3.5 + side * 1.6, tip, tip - up * 3.5 - side * 1.6]
                self.strokes += [Stroke("arrow", [tail, tip]), Stroke("arrow", barb)]
                self._say(foot.texts(tail - up * (square / 2), 0.0))
                return

    def _round_about(self) -> np.ndarray:
        """Spots (k, 2) outside the piece, near ones first."""
        spots = []
        for away in (9.0, 14.0, 20.0, 28.0, 40.0, 60.0, 90.0, 130.0):
            ring = Polygon(self.body.exterior).buffer(away, quad_segs=4).exterior
            steps = np.arange(0.0, ring.length, 6.0)
            spots.append(shapely.get_coordinates(shapely.line_interpolate_point(ring, steps)))
        return np.concatenate(spots)

    def _point_out(self, block: Block, target) -> bool:
        """Set a block outside the piece, joined to `target` (2,) by a leader line."""
        target, spots = np.asarray(target, dtype=float), self._round_about()
        spots = spots[np.argsort(np.hypot(*(spots - target).T), kind="stable")]
        ground = shapely.union(self.outside.region, self.body.buffer(2 * CLEAR))
        shapely.prepare(ground)
        found: list[LineString] = []

        def clear(i: int) -> bool:
            box = boxes(spots[i], 0.0, block.extent + 1.2)[0]
            end = shapely.get_coordinates(shapely.shortest_line(box, shapely.Point(target)))[0]
            leader = LineString([end, target])
            words = np.array(self.inside.taken + self.outside.taken, dtype=object)
            if not ground.contains(leader) or shapely.dwithin(words, leader, 0.4).any():
                return False
            found.append(leader)
            return True

        texts = self.outside.put(block, spots, 0.0, also=clear)
        if texts:
            leader = found[-1]
            self.inside.take(leader)
            self.outside.take(leader)
            self.strokes.append(Stroke("text", np.array(leader.coords)))
        return self._say(texts)


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
    return body if body.is_valid else body.buffer(0)


def _grown(body: Polygon, by: float) -> list[np.ndarray]:
    """Rings of a piece with its outside grown and its holes shrunk by `by` mm."""
    grown = body.buffer(by, join_style="mitre", mitre_limit=4.0)
    return [np.array(ring.coords)[:-1] for part in shapely.get_parts(grown)
            for ring in (part.exterior, *part.interiors)]
