"""Words outside a piece, joined to it by a leader line."""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Polygon

from .labels import CLEAR, Block, Space, boxes
from .strokes import Stroke, Text

OUTSIDE = 150.0  # how far from a piece its words may stand, mm
LEADER = 80.0  # a leader longer than this is lost on the sheet, mm
FAR = 25.0  # mm; nearer spots are tried first
_AWAY = (6.0, 9.0, 14.0, 20.0, 28.0, 40.0, 60.0, 90.0, 130.0)  # mm from the piece to a spot


class Leaders:
    """The room round one piece: body, and the spaces inside and outside of it. gap: between the
    two, besides what keeps words clear of lines, mm."""

    def __init__(self, body: Polygon, inside: Space, outside: Space, gap: float = 0.0):
        self.gap, self.body, self.inside, self.outside = gap, body, inside, outside
        self._rings: dict[float, np.ndarray] = {}

    def round_about(self, reach: float = OUTSIDE) -> np.ndarray:
        """Spots (k, 2) outside the piece, near ones first."""
        return np.concatenate([self._ring(away) for away in _AWAY if away < reach])

    def _ring(self, away: float) -> np.ndarray:
        """Spots (k, 2) every few mm on a ring round the piece, so many mm from it."""
        if away not in self._rings:
            grown = self._plain.buffer(away, quad_segs=4)
            # One whole; GEOS may leave crumbs beside it.
            ring = max(shapely.get_parts(grown), key=shapely.area).exterior
            steps = np.arange(0.0, ring.length, 6.0)
            self._rings[away] = shapely.get_coordinates(
                shapely.line_interpolate_point(ring, steps))
        return self._rings[away]

    @cached_property
    def _plain(self) -> Polygon:
        """About the piece without its holes, of few corners, for spots that are tried anyway."""
        return Polygon(self.body.exterior).simplify(0.2)

    @cached_property
    def _near(self) -> shapely.Geometry:
        """The piece and what is kept clear about it, where its leaders may run as well."""
        return self.body.buffer(2 * CLEAR + self.gap)

    def point_out(self, block: Block, target: np.ndarray | None = None, across: bool = False
                  ) -> tuple[Stroke | None, tuple[Text, ...]]:
        """Set a block outside the piece and join it by a leader line to `target` (2,),
        or to the nearest part of the piece; across: even over other pieces. Returns the
        leader and the words, None and () where there is no room."""
        if target is None:
            # Most blocks find room near by, for which the far rings need not be made.
            choices = (np.concatenate([self._ring(away) for away in _AWAY if (away < FAR) == near])
                       for near in (True, False))
        else:
            spots = self.round_about(LEADER)
            away = np.hypot(*(spots - target).T)
            near = np.argsort(away, kind="stable")
            choices = (spots[near[away[near] < LEADER]],)
        for spots in choices:
            spot = self._spot(block, spots, target, across)
            if spot is not None:
                leader = self._leaders(spot[None], block, target)[0]
                texts = self.outside.put(block, spot[None])
                self.inside.take(leader)
                self.outside.take(leader)
                return Stroke("text", shapely.get_coordinates(leader)), texts
        return None, ()

    def _spot(self, block: Block, spots: np.ndarray, target: np.ndarray | None, across: bool
              ) -> np.ndarray | None:
        """The first of some spots at which a block and its leader have room."""
        words = self.inside.tree, self.outside.tree

        def clear(some: np.ndarray) -> np.ndarray:
            leaders = self._leaders(spots[some], block, target)
            good = np.full(len(some), True)
            for tree in words:
                good[tree.query(leaders, "dwithin", 0.4)[0]] = False
            if not across:
                away = shapely.difference(leaders[good], self._near)
                good[good] = shapely.is_empty(away) | shapely.contains(self.outside.region, away)
            return good

        found = self.outside.find(block.extent, spots, also=clear)
        return None if found is None else spots[found]

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
