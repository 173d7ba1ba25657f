"""Better triangles in a plane: edges that are no marks are turned to the other diagonal."""

from __future__ import annotations

import math
from collections.abc import Callable, Container

SURE = 1e-9  # radians by which turning an edge must better the angles
MOST = 100  # turns per triangle; a plane set of triangles needs far fewer

Triangle = tuple[int, int, int]


def evened(triangles: list[Triangle], fixed: Container[tuple[int, int]],
           place: Callable[[int], tuple[float, float]]) -> list[Triangle]:
    """The constrained Delaunay triangles over the same points (Lawson's flips).

    triangles: counter-clockwise, of a part of the plane; fixed: edges (u, w), u < w, to keep;
    place: where a point lies.
    """
    triangles = list(triangles)
    if len(triangles) < 2:
        return triangles
    at = {v: place(v) for t in triangles for v in t}
    beside: dict[tuple[int, int], int] = {}
    for number, (a, b, c) in enumerate(triangles):
        beside[a, b] = beside[b, c] = beside[c, a] = number
    waiting = [e for e in beside if e[0] < e[1] and e[::-1] in beside and e not in fixed]
    for _ in range(MOST * len(triangles)):
        if not waiting:
            break
        u, w = waiting.pop()
        if (u, w) not in beside or (w, u) not in beside:
            continue
        one, two = beside[u, w], beside[w, u]
        p, q = (next(v for v in triangles[t] if v not in (u, w)) for t in (one, two))
        if (_angle(at[u], at[p], at[w]) + _angle(at[w], at[q], at[u]) <= math.pi + SURE
                or (min(p, q), max(p, q)) in fixed or (p, q) in beside or (q, p) in beside
                or not _left(at[p], at[q], at[w]) or not _left(at[q], at[p], at[u])):
            continue
        del beside[u, w], beside[w, u]
        triangles[one], triangles[two] = (p, q, w), (q, p, u)
        for number in (one, two):
            a, b, c = triangles[number]
            beside[a, b] = beside[b, c] = beside[c, a] = number
        for a, b in ((p, u), (u, q), (q, w), (w, p)):
            edge = (min(a, b), max(a, b))
            if edge not in fixed and edge in beside and edge[::-1] in beside:
                waiting.append(edge)
    return triangles


def _angle(a: tuple[float, float], corner: tuple[float, float], b: tuple[float, float]) -> float:
    ax, ay, bx, by = a[0] - corner[0], a[1] - corner[1], b[0] - corner[0], b[1] - corner[1]
    return math.atan2(abs(ax * by - ay * bx), ax * bx + ay * by)


def _left(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Does the path a, b, c turn left, by more than rounding?"""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    return ux * vy - uy * vx > 1e-12 * math.hypot(ux, uy) * math.hypot(vx, vy)
