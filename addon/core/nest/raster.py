"""Packs shapes into equal rectangles, or one of any outline, on a grid: deterministic, no clock.

Every shape is drawn as the cells it comes near; where a shape fits among those
already laid down is one correlation of two grids, done by FFT. Shapes go down
one after another, each at the free place furthest to the left. The order is
then improved by small changes for a fixed amount of work, counted in cells and
not in seconds, so that the same input gives the same layout on a fast and a slow computer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..inset import inset

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

CELLS = 90_000  # of a rectangle, at the finest
FINEST = 1.0  # mm, side of a cell
MEMORY = 300e6  # bytes of transforms that are kept rather than made again
WORK_PER_SECOND = 1e8  # cells correlated in about one second on one slow core
Tick = Callable[[float], bool | None]
ALIKE = 0.9  # a shape that is no smaller than this beside one that was refused is not tried
LEANS = (1.0, 0.5, 0.0)  # how much a shape's own width counts when its turns are compared


@dataclass(frozen=True)
class Spot:
    """Where a shape lies: number of the rectangle, turn, and move after the turn (mm)."""

    bin: int
    angle: float
    offset: tuple[float, float]


@dataclass(frozen=True, eq=False)
class _Turned:
    """A shape at one angle. cells (h, w) and their transform (None: not kept); corner:
    lower left of its bounding box after the turn, which lies half a gap inside cell (1, 1)."""

    angle: float
    cells: np.ndarray
    transform: np.ndarray | None
    corner: np.ndarray
    width: float
    count: int


class Packer:
    """Packs polygons into rectangles of one size (w, h).

    shapes: shapely polygons in their own coordinates; angles: the turns allowed
    for each, radians; gap: least distance of two shapes, half of it is kept to
    the rectangle's rim. fits (n,): False for a shape that no allowed turn gets in.
    outline: polygon in the rectangle; given, shapes go into that alone, and just once.
    units: what is laid down at once, numbers of shapes that fit; from `together`, see `pack`.
    """

    def __init__(self, size: tuple[float, float], gap: float, shapes: Sequence, angles: Sequence,
                 outline: BaseGeometry | None = None,
                 together: Sequence[Sequence[int]] | None = None):
        from scipy.fft import next_fast_len

        self.gap = gap
        finest = max(FINEST, math.sqrt(size[0] * size[1] / CELLS))
        self.cell = size[0] / max(1, math.floor(size[0] / finest))
        # One cell more on each side: shapes may come near cells beyond the rim.
        self.grid = (math.floor(size[1] / self.cell + 1e-9) + 2, round(size[0] / self.cell) + 2)
        self.padded = tuple(next_fast_len(n, real=True) for n in self.grid)
        self.most = len(shapes) if outline is None else 1  # rectangles
        self.taken = np.zeros(self.grid, dtype=np.float32)  # before anything is laid down
        if outline is not None:
            # A point outside has the centre of a cell within this reach, and that is taken.
            inner = inset(outline, 1.005 * self.cell * math.sqrt(0.5))
            self.taken = 1 - fill([ring / self.cell + 1 for ring in rings_of(inner)], *self.grid)
        self.area = np.array([shape.area for shape in shapes])
        known = {id(shape): shape for shape in shapes}
        measures = {key: _measures(shape) for key, shape in known.items()}
        self.measures = np.array([measures[id(shape)] for shape in shapes]).reshape(-1, 3)
        self.keep = 8 * self.padded[0] * self.padded[1] * sum(map(len, angles)) < 2 * MEMORY
        done: dict[tuple[int, float], _Turned | None] = {}  # copies of a piece share their cells
        for shape, turns in zip(shapes, angles, strict=True):
            for angle in turns:
                if (id(shape), angle) not in done:
                    done[id(shape), angle] = self._turn(shape, angle)
        self.turned = [[t for angle in turns if (t := done[id(shape), angle])]
                       for shape, turns in zip(shapes, angles, strict=True)]
        self.fits = np.array([bool(turned) for turned in self.turned], dtype=bool)
        units = together or [(i,) for i in range(len(shapes))]
        units = [tuple(i for i in unit if self.fits[i]) for unit in units]
        self.units = [unit for unit in units if unit]
        self.work = 0  # cells correlated so far

    def best(self, work: float, seed: int,
             tick: Tick = lambda share: None) -> list[Spot | None]:
        """The best layout found: the least area left over, on the fewest rectangles, with the least
        of the last one used.

        work: cells that may be correlated before the best layout so far is returned. tick is told
        the share done; it may raise, or return True to say that the best so far will do. None for
        what does not fit.
        """
        if not self.units:
            return [None] * len(self.fits)
        rng = np.random.default_rng(seed)
        room = self.padded[0] * self.padded[1]
        area = np.array([sum(self.area[i] for i in unit) for unit in self.units])
        length = np.array([max(max(self.turned[i][0].cells.shape) for i in unit)
                           for unit in self.units])
        need = min(self.most, math.ceil(area.sum() / (
            (self.grid[0] - 2) * (self.grid[1] - 2) * self.cell**2)))
        budget = self.work + work
        starts = [(np.argsort(-key, kind="stable"), lean) for lean in LEANS
                  for key in (area, length)]
        found = None
        for n in range(len(starts) + 10 * (len(area) - 1) ** 2):
            if found is not None and self.work + room >= budget:
                break
            # Once the area allows no fewer rectangles only what is left of the last can still gain.
            if found is not None and found[0][:2] <= (0.0, need) and n >= len(starts):
                break
            order, lean = starts[n] if n < len(starts) else self._varied(*found[1], rng)
            spots = self.pack(order, lean)
            used = self.used(spots)
            if found is None or used <= found[0]:
                found = (used, (order, lean), spots)
            if tick(min(self.work / budget, 1.0) if budget else 1.0):
                break
        return found[2]

    def pack(self, order: Sequence[int], lean: float = 1.0) -> list[Spot | None]:
        """Lay these units down in this order, each into the first rectangle that takes it whole."""
        bins: list[_Bin] = []
        spots: list[Spot | None] = [None] * len(self.turned)
        for unit in (self.units[n] for n in order):
            # What no rectangle takes together is laid down apart, but for an outline.
            if not self._first_fit(bins, spots, unit, lean) and self.most > 1 < len(unit):
                for item in unit:
                    self._first_fit(bins, spots, (item,), lean)
        return spots

    def _first_fit(self, bins: list[_Bin], spots: list[Spot | None], unit: Sequence[int],
                   lean: float) -> bool:
        for k in range(self.most):
            new = k == len(bins)
            if new:
                bins.append(_Bin(self))
            places = []
            for item in unit:
                if bins[k].refuses(self.measures[item]):
                    break
                place = bins[k].place(self.turned[item], lean)
                if place is None:
                    if not places:
                        bins[k].refused.append(self.measures[item])
                    break
                places.append(place)
            if len(places) == len(unit):
                for item, (turned, row, column) in zip(unit, places, strict=True):
                    corner = np.array([column, row]) * self.cell + self.gap / 2 - turned.corner
                    spots[item] = Spot(k, turned.angle, (float(corner[0]), float(corner[1])))
                return True
            for place in places:
                bins[k].take_up(*place)
            if new:
                bins.pop()
                return False
        return False

    def used(self, spots: Sequence[Spot | None]) -> tuple[float, int, float]:
        """Area left over of what fits, mm2, number of rectangles, and how far the last one is used
        from the left, mm."""
        last = max((spot.bin for spot in spots if spot), default=-1)
        left = sum(self.area[i] for i in np.flatnonzero(self.fits) if not spots[i])
        right = [spot.offset[0] + self._right(i, spot.angle)
                 for i, spot in enumerate(spots) if spot and spot.bin == last]
        return left, last + 1, max(right, default=0.0)

    def _right(self, item: int, angle: float) -> float:
        turned = next(t for t in self.turned[item] if t.angle == angle)
        return turned.corner[0] + turned.width

    def _varied(self, order: np.ndarray, lean: float, rng) -> tuple[np.ndarray, float]:
        """One or two shapes moved to another turn in the queue."""
        for _ in range(rng.integers(1, 3)):
            i, j = rng.integers(len(order), size=2)
            order = np.insert(np.delete(order, i), j, order[i])
        return order, LEANS[rng.integers(len(LEANS))] if rng.random() < 0.3 else lean

    def _turn(self, shape, angle: float) -> _Turned | None:
        from scipy.fft import rfft2
        from shapely import affinity

        turned = affinity.rotate(shape, angle, origin=(0, 0), use_radians=True)
        x0, y0, x1, y1 = turned.bounds
        columns, rows = (math.ceil((d + self.gap) / self.cell - 1e-9) + 2
                         for d in (x1 - x0, y1 - y0))
        if rows > self.grid[0] or columns > self.grid[1]:
            return None
        # Two points nearer than the gap have the centre of a cell within this reach of both.
        reach = self.gap / 2 + self.cell * math.sqrt(0.5)
        shift = np.array([self.gap / 2 + self.cell - x0, self.gap / 2 + self.cell - y0])
        grown = turned.buffer(1.005 * reach, quad_segs=8)  # polygonal rounds fall 0.5 % short
        cells = fill([(ring + shift) / self.cell for ring in rings_of(grown)], rows, columns)
        transform = np.conj(rfft2(cells, s=self.padded)) if self.keep else None
        return _Turned(angle, cells, transform, np.array([x0, y0]), x1 - x0, int(cells.sum()))


class _Bin:
    """One rectangle: its cells (rows, columns), 1 where taken."""

    def __init__(self, packer: Packer):
        self.packer = packer
        self.cells = packer.taken.copy()
        self.free = self.cells.size - int(self.cells.sum())
        self.transform = None
        self.refused: list[np.ndarray] = []  # measures of shapes that found no place

    def refuses(self, measures: np.ndarray) -> bool:
        """Is a shape hardly smaller than one that found no place when more was free?"""
        return bool(self.refused) and bool(
            (measures >= ALIKE * np.array(self.refused)).all(axis=1).any())

    def place(self, turns: Sequence[_Turned], lean: float) -> tuple[_Turned, int, int] | None:
        """Lay a shape down in the turn that lies furthest left; None where none fits."""
        from scipy.fft import irfft2, rfft2

        best = None
        for turned in turns:
            if turned.count > self.free:
                continue
            if self.transform is None:
                self.transform = rfft2(self.cells, s=self.packer.padded)
            transform = turned.transform
            if transform is None:
                transform = np.conj(rfft2(turned.cells, s=self.packer.padded))
            met = irfft2(self.transform * transform, s=self.packer.padded)
            self.packer.work += met.size
            (rows, columns), (h, w) = self.cells.shape, turned.cells.shape
            free = met[: rows - h + 1, : columns - w + 1] < 0.5
            column = int(free.any(axis=0).argmax())
            if not free[:, column].any():
                continue
            row = int(free[:, column].argmax())
            key = (column + lean * w, row + lean * h)
            if best is None or key < best[0]:
                best = (key, turned, row, column)
        if best is None:
            return None
        _, turned, row, column = best
        self._change(turned, row, column, 1)
        return turned, row, column

    def take_up(self, turned: _Turned, row: int, column: int) -> None:
        """Undo the placing of a shape."""
        self._change(turned, row, column, -1)

    def _change(self, turned: _Turned, row: int, column: int, sign: int) -> None:
        h, w = turned.cells.shape
        self.cells[row : row + h, column : column + w] += sign * turned.cells
        self.free -= sign * turned.count
        self.transform = None


def _measures(shape: BaseGeometry) -> tuple[float, float, float]:
    """Area, and the sides of the least rectangle about a shape."""
    corners = np.asarray(shape.minimum_rotated_rectangle.exterior.coords)
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return shape.area, float(sides.min()), float(sides.max())


def fill(rings: Sequence[np.ndarray], rows: int, columns: int) -> np.ndarray:
    """Cells (rows, columns), 1 where the centre lies inside the rings (in cells), even-odd."""
    flips = np.zeros((rows, columns + 1), dtype=np.int64)
    for start in rings:
        end = np.roll(start, -1, axis=0)
        low, high = np.minimum(start[:, 1], end[:, 1]), np.maximum(start[:, 1], end[:, 1])
        first, last = (np.clip(np.ceil(y - 0.5), 0, rows).astype(int) for y in (low, high))
        count = last - first  # rows whose middle line each edge crosses
        edge = np.repeat(np.arange(len(start)), count)
        row = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[edge]
        a, b = start[edge], end[edge]
        x = a[:, 0] + (row + 0.5 - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])
        np.add.at(flips, (row, np.clip(np.ceil(x - 0.5), 0, columns).astype(int)), 1)
    return (np.cumsum(flips, axis=1)[:, :columns] % 2).astype(np.float32)


def rings_of(shape: BaseGeometry) -> list[np.ndarray]:
    """The rings (k, 2) of polygons, none of them closed by a last point."""
    parts = getattr(shape, "geoms", [shape])
    return [np.asarray(r.coords)[:-1] for p in parts for r in (p.exterior, *p.interiors)]
