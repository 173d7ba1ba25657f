"""A connected surface with its edges as the roads that a proposed cut may take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..roads import Roads, graph_of

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

SHARP = math.radians(60.0)  # a fold that is as welcome to a cut as any
TURNED = 1 / 20  # of the root of the area: over this length the turn of a valley is measured
WELCOME = 0.5  # share of its length that a crease or a valley takes off the cost of a cut
CUT = 0.01  # share of its length that it costs to go along a rim, which is cut already


@dataclass(frozen=True, eq=False)
class Surface(Roads):
    """One connected, oriented, manifold surface.

    vertices (n, 3); faces (m, 3); polygon (m,): the maker's own face each triangle is
    part of. An edge inside such a face is no edge of the maker's and cannot be marked.
    """

    vertices: np.ndarray
    faces: np.ndarray
    polygon: np.ndarray

    @cached_property
    def beside(self) -> np.ndarray:
        """The faces (e, 2) on both sides of each edge, the second -1 on a rim."""
        half, twin = self.half
        return np.stack([half // 3, np.where(twin < 0, -1, twin // 3)], axis=1)

    @property
    def rim(self) -> np.ndarray:
        """Whether each edge (e,) lies on the boundary."""
        return self.beside[:, 1] < 0

    @cached_property
    def inside(self) -> np.ndarray:
        """Whether each edge (e,) only divides one of the maker's faces."""
        return ~self.rim & (self.polygon[self.beside[:, 0]] == self.polygon[self.beside[:, 1]])

    @cached_property
    def normals(self) -> tuple[np.ndarray, np.ndarray]:
        """Unit normals (m, 3) and areas (m,) of the faces."""
        return mesh.face_normals(self.vertices, self.faces)

    @cached_property
    def area(self) -> float:
        return float(self.normals[1].sum())

    @cached_property
    def size(self) -> float:
        """Root of the area: the length other lengths are compared with."""
        return max(math.sqrt(self.area), 1e-300)

    @cached_property
    def length(self) -> np.ndarray:
        """Length (e,) of each edge, never quite zero."""
        step = self.vertices[self.edges[:, 1]] - self.vertices[self.edges[:, 0]]
        return np.maximum(np.linalg.norm(step, axis=1), 1e-9 * self.size)

    @cached_property
    def cost(self) -> np.ndarray:
        """Cost (e,) of a cut along each edge: its length, less along creases, valleys and rims.

        A crease is where makers cut anyway; in a valley the glue line is seen least.
        """
        normals, area = self.normals
        a, b = self.beside.T
        n1, n2 = normals[a], normals[b]
        fold = np.arctan2(np.linalg.norm(np.cross(n1, n2), axis=1),
                          np.einsum("ij,ij->i", n1, n2))
        centre = self.vertices[self.faces].mean(axis=1)
        valley = np.einsum("ij,ij->i", centre[b] - centre[a], n1) > 0
        across = 2 * (area[a] + area[b]) / (3 * self.length)  # between the faces' centres
        turn = fold * TURNED * self.size / np.maximum(across, 1e-9 * self.size)
        welcome = np.maximum(np.minimum(fold / SHARP, 1), valley * np.minimum(turn, 1))
        return self.length * np.where(self.rim, CUT, 1 - WELCOME * welcome)

    @cached_property
    def graph(self) -> csr_matrix:
        """Sparse symmetric matrix (n, n) of the cost of each of the maker's edges."""
        free = ~self.inside
        return graph_of(self.edges[free], self.cost[free], len(self.vertices))

    @property
    def genus(self) -> int:
        """Number of handles g, of Euler's formula V - E + F = 2 - 2 g - loops."""
        euler = len(self.vertices) - len(self.edges) + len(self.faces)
        return (2 - euler - len(self.loops)) // 2

    def inner(self, edges: np.ndarray) -> np.ndarray:
        """Those of the edges (k, 2) that are not on a rim: the ones left to be cut."""
        count = len(self.vertices)
        rims = mesh.edge_keys(self.edges[self.rim], count)
        return edges[~np.isin(mesh.edge_keys(edges, count), rims)]
