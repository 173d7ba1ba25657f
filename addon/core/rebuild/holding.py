"""What holds the pieces of a rebuild: glued faces that meet, and distances that are known.

Both are of points that lie off the layer which keeps its length, along its normals, and so
turn with the foam about them; that is part of their derivatives here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from .assembly import Assembly


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


class Holding:
    """Gaps (k, 3) of the ties of an assembly of n vertices, and what its measures come to (j,),
    with their derivatives. Unit normals are those of faces weighted by their area, whose sum is
    a simple function of the positions."""

    def __init__(self, assembly: Assembly, measures: Measures):
        self.assembly, self.measures = assembly, measures
        a, m, n = assembly, measures, len(assembly.flat)
        self.turning = np.unique(np.concatenate(
            [a.tie.ravel(), a.bank, m.first.indices, m.second.indices])).astype(np.int64)
        number = np.full(n, -1)
        number[self.turning] = np.arange(len(self.turning))
        # Every pair of a corner v that turns and a corner w that moves it, face by face.
        near = a.faces[(number[a.faces] >= 0).any(axis=1)]
        v, w = (g.ravel() for g in np.meshgrid(np.arange(3), np.arange(3), indexing="ij"))
        face, pair = np.nonzero((number[near] >= 0)[:, v])
        self._turned, self._mover = number[near[face, v[pair]]], near[face, w[pair]]
        self._next, self._last = near[face, (w[pair] + 1) % 3], near[face, (w[pair] + 2) % 3]
        inner = np.arange(3)
        self._rows = np.repeat((3 * self._turned[:, None] + inner).ravel(), 3)
        self._columns = np.repeat(3 * self._mover[:, None] + inner, 3, axis=0).ravel()

        k, b = len(a.tie), len(a.bank)
        between = sp.csr_matrix((np.tile([1.0, -1.0], k), a.tie.ravel(),
                                 2 * np.arange(k + 1)), shape=(k, n))
        pick = sp.csr_matrix((np.ones(b), a.bank, np.arange(b + 1)), shape=(b, n))
        run = sp.csr_matrix((np.tile([-1.0, 1.0], b), a.ends.ravel(), 2 * np.arange(b + 1)),
                            shape=(b, n))
        self._between, self._run = _each(between), _each(run)
        self._lift = _each((between @ sp.diags(a.lift))[:, self.turning])
        self._behind = _each(between @ pick.T @ sp.diags(a.back))
        self._pick = _each(pick[:, self.turning])
        self._apart = _each(m.first - m.second)
        self._places = [_each(way[:, self.turning]) for way in (m.first, m.second)]

    def normals(self, x: np.ndarray) -> np.ndarray:
        """Unit normals (n, 3)."""
        return _unit(self._area_vectors(x))

    def _area_vectors(self, x: np.ndarray) -> np.ndarray:
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
        """From the second to the first place (j, 3) of each measure."""
        normal, m = self.normals(x), self.measures
        one, other = (way @ x + depth[:, None] * _unit(way @ normal) for way, depth in (
            (m.first, m.depth[:, 0]), (m.second, m.depth[:, 1])))
        return one - other

    def derivatives(self, x: np.ndarray) -> tuple[sp.csr_matrix, sp.csr_matrix]:
        """Of the gaps (3 k, 3 n), and of the measured distances (j, 3 n)."""
        turn = self._turn(x)
        return self._of_gaps(x, turn), self._of_distances(x, turn)

    def _turn(self, x: np.ndarray) -> sp.csr_matrix:
        """Derivative of the unit normals at the vertices that are asked for.

        The area vector (q - p) x (r - p) of a face changes by d x (next - last) if one of its
        corners moves by d, next and last being the other two.
        """
        vectors = self._area_vectors(x)[self.turning]
        change = -_skew(x[self._next] - x[self._last])
        blocks = np.einsum("kij,kjl->kil", _projecting(vectors)[self._turned], change)
        return sp.csr_matrix((blocks.ravel(), (self._rows, self._columns)),
                             shape=(3 * len(self.turning), 3 * len(x)))

    def _of_gaps(self, x: np.ndarray, turn: sp.csr_matrix) -> sp.csr_matrix:
        a = self.assembly
        if not len(a.bank):
            return self._between + self._lift @ turn
        normal, along = self.normals(x)[a.bank], x[a.ends[:, 1]] - x[a.ends[:, 0]]
        project = _projecting(np.cross(normal, along))
        by_run = self._behind @ _blocks(project @ _skew(normal))
        by_turn = self._behind @ _blocks(project @ _skew(along)) @ self._pick
        return self._between - by_run @ self._run + (self._lift + by_turn) @ turn

    def _of_distances(self, x: np.ndarray, turn: sp.csr_matrix) -> sp.csr_matrix:
        m = self.measures
        if not len(m.lengths):
            return sp.csr_matrix((0, 3 * len(x)))
        normal = self.normals(x)[self.turning]
        along = _unit(self.across(x))
        count = len(along)
        onto = sp.csr_matrix((along.ravel(), np.arange(3 * count), 3 * np.arange(count + 1)),
                             shape=(count, 3 * count))
        turned = sp.csr_matrix((3 * count, 3 * len(self.turning)))
        for places, depth in zip(self._places, (m.depth[:, 0], -m.depth[:, 1]), strict=True):
            inner = (places @ normal.ravel()).reshape(-1, 3)
            turned = turned + _blocks(depth[:, None, None] * _projecting(inner)) @ places
        return onto @ self._apart + (onto @ turned) @ turn


def _each(matrix: sp.spmatrix) -> sp.csr_matrix:
    """A matrix for numbers, made one for vectors of three."""
    return sp.kron(matrix, sp.identity(3), format="csr")


def _blocks(matrices: np.ndarray) -> sp.csr_matrix:
    """Block diagonal of matrices (k, 3, 3)."""
    k = len(matrices)
    return sp.bsr_matrix((matrices, np.arange(k), np.arange(k + 1)), shape=(3 * k, 3 * k)).tocsr()


def _projecting(vectors: np.ndarray) -> np.ndarray:
    """Derivatives (k, 3, 3) of the unit vectors by the vectors (k, 3): (1 - u u^T) / |v|."""
    u = _unit(vectors)
    size = np.maximum(np.linalg.norm(vectors, axis=1), 1e-12)
    return (np.eye(3) - u[:, :, None] * u[:, None]) / size[:, None, None]


def _skew(vectors: np.ndarray) -> np.ndarray:
    """Matrices (k, 3, 3) that take d to v x d."""
    x, y, z = vectors.T
    o = np.zeros_like(x)
    return np.stack([np.stack([o, -z, y], 1), np.stack([z, o, -x], 1), np.stack([-y, x, o], 1)], 1)


def _unit(vectors: np.ndarray) -> np.ndarray:
    size = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    return vectors / np.maximum(size, 1e-12)[:, None]
