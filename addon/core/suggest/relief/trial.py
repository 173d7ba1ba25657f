"""What cuts would bring, roughly: guessed in milliseconds, or searched on the ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ... import mesh
from ...flatten.band import least_utilisation
from ...flatten.bounds import utilisation_of_ratio
from ...flatten.start import start_of
from ...flatten.system import System, no_seams
from ...flatten.thin import double_area
from ...model import Region
from ...stock import Stock
from .ground import Ground, plain_region

STEPS, CLOSE = 60, 0.05  # of a rough search
EVENED = 2 / 3  # of the range of the conformal scale that the best flat keeps (fitted to trials)
SLIVER = 0.06  # of the piece: less than this no part should be
NEARLY = 0.95  # of the utilisation: faces from which on decide it
OVERLAP = 2e-3  # of its area by which a flat may lie over itself: rounding where lips touch


@dataclass(frozen=True)
class Trial:
    """What cuts would bring: the heated utilisation of the worst part (infinite where a part
    cannot be laid flat, lies over itself or is a sliver), that part's ground, the middle
    (3,) of its faces that are strained the most, and the utilisation of the other parts."""

    u: float
    worst: Ground
    middle: np.ndarray
    rest: float


def guess(ground: Ground, edges: np.ndarray, stock: Stock) -> float:
    """The heated utilisation of the worst part that cuts along edges (k, 2) leave, guessed."""
    parts = ground.opened(edges)
    if _has_sliver(parts):
        return np.inf
    spread = max(float(np.ptp(part.scale)) for part in parts)
    return utilisation_of_ratio(np.exp(EVENED * spread), stock.heated)


def search(ground: Ground, edges: np.ndarray, stock: Stock) -> Trial:
    """The same, searched for a short while on the ground's own triangles, without thought for
    the lengths of seams."""
    parts = ground.opened(edges)
    found = [_least(part, stock) for part in parts]
    worst = int(np.argmax([u for u, _ in found]))
    u, middle = found[worst]
    rest = max((u for k, (u, _) in enumerate(found) if k != worst), default=0.0)
    return Trial(np.inf if _has_sliver(parts) else u, parts[worst], middle, rest)


def _has_sliver(parts: Sequence[Ground]) -> bool:
    area = [mesh.face_normals(part.points, part.faces)[1].sum() for part in parts]
    return min(area) < SLIVER * sum(area)


def _least(ground: Ground, stock: Stock) -> tuple[float, np.ndarray]:
    """Utilisation of a ground, and the middle (3,) of what decides it."""
    region = plain_region(ground.points, ground.faces)
    system = System(ground.faces, ground.lengths, len(ground.points), no_seams(len(ground.points)),
                    stock.thickness**2)
    start = start_of(system, region)
    centre = ground.points[ground.faces].mean(axis=1)
    if start is None:
        return np.inf, np.average(centre, axis=0, weights=system.area)
    found = least_utilisation(system, start, stock.heated, close=CLOSE, steps=STEPS)
    used = stock.heated.utilisation(system.stretch(found.points))
    high = used >= NEARLY * min(found.u, used.max())
    middle = np.average(centre[high], axis=0, weights=system.area[high])
    return (np.inf if overlaps(region, found.points) else found.u), middle


def overlaps(region: Region, points: np.ndarray) -> bool:
    """Does a flat (n,) of a region, complex, lie over itself?"""
    import shapely

    rings = []
    for loop in region.loops:
        ring = points[np.concatenate([region.borders[b].vertices[:-1] for b in loop])]
        rings.append(np.stack([ring.real, ring.imag], axis=1))
    flat = shapely.Polygon(rings[0], rings[1:])
    if flat.is_valid:
        return False
    area = np.abs(double_area(points[region.faces])).sum() / 2
    return shapely.make_valid(flat).area < (1 - OVERLAP) * area
