"""The ground that relief cuts are tried on: a piece's neutral layer as an even mesh.

Trials are many, so the ground has about the same number of faces whatever the sculpt has:
large faces are divided, which keeps every length on the layer, and the vertices of fine
meshes are thinned out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ... import mesh
from ...flatten.start import start_of
from ...flatten.system import System, no_seams
from ...flatten.thin import thinned
from ...layer import rest_lengths
from ...model import Border, Layer, Region
from ...roads import Roads, graph_of
from ...stock import Stock
from ..quick import conformal

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

FACES = 800  # of the ground, about
DIVIDED = 5  # times at most that faces are divided in four


@dataclass(frozen=True, eq=False)
class Ground(Roads):
    """A piece as an even mesh: points (n, 3) on the sculpt, unit normals (n, 3) and principal
    curvatures (n, 2) there, faces (m, 3), and their sides' lengths (m, 3) on the neutral layer,
    each opposite its corner."""

    points: np.ndarray
    normals: np.ndarray
    curvature: np.ndarray
    faces: np.ndarray
    lengths: np.ndarray

    @classmethod
    def of(cls, region: Region, layer: Layer, stock: Stock, side: str) -> Ground:
        """The ground of a region."""
        normals = np.empty((len(region.vertices), 3))
        normals[region.faces] = layer.normals[region.leaf]
        curvature = np.empty((len(region.vertices), 2))
        curvature[region.faces] = layer.curvature[region.leaf]
        ground = cls(region.vertices, normals, curvature, region.faces, layer.lengths)
        if len(region.faces) > 2 * FACES:
            return ground._thinned(region, stock, side) or ground
        for _ in range(DIVIDED):
            if 3 * len(ground.faces) > FACES:
                break
            ground = ground._divided()
        return ground

    def _divided(self) -> Ground:
        """Every face in four: the sides' halves are half as long."""
        start, end, key = mesh.half_edges(self.faces)
        _, first, middle = np.unique(key, return_index=True, return_inverse=True)
        middle = (middle.ravel() + len(self.points)).reshape(-1, 3)  # of sides 01, 12, 20
        halfway = lambda v: np.concatenate([v, (v[start[first]] + v[end[first]]) / 2])  # noqa: E731
        (a, b, c), (ab, bc, ca) = self.faces.T, middle.T
        faces = np.stack([[a, ab, ca], [ab, b, bc], [ca, bc, c], [bc, ca, ab]], axis=1)
        normals = halfway(self.normals)
        normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
        return Ground(halfway(self.points), normals, halfway(self.curvature),
                      faces.reshape(3, -1).T, np.tile(self.lengths / 2, (4, 1)))

    def _thinned(self, region: Region, stock: Stock, side: str) -> Ground | None:
        """Some of the vertices, joined anew; None where the piece cannot be laid out for that."""
        system = System(self.faces, self.lengths, len(self.points), no_seams(len(self.points)))
        start = start_of(system, region)
        if start is None:
            return None
        loops = [np.concatenate([region.borders[b].vertices[:-1] for b in ring])
                 for ring in region.loops]
        spacing = np.sqrt(4 / np.sqrt(3) * system.area.sum() / FACES)
        found = thinned(start, loops, spacing)
        if found is None:
            return None
        picked, faces = found
        points, normals = self.points[picked], self.normals[picked]
        lengths = rest_lengths(points, normals, faces, stock, side)
        if (lengths <= 0).any():
            return None
        return Ground(points, normals, self.curvature[picked], faces, lengths)

    # --- its edges and rims ----------------------------------------------------

    def numbers(self, edges: np.ndarray) -> np.ndarray:
        """Which of its edges (k,) the edges (k, 2) are."""
        keys = mesh.edge_keys(self.edges, len(self.points))
        order = np.argsort(keys)
        wanted = mesh.edge_keys(edges, len(self.points))
        return order[np.searchsorted(keys, wanted, sorter=order)]

    @cached_property
    def length(self) -> np.ndarray:
        """Length (e,) of each edge on the layer."""
        return mesh.along(self.lengths, self.half[0])

    @cached_property
    def rim(self) -> np.ndarray:
        """Whether each vertex (n,) lies on a rim."""
        rim = np.zeros(len(self.points), dtype=bool)
        rim[np.concatenate([*self.loops, []]).astype(int)] = True
        return rim

    @cached_property
    def scale(self) -> np.ndarray:
        """Logarithm (n,) of the conformal scale of a flat whose rim keeps its length.

        It solves laplace phi = K, the Gaussian curvature as angle defects, with the Laplacian
        of cotangents (Springborn, Schroeder and Pinkall 2008; the first Newton step).
        """
        return conformal(self.faces, self.lengths, np.flatnonzero(self.rim))[0]

    def evened(self, values: np.ndarray, rounds: int) -> np.ndarray:
        """Values (n,) at the vertices after rounds of averaging with the neighbours."""
        near = self.graph(np.ones(len(self.edges)))
        many = np.asarray(near.sum(axis=1)).ravel()
        for _ in range(rounds):
            values = (values + near @ values / many) / 2
        return values

    def graph(self, cost: np.ndarray) -> csr_matrix:
        """Sparse symmetric matrix (n, n) of the cost (e,) of each edge."""
        return graph_of(self.edges, cost, len(self.points))

    def opened(self, edges: np.ndarray) -> list[Ground]:
        """The parts that cuts along edges (k, 2) leave."""
        opened, source = mesh.cut_along(self.faces, edges, len(self.points))
        start, end, _ = mesh.half_edges(opened)
        number, label = mesh.components(len(source), np.stack([start, end], axis=1))
        label = label[opened[:, 0]]
        parts = []
        for k in range(number):
            used, faces = np.unique(opened[label == k], return_inverse=True)
            old = source[used]
            parts.append(Ground(self.points[old], self.normals[old], self.curvature[old],
                                faces.reshape(-1, 3), self.lengths[label == k]))
        return parts


def plain_region(points: np.ndarray, faces: np.ndarray) -> Region:
    """A mesh as a region whose rims are free."""
    start = faces.ravel()
    borders, loops = [], []
    for half in mesh.boundary_loops(faces):
        loops.append((len(borders),))
        borders.append(Border(np.append(start[half], start[half[0]]), half))
    longest = sorted(loops, key=lambda ring: -mesh.polyline_length(
        points[borders[ring[0]].vertices]))
    return Region(points, faces, np.arange(len(points)), np.arange(len(faces)), faces, 0,
                  tuple(borders), tuple(longest), ())
