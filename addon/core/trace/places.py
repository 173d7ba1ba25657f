"""Points told by where they lie in the maker's own polygons, so that they go along with a surface.

However modifiers bend or divide the polygons, a place inside one of them stays a place: it is told
in a regular polygon of as many corners, in which every triangle that a polygon was divided into
has its own corners.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..model import Frozen
from .surface import Surface

CLOSE = 1e-4  # of the radius of the regular polygon: single precision, over many divisions
SAME = 1e-3  # of a polygon's size: candidates nearer than this are one point


@dataclass(frozen=True, eq=False)
class Anchors(Frozen):
    """Points on a surface: polygon (k,) of the maker's, place (k, 2) in it, and copy (k,): which
    of the copies that a modifier has made of the polygon."""

    _ints = ("polygon", "copy")
    _floats = ("place",)

    polygon: np.ndarray
    place: np.ndarray
    copy: np.ndarray


class Places:
    """A surface whose triangles tell where they lie in the maker's polygons.

    vertices (n, 3); faces (m, 3); polygon (m,): the maker's polygon each is a part of, -1 where a
    modifier has made a new mesh; place (m, 3, 2): where its corners lie in it.
    """

    def __init__(self, vertices: np.ndarray, faces: np.ndarray, polygon: np.ndarray,
                 place: np.ndarray):
        self.vertices, self.faces = vertices, faces
        self.polygon, self.place = polygon, np.asarray(place, dtype=float)

    @cached_property
    def surface(self) -> Surface:
        """The surface, for lines on it."""
        return Surface(self.vertices, self.faces)

    @cached_property
    def _of_polygon(self) -> tuple[np.ndarray, np.ndarray]:
        """Faces in the order of their polygons, and where those of each polygon start."""
        order = np.argsort(self.polygon, kind="stable")
        count = int(self.polygon.max(initial=-1)) + 1
        return order, np.searchsorted(self.polygon[order], np.arange(count + 1))

    def anchors(self, face: np.ndarray, weights: np.ndarray) -> Anchors | None:
        """Anchors of points told by their faces (k,) and barycentric coordinates (k, 3); None
        where one lies on no polygon of the maker's."""
        face, polygon = np.asarray(face), self.polygon[face]
        if (polygon < 0).any():
            return None
        place = np.einsum("ij,ijk->ik", weights, self.place[face])
        points = np.einsum("ij,ijk->ik", weights, self.vertices[self.faces[face]])
        copy = np.zeros(len(face), dtype=np.int64)
        for k, found in self._copies(polygon, place).items():
            copy[k] = np.argmin(np.linalg.norm(found - points[k], axis=1))
        return Anchors(polygon, place, copy)

    def points(self, anchors: Anchors) -> np.ndarray | None:
        """Where anchors lie now (k, 3); None where one of their polygons is not there."""
        found = self._found(anchors.polygon, anchors.place)
        if found is None:
            return None
        points, first, best, _ = found
        at = points[best]
        for k, copies in self._copies(anchors.polygon, anchors.place).items():
            at[k] = copies[min(int(anchors.copy[k]), len(copies) - 1)]
        return at

    def _found(self, polygon: np.ndarray, place: np.ndarray):
        """Of places (k, 2) in polygons (k,) their points in all faces of each polygon, one after
        the other: points (p, 3), first (k + 1,) of each place's, best (k,) of them, and which
        (p,) faces hold the place. None where a polygon has no faces."""
        order, start = self._of_polygon
        if not len(polygon) or polygon.min() < 0 or polygon.max() >= len(start) - 1:
            return None
        count = start[polygon + 1] - start[polygon]
        if not count.all():
            return None
        first = np.concatenate([[0], np.cumsum(count)])
        own = np.repeat(np.arange(len(polygon)), count)
        face = order[np.arange(first[-1]) - np.repeat(first[:-1] - start[polygon], count)]
        weights, least = _in_triangles(self.place[face], place[own])
        points = np.einsum("ij,ijk->ik", weights, self.vertices[self.faces[face]])
        # The first of the largest: sorted by place, then by how far inside, then as they come.
        best = np.lexsort((np.arange(len(own)), -least, own))[first[:-1]]
        return points, first, best, least > -CLOSE

    def _copies(self, polygon: np.ndarray, place: np.ndarray) -> dict[int, np.ndarray]:
        """The different points (c, 3) of those places (k, 2) that have several."""
        found = self._found(polygon, place)
        if found is None:
            return {}
        points, first, best, holds = found
        corner = self.vertices[self.faces[self._of_polygon[0][
            self._of_polygon[1][polygon]]]]
        size = np.ptp(corner, axis=1).max(axis=1)
        away = np.where(holds, np.linalg.norm(
            points - np.repeat(points[best], np.diff(first), axis=0), axis=1), 0.0)
        several = np.maximum.reduceat(away, first[:-1]) > SAME * size
        copies = {}
        for k in np.flatnonzero(several).tolist():
            apart: list[np.ndarray] = []
            for point in points[first[k]:first[k + 1]][holds[first[k]:first[k + 1]]]:
                if all(np.linalg.norm(point - other) > SAME * size[k] for other in apart):
                    apart.append(point)
            copies[k] = np.array(apart)
        return copies


def regular(corners: np.ndarray) -> np.ndarray:
    """Corners of regular polygons, one after the other (sum, 2): `corners` (k,) of each."""
    first = np.repeat(np.cumsum(corners) - corners, corners)
    turn = 2 * np.pi * (np.arange(int(corners.sum())) - first) / np.repeat(corners, corners)
    return np.stack([np.cos(turn), np.sin(turn)], axis=1)


def _in_triangles(corners: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Barycentric coordinates (k, 3) of places (k, 2) in plane triangles (k, 3, 2), brought
    inside, and the least (k,) of each before that."""
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    w = places - corners[:, 0]
    cross = lambda a, b: a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]  # noqa: E731
    area = cross(u, v)
    sound = np.abs(area) > 1e-12
    area = np.where(sound, area, 1.0)
    second, third = cross(w, v) / area, cross(u, w) / area
    weights = np.stack([1 - second - third, second, third], axis=1)
    weights[~sound] = -1.0, -1.0, 3.0
    least = weights.min(axis=1)
    weights = np.clip(weights, 0.0, None)
    return weights / weights.sum(axis=1, keepdims=True), least
