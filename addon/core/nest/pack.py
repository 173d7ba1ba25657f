"""Shapes on the fewest rectangles: a first layout in no time, then better ones while work lasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from .raster import WORK_PER_SECOND, Packer, Spot, Tick
from .squeeze import Effort, Squeezer

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

QUEUE = 0.15  # share of the work for putting shapes down in another order
END = 0.25  # share of the work for a shorter last rectangle, once there are no fewer


def pack(size: tuple[float, float], gap: float, shapes: Sequence[BaseGeometry],
         angles: Sequence[Sequence[float]], seconds: float, seed: int,
         tick: Tick = lambda share: None,
         together: Sequence[Sequence[int]] | None = None) -> list[Spot]:
    """Where every polygon lies in the fewest rectangles of this size that were found, with the
    least of the last one used.

    angles: per shape the turns allowed; at the last of them it must fit the
    rectangle less half a gap all round. One that fits so tightly that the grid
    cannot place it gets a rectangle to itself. together: numbers of the shapes that
    go into one rectangle where one takes them, each shape once; None: each as it
    comes. seconds: on a slow computer, for each rectangle that the area needs; it stands for an
    amount of work. tick is told the share done; it may raise, or return True to say that the best
    so far will do.
    """
    packer = Packer(size, gap, shapes, angles, together=together)
    need = math.ceil(packer.area.sum() / (size[0] * size[1]))
    effort = Effort(max(need, 1) * seconds * WORK_PER_SECOND, tick)
    spots = packer.best(QUEUE * effort.total, seed, lambda share: tick(QUEUE * share))
    effort.done = float(packer.work)
    fitting = np.flatnonzero(packer.fits)
    if len(fitting) > 1 and not effort.over():
        _squeeze(size, gap, shapes, angles, packer, fitting, spots, seed, effort)
    return _alone(size, shapes, angles, packer, spots)


def pack_one(outline: BaseGeometry, gap: float, shapes: Sequence[BaseGeometry],
             angles: Sequence[Sequence[float]], seconds: float, seed: int,
             tick: Tick = lambda share: None,
             together: Sequence[Sequence[int]] | None = None) -> list[Spot | None]:
    """Where polygons lie in one polygon, so as to fill the most of it; None for those left over.

    outline: its bounding box starts at the origin. All else as in `pack`, but that nothing need
    fit, and what goes together is left over together.
    """
    packer = Packer(outline.bounds[2:], gap, shapes, angles, outline, together)
    return packer.best(seconds * WORK_PER_SECOND, seed, tick)


def _squeeze(size: tuple[float, float], gap: float, shapes: Sequence[BaseGeometry],
             angles: Sequence[Sequence[float]], packer: Packer, fitting: np.ndarray,
             spots: list[Spot | None], seed: int, effort: Effort) -> None:
    """Replace the spots of the shapes that fit by better ones, where they are found."""
    number = {item: n for n, item in enumerate(fitting)}
    units = [[number[item] for item in unit] for unit in packer.units]
    bound = np.zeros(len(fitting), dtype=bool)
    bound[[n for unit in units if len(unit) > 1 for n in unit]] = True
    width, height = np.array(size) - gap
    squeezer = Squeezer([shapes[i] for i in fitting], [angles[i] for i in fitting], gap,
                        float(height), bound, effort)
    rng = np.random.default_rng(seed)
    layout = squeezer.layout([spots[i].angle for i in fitting], [spots[i].bin for i in fitting],
                             [np.array(spots[i].offset) - gap / 2 for i in fitting])
    least = math.ceil(packer.area[fitting].sum() / (size[0] * size[1]))
    effort.most = (1 - END) * effort.total
    layout = squeezer.fewer(layout, float(width), units, least, rng)
    effort.most = effort.done + END * effort.total
    layout = squeezer.last_shorter(layout, rng)
    for n, item in enumerate(fitting):
        form = squeezer.depths.forms[layout.form[n]]
        x, y = layout.corner[n] + gap / 2 - form.low
        spots[item] = Spot(int(layout.bin[n]), form.angle, (float(x), float(y)))


def _alone(size: tuple[float, float], shapes: Sequence[BaseGeometry],
           angles: Sequence[Sequence[float]], packer: Packer,
           spots: list[Spot | None]) -> list[Spot]:
    """The spots, with a rectangle of its own for each shape that the grid cannot place."""
    from shapely import affinity

    number = 1 + max((spot.bin for spot in spots if spot), default=-1)
    for i in np.flatnonzero(~packer.fits):
        turned = affinity.rotate(shapes[i], angles[i][-1], origin=(0, 0), use_radians=True)
        x0, y0, x1, y1 = turned.bounds
        middle = ((size[0] - x0 - x1) / 2, (size[1] - y0 - y1) / 2)
        spots[i] = Spot(number, angles[i][-1], middle)
        number += 1
    return spots
