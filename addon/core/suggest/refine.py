"""Long edges split, so that lines can run anywhere: new points lie on the smooth surface.

Between two points whose normals differ, the surface is taken as an arc, as in the neutral layer:
its rise over the chord l is l / 2 tan(a / 4) where the normals turn by a along the edge.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..layer import fit_surface

LONG = 1.4  # of the length wanted: longer edges are split
MOST_TURN = np.radians(60.0)  # of an edge that is taken for an arc; more is a corner's
ALONE = 0.1  # squared sine between the sides of an edge from which on they are two
ROUNDS = 12


@dataclass(frozen=True, eq=False)
class Shape:
    """A triangle mesh and the same mesh cut open along its creases.

    points (n, 3); faces (m, 3); leaf (m, 3): index of each face corner in the opened mesh;
    normals (c, 3) of its corners, from their own side of each crease; source (m,): the face of
    the sculpt that each face is a part of.
    """

    points: np.ndarray
    faces: np.ndarray
    leaf: np.ndarray
    normals: np.ndarray
    source: np.ndarray

    @classmethod
    def of(cls, points: np.ndarray, faces: np.ndarray, creases: np.ndarray, source: np.ndarray,
           thickness: float = 0.0) -> Shape:
        """creases (k, 2): edges at which the surface is not smooth."""
        leaf, at = mesh.cut_along(faces, creases, len(points))
        normals = fit_surface(points[at], leaf, thickness).normals
        return cls(points, faces, leaf, normals, source)

    def creases(self) -> np.ndarray:
        """The edges (k, 2) along which the opened mesh is open and this one is not."""
        edges, _ = mesh.edge_faces(self.faces)
        start, end, key = mesh.half_edges(self.faces)
        open_key = key[mesh.twins(self.leaf) < 0]
        return edges[np.isin(mesh.edge_keys(edges, int(self.faces.max()) + 1), open_key)]

    def part(self, chosen: np.ndarray) -> Shape:
        """The faces chosen (m,), with only the vertices they use."""
        used, faces = np.unique(self.faces[chosen], return_inverse=True)
        leaves, leaf = np.unique(self.leaf[chosen], return_inverse=True)
        return Shape(self.points[used], faces.reshape(-1, 3), leaf.reshape(-1, 3),
                     self.normals[leaves], self.source[chosen])


def refined(shape: Shape, length: float, most: int) -> Shape:
    """The shape with its edges split until they are about `length` mm, or the faces number
    `most`: always the longest edge of a face, so that thin faces get no thinner."""
    for _ in range(ROUNDS):
        size = edge_lengths(shape)
        longest = size >= size.max(axis=1, keepdims=True) * (1 - 1e-6)
        chosen = longest & (size > LONG * length)
        if not chosen.any() or len(shape.faces) + 2 * chosen.sum() > most:
            break
        shape = split(shape, chosen, np.full(size.shape, 0.5))
    return shape


def edge_lengths(shape: Shape) -> np.ndarray:
    """Lengths (m, 3) of the half-edges of each face, from corner i to corner i + 1."""
    at = shape.points[shape.faces]
    return np.linalg.norm(np.roll(at, -1, axis=1) - at, axis=2)


def split(shape: Shape, chosen: np.ndarray, share: np.ndarray) -> Shape:
    """The shape with edges split in two.

    chosen (m, 3): half-edges whose edge is split, one of the two is enough; share (m, 3): how far
    along the half-edge, where it is chosen.
    """
    start, end, key = mesh.half_edges(shape.faces)
    number, first = np.unique(key[chosen.ravel()], return_index=True)
    lead = np.flatnonzero(chosen.ravel())[first]  # decides for both half-edges
    place = np.minimum(np.searchsorted(number, key), len(number) - 1)
    on = number[place] == key
    t = np.where(start == start[lead[place]], share.ravel()[lead[place]],
                 1 - share.ravel()[lead[place]])
    middle = np.where(on, len(shape.points) + place, -1)

    a, b = shape.points[start[on]], shape.points[end[on]]
    leaf_start, leaf_end = shape.leaf.ravel(), np.roll(shape.leaf, -1, axis=1).ravel()
    na, nb = shape.normals[leaf_start[on]], shape.normals[leaf_end[on]]
    weight = t[on][:, None]
    normal = (1 - weight) * na + weight * nb
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    rise = _rise(b - a, nb - na) * (4 * weight * (1 - weight))[:, 0]
    points = ((1 - weight) * a + weight * b)[np.unique(place[on], return_index=True)[1]]
    points += _risen(place[on], len(number), normal, rise)

    # The same edge of the opened mesh is one on smooth ground and two along a crease.
    leaf_key = mesh.edge_keys(np.stack([leaf_start[on], leaf_end[on]], axis=1),
                              len(shape.normals))
    _, first, which = np.unique(leaf_key, return_index=True, return_inverse=True)
    leaf_middle = np.full(len(start), -1)
    leaf_middle[on] = len(shape.normals) + which.ravel()

    faces, leaf, parent = _cut(shape, middle.reshape(-1, 3), leaf_middle.reshape(-1, 3))
    return Shape(np.concatenate([shape.points, points]), faces, leaf,
                 np.concatenate([shape.normals, normal[first]]), shape.source[parent])


def _risen(edge: np.ndarray, count: int, normal: np.ndarray, rise: np.ndarray) -> np.ndarray:
    """Moves (count, 3) of the middles of edges, of which each half-edge (k,) asks a rise (k,) along
    a unit normal (k, 3) of its own side.

    Along a crease both sides get what they ask: d = a n1 + b n2 with d n1 = r1 and d n2 = r2.
    """
    order = np.argsort(edge, kind="stable")
    first = np.searchsorted(edge[order], np.arange(count))
    last = np.searchsorted(edge[order], np.arange(count), side="right") - 1
    one, two = order[first], order[last]
    n1, n2, r1, r2 = normal[one], normal[two], rise[one], rise[two]
    cosine = np.einsum("ij,ij->i", n1, n2)
    apart = 1 - cosine**2
    sharp = apart > ALONE
    apart = np.where(sharp, apart, 1.0)
    a = np.where(sharp, (r1 - cosine * r2) / apart, r1 / 2)
    b = np.where(sharp, (r2 - cosine * r1) / apart, r2 / 2)
    return a[:, None] * n1 + b[:, None] * n2


def _rise(step: np.ndarray, turned: np.ndarray) -> np.ndarray:
    """Rise (k,) of an arc over its chord: step (k, 3), and the difference of its end normals."""
    chord = np.linalg.norm(step, axis=1)
    along = np.einsum("ij,ij->i", step, turned) / np.maximum(chord, 1e-300)
    angle = np.clip(2 * np.arcsin(np.clip(along / 2, -1.0, 1.0)), -MOST_TURN, MOST_TURN)
    return chord / 2 * np.tan(angle / 4)


def _cut(shape: Shape, middle: np.ndarray, leaf_middle: np.ndarray
         ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Faces, leaf and parent (m',) after half-edges (m, 3) got middle points (-1: none)."""
    number = (middle >= 0).sum(axis=1)
    rows = np.arange(len(middle))
    # Turn each face so that the half-edges to be split come first.
    first = np.zeros(len(middle), dtype=np.int64)
    first[number == 1] = np.argmax(middle[number == 1] >= 0, axis=1)
    first[number == 2] = (np.argmax(middle[number == 2] < 0, axis=1) + 1) % 3
    turn = (first[:, None] + np.arange(3)) % 3
    six = [np.hstack([corner[rows[:, None], turn], mid[rows[:, None], turn]])
           for corner, mid in ((shape.faces, middle), (shape.leaf, leaf_middle))]
    at = shape.points[six[0][:, :3]]
    # Of the four-sided rest beside two split edges, the shorter diagonal.
    to_c = np.linalg.norm((at[:, 0] + at[:, 1]) / 2 - at[:, 2], axis=1)
    to_a = np.linalg.norm((at[:, 1] + at[:, 2]) / 2 - at[:, 0], axis=1)
    patterns = [
        (number == 0, [(0, 1, 2)]),
        (number == 1, [(0, 3, 2), (3, 1, 2)]),
        ((number == 2) & (to_c <= to_a), [(3, 1, 4), (0, 3, 2), (3, 4, 2)]),
        ((number == 2) & (to_c > to_a), [(3, 1, 4), (0, 3, 4), (0, 4, 2)]),
        (number == 3, [(0, 3, 5), (3, 1, 4), (5, 4, 2), (3, 4, 5)]),
    ]
    result = [np.concatenate([column[chosen][:, corner] for chosen, corners in patterns
                              for corner in map(list, corners)]) for column in six]
    parent = np.concatenate([rows[chosen] for chosen, corners in patterns for _ in corners])
    return result[0], result[1], parent


def evened(shape: Shape, reach: float) -> Shape:
    """The shape without what is finer than `reach` mm: one step of implicit diffusion.

    Creases and rims move along themselves only; their corners and ends stay.
    """
    from scipy.sparse import coo_matrix, diags, identity
    from scipy.sparse.linalg import splu

    count = len(shape.points)
    start, end, _ = mesh.half_edges(shape.faces)
    inner, _ = mesh.edge_faces(shape.faces)
    rim = mesh.twins(shape.faces) < 0
    curves = np.concatenate([shape.creases(), np.stack([start[rim], end[rim]], axis=1)])
    number = np.bincount(curves.ravel(), minlength=count)
    surface = np.concatenate([inner, inner[:, ::-1]])
    surface = surface[number[surface[:, 0]] == 0]
    curves = np.concatenate([curves, curves[:, ::-1]])
    pairs = np.concatenate([surface, curves[number[curves[:, 0]] == 2]])
    near = coo_matrix((np.ones(len(pairs)), tuple(pairs.T)), shape=(count, count)).tocsr()
    total = np.asarray(near.sum(axis=1)).ravel()
    size = float(np.median(edge_lengths(shape)))
    pull = (total > 0) * (2 * reach / size) ** 2
    matrix = identity(count) + diags(pull) @ (identity(count)
                                              - diags(1 / np.maximum(total, 1)) @ near)
    return replace(shape, points=splu(matrix.tocsc()).solve(shape.points))
