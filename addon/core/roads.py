"""The edges of a triangle mesh as roads that a proposed cut may take."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from . import mesh

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix


class Roads:
    """What a mesh with `faces` (m, 3), manifold and oriented, has in edges; to be inherited by
    records of one."""

    faces: np.ndarray

    @cached_property
    def half(self) -> tuple[np.ndarray, np.ndarray]:
        """One half-edge (e,) of each edge, and its twin (e,) or -1."""
        twin = mesh.twins(self.faces)
        half = np.flatnonzero((twin < 0) | (twin > np.arange(len(twin))))
        return half, twin[half]

    @cached_property
    def edges(self) -> np.ndarray:
        """Every edge (e, 2) once."""
        start, end, _ = mesh.half_edges(self.faces)
        return np.stack([start[self.half[0]], end[self.half[0]]], axis=1)

    @cached_property
    def loops(self) -> list[np.ndarray]:
        """The vertices of each boundary loop, in order."""
        return [self.faces.ravel()[half] for half in mesh.boundary_loops(self.faces)]


def graph_of(edges: np.ndarray, cost: np.ndarray, count: int) -> csr_matrix:
    """Sparse symmetric matrix (n, n) of the cost (e,) of each edge (e, 2) between n vertices."""
    from scipy.sparse import csr_matrix

    a, b = edges.T
    return csr_matrix((np.tile(cost, 2), (np.append(a, b), np.append(b, a))), shape=(count, count))
