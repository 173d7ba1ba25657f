"""A small picture of where a piece is worn: its object in outline, the piece hatched.

Hatching is lines, so every format shows it and it prints in black and white. All pieces
of an object share one view and one depth buffer as far as they are seen in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from ..core.model import Pattern, Piece
from .areas import areas
from .depth import HIDDEN, DepthMap
from .scene import RESOLUTION, Camera, Scene
from .strokes import Drawing, Stroke

SIZE = (24.0, 26.0)  # that a picture fits, mm
# Ways to look, (azimuth, elevation) in degrees as for pictures: those for objects, then two more
# for pieces that lie level.
LEVEL = tuple((azimuth, 12.0) for azimuth in (0, 180, 90, -90, 45, -45, 135, -135))
VIEWS = (*LEVEL, (30.0, 60.0), (30.0, -50.0))
SEEN = 0.2  # share of its area by which a piece shows in its object's view
HATCH = 0.8  # mm between lines at 45°
_LEAST = 12  # pixels of a piece that can be hatched


@dataclass(frozen=True, eq=False)
class Position:
    """drawing: from its lower left corner at the origin; size (w, h), mm."""

    drawing: Drawing
    size: tuple[float, float]


class Positions:
    """The pictures of all pieces of a pattern, each made when it is asked for."""

    def __init__(self, pattern: Pattern):
        self.pattern = pattern
        self._objects: dict[str, _Object] = {}

    def picture(self, code: str) -> Position | None:
        """Where the piece is on its object, or on the suit where it is all of its object; None
        where there is nothing around it to tell that by."""
        piece = self.pattern.piece(code)
        if not len(piece.faces) and piece.base in self.pattern.index:  # a block
            code = piece.base
        fellows = [p for p in self.pattern.pieces if p.object == piece.object]
        name = piece.object if len(fellows) > 1 else ""
        if not name:
            fellows = list(self.pattern.pieces)
        if len(fellows) < 2:
            return None
        if name not in self._objects:
            self._objects[name] = _Object(self.pattern, fellows)
        return self._objects[name].picture(code)


class _Object:
    """Some pieces that are shown together."""

    def __init__(self, pattern: Pattern, pieces: list[Piece]):
        self.scene = Scene(pattern, [p.code for p in pieces])
        self.number = {p.code: i for i, p in enumerate(self.scene.pieces)}
        self._shots: dict[int, tuple[Camera, DepthMap, tuple[Stroke, ...]]] = {}

    @cached_property
    def shares(self) -> np.ndarray:
        """(pieces, views): how much of each piece's area faces each view."""
        return self.scene.facing(np.stack(
            [Camera(self.scene, view, SIZE).toward for view in VIEWS], axis=1))

    @cached_property
    def view(self) -> int:
        """The view of LEVEL in which most pieces show, and they most."""
        shares = self.shares[:, :len(LEVEL)]
        seen = (shares > SEEN).sum(axis=0)
        return int(np.argmax(np.round(seen + shares.mean(axis=0), 3)))

    def picture(self, code: str) -> Position | None:
        piece = self.number[code]
        own = self.view if self.shares[piece, self.view] > SEEN else int(
            np.argmax(np.round(self.shares[piece], 3)))
        camera, seen, lines = self._shot(own)
        mask = (seen.face != HIDDEN) & (self.scene.owner[np.maximum(seen.face, 0)] == piece)
        if mask.sum() < _LEAST:
            return None
        hatching = [stroke for rings in areas(mask)
                    for stroke in _hatched([ring / RESOLUTION for ring in rings])]
        return Position(Drawing((*lines, *hatching)), camera.size)

    def _shot(self, view: int) -> tuple[Camera, DepthMap, tuple[Stroke, ...]]:
        if view not in self._shots:
            camera = Camera(self.scene, VIEWS[view], SIZE)
            seen = camera.shot()
            self._shots[view] = camera, seen, tuple(
                Stroke("position", points)
                for curves in (self.scene.borders(), self.scene.outlines(camera.toward))
                for points in camera.stretches(seen, curves))
        return self._shots[view]


def _hatched(rings: list[np.ndarray]) -> list[Stroke]:
    """Lines at 45° that fill an area with its rings."""
    area = shapely.Polygon(rings[0], rings[1:]).buffer(0)
    x0, y0, x1, y1 = area.bounds
    at = np.arange(np.floor((y0 - x1) / HATCH), (y1 - x0) / HATCH + 1) * HATCH * np.sqrt(2)
    at = at[(at > y0 - x1) & (at < y1 - x0)]
    lines = shapely.linestrings(np.stack([np.stack([np.full_like(at, x0), at + x0], axis=1),
                                          np.stack([np.full_like(at, x1), at + x1], axis=1)],
                                         axis=1))
    parts = shapely.get_parts(shapely.intersection(lines, area))
    return [Stroke("position", shapely.get_coordinates(part)) for part in parts
            if part.geom_type == "LineString" and part.length > 0.2]
