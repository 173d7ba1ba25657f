"""The energy of foam pieces that are formed and glued, and the shape that has least of it.

Three things resist (lengths in mm, the foam's own stiffness 1): triangles that are not as
they were to be formed, A / 4 |J^T J - 1|^2; hinges that are not at their fold, w (f - f0)^2,
inside a piece with w = 3 b l^2 / (A1 + A2) after Grinspun et al. ("Discrete Shells", 2003),
along glued bevels and trenches with w = l; and glued faces that do not meet. Bending inside
pieces is next to nothing beside stretching, b = 0.01, but a search begins with b = 1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from .assembly import INSIDE, Assembly

GLUE = 4.0  # stiffness of what is glued
TAPE = 2.0  # of a tape measure


@dataclass(frozen=True, eq=False)
class Measures:
    """Distances (k,) mm that are known between places on the foam: tapes across open rims, and
    chords of forming gauges.

    first, second (k, n): sparse weights of the vertices about each place; depth (k, 2): how far
    out along the normal it lies from the layer that keeps its length.
    """

    first: sp.csr_matrix
    second: sp.csr_matrix
    depth: np.ndarray
    lengths: np.ndarray

    @classmethod
    def none(cls, count: int) -> Measures:
        empty = sp.csr_matrix((0, count))
        return cls(empty, empty, np.empty((0, 2)), np.empty(0))


class Shell:
    """The energy of an assembly at positions x (n, 3). bend: stiffness b inside pieces;
    measures: what else is known; mould: angle (h,) by which hinges bend beside their folds."""

    def __init__(self, assembly: Assembly, bend: float, measures: Measures | None = None,
                 mould: np.ndarray | None = None):
        self.assembly = assembly
        self.measures = measures or Measures.none(len(assembly.flat))
        rest, faces = assembly.rest, assembly.faces
        edge = np.stack([rest[:, 1] - rest[:, 0], rest[:, 2] - rest[:, 0]], axis=2)
        inverse = np.linalg.inv(edge)
        self.area = np.linalg.det(edge) / 2
        self.hat = np.stack([-inverse.sum(axis=1), inverse[:, 0], inverse[:, 1]], axis=1)
        n = len(assembly.flat)
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

    def normals(self, x: np.ndarray) -> np.ndarray:
        """Unit normals (n, 3), those of faces weighted by their area: their sum is a simple
        function of x, whose derivative is exact."""
        return _unit(self._area_vectors(x))

    def _area_vectors(self, x):
        faces = self.assembly.faces
        p, q, r = (x[faces[:, k]] for k in range(3))
        cross = np.repeat(np.cross(q - p, r - p), 3, axis=0)
        return np.stack([np.bincount(faces.ravel(), c, len(x)) for c in cross.T], axis=1)

    def face_points(self, x: np.ndarray) -> np.ndarray:
        """Where the points of the sculpt's face (n, 3) lie that the vertices stand for."""
        a = self.assembly
        normal = self.normals(x)
        face = x + a.lift[:, None] * normal
        along = x[a.ends[:, 1]] - x[a.ends[:, 0]]
        np.subtract.at(face, a.bank, a.back[:, None] * _unit(np.cross(normal[a.bank], along)))
        return face

    def gaps(self, x: np.ndarray) -> np.ndarray:
        """What lies (k, 3) between the faces that each tie holds together."""
        face, tie = self.face_points(x), self.assembly.tie
        return face[tie[:, 0]] - face[tie[:, 1]]

    def across(self, x: np.ndarray) -> np.ndarray:
        """From the second to the first place (k, 3) of each measure."""
        normal, m = self.normals(x), self.measures
        one, other = (way @ x + depth[:, None] * _unit(way @ normal) for way, depth in (
            (m.first, m.depth[:, 0]), (m.second, m.depth[:, 1])))
        return one - other

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
        face, tie = self.face_points(x), self.assembly.tie
        apart = face[tie[:, 0]] - face[tie[:, 1]]
        across = _size(self.across(x))
        return (w * (metric[:, 0, 0] - 1), w * (metric[:, 1, 1] - 1),
                np.sqrt(2) * w * metric[:, 0, 1], np.sqrt(self.firm) * wrong,
                (np.sqrt(GLUE * self.assembly.weight)[:, None] * apart).ravel(),
                TAPE * (across - self.measures.lengths))

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
        return sp.vstack([foam, *self._held(x)]).tocsr()

    def _held(self, x: np.ndarray) -> tuple[sp.csr_matrix, sp.csr_matrix]:
        """Derivatives of the gaps between what is glued, and of the measures."""
        a, m, n = self.assembly, self.measures, len(x)
        turn = self._turning(x, np.unique(np.concatenate(
            [a.tie.ravel(), a.bank, m.first.indices, m.second.indices])))
        lift = sp.diags(np.repeat(a.lift, 3)) @ turn
        pull = np.sqrt(GLUE * a.weight)
        k = len(a.tie)
        between = sp.csr_matrix((np.concatenate([pull, -pull]), (
            np.tile(np.arange(k), 2), a.tie.T.ravel())), shape=(k, n))
        face = sp.identity(3 * n) + lift - self._backing(x, turn)
        normal = self.normals(x)
        measured = []
        for way, depth in ((m.first, m.depth[:, 0]), (m.second, m.depth[:, 1])):
            inner = way @ normal
            measured.append(_each(way) + sp.diags(np.repeat(depth, 3)) @ _projected(inner)
                            @ _each(way) @ turn)
        along = TAPE * _unit(self.across(x))
        count = len(along)
        onto = sp.csr_matrix((along.ravel(), (np.repeat(np.arange(count), 3),
                                              np.arange(3 * count))), shape=(count, 3 * count))
        return (_each(between) @ face).tocsr(), (onto @ (measured[0] - measured[1])).tocsr()

    def _turning(self, x: np.ndarray, wanted: np.ndarray) -> sp.csr_matrix:
        """Derivative (3 n, 3 n) of the unit normals at the wanted vertices; 0 at the others.

        The area vector (q - p) x (r - p) of a face changes by d x (next - last) if one of its
        corners moves by d, next and last being the other two.
        """
        faces, n = self.assembly.faces, len(x)
        needed = np.zeros(n, dtype=bool)
        needed[wanted] = True
        near = faces[needed[faces].any(axis=1)]
        blocks, rows, columns = [], [], []
        for w in range(3):
            skew = -_skew(x[near[:, (w + 1) % 3]] - x[near[:, (w + 2) % 3]])
            for v in range(3):
                blocks.append(skew.ravel())
                rows.append(np.repeat((3 * near[:, v, None] + np.arange(3)).ravel(), 3))
                columns.append(np.repeat(3 * near[:, w, None] + np.arange(3), 3, axis=0).ravel())
        change = sp.csr_matrix((np.concatenate(blocks), (np.concatenate(rows),
                                                         np.concatenate(columns))),
                               shape=(3 * n, 3 * n))
        keep = sp.diags(np.repeat(needed.astype(float), 3))
        return keep @ _projected(self._area_vectors(x)) @ change

    def _backing(self, x: np.ndarray, turn: sp.csr_matrix) -> sp.csr_matrix:
        """Derivative (3 n, 3 n) of how far banks lie behind their trench."""
        a, n, b = self.assembly, len(x), len(self.assembly.bank)
        pick = _each(sp.csr_matrix((np.ones(b), (np.arange(b), a.bank)), shape=(b, n)))
        run = _each(sp.csr_matrix((np.tile([1.0, -1.0], b), (
            np.repeat(np.arange(b), 2), a.ends[:, ::-1].ravel())), shape=(b, n)))
        along = x[a.ends[:, 1]] - x[a.ends[:, 0]]
        normal = self.normals(x)[a.bank]
        inward = _blocks(_skew(normal)) @ run - _blocks(_skew(along)) @ pick @ turn
        inward = _projected(np.cross(normal, along)) @ inward
        return (pick.T @ sp.diags(np.repeat(a.back, 3)) @ inward).tocsr()


def _each(matrix: sp.spmatrix) -> sp.csr_matrix:
    """A matrix for numbers, made one for vectors of three."""
    return sp.kron(matrix, sp.identity(3), format="csr")


def _blocks(matrices: np.ndarray) -> sp.csr_matrix:
    """Block diagonal of matrices (k, 3, 3)."""
    k = len(matrices)
    return sp.bsr_matrix((matrices, np.arange(k), np.arange(k + 1)), shape=(3 * k, 3 * k)).tocsr()


def _projected(vectors: np.ndarray) -> sp.csr_matrix:
    """Derivative of the unit vectors by the vectors (k, 3): (1 - u u^T) / |v|."""
    u = _unit(vectors)
    return _blocks((np.eye(3) - u[:, :, None] * u[:, None]) / np.maximum(
        _size(vectors), 1e-12)[:, None, None])


def _skew(vectors: np.ndarray) -> np.ndarray:
    """Matrices (k, 3, 3) that take d to v x d."""
    x, y, z = vectors.T
    o = np.zeros_like(x)
    return np.stack([np.stack([o, -z, y], 1), np.stack([z, o, -x], 1), np.stack([-y, x, o], 1)], 1)


def _size(vectors: np.ndarray) -> np.ndarray:
    return np.sqrt(np.einsum("ij,ij->i", vectors, vectors))


def _unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.maximum(_size(vectors), 1e-12)[:, None]
