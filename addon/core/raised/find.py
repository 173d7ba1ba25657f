"""Raised and recessed shapes: a region of the sculpt with a step all round it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import Sculpt
from ..model.frozen import Frozen

SHARP = np.radians(35.0)  # a fold that a step has at its upper and at its lower edge, at least
LEAST, MOST = 1.0, 30.0  # mm that a step is high
UNEVEN = 0.25, 1.0  # by which heights may stray: a share of the height, or mm
LEVEL = np.radians(35.0)  # between the top beside the step and what lies below


@dataclass(frozen=True, eq=False)
class Raised(Frozen):
    """A shape that stands out of the sculpt, or lies deeper.

    top (k,), walls (w,): its faces, and those of the step round it. foot (e, 2): edges, as the
    surface below has them, where the step ends. height: of the step, mm, negative where the shape
    is recessed; spread: by how much that strays. object: index.
    """

    _ints = ("top", "walls", "foot")

    top: np.ndarray
    walls: np.ndarray
    foot: np.ndarray
    height: float
    spread: float
    object: int


def raised(sculpt: Sculpt) -> list[Raised]:
    """All of them, the largest first; of a sound sculpt (see soundness).

    Regions are what hangs together without sharp folds. One is raised where it ends at ridges
    all round, beyond which lie walls that end in grooves; recessed the other way round. Walls
    with a rounded edge count where that is folded, a blend that is round all through does not.
    """
    if not len(sculpt.faces):
        return []
    shapes, taken = [], np.full(len(sculpt.faces), False)
    for one in sorted(_Folds(sculpt).found(), key=lambda one: (-len(one.top), int(one.top[0]))):
        if not taken[one.walls].any():  # what is within a raised ring is no recess besides
            taken[one.walls] = True
            shapes.append(one)
    return shapes


class _Folds:
    """The regions between sharp folds, and which lie beside each other along what."""

    def __init__(self, sculpt: Sculpt):
        self.sculpt = sculpt
        faces, points = sculpt.faces, sculpt.vertices
        self.normals, self.area = mesh.face_normals(points, faces)
        self.edges, beside = mesh.edge_faces(faces)
        one, other = beside.T
        cross = np.cross(self.normals[one], self.normals[other])
        angle = np.arctan2(np.linalg.norm(cross, axis=1),
                           np.einsum("ij,ij->i", self.normals[one], self.normals[other]))
        centre = points[faces].mean(axis=1)
        ridge = np.einsum("ij,ij->i", centre[other] - centre[one], self.normals[one]) < 0
        sharp = angle >= SHARP
        count, self.label = mesh.components(len(faces), beside[~sharp])
        between = sharp & (self.label[one] != self.label[other])
        # Both ways round: from region, to region, ridge or groove, edge, face on either side.
        a, b = self.label[one], self.label[other]
        pick = np.flatnonzero(between)
        self.near = np.concatenate([a[pick], b[pick]])
        self.far = np.concatenate([b[pick], a[pick]])
        self.ridge = np.tile(ridge[pick], 2)
        self.edge = np.tile(pick, 2)
        self.face = np.concatenate([beside[pick, 0], beside[pick, 1]])
        self.size = np.bincount(self.label, self.area, minlength=count)
        # A region that ends at a rim, or is folded sharply within, is none with a step all round.
        twin = mesh.twins(faces)
        inner = np.bincount(self.label[one[sharp & ~between]], minlength=count)
        self.rim = (np.bincount(self.label[np.flatnonzero(twin < 0) // 3], minlength=count)
                    + inner) > 0
        order = np.argsort(self.near, kind="stable")
        cuts = np.searchsorted(self.near[order], np.arange(count + 1))
        self.of = [order[a:b] for a, b in zip(cuts[:-1], cuts[1:], strict=True)]

    def found(self) -> Iterator[Raised]:
        for region in range(len(self.of)):
            rows = self.of[region]
            if self.rim[region] or not len(rows):
                continue
            ridge = self.ridge[rows]
            if ridge.all() or not ridge.any():
                one = self._stepped(region, bool(ridge[0]))
                if one is not None:
                    yield one

    def _stepped(self, top: int, up: bool) -> Raised | None:
        """The shape on top of a region, whose outer folds are all ridges (or grooves)."""
        walls, waiting, feet = set(), [top], []
        while waiting:
            rows = self.of[waiting.pop()]
            on = rows[self.ridge[rows] == up]
            for far in set(self.far[on].tolist()) - walls - {top}:
                if self.rim[far] or self.size[far] > self.size[top]:
                    return None
                walls.add(far)
                waiting.append(far)
            feet.append(rows[self.ridge[rows] != up])
        foot = np.concatenate(feet)
        foot = foot[~np.isin(self.far[foot], [*walls, top])]
        if not len(foot):
            return None
        faces = np.flatnonzero(self.label == top)
        standing = np.flatnonzero(np.isin(self.label, list(walls)))
        if self.area[standing].sum() > 2 * self.size[top]:  # a knob, not a shape
            return None
        return self._measured(faces, standing, foot, up)

    def _measured(self, top: np.ndarray, walls: np.ndarray, foot: np.ndarray, up: bool
                  ) -> Raised | None:
        faces, points = self.sculpt.faces, self.sculpt.vertices
        start, end, _ = mesh.half_edges(faces[top])
        rim = np.flatnonzero(mesh.twins(faces[top]) < 0)
        border = np.unique(np.concatenate([start[rim], end[rim]]))
        ends = points[self.edges[self.edge[foot]]]
        near, which = nearest_on(points[border], ends)
        height = np.linalg.norm(near - points[border], axis=1)
        most, spread = float(np.median(height)), float(np.ptp(height))
        if not LEAST <= most <= MOST or spread > max(UNEVEN[0] * most, UNEVEN[1]):
            return None
        # What lies below runs on as the top does, else it is the tip of something.
        below = self.normals[self._beyond(foot)][which]
        own = mesh.vertex_normals(points, faces[top], len(points))[border]
        if np.median(np.einsum("ij,ij->i", below, own)) < np.cos(LEVEL):
            return None
        return Raised(top, walls, self.edges[self.edge[foot]], most if up else -most, spread,
                      int(self.sculpt.face_object[top[0]]))

    def _beyond(self, rows: np.ndarray) -> np.ndarray:
        """The faces on the far side of folds."""
        half = len(self.edge) // 2
        return self.face[np.where(rows < half, rows + half, rows - half)]


def nearest_on(places: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The nearest points (k, 3) to places (k, 3) on straight lines with ends (e, 2, 3), and the
    numbers of those lines (k,)."""
    along = ends[:, 1] - ends[:, 0]
    long = np.maximum(np.einsum("ij,ij->i", along, along), 1e-18)
    near, which = np.empty_like(places), np.empty(len(places), dtype=np.int64)
    for k, place in enumerate(places):
        share = np.clip(np.einsum("ij,ij->i", place - ends[:, 0], along) / long, 0.0, 1.0)
        spots = ends[:, 0] + share[:, None] * along
        which[k] = np.argmin(np.einsum("ij,ij->i", spots - place, spots - place))
        near[k] = spots[which[k]]
    return near, which
