"""Shapes as convex parts, in which the distance of two of them is simple arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

Vertex = tuple[float, float]
MANY = 50  # corners above which an outline is simplified


def convex_parts(shape: BaseGeometry) -> list[np.ndarray]:
    """Convex polygons (k, 2), counter-clockwise, that make up a polygon without overlap.

    Triangles of a constrained Delaunay triangulation, of which neighbours are joined while they
    stay convex, those with the longest common side first (after Hertel and Mehlhorn, 1983).
    """
    from shapely import constrained_delaunay_triangles

    parts: list[list[Vertex] | None] = []
    beside: dict[tuple[Vertex, Vertex], int] = {}
    common = []
    least = 1e-12 * shape.area
    for triangle in constrained_delaunay_triangles(shape).geoms:
        corners = list(triangle.exterior.normalize().coords)[:3][::-1]
        if triangle.area <= least:
            continue
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            if (b, a) in beside:
                common.append((math.dist(a, b), beside[b, a], len(parts), a, b))
            beside[a, b] = len(parts)
        parts.append(corners)
    joined = list(range(len(parts)))
    for _, one, other, a, b in sorted(common, key=lambda side: -side[0]):
        while joined[one] != one:
            one = joined[one]
        while joined[other] != other:
            other = joined[other]
        if one == other:
            continue
        # One runs from b to a along the common side, the other from a to b.
        first, second = _from(parts[other], b), _from(parts[one], a)
        if _is_convex(whole := first + second[1:-1]):
            parts[other], parts[one], joined[one] = whole, None, other
    return [np.array(part) for part in parts if part]


def _from(part: list[Vertex], corner: Vertex) -> list[Vertex]:
    start = part.index(corner)
    return part[start:] + part[:start]


def _is_convex(part: list[Vertex]) -> bool:
    side = np.roll(np.array(part), -1, axis=0) - part
    following = np.roll(side, -1, axis=0)
    cross = side[:, 0] * following[:, 1] - side[:, 1] * following[:, 0]
    return bool((cross > -1e-9 * np.hypot(*side.T) * np.hypot(*following.T)).all())


def simple(shape: BaseGeometry, tolerance: float) -> BaseGeometry:
    """The shape, or where it has very many corners a simpler one that covers it and reaches no
    more than twice the tolerance beyond it, a little more at sharp corners."""
    from shapely import get_num_coordinates

    if get_num_coordinates(shape) <= MANY:
        return shape
    return shape.buffer(tolerance, join_style="mitre").simplify(tolerance)


@dataclass(frozen=True, eq=False)
class Form:
    """A shape at one turn, its lower left corner at the origin.

    low (2,): where that corner was after the turn; size (2,). Per convex part, all with as many
    corners, the last repeated: corners (p, m, 2), outward normals (p, m, 2) of the sides, reach
    (p, m) of the part along each, and its box (p, 4). shape: all of it.
    """

    angle: float
    low: np.ndarray
    size: np.ndarray
    corners: np.ndarray
    normals: np.ndarray
    reach: np.ndarray
    box: np.ndarray
    shape: BaseGeometry


def forms(shape: BaseGeometry, angles: Sequence[float], most: int,
          parts: Sequence[np.ndarray]) -> list[Form]:
    """A shape of these convex parts at each turn. most: corners that every part is given."""
    from shapely import transform

    found = []
    for angle in angles:
        c, s = math.cos(angle), math.sin(angle)
        turn = np.array([[c, s], [-s, c]])
        turned = transform(shape, lambda points, turn=turn: points @ turn)
        low, high = np.array(turned.bounds).reshape(2, 2)
        corners, normals = np.zeros((2, len(parts), most, 2))
        for k, part in enumerate(parts):
            points = part @ turn - low
            side = np.roll(points, -1, axis=0) - points
            outward = np.stack([side[:, 1], -side[:, 0]], axis=1) / np.hypot(*side.T)[:, None]
            more = ((0, most - len(part)), (0, 0))
            corners[k], normals[k] = (np.pad(v, more, mode="edge") for v in (points, outward))
        reach = np.einsum("kmi,kvi->kmv", normals, corners).max(axis=2)
        box = np.concatenate([corners.min(axis=1), corners.max(axis=1)], axis=1)
        found.append(Form(angle, low, high - low, corners, normals, reach, box,
                          transform(turned, lambda points, low=low: points - low)))
    return found
