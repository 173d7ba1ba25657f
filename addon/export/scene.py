"""Pieces of a suit and a viewer: what a picture is taken of, and where its lines are seen."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property

import numpy as np
import shapely

from ..core import mesh
from ..core.model import SCORE, TRENCH, Pattern, Piece
from .depth import DepthMap, depth_map

# (azimuth, elevation) of the viewer in degrees: 0, 0 stands before the suit, 90, 0 on its left.
VIEWS = {"front": (0.0, 0.0), "back": (180.0, 0.0), "left": (90.0, 0.0), "right": (-90.0, 0.0)}
RESOLUTION = 4.0  # pixels per mm of the depth buffer
MARGIN = 1.0  # mm of white round the picture
_NOISE = 3.0  # pixels; shorter gaps and runs of what is seen come from the raster


class Scene:
    """The triangles of the shown pieces, with the piece of each."""

    def __init__(self, pattern: Pattern, shown: Iterable[str] | None):
        wanted = None if shown is None else set(shown)
        self.pieces = [p for p in pattern.pieces if wanted is None or p.code in wanted]
        if not self.pieces:
            raise ValueError("a picture needs at least one piece")
        self.sculpt = pattern.sculpt
        counts = [len(p.vertices) for p in self.pieces]
        shift = np.concatenate([[0], np.cumsum(counts)])
        self.points = np.concatenate([_outside(p) for p in self.pieces])
        self.faces = np.concatenate([p.faces + s
                                     for p, s in zip(self.pieces, shift, strict=False)])
        self.owner = np.repeat(np.arange(len(self.pieces)), [len(p.faces) for p in self.pieces])
        self.source = np.concatenate([p.source_vertex for p in self.pieces])
        self.place = np.zeros((len(self.sculpt.vertices), 3))
        self.place[self.source] = self.points

    @cached_property
    def face_normals(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit normals (m, 3) and areas (m,) of the triangles."""
        return mesh.face_normals(self.points, self.faces)

    @cached_property
    def normals(self) -> np.ndarray:
        """Unit normals (n, 3) at the points, of each piece by itself."""
        return mesh.vertex_normals(self.points, self.faces)

    def facing(self, toward: np.ndarray) -> np.ndarray:
        """(pieces, k): the share of each piece's area that is seen from directions (3, k), if
        nothing stands in front of it."""
        normals, area = self.face_normals
        turned = np.maximum(normals @ toward, 0.0) * area[:, None]
        count = len(self.pieces)
        whole = np.bincount(self.owner, area, count)
        return np.stack([np.bincount(self.owner, column, count)
                         for column in turned.T], axis=1) / np.maximum(whole, 1e-12)[:, None]

    def _curves(self, pairs: np.ndarray) -> list[np.ndarray]:
        """Polylines (k, 3) through pairs of the sculpt's vertices, each pair once."""
        return [self.place[chain] for chain in mesh.chains(pairs)]

    def borders(self) -> list[np.ndarray]:
        start, end, _ = mesh.half_edges(self.faces)
        rim = mesh.twins(self.faces) < 0
        return self._curves(self.source[np.stack([start[rim], end[rim]], axis=1)])

    def marks(self) -> list[np.ndarray]:
        edges = self.sculpt.edges[(self.sculpt.kinds & (TRENCH | SCORE)) > 0]
        here = np.isin(edges, self.source).all(axis=1)
        return self._curves(edges[here])

    @cached_property
    def _joined(self) -> tuple[np.ndarray, ...]:
        """The edges of the shown pieces put together: start and end vertices (3 m,) of the
        half-edges; for each edge its first half-edge (e,), its number of them (e,); and the
        edge (3 m,) of each half-edge."""
        start, end, key = mesh.half_edges(self.source[self.faces])
        _, first, edge, count = np.unique(key, return_index=True, return_inverse=True,
                                          return_counts=True)
        return start, end, first, count, edge.reshape(-1)

    def outlines(self, toward: np.ndarray) -> list[np.ndarray]:
        """Edges between a face that looks at the viewer and one that looks away, and rims
        of only one piece; smooth places are where the outline of a dome runs."""
        start, end, first, count, edge = self._joined
        front = np.repeat(self.face_normals[0] @ toward > 0, 3)
        facing = np.bincount(edge, front, minlength=len(first))
        kept = first[(count == 1) | ((facing > 0) & (facing < count))]
        return self._curves(np.stack([start[kept], end[kept]], axis=1))


class Camera:
    """Parallel projection that fits the scene into a picture, and lines (k, 3) of a frame."""

    def __init__(self, scene: Scene, view: str | tuple[float, float],
                 size: tuple[float, float], frame: Sequence[np.ndarray] = ()):
        azimuth, elevation = np.radians(VIEWS[view] if isinstance(view, str) else view)
        up, front = scene.sculpt.up, scene.sculpt.front
        level = np.cos(azimuth) * front + np.sin(azimuth) * np.cross(up, front)
        self.toward = np.cos(elevation) * level + np.sin(elevation) * up
        right = np.cross(up, level)
        self.axes = np.stack([right, np.cross(self.toward, right), self.toward])
        self._scene = scene
        flat = np.concatenate([scene.points, *frame]) @ self.axes.T
        low, high = flat.min(axis=0), flat.max(axis=0)
        room = np.asarray(size, dtype=float) - 2 * MARGIN
        self.scale = float((room / np.maximum(high - low, 1e-9)[:2]).min())
        used = (high - low)[:2] * self.scale + 2 * MARGIN
        self.size = (float(used[0]), float(used[1]))
        self.origin = np.append(low[:2] - MARGIN / self.scale, 0.0)
        self.shape = tuple(int(np.ceil(s * RESOLUTION)) for s in self.size[::-1])

    def shot(self) -> DepthMap:
        """What is in front at each pixel."""
        return depth_map(self.pixels(self._scene.points), self._scene.faces, self.shape)

    def project(self, points: np.ndarray) -> np.ndarray:
        """Picture positions (k, 3), mm; the third towards the viewer."""
        return (points @ self.axes.T - self.origin) * self.scale

    def pixels(self, points: np.ndarray) -> np.ndarray:
        return self.project(points) * RESOLUTION

    def stretches(self, seen: DepthMap, curves: Sequence[np.ndarray]) -> list[np.ndarray]:
        """The seen stretches (k, 2), mm in the picture, of curves (k, 3) of the scene."""
        if not len(curves):
            return []
        points, curve, arc = _sampled([self.pixels(c) for c in curves])
        first, last = _seen(seen.visible(points, slack=2.0), curve, arc)
        kept, index = _ranges(first, last)
        if not len(first):
            return []
        lines = shapely.simplify(shapely.linestrings(points[kept, :2] / RESOLUTION,
                                                     indices=index), 0.04)
        flat, index = shapely.get_coordinates(lines, return_index=True)
        return np.split(flat, np.flatnonzero(np.diff(index)) + 1)


def _sampled(curves: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points (k, 3) along curves in pixels, no more than a pixel apart, the curve (k,) each lies
    on and how far along it (k,). The corners stay among them, so that straight lines end where
    they should."""
    corners, counts = np.concatenate(curves), [len(c) for c in curves]
    owner = np.repeat(np.arange(len(curves)), counts)
    steps = np.hypot(*np.diff(corners[:, :2], axis=0).T)
    steps[np.diff(owner) > 0] = 0.0
    arc = np.concatenate([[0.0], np.cumsum(steps)])
    begin = np.cumsum(counts) - counts
    start = arc[begin]
    length = arc[begin + counts - 1] - start
    curve, number = _ranges(np.zeros(len(curves), int), np.ceil(length).astype(int) - 1)[::-1]
    arc -= start[owner]
    curve, at = np.concatenate([owner, curve]), np.concatenate([arc, number])
    order = np.lexsort((at, curve))
    curve, at = curve[order], at[order]
    new = np.concatenate([[True], (np.diff(curve) > 0) | (np.diff(at) > 0)])
    curve, at = curve[new], at[new]
    # One row of all curves, each a step beyond the one before, to interpolate in one go.
    beyond = np.concatenate([[0.0], np.cumsum(length[:-1] + 1.0)])
    line, where = arc + beyond[owner], at + beyond[curve]
    return (np.stack([np.interp(where, line, corners[:, i]) for i in range(3)], axis=1),
            curve, at)


def _seen(seen: np.ndarray, curve: np.ndarray, arc: np.ndarray
          ) -> tuple[np.ndarray, np.ndarray]:
    """The first and last samples (k,) of the stretches of curves that are seen, gaps and
    stretches of less than _NOISE left out; a curve that is short itself is seen for the most
    part or not at all."""
    change = np.diff(curve) > 0
    starts = seen & np.concatenate([[True], ~seen[:-1] | change])
    stops = seen & np.concatenate([~seen[1:] | change, [True]])
    first, last = np.flatnonzero(starts), np.flatnonzero(stops)
    apart = (curve[first[1:]] != curve[last[:-1]]) | (arc[first[1:]] - arc[last[:-1]] >= _NOISE)
    first, last = first[np.concatenate([[True], apart])[:len(first)]], \
        last[np.concatenate([apart, [True]])[:len(last)]]
    ends = np.flatnonzero(np.concatenate([change, [True]]))
    whole = arc[ends][curve[first]] if len(first) else np.empty(0)
    long = arc[last] - arc[first] >= np.minimum(_NOISE, 0.9 * whole)
    return first[long & (last > first)], last[long & (last > first)]


def _ranges(first: np.ndarray, last: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The numbers from each first to its last, one range after another, and each one's range."""
    count = last - first + 1
    which = np.repeat(np.arange(len(count)), count)
    return np.arange(len(which)) - (np.cumsum(count) - count - first)[which], which


def _outside(piece: Piece) -> np.ndarray:
    """The points (n, 3) of a piece as it is seen: of one glued on another, its outer face, which
    would else lie in that."""
    if piece.base == "body":
        return piece.vertices
    front = piece.stock.depths(piece.side)[0]
    return piece.vertices + max(front, 0.5) * mesh.vertex_normals(
        piece.vertices, piece.faces, len(piece.vertices))
