"""Lines on a surface through chosen points, as short as the surface allows between them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from .relax import relaxed, walk
from .straight import Way, straighten, strip_length
from .surface import Foot, Surface

SNAP = 1e-9  # share of the longest side of a face: a pick this near its side or corner is on it
DIRECT = 1.02  # of the straight distance: a line no longer than this needs no search for others


@dataclass(frozen=True, eq=False)
class SurfaceLine:
    """A line that lies in a surface.

    points (k, 3); face (k,) and weights (k, 3): each point as barycentric coordinates in a
    face, 0 or 1 where it lies on an edge or in a vertex; across (k-1,): the face that holds
    each step; picks (p,): which points were asked for, a closed line's first one once more.
    """

    points: np.ndarray
    face: np.ndarray
    weights: np.ndarray
    across: np.ndarray
    picks: np.ndarray
    closed: bool = False

    @property
    def length(self) -> float:
        return mesh.polyline_length(self.points)


def shortest(vertices: np.ndarray, faces: np.ndarray, picks: np.ndarray,
             closed: bool = False) -> SurfaceLine:
    """The line through picks (p, 3), from each to the next as straight as the surface allows.

    Every pick is first moved to the point of the surface nearest to it. Raises FoamError
    `no-line` where picks lie on parts that do not hang together. For more than one line on a
    surface keep a `Surface` and ask `through`, which is many times faster.
    """
    return through(Surface(vertices, faces), picks, closed)


def through(surface: Surface, picks: np.ndarray, closed: bool = False) -> SurfaceLine:
    """As `shortest`, on a surface that was made ready before."""
    foot = feet(surface, picks)
    count = len(foot.face)
    if count == 0:
        raise ValueError("a line needs at least one point")
    closed = closed and count > 2
    if count == 1:
        return SurfaceLine(foot.points, foot.face, foot.weights, np.empty(0, int), np.array([0]))
    return joined([way_between(surface, foot, i, (i + 1) % count)
                   for i in range(count if closed else count - 1)], closed)


def feet(surface: Surface, places: np.ndarray) -> Foot:
    """The points of the surface nearest to places (k, 3); one that is all but on a side or a
    corner of its face is on it."""
    foot = surface.nearest(places)
    corner = surface.vertices[surface.faces[foot.face]]
    side = np.linalg.norm(np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1), axis=2)
    _, area = mesh.face_normals(surface.vertices, surface.faces[foot.face])
    height = 2 * area[:, None] / np.maximum(side, 1e-300)
    weights = np.where(foot.weights * height < SNAP * side.max(axis=1, keepdims=True), 0.0,
                       np.clip(foot.weights, 0.0, 1.0))
    lost = weights.sum(axis=1) <= 0
    weights[lost] = foot.weights[lost]
    return replace(foot, weights=weights / weights.sum(axis=1, keepdims=True))


def way_between(surface: Surface, foot: Foot, first: int = 0, last: int = 1) -> Way:
    """The shortest line between two of the feet. Raises FoamError `no-line`."""
    a, b = int(foot.face[first]), int(foot.face[last])
    start, goal, from_, to = (foot.points[first], foot.points[last],
                              foot.weights[first], foot.weights[last])
    ahead = [a, *walk(surface, a, b, start, goal)] if a != b else [a]
    if ahead[-1] == b:
        way = straighten(surface, ahead, from_, to)
        if way.length <= DIRECT * np.linalg.norm(goal - start):
            return way
    strip = surface.graph.strip((a, start), (b, goal))
    if not strip:
        raise FoamError(Finding(
            "no-line", ERROR, "Two points of a line lie on parts of the surface that do not hang "
            "together.", "Choose all points of a line on one connected part, or join the parts.",
            faces=[a, b]))
    close = relaxed(surface, strip, start, goal)
    way = straighten(surface, close, from_, to)
    if close is not strip and way.length > strip_length(surface, strip, from_, to):
        return straighten(surface, strip, from_, to)
    return way


def joined(ways: list[Way], closed: bool) -> SurfaceLine:
    """Ways that follow each other as one line."""
    whole = lambda name: np.concatenate(  # noqa: E731
        [getattr(ways[0], name), *(getattr(way, name)[1:] for way in ways[1:])])
    ends = np.cumsum([0, *(len(way.across) for way in ways)])
    return SurfaceLine(whole("points"), whole("face"), whole("weights"),
                       np.concatenate([way.across for way in ways]), ends, closed)


def needed(points: np.ndarray, limit: float) -> list[int]:
    """Which points, the ends among them, give a polyline (k, 3) within a limit of this one
    (Douglas and Peucker 1973)."""
    kept, waiting = [0], [(0, len(points) - 1)]
    while waiting:
        first, last = waiting.pop()
        if last <= first:
            continue
        inner, side = points[first + 1:last] - points[first], points[last] - points[first]
        t = np.clip(inner @ side / max(side @ side, 1e-300), 0, 1)
        away = np.linalg.norm(t[:, None] * side - inner, axis=1)
        if len(away) and away.max() >= limit:
            middle = first + 1 + int(away.argmax())
            waiting += [(middle, last), (first, middle)]
        else:
            kept.append(last)
    return kept
