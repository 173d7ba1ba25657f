"""The energy of foam pieces that are formed and glued, and the shape that has least of it.

Three things resist (lengths in mm, the foam's own stiffness 1): triangles that are not as
they were to be formed, A / 4 |J^T J - 1|^2; hinges that are not at their fold, w (f - f0)^2,
inside a piece with w = 3 b l^2 / (A1 + A2) after Grinspun et al. ("Discrete Shells", 2003),
along glued bevels and trenches with w = l; and glued faces that do not meet. Bending inside
pieces is next to nothing beside stretching, b = 0.01, but a search begins with b = 1.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp

from .assembly import INSIDE, Assembly
from .holding import Holding, Measures

GLUE = 4.0  # stiffness of what is glued
TAPE = 2.0  # of a tape measure


class Shell:
    """The energy of an assembly at positions x (n, 3). bend: stiffness b inside pieces;
    measures: what else is known; mould: angle (h,) by which hinges bend beside their folds."""

    def __init__(self, assembly: Assembly, bend: float, measures: Measures | None = None,
                 mould: np.ndarray | None = None):
        self.assembly = assembly
        rest, faces = assembly.rest, assembly.faces
        edge = np.stack([rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]], axis=2)
        inverse = np.linalg.inv(edge)
        self.area = np.linalg.det(edge) / 2
        self.hat = np.stack([-inverse.sum(axis=1), inverse[:, 0], inverse[:, 1]], axis=1)
        n = len(assembly.flat)
        self.hold = Holding(assembly, measures or Measures.none(n))
        self.mass = np.bincount(faces.ravel(), np.repeat(self.area / 3, 3), n)
        hinge = assembly.hinge
        (self.length, self.foot_left, self.high_left), (_, foot, self.high_right) = (
            self._side(hinge[:, 0], hinge[:, 1]), self._side(hinge[:, 4], hinge[:, 3]))
        self.foot_right = 1 - foot  # its edge is seen reversed
        self.crease = assembly.kind != INSIDE
        share = (self.high_left + self.high_right) * self.length / 2
        self.firm = np.where(self.crease, self.length, 3 * bend * self.length**2 / share)
        self.mould = np.zeros(len(assembly.fold)) if mould is None else mould
        self.fold = assembly.fold + self.mould

    def _side(self, start, end):
        """Length of half-edges (h,), and the foot and height of the third corner over each."""
        faces, rest = self.assembly.faces, self.assembly.rest
        n = len(self.assembly.flat)
        key = faces.ravel() * n + np.roll(faces, -1, axis=1).ravel()
        order = np.argsort(key)
        half = order[np.searchsorted(key[order], start * n + end)]
        f, k = half // 3, half % 3
        p, q, r = (rest[f, (k + i) % 3] for i in range(3))
        length = np.linalg.norm(q - p, axis=1)
        foot = ((r - p) * (q - p)).sum(axis=1) / length**2
        return length, foot, 2 * self.area[f] / length

    # --- what is where ---------------------------------------------------------

    def jacobian(self, x: np.ndarray) -> np.ndarray:
        """Forming map (m, 3, 2) of each triangle."""
        return np.einsum("mic,mib->mcb", x[self.assembly.faces], self.hat)

    def angles(self, x: np.ndarray) -> np.ndarray:
        """Fold (h,) at every hinge, convex positive."""
        return self._bends(x)[0]

    def _bends(self, x):
        h = self.assembly.hinge
        e, other = x[h[:, 1]] - x[h[:, 0]], x[h[:, 4]] - x[h[:, 3]]
        left = np.cross(e, x[h[:, 2]] - x[h[:, 0]])
        right = -np.cross(other, x[h[:, 5]] - x[h[:, 3]])
        axis = _unit(_unit(e) + _unit(other))
        u, v = _unit(left), _unit(right)
        angle = np.arctan2((np.cross(u, v) * axis).sum(axis=1), (u * v).sum(axis=1))
        return angle, e, other, left, right, u, v

    # --- least squares -----------------------------------------------------------

    def residual(self, x: np.ndarray) -> np.ndarray:
        return np.concatenate(self._residuals(x))

    def _residuals(self, x):
        map_ = self.jacobian(x)
        metric = np.einsum("mca,mcb->mab", map_, map_)
        w = np.sqrt(self.area) / 2
        wrong = self.angles(x) - self.fold
        wrong = (wrong + np.pi) % (2 * np.pi) - np.pi
        apart, across = self.hold.gaps(x), _size(self.hold.across(x))
        return (w * (metric[:, 0, 0] - 1), w * (metric[:, 1, 1] - 1),
                np.sqrt(2) * w * metric[:, 0, 1], np.sqrt(self.firm) * wrong,
                (np.sqrt(GLUE * self.assembly.weight)[:, None] * apart).ravel(),
                TAPE * (across - self.hold.measures.lengths))

    def derivative(self, x: np.ndarray) -> sp.csr_matrix:
        """Of the residual (r, 3 n)."""
        a, n = self.assembly, len(x)
        rows, columns, values, first = [], [], [], 0

        def put(vertex, value):
            """value (r, v, 3): derivatives of r residuals by v vertices (r, v) each."""
            nonlocal first
            count, v = vertex.shape
            rows.append(np.repeat(first + np.arange(count), 3 * v))
            columns.append((3 * vertex[:, :, None] + np.arange(3)).ravel())
            values.append(value.ravel())
            first += count

        map_ = self.jacobian(x)
        w = np.sqrt(self.area) / 2
        for p, q, factor in ((0, 0, 1.0), (1, 1, 1.0), (0, 1, np.sqrt(2))):
            put(a.faces, (factor * w)[:, None, None] * (
                map_[:, None, :, p] * self.hat[:, :, q, None]
                + map_[:, None, :, q] * self.hat[:, :, p, None]))
        _, e, other, left, right, u, v = self._bends(x)
        ga = u * (_size(e) / np.maximum(_size(left), 1e-12))[:, None]
        gb = v * (_size(other) / np.maximum(_size(right), 1e-12))[:, None]
        h = a.hinge
        sa = ((x[h[:, 2]] - x[h[:, 0]]) * e).sum(axis=1) / np.maximum((e * e).sum(axis=1), 1e-12)
        sb = (((x[h[:, 5]] - x[h[:, 3]]) * other).sum(axis=1)
              / np.maximum((other * other).sum(axis=1), 1e-12))
        put(h, np.sqrt(self.firm)[:, None, None] * np.stack(
            [ga * (1 - sa)[:, None], ga * sa[:, None], -ga,
             gb * (1 - sb)[:, None], gb * sb[:, None], -gb], axis=1))
        foam = sp.csr_matrix((np.concatenate(values), (np.concatenate(rows),
                                                       np.concatenate(columns))),
                             shape=(first, 3 * n))
        gaps, distances = self.hold.derivatives(x)
        pull = sp.diags(np.repeat(np.sqrt(GLUE * a.weight), 3))
        return sp.vstack([foam, pull @ gaps, TAPE * distances], format="csr")


def _size(vectors: np.ndarray) -> np.ndarray:
    return np.sqrt(np.einsum("ij,ij->i", vectors, vectors))


def _unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.maximum(_size(vectors), 1e-12)[:, None]
