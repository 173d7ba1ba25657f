"""Quad nets for hand-made armour: drawn in a parameter plane, lifted onto a surface.

A net is drawn in two parameters, here called (across, up). Seams, trenches and
outlines are curves in that plane; each patch fills the quadrilateral between
four of them, so every curve is a line of the grid and comes out smooth. A
surface then lifts the plane into space. Lengths mm, angles degrees; nothing
but numpy.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

SEAM, TRENCH, SCORE = "seam", "trench", "score"
MM_PER_DEGREE = 2.5  # about, on the trunk and the limbs: spaces the points of a curve evenly

Surface = Callable[[np.ndarray, np.ndarray], np.ndarray]


def spline(x: Sequence[float], y: Sequence[float]) -> Callable[[np.ndarray], np.ndarray]:
    """Natural cubic spline y(x) through knots with rising x (k,); y is (k,) or (k, d)."""
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    step = np.diff(x)
    slope = np.diff(y, axis=0) / (step if y.ndim == 1 else step[:, None])
    matrix, right = np.eye(len(x)), np.zeros_like(y)
    for i in range(1, len(x) - 1):
        matrix[i, i - 1 : i + 2] = step[i - 1], 2 * (step[i - 1] + step[i]), step[i]
        right[i] = 6 * (slope[i] - slope[i - 1])
    bend = np.linalg.solve(matrix, right)  # second derivatives at the knots

    def value(at):
        at = np.asarray(at, dtype=float)
        i = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
        h = step[i]
        a, b = (x[i + 1] - at) / h, (at - x[i]) / h
        if y.ndim > 1:
            a, b, h = a[..., None], b[..., None], h[..., None]
        return (a * y[i] + b * y[i + 1]
                + ((a**3 - a) * bend[i] + (b**3 - b) * bend[i + 1]) * h**2 / 6)

    return value


def sample(count: int, *points: Sequence[float]) -> np.ndarray:
    """A smooth curve through the points in `count` steps of about equal length: (count + 1, 2).

    The ends are exactly the first and last point, so that curves which share an
    end point share a vertex.
    """
    knots = np.array(points, dtype=float)
    lengths = np.linalg.norm(np.diff(knots, axis=0) * (MM_PER_DEGREE, 1.0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    curve = spline(along, knots) if len(knots) > 2 else (
        lambda t: knots[0] + (t / along[-1])[:, None] * (knots[1] - knots[0]))
    out = curve(np.linspace(0.0, along[-1], count + 1))
    out[0], out[-1] = knots[0], knots[-1]
    return out


def chain(*curves: np.ndarray) -> np.ndarray:
    """One curve from several that follow each other and share their ends."""
    return np.concatenate([curves[0], *(c[1:] for c in curves[1:])])


def crease(distance: np.ndarray, height: float | np.ndarray, width: float) -> np.ndarray:
    """A fold that dies away on both sides: an offset of `height` at distance 0.

    The slope jumps by 2 height / width there: convex for a positive height.
    """
    return height * np.exp(-np.abs(distance) / width)


def ease(x: np.ndarray, low: float, high: float) -> np.ndarray:
    """Smooth step from 0 at `low` to 1 at `high`."""
    t = np.clip((np.asarray(x, dtype=float) - low) / (high - low), 0.0, 1.0)
    return t * t * (3 - 2 * t)


def graph(count: int, height: Callable, start: float, stop: float) -> np.ndarray:
    """The curve up = height(across) in `count` equal steps: (count + 1, 2)."""
    x = np.linspace(start, stop, count + 1)
    return np.stack([x, height(x)], axis=1)


def upright(count: int, across: Callable, start: float, stop: float) -> np.ndarray:
    """The curve across = across(up) in `count` equal steps upwards."""
    z = np.linspace(start, stop, count + 1)
    return np.stack([across(z), z], axis=1)


def fixed(curve: np.ndarray, first: Sequence[float] | None = None,
          last: Sequence[float] | None = None) -> np.ndarray:
    """The curve with its ends put exactly on the given points."""
    curve = curve.copy()
    if first is not None:
        curve[0] = first
    if last is not None:
        curve[-1] = last
    return curve


def polar(phi: np.ndarray, wide: np.ndarray, ahead: np.ndarray, behind: np.ndarray,
          outwards: np.ndarray = 0.0) -> tuple[np.ndarray, np.ndarray]:
    """x and y of an oval section (half width, depth ahead, depth behind), pushed outwards."""
    s, c = np.sin(np.radians(phi)), np.cos(np.radians(phi))
    s = np.where(phi == 180.0, 0.0, s)  # the mirror plane, to the last bit
    return (wide + outwards) * s, -(np.where(c > 0, ahead, behind) + outwards) * c


@dataclass(frozen=True, eq=False)
class Mesh:
    """Quads (m, 4), counter-clockwise from outside, over vertices (n, 3) mm, and the
    marked edges: for each kind an array (k, 2) of vertex pairs."""

    vertices: np.ndarray
    quads: np.ndarray
    marks: dict[str, np.ndarray]

    def mirrored(self) -> Mesh:
        """The exact mirror image about x = 0, outside still outside."""
        # Keeping the first corner keeps the diagonal: triangles mirror too.
        return Mesh(self.vertices * (-1.0, 1.0, 1.0), self.quads[:, [0, 3, 2, 1]], self.marks)

    def moved(self, turn: np.ndarray, shift: Sequence[float]) -> Mesh:
        """Turned by a rotation matrix (3, 3), then shifted."""
        return Mesh(self.vertices @ np.asarray(turn).T + shift, self.quads, self.marks)

    def with_mirror(self) -> Mesh:
        """This half and its mirror image, joined where x is exactly 0."""
        other = self.mirrored()
        on_plane = self.vertices[:, 0] == 0
        index = np.where(on_plane, np.arange(len(self.vertices)),
                         len(self.vertices) + np.cumsum(~on_plane) - 1)
        return Mesh(
            np.concatenate([self.vertices, other.vertices[~on_plane]]),
            np.concatenate([self.quads, index[other.quads]]),
            {kind: np.unique(np.sort(np.concatenate([edges, index[edges]]), axis=1), axis=0)
             for kind, edges in self.marks.items()})


@dataclass
class Net:
    """Patches and marks drawn in the parameter plane, waiting for their surface."""

    patches: list[np.ndarray] = field(default_factory=list)
    marked: list[tuple[str, np.ndarray]] = field(default_factory=list)

    def patch(self, left: np.ndarray, right: np.ndarray,
              bottom: np.ndarray, top: np.ndarray) -> None:
        """Fill between four curves with quads (a Coons patch).

        left and right run upwards with equal counts, bottom and top run from left
        to right with equal counts, as seen from outside. Raises ValueError where
        they do not meet.
        """
        if len(left) != len(right) or len(bottom) != len(top):
            raise ValueError(f"sides of {len(left)} and {len(right)}, "
                             f"ends of {len(bottom)} and {len(top)} points")
        corners = ((left[0], bottom[0]), (left[-1], top[0]),
                   (right[0], bottom[-1]), (right[-1], top[-1]))
        if any(tuple(a) != tuple(b) for a, b in corners):
            raise ValueError(f"the curves of a patch do not meet: {corners}")
        u = np.linspace(0, 1, len(bottom))[None, :, None]
        v = np.linspace(0, 1, len(left))[:, None, None]
        grid = ((1 - u) * left[:, None] + u * right[:, None]
                + (1 - v) * bottom[None] + v * top[None]
                - (1 - v) * ((1 - u) * left[0] + u * right[0])
                - v * ((1 - u) * left[-1] + u * right[-1]))
        grid[:, 0], grid[:, -1], grid[0], grid[-1] = left, right, bottom, top
        self.patches.append(grid)

    def mark(self, kind: str, *curves: np.ndarray) -> None:
        """Mark the edges along curves that bound patches."""
        self.marked += [(kind, curve) for curve in curves]

    def build(self, surface: Surface) -> Mesh:
        """Weld the patches where their parameters are equal and lift them."""
        points = np.concatenate([g.reshape(-1, 2) for g in self.patches]) + 0.0  # no -0.0
        plane, index = np.unique(points, axis=0, return_inverse=True)
        index = index.reshape(-1)
        quads, start = [], 0
        for grid in self.patches:
            rows, columns = grid.shape[:2]
            n = index[start : start + rows * columns].reshape(rows, columns)
            quads.append(np.stack([n[:-1, :-1], n[:-1, 1:], n[1:, 1:], n[1:, :-1]],
                                  axis=-1).reshape(-1, 4))
            start += rows * columns
        lookup = {tuple(p): i for i, p in enumerate(plane)}
        marks: dict[str, list] = {SEAM: [], TRENCH: [], SCORE: []}
        for kind, curve in self.marked:
            run = [lookup[tuple(p)] for p in curve + 0.0]
            marks[kind] += list(zip(run[:-1], run[1:], strict=True))
        return Mesh(surface(plane[:, 0], plane[:, 1]), np.concatenate(quads),
                    {kind: np.unique(np.sort(np.array(pairs, dtype=int).reshape(-1, 2)), axis=0)
                     for kind, pairs in marks.items()})


def turn(axis: str, degrees: float) -> np.ndarray:
    """Rotation matrix (3, 3) about the x, y or z axis."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    out = np.eye(3)
    out[i, i] = out[j, j] = c
    out[i, j], out[j, i] = -s, s
    return out
