"""The linear system of one region: gradients, weights, seam lengths and one factor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import Layer, Region

INTERVAL = 60.0  # mm of a seam whose total length is kept
SEAM_WEIGHT = 4.0  # pull of the seam lengths against the stretch of the faces


@dataclass(frozen=True)
class Seams:
    """Seam edges (k, 2), their rest lengths (k,) and the interval (k,) each lies in."""

    edges: np.ndarray
    lengths: np.ndarray
    interval: np.ndarray


def seams_of(region: Region, layer: Layer) -> Seams:
    """The seam edges of a region, each border in equal intervals of about INTERVAL."""
    edges, lengths, interval, number = [], [], [], 0
    for border in region.borders:
        if border.seam < 0:
            continue
        path = border.vertices
        rest = mesh.along(layer.lengths, border.half)
        parts = max(1, round(rest.sum() / INTERVAL))
        middle = np.cumsum(rest) - rest / 2
        edges.append(np.stack([path[:-1], path[1:]], axis=1))
        lengths.append(rest)
        interval.append(number + np.minimum((middle / rest.sum() * parts).astype(int), parts - 1))
        number += parts
    if not edges:
        return Seams(np.empty((0, 2), int), np.empty(0), np.empty(0, int))
    _, interval = np.unique(np.concatenate(interval), return_inverse=True)
    return Seams(np.concatenate(edges), np.concatenate(lengths), interval)


class System:
    """Gradients, weights and the factored normal matrix of one region."""

    def __init__(self, faces, lengths, count, seams: Seams):
        import scipy.sparse as sp

        corner = rest_triangles(lengths)
        m = len(faces)
        double = (np.conj(corner[:, 1]) * corner[:, 2]).imag
        opposite = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)
        hat = 1j * opposite / double[:, None]
        rows, columns = np.repeat(np.arange(m), 3), faces.ravel()
        matrix = lambda values: sp.csr_matrix(  # noqa: E731
            (values.ravel(), (rows, columns)), shape=(m, count))
        self.count, self.faces = count, faces
        self.area = double / 2
        self.weight = self.area / self.area.sum()
        self.gradient = sp.vstack([matrix(np.conj(hat) / 2), matrix(hat / 2)]).tocsr()
        self.adjoint = (self.gradient.conj().T
                        @ sp.diags(np.tile(2 * self.weight, 2))).tocsr()
        self.seams = seams
        k = np.arange(len(seams.edges))
        inverse = 1 / seams.lengths
        self.along = sp.csr_matrix(
            (np.concatenate([-inverse, inverse]), (np.tile(k, 2), seams.edges.T.ravel())),
            shape=(len(k), count))
        mean = seams.lengths.mean() if len(k) else 0.0
        self.seam_weight = seams.lengths * mean / self.area.sum()
        self.along_adjoint = (self.along.T @ sp.diags(2 * SEAM_WEIGHT * self.seam_weight)).tocsr()
        self.normal = (self.adjoint @ self.gradient).real + self.along_adjoint @ self.along
        self._factor = _factor(self.normal)

    def singular(self, jacobian: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Singular values (m,), larger and smaller, of Jacobians (2m,) held as p, then q."""
        size = np.abs(jacobian)
        m = len(self.faces)
        return size[:m] + size[m:], size[:m] - size[m:]

    def solve(self, target: np.ndarray, seam_target: np.ndarray | None = None) -> np.ndarray:
        """The map whose Jacobians (and seam edges) come nearest to the targets."""
        right = self.adjoint @ target
        if len(self.seams.edges) and seam_target is not None:
            right = right + self.along_adjoint @ seam_target
        pair = self._factor(np.ascontiguousarray(right).view(float).reshape(-1, 2))
        return np.ascontiguousarray(pair).view(complex).ravel()


def _factor(matrix):
    """Solver of a symmetric positive semidefinite matrix, its null space held by one vertex."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    tiny = matrix.diagonal().mean() * 1e-10
    hold = np.full(matrix.shape[0], tiny * 1e-3)
    hold[0] = tiny * 1e3
    return splu((matrix + sp.diags(hold)).tocsc(), permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0, options={"SymmetricMode": True}).solve


def rest_triangles(lengths: np.ndarray) -> np.ndarray:
    """Corners (m, 3) in the complex plane of triangles with the given edge lengths.

    lengths (m, 3) opposite each corner. A triangle whose lengths cannot close is
    given the smallest height that keeps the arithmetic sound.
    """
    a, b, c = lengths.T
    x = (c**2 + b**2 - a**2) / (2 * c)
    floor = 1e-4 * lengths.max(axis=1)
    y = np.sqrt(np.maximum(b**2 - x**2, floor**2))
    return np.stack([np.zeros_like(a) + 0j, c + 0j, x + 1j * y], axis=1)


def unit(values: np.ndarray) -> np.ndarray:
    """Complex numbers scaled to size 1; 1 where there is none."""
    size = np.abs(values)
    return np.where(size > 0, values / np.maximum(size, 1e-300), 1.0)
