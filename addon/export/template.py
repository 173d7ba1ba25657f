"""The template of one piece: its lines first, then its words where they find room (notes.py)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon

from ..core.model import (
    BACK,
    FRONT,
    TRENCH,
    Fold,
    Notch,
    Pattern,
    Piece,
    PieceEdge,
    Placement,
    Sheet,
)
from ..core.nest import MITRE
from . import mark_strokes, placement
from .bevels import Stretch, bevel_stretches
from .curves import curves
from .gauge_marks import GaugeMark, on_card, on_template
from .joints import Joints
from .labels import CLEAR, Path, Space
from .notes import NARROW, Notes
from .position import Positions
from .strokes import Drawing, Stroke
from .tape_marks import TapeMark, marks

TICK = 6.0  # length of a notch, mm
_BESIDE = 3.0  # mm from a notch to where a bevel is told to change, which may be moved as far
_SAME = 0.5  # bevel and cut lines nearer than this would print as one, mm


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
    """One piece on its way to paper: first its lines, then its words round them.

    Of a sheet that is seen from behind it has the lines that are cut from the back, and those
    by which it is laid on the piece.
    """

    def __init__(self, piece: Piece, pattern: Pattern, placement: Placement | None = None,
                 sheet: Sheet | None = None, kerf: bool = False, joints: Joints | None = None,
                 positions: Positions | None = None):
        self.piece = piece
        known = piece.template and piece.template in pattern.index
        self.source = pattern.piece(piece.template) if known else piece
        self.pattern = pattern
        self.mat = sheet is not None and sheet.kind == "mat"
        self.back = sheet is not None and sheet.back
        self.joints, self.positions = joints, positions
        over = placement is not None and placement.mirrored != self.back
        self.turned = replace(piece, flipped=over) if placement else piece
        self.place = _Place(self.source, placement)
        self.rings = [self.place.ring(ring) for ring in self.source.cut]
        self.body = _polygon(self.rings)
        self.kerf = self.source.stock.kerf if kerf else 0.0
        self.allowance = allowance(sheet, pattern) if sheet and not piece.gauge_of else 0.0
        self.strokes: list[Stroke] = []

    @property
    def gauge_marks(self) -> list[GaugeMark]:
        """Where gauges are held, or on a gauge's card where they meet those places."""
        if self.pattern.settings.mock_up or not self.pattern.settings.gauges:
            return []
        if self.source.gauge_of:
            points, ways = self.source.marks.reshape(-1, 2, 2).transpose(1, 0, 2)
            return on_card(self.place.ring(points),
                           np.array([self.place.direction(way) for way in ways]))
        return [mark for number, gauge in enumerate(self.source.gauges, 1)
                for mark in on_template(self.place.ring(gauge.line), number)]

    @property
    def tape_marks(self) -> list[TapeMark]:
        """Where tapes across open rims end."""
        if self.pattern.settings.mock_up or self.source.gauge_of:
            return []
        return [TapeMark(self.place.ring(mark.point[None])[0], self.place.direction(mark.inward),
                         mark.word) for mark in marks(self.source, self.pattern)]

    @property
    def folds(self) -> list[Fold]:
        """The trenches and score lines that are drawn."""
        return [fold for fold in self.source.folds if not self.back or fold.side == BACK]

    def stretches(self, edge: PieceEdge) -> list[Stretch]:
        """The parts of an edge whose bevel is noted."""
        return [stretch for stretch in bevel_stretches(edge)
                if stretch.note and (not self.back or stretch.larger == FRONT)]

    def lay_lines(self) -> None:
        """Draw the lines, and find where words may stand between them."""
        self._lines()
        lines = shapely.union_all([_line(s) for s in self.strokes])
        room = self.body.difference(lines.buffer(CLEAR, quad_segs=2))
        self.inside = Space(self.joints.clear(room) if self.joints else room)

    def drawn(self, outside: Space) -> Drawing:
        """All of it, with words that have no room inside in the space outside."""
        self.lay_lines()
        notes = Notes(self, self.inside, outside)
        return Drawing((*self.strokes, *notes.strokes, *self.bends()), tuple(notes.texts))

    def _lines(self) -> None:
        if self.kerf:
            self.strokes += [Stroke("cut", ring, True, i > 0, curves(ring, closed=True))
                             for part in _grown(self.body, self.kerf / 2)
                             for i, ring in enumerate(part) if len(ring) > 2]
        else:
            self.strokes += [self._laid("cut", ring, True, i > 0)
                             for i, ring in enumerate(self.source.cut)]
        if self.allowance:
            self.strokes += [self._laid("allowance", ring, closed=True)
                             for part in _grown(_polygon(self.source.cut), self.allowance, MITRE)
                             for ring in part]
        self.strokes += [self._laid("bevel", line) for line in self._bevel_lines()]
        for edge in self.source.edges:
            self.strokes += self._bevel_ends(edge)
        if not self.back:
            self.strokes += [self._laid("finish", one.points) for one in self.source.finishes]
        for fold in self.folds:
            layer = "trench" if fold.kind == TRENCH else "score"
            self.strokes.append(self._laid(layer, fold.points))
            self.strokes += self._mouth(fold)
        for notch in self.source.notches:
            root, inward = self.place.ring(notch.point[None])[0], self.inward(notch)
            self.strokes.append(Stroke("notch", [root, root + inward * self.tick(notch)]))
        if not self.back:
            self.strokes += mark_strokes.strokes(self.source, self.place.ring, self.kerf)
            self.strokes += placement.strokes(self.source, self.place.ring)
        for mark in self.gauge_marks:
            self.strokes += mark.strokes
        self.strokes += [mark.stroke for mark in self.tape_marks]

    def _laid(self, layer: str, points: np.ndarray, closed: bool = False,
              hole: bool = False) -> Stroke:
        """A line of the piece, points (k, 2) in its own coordinates, where it lies."""
        found = curves(points, closed)  # of the piece as it is: the same on every sheet
        curve = self.place.ring(found.reshape(-1, 2)).reshape(-1, 4, 2) if len(found) else None
        return Stroke(layer, self.place.ring(points), closed, hole, curve)

    def bends(self) -> list[Stroke]:
        """The bend lines, last, since they only guide the eye: broken where something stands."""
        stands = shapely.union_all(self.inside.taken).buffer(CLEAR, quad_segs=2)
        if self.back:  # bent by hand, not cut
            return []
        lines = [LineString(self.place.ring(bend.points)) for bend in self.source.bends]
        return [Stroke("bend", shapely.get_coordinates(part)) for line in lines
                for part in shapely.get_parts(line.difference(stands)) if part.length > 2.0]

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
        """The smaller face's outline, wherever it is not the cut line itself, as the piece has
        it."""
        near = _polygon(self.source.cut).boundary.buffer(_SAME, quad_segs=2)
        lines = []
        for ring in self.source.back if self.back else (*self.source.front, *self.source.back):
            if len(ring) < 3:  # a bevel that leaves nothing of the smaller face
                continue
            rest = LineString([*ring, ring[0]]).difference(near)
            rest = shapely.line_merge(rest) if isinstance(rest, MultiLineString) else rest
            lines += [np.array(g.coords) for g in shapely.get_parts(rest) if g.length > 1.0]
        return lines

    def _bevel_ends(self, edge: PieceEdge) -> list[Stroke]:
        """Short lines across the bevel where its angle changes."""
        runs = bevel_stretches(edge)
        path, strokes = Path(self.place.ring(edge.cut), self.place.left), []
        notches = self._notches_on(path)
        for before, after in zip(runs[:-1], runs[1:], strict=True):
            if (before.square and after.square
                    or self.back and FRONT not in (before.larger, after.larger)):
                continue
            end = before.end
            angle = np.interp(end, path.arc, edge.bevel)
            width = max(abs(np.tan(angle)) * self.source.stock.thickness, 2.0)
            for notch in notches[np.abs(notches - end) < _BESIDE]:  # would look like one notch
                end = notch + np.copysign(_BESIDE, end - notch)
            end = np.clip(end, 0.0, path.length)
            root = path.at(np.array([end]))
            _, across = path.frames(np.array([end]), 2.0)
            strokes.append(Stroke("bevel", [root[0], root[0] + across[0] * width]))
        return strokes

    def _notches_on(self, path: Path) -> np.ndarray:
        """Where (k,) along an edge its notches are."""
        if not self.source.notches:
            return np.empty(0)
        line = LineString(path.points)
        points = shapely.points(self.place.ring(np.array([n.point for n in self.source.notches])))
        return line.project(points[shapely.dwithin(line, points, _SAME)])

    def inward(self, notch: Notch) -> np.ndarray:
        """Unit vector (2,) into the foam at a notch, on the sheet."""
        return self.place.direction(notch.inward)

    def tick(self, notch: Notch) -> float:
        """Length of a notch: shorter where the piece is slender."""
        root, inward = self.place.ring(notch.point[None])[0], self.inward(notch)
        ray = LineString([root + inward * 0.05, root + inward * 3 * TICK])
        parts = shapely.get_parts(ray.intersection(self.body))
        depth = parts[0].length if len(parts) else 0.0
        return float(min(depth / 3, TICK))


def allowance(sheet: Sheet, pattern: Pattern) -> float:
    """How far outside the cut line a second line is drawn on a sheet, mm."""
    return pattern.settings.allowance if sheet.kind == "page" and not sheet.back else 0.0


def cut_on_back(piece: Piece) -> bool:
    """Whether something is cut on the back of a piece: a trench, a score line or a bevel."""
    return (any(fold.side == BACK for fold in piece.folds)
            or any(stretch.larger == FRONT for edge in piece.edges
                   for stretch in bevel_stretches(edge)))


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


def _grown(body: Polygon, by: float, mitre: float = 4.0) -> list[list[np.ndarray]]:
    """Rings of a piece, per part, with its outside grown and its holes shrunk by `by` mm; mitre:
    how many times that its sharp corners may go farther."""
    grown = body.buffer(by, join_style="mitre", mitre_limit=mitre)
    return [[np.array(ring.coords)[:-1] for ring in (part.exterior, *part.interiors)]
            for part in shapely.get_parts(grown)]
