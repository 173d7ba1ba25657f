"""A line while it is drawn: the picks so far, and the way between them on the sculpt.

Nothing of the file is touched before the line is confirmed. Places are in mm of the world, before
the scale of the suit; the surface is the one that patterns are made of.
"""

from __future__ import annotations

import bpy
import numpy as np

from ..core import trace
from ..core.errors import ERROR, Finding, FoamError
from ..core.model import Sculpt
from .guides import is_guide, world_polylines
from .read import mm_per_unit, read_scene
from .settings import read_settings

OFF = 5.0  # mm of suit: a pick farther than this from the sculpt was not meant for it
ENOUGH = 0.05  # mm of suit: how near to the line its curve runs between its points


class Sketch:
    """picks: list of places (3,) in mm; closed, fair: how they are joined."""

    def __init__(self, scene: bpy.types.Scene, item: bpy.types.Object):
        self.item, self.mm = item, mm_per_unit(scene)
        settings = read_settings(scene)
        self.scale = settings.scale
        self.sculpt: Sculpt
        self.sculpt, (source,) = read_scene(scene, [item], settings, bind=True)
        self.ground = source.ground
        self.surface = (self.ground.places.surface if self.ground else
                        trace.Surface(self.sculpt.vertices, self.sculpt.faces))
        self.picks: list[np.ndarray] = []
        self.closed = self.fair = False
        self._legs: dict[bytes, np.ndarray] = {}
        self._tree = None
        self._beside = _lines_of(self.sculpt, self.surface, [
            (points * self.mm, closed) for other in scene.objects
            if is_guide(other) and other.parent == item
            for points, closed in world_polylines(other)])

    def hit(self, origin: np.ndarray, direction: np.ndarray) -> np.ndarray | None:
        """Where a ray (mm) first meets the sculpt, None where it does not."""
        from mathutils.bvhtree import BVHTree

        if self._tree is None:
            self._tree = BVHTree.FromPolygons(self.sculpt.vertices.tolist(),
                                              self.sculpt.faces.tolist(), all_triangles=True)
        place = self._tree.ray_cast(origin, direction)[0]
        return None if place is None else np.array(place)

    def snapped(self, place: np.ndarray, reach: float) -> np.ndarray:
        """The place, or the nearest end of a line, else line or rim, within reach (mm)."""
        ends, starts, stops = self._beside
        if len(ends):
            away = np.linalg.norm(ends - place, axis=1)
            if away.min() < reach:
                return ends[away.argmin()]
        if len(starts):
            side = stops - starts
            t = np.clip(((place - starts) * side).sum(axis=1)
                        / np.maximum((side**2).sum(axis=1), 1e-300), 0, 1)
            foot = starts + t[:, None] * side
            away = np.linalg.norm(foot - place, axis=1)
            if away.min() < reach:
                return foot[away.argmin()]
        return place

    def line(self) -> trace.SurfaceLine:
        """The line through the picks. Raises FoamError where there is none."""
        return self.trace(self.picks)

    def trace(self, picks: list[np.ndarray]) -> trace.SurfaceLine:
        """The line through other picks, joined as these are."""
        places = np.array(picks, dtype=float).reshape(-1, 3)
        if len(places) < 2 or not np.ptp(places, axis=0).any():
            raise FoamError(Finding(
                "line-too-short", ERROR, "A line needs two points.",
                "Click at least twice on the sculpt, then confirm."))
        away = float(self.surface.nearest(places).distance.max()) * self.scale
        if not away <= OFF:
            raise FoamError(Finding(
                "point-off-surface", ERROR,
                f"A point of the line lies {away:.1f} mm away from “{self.item.name}”.",
                "Choose all points of a line on one object."))
        draw = trace.fair_through if self.fair else trace.through
        return draw(self.surface, places, self.closed)

    def shown(self, beyond: np.ndarray | None = None) -> list[np.ndarray]:
        """Polylines (k, 3) in mm to be shown: the line so far, and on to a place beyond it."""
        picks = self.picks
        found = []
        if self.fair and len(picks) > 2:
            found.append(self._kept(
                [*picks, np.full(3, self.closed)], lambda: self.line().points))
        else:
            pairs = list(zip(picks, picks[1:], strict=False))
            if self.closed and len(picks) > 2:
                pairs.append((picks[-1], picks[0]))
            found += [self._leg(*pair) for pair in pairs]
        if beyond is not None and picks and not self.closed:
            found.append(self._leg(picks[-1], beyond))
        return [line for line in found if len(line)]

    def _leg(self, start: np.ndarray, stop: np.ndarray) -> np.ndarray:
        return self._kept([start, stop], lambda: trace.through(
            self.surface, np.array([start, stop])).points)

    def _kept(self, key: list[np.ndarray], work) -> np.ndarray:
        name = np.array(key).tobytes()
        if name not in self._legs:
            if len(self._legs) > 500:  # the pointer has wandered far
                self._legs.clear()
            try:
                self._legs[name] = work()
            except FoamError:  # told when the line is confirmed
                self._legs[name] = np.empty((0, 3))
        return self._legs[name]


def enough(line: trace.SurfaceLine, scale: float) -> np.ndarray:
    """Points (k, 3) that a curve needs to look like the line, a closed one's first only once.
    scale: of the suit."""
    kept = set(trace.needed(line.points, ENOUGH / scale)) | set(line.picks.tolist())
    points = line.points[sorted(kept)]
    return points[:-1] if line.closed else points


def _lines_of(sculpt: Sculpt, surface: trace.Surface, others) -> tuple[np.ndarray, ...]:
    """Ends (e, 3) of other lines, and starts and stops (k, 3) of their steps, marks and rims."""
    corner = sculpt.faces.ravel()
    half = np.flatnonzero(surface.twin < 0)
    after = half - half % 3 + (half + 1) % 3
    starts = [sculpt.vertices[corner[half]], sculpt.vertices[sculpt.edges[:, 0]]]
    stops = [sculpt.vertices[corner[after]], sculpt.vertices[sculpt.edges[:, 1]]]
    ends = [np.empty((0, 3))]
    for points, closed in others:
        line = np.append(points, points[:1], axis=0) if closed else points
        starts.append(line[:-1])
        stops.append(line[1:])
        if not closed:
            ends.append(line[[0, -1]])
    return np.concatenate(ends), np.concatenate(starts), np.concatenate(stops)
