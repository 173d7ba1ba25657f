"""A first way from one point of a surface to another: a strip of faces, by Dijkstra's method.

The graph joins the corners of a face and points spread along its sides, as many as the size
of the mesh allows, and the two vertices opposite an edge where the straight way between them
crosses it. Lengths along it are then right to a few percent in every direction, on a coarse
mesh to a few thousandths, so the strip is nearly always the one that the shortest line lies
in, or can be shifted to it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh

if TYPE_CHECKING:
    from .surface import Surface

WAYS = 400_000  # of a graph with points on sides, about; a finer mesh has none there
POINTS = 12  # on a side, at most
FIRST = 1.5  # times the straight distance: how far the search goes at first


class Graph:
    """The ways along a surface.

    count: nodes, first those of the surface's corners, then the points on its sides.
    around (m, p): nodes of each face, its corners first. Every way lies in one face, or in two
    beside each other (faces (w, 2), the second -1 where there is none).
    """

    def __init__(self, surface: Surface):
        from scipy.sparse import coo_matrix

        self.surface = surface
        each = math.sqrt(WAYS / 3 / max(len(surface.faces), 1)) - 1
        self._on_sides(max(0, min(POINTS, int(each))))
        ends, length, faces = self._ways()
        way = np.arange(len(ends))
        joined = coo_matrix((np.concatenate([way, way]),
                             (np.concatenate([ends[:, 0], ends[:, 1]]),
                              np.concatenate([ends[:, 1], ends[:, 0]]))),
                            shape=(self.count, self.count))
        joined.has_canonical_format = True  # two ways between the same ends are not added up
        joined = joined.tocsr()
        self.indices, self.indptr = joined.indices, joined.indptr
        self.length, self.faces = length[joined.data], faces[joined.data]

    def _on_sides(self, each: int) -> None:
        """Set the nodes of faces and their places (m, p, 3), with `each` points on a side."""
        surface = self.surface
        corner = surface.vertices[surface.faces]
        self.corners = int(surface.nodes.max(initial=-1)) + 1
        half = np.arange(len(surface.twin))
        first = (surface.twin < 0) | (half < surface.twin)
        edge = np.empty(len(half), dtype=np.int64)
        edge[first] = np.arange(first.sum())
        edge[~first] = edge[surface.twin[~first]]
        self.count = self.corners + each * int(first.sum())
        step = np.where(first[:, None], np.arange(each), each - 1 - np.arange(each))
        on_side = (self.corners + each * edge[:, None] + step).reshape(len(corner), 3 * each)
        self.around = np.concatenate([surface.nodes, on_side], axis=1)
        share = (np.arange(each) + 1) / (each + 1)
        ahead = np.roll(corner, -1, axis=1) - corner
        side = corner[:, :, None] + share[:, None] * ahead[:, :, None]
        self.places = np.concatenate([corner, side.reshape(len(corner), 3 * each, 3)], axis=1)
        self.each = each

    def _ways(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Ends (w, 2), lengths (w,) and faces (w, 2)."""
        each = self.each
        side = lambda i: list(range(3 + i * each, 3 + (i + 1) * each))  # noqa: E731
        pairs = [(i, (i + 1) % 3) for i in range(3)]
        pairs += [(i, p) for i in range(3) for p in side((i + 1) % 3)]
        pairs += [(p, q) for i in range(3) for p in side(i) for q in side((i + 1) % 3)]
        a, b = np.array(pairs).T
        inside = np.stack([self.around[:, a], self.around[:, b]], axis=2).reshape(-1, 2)
        length = np.linalg.norm(self.places[:, a] - self.places[:, b], axis=2).ravel()
        alone = np.repeat(np.arange(len(self.around)), len(a))
        half, ends, across = _diagonals(self.surface)
        return (np.concatenate([inside, ends]), np.concatenate([length, across]),
                np.concatenate([np.stack([alone, np.full(len(alone), -1)], axis=1),
                                np.stack([half, self.surface.twin[half]], axis=1) // 3]))

    def strip(self, first: tuple[int, np.ndarray], last: tuple[int, np.ndarray]) -> list[int]:
        """Faces of the surface, each beside the next, from one point (face, place) to another;
        empty where there is no way."""
        (a, start), (b, goal) = first, last
        if a == b:
            return [a]
        path = self._path(a, start, b, goal)
        return [] if path is None else self._faces(a, b, path)

    def _path(self, a: int, start: np.ndarray, b: int, goal: np.ndarray) -> list[int] | None:
        """Nodes from the face a to the face b; None where there is no way."""
        from scipy.sparse import csr_matrix
        from scipy.sparse.csgraph import dijkstra

        out = np.linalg.norm(self.places[a] - start, axis=1)
        home = np.linalg.norm(self.places[b] - goal, axis=1)
        count, goals = self.count, self.around[b]
        ways = csr_matrix(  # with the start as one more node; a length of 0 would be no way
            (np.concatenate([self.length, np.maximum(out, 1e-12 * out.max())]),
             np.concatenate([self.indices, self.around[a]]),
             np.concatenate([self.indptr, [len(self.indices) + len(out)]])),
            shape=(count + 1, count + 1))
        limit = FIRST * (float(np.linalg.norm(goal - start)) + out.max() + home.max())
        whole = float(self.length.sum())
        while True:
            distance, before = dijkstra(ways, indices=count, return_predecessors=True, limit=limit)
            whole_way = distance[goals] + home
            if whole_way.min() <= limit or limit > whole:
                break
            limit *= 2.5
        if not np.isfinite(whole_way).any():
            return None
        node, path = int(goals[np.argmin(whole_way)]), []
        while node != count:
            path.append(node)
            node = int(before[node])
        return path[::-1]

    def _faces(self, a: int, b: int, path: list[int]) -> list[int]:
        """The path as a strip of faces, turned round each of its nodes on the narrower side."""
        strip = [a]
        for u, w in zip(path, path[1:], strict=False):
            row = slice(self.indptr[u], self.indptr[u + 1])
            there = row.start + np.flatnonzero(self.indices[row] == w)
            there = there[self.length[there] <= self.length[there].min()]
            beside = self.faces[there]
            if beside[0, 1] < 0:
                self._turn(strip, u, beside[:, 0].tolist())
            else:
                one, two = beside[0].tolist()
                if u not in self.around[one]:
                    one, two = two, one
                self._turn(strip, u, [one])
                push(strip, two)
        self._turn(strip, path[-1], [b])
        return strip

    def _turn(self, strip: list[int], node: int, goals: list[int]) -> None:
        """Go round a node from the last face of the strip to one of the goals."""
        if strip[-1] in goals:
            return
        if node >= self.corners:  # a point on a side: the goal is the face beyond it
            push(strip, goals[0])
            return
        found = [turn(self.surface, strip[-1], node, goals, left) for left in (True, False)]
        for face in min((f for f in found if f is not None), key=lambda f: f[0])[1]:
            push(strip, face)


def turn(surface: Surface, face: int, node: int, goals: list[int], left: bool
         ) -> tuple[float, list[int]] | None:
    """The faces passed round a node, from a face to the first of the goals, which is the last of
    them, and the angle they take up; None where a rim is in the way. left: counter-clockwise."""
    faces, angle, here = [], 0.0, face
    while here not in goals or not faces:
        corner = int(np.flatnonzero(surface.nodes[here] == node)[0])
        other = int(surface.twin[3 * here + ((corner + 2) % 3 if left else corner)])
        if other < 0:
            return None
        here = other // 3
        if here == face:
            return None
        faces.append(here)
        angle += float(surface.angles[here, np.flatnonzero(surface.nodes[here] == node)[0]])
    return angle, faces


def push(strip: list[int], face: int) -> None:
    """Add a face; a step there and back again is none."""
    if len(strip) > 1 and strip[-2] == face:
        strip.pop()
    elif not strip or strip[-1] != face:
        strip.append(face)


def _diagonals(surface: Surface) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Half-edges (k,) that the way between the vertices opposite crosses, these (k, 2) and its
    length (k,)."""
    nodes, corner = surface.nodes.ravel(), surface.vertices[surface.faces.ravel()]
    half = np.flatnonzero(surface.twin > np.arange(len(surface.twin)))
    other = surface.twin[half]
    a, b = corner[half], corner[mesh.after(half)]
    one, two = mesh.after(mesh.after(half)), mesh.after(mesh.after(other))
    side = b - a
    square = np.maximum(np.einsum("ij,ij->i", side, side), 1e-300)
    at = []
    for apex in (one, two):
        arm = corner[apex] - a
        at.append((np.einsum("ij,ij->i", arm, side) / square,
                   np.linalg.norm(np.cross(arm, side), axis=1) / square))
    (x1, y1), (x2, y2) = at
    high = np.maximum(y1 + y2, 1e-300)
    crossing = x1 + (x2 - x1) * y1 / high
    through = (crossing > 0) & (crossing < 1)
    length = np.hypot(x1 - x2, high) * np.sqrt(square)
    return (half[through], np.stack([nodes[one], nodes[two]], axis=1)[through], length[through])
