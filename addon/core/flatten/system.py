"""The linear system of one region: gradients, weights, seam lengths and one factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..fair import border_map, curve, faired_lengths
from ..model import Layer, Region
from ..stock import Limits

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

INTERVAL = 12.0  # mm of a seam whose total length is kept: well below the spacing of notches
SEAM_WEIGHT = 4.0  # pull of the seam lengths against the stretch of the faces
SHARE = 0.01  # of a piece may leave the foam's band, but no more than t x t in one place


@dataclass(frozen=True, eq=False)
class Seams:
    """The seam lines of a region, faired, segment by segment.

    along (k, n): sparse map from the vertices to the segments, in units of their rest
    length; lengths (k,): rest lengths; interval (k,): the interval each lies in; place (k,):
    which segment of its seam it is; contact (k,): length of the line in which the mates touch
    over the rest length, where that is asked for. parts (count, 3): of each interval the
    seam it is a part of, which part, and the border it lies on.
    """

    along: csr_matrix
    lengths: np.ndarray
    interval: np.ndarray
    place: np.ndarray
    parts: np.ndarray
    contact: np.ndarray | None = None

    @property
    def count(self) -> int:
        """Number of intervals."""
        return len(self.parts)


def no_seams(count: int) -> Seams:
    """The seams of a region of so many vertices none of whose edges must keep its length."""
    import scipy.sparse as sp

    none = np.empty(0, dtype=np.int64)
    return Seams(sp.csr_matrix((0, count)), np.empty(0), none, none,
                 none.reshape(0, 3), np.empty(0))


def seams_of(region: Region, layer: Layer) -> Seams:
    """The seam lines of a region, each seam in equal intervals of about INTERVAL.

    The parts of a seam are counted along the seam, so they are the same on both mates.
    """
    import scipy.sparse as sp

    along, lengths, interval, place, contact, parts = [], [], [], [], [], []
    for index, border in enumerate(region.borders):
        if border.seam < 0:
            continue
        step = np.linalg.norm(np.diff(curve(region, border), axis=0), axis=1)
        step = step if border.forward else step[::-1]
        number = max(1, round(step.sum() / INTERVAL))
        middle = (np.cumsum(step) - step / 2) / step.sum()
        part = np.minimum((middle * number).astype(int), number - 1)
        _, part = np.unique(part, return_inverse=True)  # a long edge may leave a part empty
        part = part if border.forward else part[::-1]
        line = border_map(region, border)
        rest = faired_lengths(region, layer.lengths, border)
        rest = np.maximum(rest, 1e-6 * rest.mean())
        along.append(sp.diags(1 / rest) @ (line[1:] - line[:-1]))
        lengths.append(rest)
        interval.append(len(parts) + part)
        place.append(np.arange(len(part)) if border.forward else np.arange(len(part))[::-1])
        contact.append(layer.contact[index])
        parts += [(border.seam, k, index) for k in range(part.max() + 1)]
    if not along:
        return no_seams(len(region.vertices))
    return Seams(sp.vstack(along).tocsr(), np.concatenate(lengths), np.concatenate(interval),
                 np.concatenate(place), np.array(parts), np.concatenate(contact))


class System:
    """Gradients, weights and the factored normal matrix of one region.

    On a face with corners z_i and opposite sides e_i, the hat function of corner i has the
    gradient g_i = i e_i / (2 area), so the map f has p = sum f_i conj(g_i) / 2 and
    q = sum f_i g_i / 2 (Wirtinger derivatives of a linear function).

    spot: area in mm2 that may leave the foam's band in one place.
    """

    def __init__(self, faces: np.ndarray, lengths: np.ndarray, count: int, seams: Seams,
                 spot: float = 0.0):
        import scipy.sparse as sp

        self.corner = rest_triangles(lengths)
        m = len(faces)
        double = (np.conj(self.corner[:, 1]) * self.corner[:, 2]).imag
        opposite = np.roll(self.corner, -2, axis=1) - np.roll(self.corner, -1, axis=1)
        hat = 1j * opposite / double[:, None]
        rows, columns = np.repeat(np.arange(m), 3), faces.ravel()
        matrix = lambda values: sp.csr_matrix(  # noqa: E731
            (values.ravel(), (rows, columns)), shape=(m, count))
        self.count, self.faces, self.spot = count, faces, spot
        self.area = double / 2
        self.weight = self.area / self.area.sum()
        self.gradient = sp.vstack([matrix(np.conj(hat) / 2), matrix(hat / 2)]).tocsr()
        self.adjoint = (self.gradient.conj().T
                        @ sp.diags(np.tile(2 * self.weight, 2))).tocsr()
        self.seams = seams
        self.along = seams.along
        mean = seams.lengths.mean() if len(seams.lengths) else 0.0
        self.seam_pull = SEAM_WEIGHT * seams.lengths * mean / self.area.sum()
        self.along_adjoint = (self.along.T @ sp.diags(2 * self.seam_pull)).tocsr()
        self.normal = (self.adjoint @ self.gradient).real + self.along_adjoint @ self.along
        self._factor = _factor(self.normal)

    def singular(self, jacobian: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Singular values (m,), larger and smaller, of Jacobians (2m,) held as p, then q."""
        size = np.abs(jacobian)
        m = len(self.faces)
        return size[:m] + size[m:], size[:m] - size[m:]

    def interval_lengths(self, edges: np.ndarray) -> np.ndarray:
        """Length of each seam interval, in units of its rest length, of edges (k,) in theirs."""
        seams = self.seams
        total = np.bincount(seams.interval, seams.lengths, seams.count)
        now = np.bincount(seams.interval, seams.lengths * np.abs(edges), seams.count)
        return now / total

    def utilisation(self, points: np.ndarray, limits: Limits) -> float:
        """Utilisation of a map but for the faces that may be spared; infinite where turned over."""
        sigma = self.stretch(points)
        if sigma[:, 1].min() <= 0:
            return np.inf  # even a spared face may not turn over
        return mesh.largest_but_spots(limits.utilisation(sigma), self.area, self.faces,
                                      SHARE * self.area.sum(), self.spot)

    def spots(self, points: np.ndarray, limits: Limits) -> np.ndarray:
        """The faces (k,) of a map that `utilisation` spares."""
        return mesh.spots(limits.utilisation(self.stretch(points)), self.area, self.faces,
                          SHARE * self.area.sum(), self.spot)

    def stretch(self, points: np.ndarray) -> np.ndarray:
        """Singular values (m, 2) of the forming map flat -> layer, larger first."""
        upper, lower = self.singular(self.gradient @ points)
        return np.stack([1 / np.maximum(lower, 1e-9), np.where(lower > 0, 1 / upper, 0.0)], axis=1)

    def solve(self, target: np.ndarray, seam_target: np.ndarray | None = None) -> np.ndarray:
        """The map whose Jacobians (and seam edges) come nearest to the targets."""
        right = self.adjoint @ target
        if self.seams.count and seam_target is not None:
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

    lengths (m, 3) opposite each corner: x = (b^2 + c^2 - a^2) / 2 c (law of cosines) and
    y^2 = b^2 - x^2 of the third corner, with c on the real axis. A triangle whose lengths
    cannot close is given the smallest height that keeps the arithmetic sound.
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
