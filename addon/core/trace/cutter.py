"""A mesh that can be cut along lines: faces are divided where a line crosses them.

Every face of the mesh keeps a list of the triangles it has been divided into, all in its
plane, so the shape never changes. A line is laid step by step: its points become vertices,
and from one to the next it walks through the triangles of their common face, dividing the
edges it crosses, or taking the corner where it passes close by.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from .. import mesh
from ..model import SEAM, SMOOTH, Sculpt
from .flips import evened
from .surface import Surface

SNAP = 0.25  # mm: a line this near to a corner or an edge goes through it, ...
SHARE = 0.1  # ... but no farther from it than this share of the face's height
STEPS = 1000

Triangle = tuple[int, int, int]


class Cutter:
    """The faces of a sculpt while lines are laid into them.

    marks: kind of every marked edge (u, w) with u < w, as it stands.
    """

    def __init__(self, sculpt: Sculpt, surface: Surface):
        self.sculpt, self.surface = sculpt, surface
        self.marks: dict[tuple[int, int], int] = {}
        for (u, w), kind in zip(sculpt.edges.tolist(), sculpt.kinds.tolist(), strict=True):
            self.marks[u, w] = self.marks.get((u, w), 0) | kind
        self.rim: set[int] = set()  # new vertices on edges with one face
        self._new: list[np.ndarray] = []
        self._parts: dict[int, list[Triangle]] = {}
        self._on_edge: dict[int, list[tuple[float, int]]] = {}
        self._frames: dict[int, tuple] = {}

    def place(self, vertex: int) -> np.ndarray:
        """Where a vertex lies (3,)."""
        own = len(self.sculpt.vertices)
        return self.sculpt.vertices[vertex] if vertex < own else self._new[vertex - own]

    def vertex(self, face: int, weights: np.ndarray) -> int:
        """The vertex at a point of a face, made where there is none close by."""
        corners = self.surface.faces[face]
        at = self.sculpt.vertices[corners]
        for i in range(3):
            if weights[i] >= 1:
                return int(corners[i])
        for i in range(3):
            if weights[(i + 2) % 3] <= 0:
                return self._edge_vertex(3 * face + i, float(weights[(i + 1) % 3]))
        point, reach = weights @ at, self._reach(face)
        near = [math.dist(point, p) for p in at]
        if min(near) < reach:
            return int(corners[near.index(min(near))])
        sides = []
        for i in range(3):
            a, side = at[i], at[(i + 1) % 3] - at[i]
            t = float(np.clip((point - a) @ side / max(side @ side, 1e-300), 0, 1))
            sides.append((math.dist(point, a + t * side), i, t))
        away, i, t = min(sides)
        return self._edge_vertex(3 * face + i, t) if away < reach else self._inner_vertex(
            face, point)

    def join(self, face: int, first: int, last: int, kind: int) -> bool:
        """Mark the straight way between two vertices of a face; whether it could be laid."""
        here, goal = first, self._flat(face, last)
        near = self._reach(face) / 2
        for _ in range(STEPS):
            if here == last:
                return True
            onward = self._onward(face, here, last, goal, near)
            if onward is None:
                return False
            self._mark(here, onward, kind)
            here = onward
        return False

    def _onward(self, face: int, here: int, last: int, goal: tuple, near: float) -> int | None:
        """The next vertex on the straight way, beside `here` in one of the face's triangles."""
        fan = [t for t in self._triangles(face) if here in t]
        if any(last in t for t in fan):
            return last
        at = self._flat(face, here)
        ahead = (goal[0] - at[0], goal[1] - at[1])
        far = math.hypot(*ahead)
        if far == 0:
            return None
        best, chosen = -math.inf, None
        for triangle in fan:
            i = triangle.index(here)
            arms = []
            for vertex in (triangle[(i + 1) % 3], triangle[(i + 2) % 3]):
                x, y = self._flat(face, vertex)
                x, y = x - at[0], y - at[1]
                arms.append((vertex, (x * ahead[1] - y * ahead[0]) / far,
                             (x * ahead[0] + y * ahead[1]) / far, math.hypot(x, y)))
            (u, right, _, long_u), (w, left, _, long_w) = arms
            inside = min(right / max(long_u, 1e-300), -left / max(long_w, 1e-300))
            if inside > best:
                best, chosen = inside, arms
        if chosen is None:
            return None
        close = [(abs(aside), vertex) for vertex, aside, along, _ in chosen
                 if abs(aside) < near and 0 < along < far]
        if close:
            return min(close)[1]
        (u, right, _, _), (w, left, _, _) = chosen
        if right <= 0 or left >= 0:
            return None
        return self._divide(face, u, w, right / (right - left), 2 * near)

    def _divide(self, face: int, u: int, w: int, share: float, reach: float) -> int | None:
        """The vertex at a share of an inner edge of a face, made where no end is close by."""
        a, b = self.place(u), self.place(w)
        long = math.dist(a, b)
        reach = min(reach, SHARE * long)
        if share * long < reach or (1 - share) * long < reach:
            return u if share < 0.5 else w
        if sum(u in t and w in t for t in self._triangles(face)) != 2:
            return None
        return self._split([face], u, w, a + share * (b - a))

    def _edge_vertex(self, half: int, t: float) -> int:
        """The vertex at a share of a half-edge of the mesh."""
        corners = self.surface.faces.ravel()
        beside = self._beside(half)
        if beside[0] != half:
            t = t if corners[half] == corners[beside[0]] else 1 - t
            half = beside[0]
        a, b = int(corners[half]), int(corners[mesh.after(np.int64(half))])
        pa, pb = self.sculpt.vertices[a], self.sculpt.vertices[b]
        long = math.dist(pa, pb)
        row = [(0.0, a), *self._on_edge.get(half, ()), (1.0, b)]
        gap, nearest = min((abs(t - s), v) for s, v in row)
        if gap * long < min(SNAP, SHARE * long):
            return nearest
        k = sum(s < t for s, _ in row)
        u, w = row[k - 1][1], row[k][1]
        made = self._split([h // 3 for h in beside], u, w, pa + t * (pb - pa))
        self._on_edge[half] = sorted([*row[1:-1], (t, made)])
        if self.surface.twin[half] < 0:
            self.rim.add(made)
        return made

    def _beside(self, half: int) -> list[int]:
        """All half-edges of an edge of the mesh, in order. Where faces branch or are wound against
        each other all of them are divided too, or the mesh would tear."""
        edge, order, start = self._edges
        return order[start[edge[half]]:start[edge[half] + 1]].tolist()

    @cached_property
    def _edges(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The edge (3m,) of each half-edge; half-edges by edge, and where in there each starts."""
        edge = np.unique(mesh.half_edges(self.surface.faces)[2], return_inverse=True)[1]
        return (edge, np.argsort(edge, kind="stable"),
                np.append(0, np.cumsum(np.bincount(edge))))

    def _inner_vertex(self, face: int, point: np.ndarray) -> int:
        """The vertex at a place in a face, away from its sides."""
        reach = self._reach(face)
        at = self._project(face, point)
        best, found = -math.inf, None
        for triangle in self._triangles(face):
            flat = [self._flat(face, v) for v in triangle]
            for vertex, place in zip(triangle, flat, strict=True):
                if math.dist(at, place) < reach:
                    return vertex
            heights = []
            for p, q in zip(flat, flat[1:] + flat[:1], strict=True):
                heights.append(((q[0] - p[0]) * (at[1] - p[1]) - (q[1] - p[1]) * (at[0] - p[0]))
                               / max(math.dist(p, q), 1e-300))
            if min(heights) > best:
                best, found = min(heights), (triangle, flat, heights)
        triangle, flat, heights = found
        i = heights.index(best)
        u, w = triangle[i], triangle[(i + 1) % 3]
        if best < reach and sum(u in t and w in t for t in self._triangles(face)) == 2:
            p, q = flat[i], flat[(i + 1) % 3]
            side = (q[0] - p[0], q[1] - p[1])
            share = (((at[0] - p[0]) * side[0] + (at[1] - p[1]) * side[1])
                     / max(side[0] ** 2 + side[1] ** 2, 1e-300))
            made = self._divide(face, u, w, min(max(share, 0.0), 1.0), reach)
            return made
        made = self._add(point)
        a, b, c = triangle
        parts = [t for t in self._triangles(face) if t != triangle]
        self._parts[face] = [*parts, (a, b, made), (b, c, made), (c, a, made)]
        return made

    def _split(self, faces: list[int], u: int, w: int, point: np.ndarray) -> int:
        """A new vertex on an edge, which divides the triangles beside it in these faces."""
        made = self._add(point)
        for face in faces:
            parts = []
            for triangle in self._triangles(face):
                if u in triangle and w in triangle:
                    parts += [tuple(made if v == gone else v for v in triangle)
                              for gone in (w, u)]
                else:
                    parts.append(triangle)
            self._parts[face] = parts
        kind = self.marks.pop((min(u, w), max(u, w)), 0)
        for end in (u, w) if kind else ():
            self.marks[end, made] = kind
        return made

    def _add(self, point: np.ndarray) -> int:
        self._new.append(np.asarray(point, dtype=float))
        return len(self.sculpt.vertices) + len(self._new) - 1

    def _mark(self, u: int, w: int, kind: int) -> None:
        """An edge carries one mark; a seam takes the place of others, and what was marked stays."""
        key = (min(u, w), max(u, w))
        own = self.marks.get(key, 0)
        if not own or kind & SEAM and not own & SEAM:
            self.marks[key] = kind | SMOOTH

    def _triangles(self, face: int) -> list[Triangle]:
        found = self._parts.get(face)
        return [tuple(self.surface.faces[face].tolist())] if found is None else found

    def _frame(self, face: int) -> tuple:
        """Origin and two unit vectors in the plane of a face, and its smallest height."""
        if face not in self._frames:
            a, b, c = self.sculpt.vertices[self.surface.faces[face]]
            u, v = b - a, c - a
            x = u / max(np.linalg.norm(u), 1e-300)
            normal = np.cross(u, v)
            double = np.linalg.norm(normal)
            y = np.cross(normal / max(double, 1e-300), x)
            longest = max(np.linalg.norm(u), np.linalg.norm(v), np.linalg.norm(c - b), 1e-300)
            self._frames[face] = (a, x, y, float(double / longest))
        return self._frames[face]

    def _project(self, face: int, point: np.ndarray) -> tuple[float, float]:
        origin, x, y, _ = self._frame(face)
        arm = point - origin
        return float(arm @ x), float(arm @ y)

    def _flat(self, face: int, vertex: int) -> tuple[float, float]:
        return self._project(face, self.place(vertex))

    def _reach(self, face: int) -> float:
        return min(SNAP, SHARE * self._frame(face)[3])

    def result(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Vertices, faces, the face of the mesh (m,) each came from, edges and kinds."""
        vertices = np.concatenate([self.sculpt.vertices, np.reshape(self._new, (-1, 3))])
        count = np.ones(len(self.surface.faces), dtype=np.int64)
        parts = {}
        for face in sorted(self._parts):
            parts[face] = evened(self._parts[face], self.marks,
                                 lambda v, face=face: self._flat(face, v))
            count[face] = len(parts[face])
        source = np.repeat(np.arange(len(count)), count)
        faces = self.surface.faces[source]
        first = np.cumsum(count) - count
        for face, triangles in parts.items():
            faces[first[face]:first[face] + count[face]] = triangles
        edges = np.array(list(self.marks), dtype=np.int64).reshape(-1, 2)
        return vertices, faces, source, edges, np.array(list(self.marks.values()), dtype=np.int64)
