"""Lines that all but meet in one point are led through it, so that no crumb is left between.

Three seams drawn over the crown of a helmet never cross in exactly one point. Where two of
them cross, or a line crosses a mark, every later line that passes close by goes through there.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .. import mesh
from .line import SurfaceLine, through
from .surface import Surface

SAME = 1e-6  # mm, and share of the reach: nearer than this is there already


def led_through(surface: Surface, line: SurfaceLine, places: np.ndarray, reach: float
                ) -> SurfaceLine:
    """The line led through those of the places (k, 3) that lie within reach (mm) of it."""
    for place in np.asarray(places, dtype=float).reshape(-1, 3):
        away, at = _nearest(line.points, place)
        if not SAME * reach < away < reach or away < SAME:
            continue
        picks = line.points[line.picks]
        open_picks = picks[:-1] if line.closed else picks
        near = np.linalg.norm(open_picks - place, axis=1)
        if near.min() < 2 * reach:  # two picks so near to each other would make a kink
            open_picks[near.argmin()] = place
        else:
            leg = int(np.searchsorted(mesh.arc_length(line.points)[line.picks], at))
            open_picks = np.insert(open_picks, leg, place, axis=0)
        line = through(surface, open_picks, line.closed)
    return line


def crossings(one: SurfaceLine, two: SurfaceLine) -> np.ndarray:
    """Places (k, 3) where two lines cross or touch."""
    found = []
    others: dict[int, list[int]] = {}
    for step, face in enumerate(two.across.tolist()):
        others.setdefault(face, []).append(step)
    for step, face in enumerate(one.across.tolist()):
        for other in others.get(face, ()):
            found += _crossing(one.points[step], one.points[step + 1],
                               two.points[other], two.points[other + 1])
    return np.reshape(found, (-1, 3))


def mark_crossings(surface: Surface, line: SurfaceLine, marks: Mapping[tuple[int, int], int],
                   kind: int) -> np.ndarray:
    """Places (k, 3) where a line crosses the middle of an edge whose mark has the bits of kind."""
    found = []
    for face, weights, point in zip(line.face, line.weights, line.points, strict=True):
        if (weights > 0).sum() == 2:
            u, w = sorted(surface.faces[face][weights > 0].tolist())
            if marks.get((u, w), 0) & kind:
                found.append(point)
    return np.reshape(found, (-1, 3))


def _crossing(a: np.ndarray, b: np.ndarray, c: np.ndarray, d: np.ndarray) -> list[np.ndarray]:
    """The point where two steps in one plane cross, in a list; empty where they do not."""
    u, v, w = b - a, d - c, c - a
    normal = np.cross(u, v)
    square = normal @ normal
    if square <= 1e-12 * (u @ u) * (v @ v):
        return []
    s, t = np.cross(w, v) @ normal / square, np.cross(w, u) @ normal / square
    return [a + s * u] if -1e-9 <= s <= 1 + 1e-9 and -1e-9 <= t <= 1 + 1e-9 else []


def _nearest(points: np.ndarray, place: np.ndarray) -> tuple[float, float]:
    """Distance of a place from a polyline (k, 3), and how far along it that is."""
    if len(points) < 2:
        return float(np.linalg.norm(points[0] - place)), 0.0
    step = np.diff(points, axis=0)
    long = np.linalg.norm(step, axis=1)
    t = np.clip(((place - points[:-1]) * step).sum(axis=1) / np.maximum(long**2, 1e-300), 0, 1)
    away = np.linalg.norm(points[:-1] + t[:, None] * step - place, axis=1)
    best = int(away.argmin())
    return float(away[best]), float(mesh.arc_length(points)[best] + t[best] * long[best])
