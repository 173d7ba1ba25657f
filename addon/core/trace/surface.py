"""A surface made ready for lines: who lies beside whom, and the point nearest to a place."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh

if TYPE_CHECKING:
    from .graph import Graph

FEW = 8  # nearest centres that are looked at first


@dataclass(frozen=True, eq=False)
class Foot:
    """The points of a surface nearest to places: face (k,), weights (k, 3) of its corners,
    points (k, 3), and distance (k,) of each from its place."""

    face: np.ndarray
    weights: np.ndarray
    points: np.ndarray
    distance: np.ndarray


class Surface:
    """Vertices (n, 3) and triangles (m, 3) with what many questions about lines share.

    Everything is worked out when it is first asked for, and kept; so hold on to the surface
    while lines are drawn on it. A mesh with faults is taken as it comes: no line crosses an
    edge at which faces do not meet in a pair that is wound alike.

    twin (3m,): the half-edge beside each one, -1 where no line can cross. nodes (m, 3): the
    corners numbered so that parts which only touch in a vertex have one each. angles (m, 3).
    """

    def __init__(self, vertices: np.ndarray, faces: np.ndarray):
        self.vertices = np.asarray(vertices, dtype=float)
        self.faces = np.ascontiguousarray(faces, dtype=np.int64).reshape(-1, 3)

    @cached_property
    def twin(self) -> np.ndarray:
        start, end, _ = mesh.half_edges(self.faces)
        twin = mesh.twins(self.faces)
        half = np.flatnonzero(twin >= 0)
        other = twin[half]
        wrong = (twin[other] != half) | (start[half] != end[other])
        twin[np.concatenate([half[wrong], other[wrong & (twin[other] == half)]])] = -1
        return twin

    @cached_property
    def nodes(self) -> np.ndarray:
        half = np.flatnonzero(self.twin > np.arange(len(self.twin)))
        other = self.twin[half]
        links = np.concatenate([np.stack([half, mesh.after(other)], axis=1),
                                np.stack([mesh.after(half), other], axis=1)])
        _, corner = mesh.components(len(self.twin), links)
        return corner.reshape(-1, 3)

    @cached_property
    def angles(self) -> np.ndarray:
        return mesh.corner_angles(self.vertices, self.faces)

    @cached_property
    def total_angle(self) -> np.ndarray:
        """Sum of the angles round each node, infinite on a rim: there is no way round."""
        count = int(self.nodes.max(initial=-1)) + 1
        total = np.bincount(self.nodes.ravel(), self.angles.ravel(), minlength=count)
        rim = np.flatnonzero(self.twin < 0)
        total[self.nodes.ravel()[rim]] = np.inf
        total[self.nodes.ravel()[mesh.after(rim)]] = np.inf
        return total

    @cached_property
    def graph(self) -> Graph:
        from .graph import Graph

        return Graph(self)

    @cached_property
    def _trees(self) -> list[tuple]:
        """Faces by size, an octave each: a tree of their centres, their numbers, their reach."""
        from scipy.spatial import cKDTree

        corner = self.vertices[self.faces]
        centre = corner.mean(axis=1)
        reach = np.sqrt(((corner - centre[:, None]) ** 2).sum(axis=2).max(axis=1))
        sound = np.isfinite(reach)
        octave = np.full(len(reach), -2000.0)
        octave[sound] = np.floor(np.log2(np.maximum(reach[sound], 1e-300)))
        if sound.any():  # what is tiny beside the largest may as well be of one size
            octave = np.maximum(octave, octave.max() - 12)
        found = []
        for size in np.unique(octave[sound]):
            ids = np.flatnonzero(sound & (octave == size))
            found.append((cKDTree(centre[ids]), ids, float(reach[ids].max())))
        return found

    def nearest(self, places: np.ndarray, exact: bool = True) -> Foot:
        """The points of the surface nearest to places (k, 3).

        exact False: of the faces whose centres are nearest, which is all but always the same,
        sooner.
        """
        places = np.asarray(places, dtype=float).reshape(-1, 3)
        best = np.full(len(places), np.inf)
        face = np.full(len(places), -1, dtype=np.int64)
        weights = np.zeros((len(places), 3))
        for all_near in (False, True) if exact else (False,):  # first a guess, then what is nearer
            for tree, ids, reach in self._trees:
                if all_near:
                    near = tree.query_ball_point(places, best * (1 + 1e-9) + reach)
                    place = np.repeat(np.arange(len(places)), [len(n) for n in near])
                    tried = ids[np.concatenate([*near, []]).astype(np.int64)]
                else:
                    k = min(FEW, len(ids))
                    tried = ids[tree.query(places, k)[1].reshape(len(places), k)].ravel()
                    place = np.repeat(np.arange(len(places)), k)
                if not len(tried):
                    continue
                part = mesh.nearest_weights(self.vertices[self.faces[tried]], places[place])
                foot = np.einsum("ij,ijk->ik", part, self.vertices[self.faces[tried]])
                away = np.linalg.norm(foot - places[place], axis=1)
                order = np.lexsort((tried, away, place))
                first = order[np.unique(place[order], return_index=True)[1]]
                better = first[away[first] < best[place[first]]]
                best[place[better]] = away[better]
                face[place[better]], weights[place[better]] = tried[better], part[better]
        points = np.einsum("ij,ijk->ik", weights, self.vertices[self.faces[face]])
        return Foot(face, weights, points, best)
