"""Finding room for words: text boxes are tried at given spots until one lies free of all lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely

from .fonts import legible, text_width
from .strokes import MIN_SIZE, Text

ASCENT, DESCENT, LEADING = 0.78, 0.22, 1.28  # of the font size; LEADING from line to line
_LEAN = np.radians(75.0)  # text that falls more steeply than this is turned to rise
_AT_ONCE = 64  # spots looked at first: they mostly do; then ever more
_SPOTS = 500  # of a grid over a space
_RIGHT, _UP = np.array((-1.0, 1.0, 1.0, -1.0)), np.array((-1.0, -1.0, 1.0, 1.0))  # of corners
CLEAR = 0.9  # room between a text and a line, mm


@dataclass(frozen=True)
class Line:
    """One line of a block of text."""

    text: str
    size: float = MIN_SIZE
    bold: bool = False

    @property
    def width(self) -> float:
        return text_width(self.text, self.size, self.bold)


class Block:
    """Lines of text set one under the other, centred."""

    def __init__(self, *lines: Line):
        self.lines = tuple(line for line in lines if line.text)
        steps = [line.size * LEADING for line in self.lines[1:]]
        self.width = max(line.width for line in self.lines)
        self.height = self.lines[0].size * ASCENT + sum(steps) + self.lines[-1].size * DESCENT

    @property
    def extent(self) -> np.ndarray:
        """(2,) width and height, mm."""
        return np.array((self.width, self.height))

    def texts(self, centre: Sequence[float], angle: float, layer: str = "text") -> tuple[Text, ...]:
        """The lines with the middle of the block at centre (2,)."""
        down = np.array((np.sin(angle), -np.cos(angle)))
        drop, texts = -self.height / 2 + self.lines[0].size * ASCENT, []
        for i, line in enumerate(self.lines):
            drop += line.size * LEADING if i else 0.0
            point = np.asarray(centre, dtype=float) + down * drop
            texts.append(Text(layer, legible(line.text), point, line.size, angle, "middle",
                              line.bold))
        return tuple(texts)


def text_box(text: Text) -> shapely.Polygon:
    """The rectangle a line of text fills."""
    width = text_width(text.text, text.size, text.bold)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    along = np.array((np.cos(text.angle), np.sin(text.angle)))
    up = np.array((-along[1], along[0]))
    centre = (text.point + along * (start + width / 2)
              + up * text.size * (ASCENT - DESCENT) / 2)
    return boxes(centre[None], text.angle, (width, text.size * (ASCENT + DESCENT)))[0]


def boxes(centres: np.ndarray, angles: float | np.ndarray, extent: Sequence[float]) -> np.ndarray:
    """Rectangles of extent (width, height) about centres (k, 2), turned by angles (k,)."""
    return shapely.polygons(_corners(np.asarray(centres, dtype=float).reshape(-1, 2), angles,
                                     extent))


def _corners(centres: np.ndarray, angles: float | np.ndarray, extent: Sequence[float]
             ) -> np.ndarray:
    """The corners (k, 4, 2) of such rectangles."""
    x, y = extent[0] / 2 * _RIGHT, extent[1] / 2 * _UP
    c, s = np.cos(angles)[..., None], np.sin(angles)[..., None]
    found = np.empty((len(centres), 4, 2))
    found[..., 0] = centres[:, :1] + (x * c - y * s)
    found[..., 1] = centres[:, 1:] + (x * s + y * c)
    return found


def readable(angle: float | np.ndarray) -> np.ndarray:
    """The angle of a baseline, turned by half a turn where it would stand upside down.

    Text reads from the bottom or the right of a sheet (ISO 129-1, from memory), so
    what is nearly upright runs upwards.
    """
    return (np.asarray(angle) + _LEAN) % np.pi - _LEAN


@dataclass
class Space:
    """A region where text may stand, and what it has taken up so far."""

    region: shapely.Geometry
    taken: list[shapely.Geometry] = field(default_factory=list)

    def __post_init__(self):
        shapely.prepare(self.region)
        self._sizes: dict[float, list[list[float]]] = {}
        self._tree: tuple[int, shapely.STRtree] = (0, shapely.STRtree([]))

    def take(self, shape: shapely.Geometry) -> None:
        self.taken.append(shape)

    @property
    def tree(self) -> shapely.STRtree:
        """What is taken, to be searched."""
        if self._tree[0] != len(self.taken):
            self._tree = len(self.taken), shapely.STRtree(self.taken)
        return self._tree[1]

    def find(self, extent: Sequence[float], centres: Sequence, angles: float | np.ndarray = 0.0,
             also: Callable[[np.ndarray], np.ndarray] | None = None) -> int | None:
        """Index of the first spot where a rectangle fits; also(indices) tells which of those
        that have room may be used."""
        if not len(centres):
            return None
        centres, angles = np.reshape(centres, (-1, 2)), np.asarray(angles, dtype=float)
        if not angles.ndim and not self._holds(extent, float(angles)):
            return None
        start, number = 0, _AT_ONCE
        while start < len(centres):
            some = np.arange(start, min(start + number, len(centres)))
            corners = _corners(centres[some], angles[some] if angles.ndim else angles, extent)
            for k in range(4):  # most boxes stick out with a corner, which is soon seen
                held = shapely.intersects_xy(self.region, corners[:, k])
                some, corners = some[held], corners[held]
                if not len(some):
                    break
            else:
                shapes = shapely.polygons(corners)
                held = shapely.contains(self.region, shapes)
                some, shapes = some[held], shapes[held]
                near, _ = self.tree.query(shapes, "dwithin", CLEAR)
                some = np.delete(some, np.unique(near))
                some = some if also is None or not len(some) else some[also(some)]
                if len(some):
                    return int(some[0])
            start, number = start + number, 4 * number
        return None

    def _holds(self, extent: Sequence[float], angle: float) -> bool:
        """Whether some part of the region is as long and as high at all."""
        if angle not in self._sizes:
            c, s = np.cos(angle), np.sin(angle)
            flat, part = shapely.get_coordinates(shapely.get_parts(self.region), return_index=True)
            turned = flat @ np.array([[c, -s], [s, c]])
            first = np.flatnonzero(np.diff(part, prepend=-1))
            self._sizes[angle] = ((np.maximum.reduceat(turned, first)
                                   - np.minimum.reduceat(turned, first)).tolist()
                                  if len(first) else [])
        width, height = extent[0] - 1e-9, extent[1] - 1e-9
        return any(wide >= width and high >= height for wide, high in self._sizes[angle])

    def put(self, block: Block, centres: Sequence, angles: float | np.ndarray = 0.0
            ) -> tuple[Text, ...]:
        """Set a block at the first spot where it fits and take the room; () where it does not."""
        spot = self.find(block.extent, centres, angles)
        if spot is None:
            return ()
        centres = np.asarray(centres, dtype=float).reshape(-1, 2)
        angle = float(np.broadcast_to(angles, len(centres))[spot])
        self.take(boxes(centres[spot], angle, block.extent)[0])
        return block.texts(centres[spot], angle)

    def roomiest(self) -> tuple[np.ndarray, np.ndarray]:
        """Spots (k, 2) of a grid over the region and their distances (k,) from its lines,
        the farthest first."""
        return self._grid

    @cached_property
    def _grid(self) -> tuple[np.ndarray, np.ndarray]:
        if self.region.is_empty:
            return np.empty((0, 2)), np.empty(0)
        x0, y0, x1, y1 = self.region.bounds
        step = max(np.sqrt((x1 - x0) * (y1 - y0) / _SPOTS), 0.5)
        # An odd number of columns and rows, so that the middle line is among them.
        axes = [np.linspace(a, b, 2 * int((b - a) / step / 2 + 1) + 1)
                for a, b in ((x0, x1), (y0, y1))]
        spots = np.stack(np.meshgrid(*axes), axis=-1).reshape(-1, 2)
        spots = spots[shapely.contains_xy(self.region, spots[:, 0], spots[:, 1])]
        away = shapely.distance(self.region.boundary, shapely.points(spots))
        order = np.argsort(-np.round(away, 3), kind="stable")
        return spots[order], away[order]


class Path:
    """A polyline to set text along: points (k, 2), left: the side where the text belongs,
    +1 left of the direction of travel, -1 right of it."""

    def __init__(self, points: np.ndarray, left: float = 1.0):
        self.points = np.asarray(points, dtype=float)
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        self.arc = np.concatenate([[0.0], np.cumsum(steps)])
        self.length = float(self.arc[-1])
        self.side = left

    def at(self, s: np.ndarray) -> np.ndarray:
        """Points (k, 2) at arc lengths s (k,)."""
        return np.stack([np.interp(s, self.arc, self.points[:, i]) for i in (0, 1)], axis=-1)

    def part(self, start: float, end: float) -> Path:
        """The path from one arc length to another."""
        inner = self.points[(self.arc > start) & (self.arc < end)]
        a, b = self.at(np.array([start, end]))
        return Path(np.concatenate([[a], inner, [b]]), self.side)

    def within(self, windows: Sequence[shapely.Geometry], least: float) -> list[Path]:
        """The parts in each of some windows that are at least so long, else the longest one."""
        s = np.union1d(self.arc, np.arange(0.0, self.length, 1.0))
        points, parts = self.at(s), []
        for window in windows:
            held = np.flatnonzero(np.diff(np.concatenate(
                [[0], shapely.intersects_xy(window, points).astype(int), [0]])))
            parts += [self.part(s[a], s[b - 1])
                      for a, b in held.reshape(-1, 2) if s[b - 1] > s[a]]
        long = [part for part in parts if part.length >= least]
        return long or sorted(parts, key=lambda part: -part.length)[:1] or [self]

    def frames(self, s: np.ndarray, window: float) -> tuple[np.ndarray, np.ndarray]:
        """Directions along the path and across it to the text's side, each (k, 2), the first
        as the chord over `window` mm."""
        s = np.asarray(s, dtype=float)
        chord = self.at(np.minimum(s + window / 2, self.length)) \
            - self.at(np.maximum(s - window / 2, 0.0))
        chord /= np.maximum(np.hypot(*chord.T), 1e-12)[:, None]
        return chord, self.side * np.stack([-chord[:, 1], chord[:, 0]], axis=1)

    def spots(self, extent: Sequence[float], offsets: Sequence[float], middle: float = 0.5,
              upright: bool = False, reach: tuple[float, float] = (0.0, 1.0), both: bool = False,
              ) -> tuple[np.ndarray, np.ndarray]:
        """Centres (k, 2) and angles (k,) beside the path, best first: near the fraction `middle`
        of its length and close to the line. offsets: gaps between line and text; upright: do
        not turn the text along the path; both: on either side."""
        fractions = np.linspace(reach[0], reach[1], int(np.clip(self.length / 4, 8, 40)) + 1)
        fractions = np.append(fractions, middle)
        s, gap = (a.ravel() for a in np.meshgrid(fractions * self.length, offsets))
        along, across = self.frames(s, max(extent[0], 4.0))
        angles = np.zeros(len(s)) if upright else readable(np.arctan2(along[:, 1], along[:, 0]))
        # Half the box's size across the line; for text along the line that is half its height.
        c, sn = np.cos(angles), np.sin(angles)
        half = (np.abs(across[:, 0] * c + across[:, 1] * sn) * extent[0]
                + np.abs(across[:, 1] * c - across[:, 0] * sn) * extent[1]) / 2
        shift = across * (gap + half)[:, None]
        cost = np.abs(s - middle * self.length) + 4.0 * (gap - np.min(offsets))
        centres = self.at(s) + shift
        if both:
            centres = np.concatenate([centres, self.at(s) - shift])
            cost, angles = np.concatenate([cost, cost + 1e-3]), np.concatenate([angles, angles])
        order = np.argsort(cost, kind="stable")
        return centres[order], angles[order]
