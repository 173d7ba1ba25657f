"""What a piece covers, and at which turns it fits a rectangle."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..model import Piece, Placement
from .rules import QUARTERS

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


def footprint(piece: Piece, mirrored: bool = False, holes: bool = True) -> BaseGeometry:
    """The foam of a piece as a shapely geometry in its own coordinates, with or without its
    holes."""
    from shapely import make_valid
    from shapely.geometry import MultiPolygon, Polygon

    side = (-1.0, 1.0) if mirrored else (1.0, 1.0)
    rings = [np.asarray(ring) * side for ring in piece.cut[: None if holes else 1]]
    shape = Polygon(rings[0], rings[1:])
    if shape.is_valid:
        return shape
    # A ring that crosses itself is reported elsewhere; here it must only keep its area.
    parts = getattr(make_valid(shape), "geoms", [make_valid(shape)])
    polygons = [q for p in parts for q in getattr(p, "geoms", [p]) if q.geom_type == "Polygon"]
    return MultiPolygon(polygons) if len(polygons) > 1 else polygons[0]


def placed(placement: Placement, piece: Piece) -> BaseGeometry:
    """The foam of a placed piece, in the coordinates of its sheet."""
    from shapely import transform

    return transform(footprint(piece), placement.apply)


def narrow_angle(shape: BaseGeometry) -> float:
    """Turn (0 to pi/2) that lays the sides of the shape's least rectangle square."""
    corners = np.asarray(shape.minimum_rotated_rectangle.exterior.coords)
    x, y = corners[1] - corners[0]
    return float(-np.arctan2(y, x) % (np.pi / 2))


def good_angles(shape: BaseGeometry) -> list[float]:
    """Turns worth trying: the quarters, those of the least rectangle, and eighths."""
    angle = narrow_angle(shape)
    base = [0.0, angle] if min(angle, np.pi / 2 - angle) > np.radians(2) else [0.0, np.pi / 4]
    return [a + q for a in base for q in QUARTERS]


def turned_extents(shape: BaseGeometry, angles: Sequence[float]) -> np.ndarray:
    """Width and height (k, 2) of the shape's bounding box at each turn (k,)."""
    points = np.asarray(shape.convex_hull.exterior.coords)
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x, y = c * points[:, 0] - s * points[:, 1], s * points[:, 0] + c * points[:, 1]
    return np.stack([np.ptp(x, axis=1), np.ptp(y, axis=1)], axis=1)


def fitting_angle(shape: BaseGeometry, size: Sequence[float],
                  angles: Sequence[float] | None = None) -> float | None:
    """The first turn at which the shape's bounding box fits (w, h), or None.

    angles: those allowed; None for any, the quarters first.
    """
    if angles is None:
        narrow = narrow_angle(shape)
        angles = [*QUARTERS, *(narrow + q for q in QUARTERS), *np.radians(np.arange(0, 180, 0.5))]
    angles = np.asarray(angles, dtype=float)
    fits = (turned_extents(shape, angles) <= np.asarray(size) + 1e-6).all(axis=1)
    return float(angles[fits.argmax()]) if fits.any() else None
