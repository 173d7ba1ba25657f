"""Lines in space -> paths along the edges of a mesh that follow them.

So lines that were marked on one mesh are marked again on another of the same shape. A line
becomes the cheapest path of edges, an edge costing its length and more the further it lies from
the line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from . import mesh

REACH = 1.5  # edge lengths; a stretch of a line without a vertex so near is not on the mesh
CORRIDORS = (1.5, 3.0, 6.0)  # edge lengths from the line in which a path is looked for, in turn
AWAY = 8.0  # cost of a length at one edge length from the line, beside 1 on it
MEETING = 0.25  # edge lengths; an end so near to a line lies on it
JUMP = 3.0  # an edge beside more than so many times its length of the line cuts a bend short


@dataclass(frozen=True, eq=False)
class Laid:
    """paths: vertices (k,) in order along edges of the mesh, a ring's first one again at its
    end; lines: the line that each follows; lost (lines,): the share of each line's length that
    no path follows."""

    paths: tuple[np.ndarray, ...]
    lines: tuple[int, ...]
    lost: np.ndarray


def lay(vertices: np.ndarray, edges: np.ndarray, lines: Sequence[np.ndarray],
        rim: Sequence[int] | np.ndarray = (), normals: np.ndarray | None = None,
        facing: Sequence[np.ndarray] | None = None) -> Laid:
    """Lay lines, polylines (k, 3), along the edges (e, 2) of a mesh.

    A line whose last point is its first is a ring. Lines that meet do so in one vertex, an end
    with an end or with the middle of a line; ends by the rim, whose vertices are given, go onto
    it. A line that leaves the mesh is laid where it lies on it. normals (n, 3) of the vertices
    and facing (k, 3) of each line's points: a line is laid on the side of a thin wall that looks
    its way.
    """
    lost = np.ones(len(lines))
    if len(edges) == 0:
        return Laid((), (), lost)
    ground = _Ground.of(np.asarray(vertices, dtype=float), np.asarray(edges, dtype=np.int64),
                        np.asarray(rim, dtype=np.int64))
    whole = [mesh.polyline_length(line) for line in lines]
    parts = []
    for number, line in enumerate(lines):
        if whole[number] > 0.0:
            line = np.asarray(line, dtype=float).reshape(-1, 3)
            mine = ground if facing is None else ground.side(line, facing[number], normals)
            parts += [(number, mine, part) for part in (mine.reached(line) if mine else ())]
    ends = [part[i] for _, _, part in parts if not _is_ring(part) for i in (0, -1)]
    paths, of_line = [], []
    for number, mine, part in parts:
        path = mine.follow(*mine.joined(part, np.array(ends).reshape(-1, 3)))
        if len(path) > 1:
            paths.append(path)
            of_line.append(number)
            lost[number] -= mesh.polyline_length(part) / whole[number]
    return Laid(tuple(paths), tuple(of_line), np.clip(lost, 0.0, 1.0))


def stretches(vertices: np.ndarray, edges: np.ndarray,
              lines: Sequence[np.ndarray]) -> list[list[np.ndarray]]:
    """The stretches (k, 3) of each line that lie on the mesh: the line itself where all of it
    does, else with points half an edge apart."""
    if len(edges) == 0:
        return [[] for _ in lines]
    ground = _Ground.of(np.asarray(vertices, dtype=float), np.asarray(edges, dtype=np.int64),
                        np.empty(0, dtype=np.int64))
    found = []
    for line in lines:
        parts = list(ground.reached(np.asarray(line, dtype=float).reshape(-1, 3)))
        length = sum(map(mesh.polyline_length, parts))
        whole = length >= (1.0 - 1e-9) * mesh.polyline_length(line)
        found.append([np.asarray(line)] if whole and len(parts) == 1 else parts)
    return found


def _is_ring(line: np.ndarray) -> bool:
    return len(line) > 3 and np.array_equal(line[0], line[-1])


@dataclass(frozen=True, eq=False)
class _Ground:
    """A mesh to lay lines on: the lengths (e,) of its edges and the mean length (n,) of those
    about each vertex. used (u,): vertices with edges; tree and rim_tree: of their points and
    of those of the rim, None where there is no rim."""

    vertices: np.ndarray
    edges: np.ndarray
    lengths: np.ndarray
    size: np.ndarray
    used: np.ndarray
    tree: Any
    rim: np.ndarray
    rim_tree: Any

    @classmethod
    def of(cls, vertices: np.ndarray, edges: np.ndarray, rim: np.ndarray) -> _Ground:
        from scipy.spatial import cKDTree

        lengths = np.linalg.norm(vertices[edges[:, 0]] - vertices[edges[:, 1]], axis=1)
        met = np.bincount(edges.ravel(), minlength=len(vertices))
        total = np.bincount(edges.ravel(), np.repeat(lengths, 2), len(vertices))
        used = np.flatnonzero(met)
        return cls(vertices, edges, lengths, total / np.maximum(met, 1), used,
                   cKDTree(vertices[used]), rim, cKDTree(vertices[rim]) if len(rim) else None)

    def side(self, line: np.ndarray, facing: np.ndarray, normals: np.ndarray) -> _Ground | None:
        """What of the mesh lies near a line and looks its way, None where nothing does."""
        from scipy.spatial import cKDTree

        _, near = self.tree.query(line)
        size = float(self.size[self.used[near]].max())
        dense = _dense(np.hstack([line, facing]), size)
        around = self.tree.query_ball_point(dense[::2, :3], (CORRIDORS[-1] + 1) * size)
        close = self.used[np.unique(np.concatenate(around).astype(np.int64))]
        _, near = cKDTree(dense[:, :3]).query(self.vertices[close])
        alike = np.zeros(len(self.vertices), dtype=bool)
        alike[close] = np.einsum("ij,ij->i", normals[close], dense[near, 3:]) > 0.0
        kept = alike[self.edges].all(axis=1)
        if not kept.any():
            return None
        edges = self.edges[kept]
        used = np.unique(edges)
        rim = self.rim[np.isin(self.rim, used)]
        return _Ground(self.vertices, edges, self.lengths[kept], self.size, used,
                       cKDTree(self.vertices[used]), rim,
                       cKDTree(self.vertices[rim]) if len(rim) else None)

    def reached(self, line: np.ndarray) -> Iterator[np.ndarray]:
        """The stretches of a line that lie on the mesh, with points half an edge apart."""
        _, near = self.tree.query(line)
        line = _dense(line, 0.5 * float(np.median(self.size[self.used[near]])))
        distance, near = self.tree.query(line)
        on = distance <= REACH * self.size[self.used[near]]
        if _is_ring(line) and not on.all():
            first = int(np.argmin(on))
            line = np.concatenate([line[first:-1], line[:first + 1]])
            on = np.concatenate([on[first:-1], on[:first + 1]])
        bounds = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]])))
        for start, stop in bounds.reshape(-1, 2):
            if stop - start > 1:
                yield line[start:stop]

    def end(self, point: np.ndarray) -> int:
        """The vertex where a line that ends at this point is to end."""
        if self.rim_tree is not None:
            distance, near = self.rim_tree.query(point)
            if distance <= self.size[self.rim[near]]:
                return int(self.rim[near])
        return int(self.used[self.tree.query(point)[1]])

    def joined(self, line: np.ndarray, ends: np.ndarray) -> tuple[np.ndarray, list[int]]:
        """The line led through the ends (k, 3) of others that lie on it, and where they are."""
        from scipy.spatial import cKDTree

        if not len(ends):
            return line, []
        ring, count = _is_ring(line), len(line) - 1
        distance, at = cKDTree(line).query(ends)
        at %= count if ring else count + 1
        _, near = self.tree.query(ends)
        on = distance <= MEETING * self.size[self.used[near]]
        if not ring:
            on &= (at > 1) & (at < count - 1)
        line = line.copy()
        line[at[on]] = ends[on]
        if ring:
            line[-1] = line[0]
        return line, np.unique(at[on]).tolist()

    def follow(self, line: np.ndarray, at: list[int]) -> np.ndarray:
        """The path of a line that leads through its points `at`; empty where there is none.

        A ring also leads through some of the vertices that lie nearest to it, for its path has
        to be found in parts.
        """
        bounds = [0, *at, len(line) - 1]
        if _is_ring(line):
            count = len(line) - 1
            sixth = count // 6
            if sixth == 0:
                return np.empty(0, dtype=np.int64)
            distance, _ = self.tree.query(line[:-1])
            best = [i + int(np.argmin(distance[i:i + sixth])) for i in (0, 2 * sixth, 4 * sixth)]
            apart = lambda i, j: min(abs(i - j), count - abs(i - j))  # noqa: E731
            at = sorted(at + [i for i in best if all(apart(i, j) > 4 for j in at)])
            line = np.concatenate([line[at[0]:-1], line[:at[0] + 1]])
            bounds = [i - at[0] for i in at] + [count]
        parts = [self.path(line[a:b + 1]) for a, b in zip(bounds, bounds[1:], strict=False)]
        if any(len(part) == 0 for part in parts):
            return np.empty(0, dtype=np.int64)
        return np.concatenate([parts[0][:1], *(part[1:] for part in parts)])

    def path(self, line: np.ndarray) -> np.ndarray:
        """The vertices of the path that follows an open line; empty where there is none."""
        start, stop = self.end(line[0]), self.end(line[-1])
        _, near = self.tree.query(line)
        size = float(self.size[self.used[near]].max())
        for corridor in CORRIDORS:
            found = self._cheapest(line, start, stop, corridor * size)
            if len(found):
                return found
        return np.empty(0, dtype=np.int64)

    def _cheapest(self, line: np.ndarray, start: int, stop: int, width: float) -> np.ndarray:
        from scipy.sparse import coo_matrix
        from scipy.sparse.csgraph import dijkstra
        from scipy.spatial import cKDTree

        around = self.tree.query_ball_point(line, width)
        within = np.union1d(self.used[np.unique(np.concatenate(around).astype(np.int64))],
                            [start, stop])
        place = np.full(len(self.vertices), -1)
        place[within] = np.arange(len(within))
        chosen = np.flatnonzero((place[self.edges] >= 0).all(axis=1))
        ends = place[self.edges[chosen]]
        tree = cKDTree(line)
        distance, nearest = tree.query(self.vertices[within])
        halfway, _ = tree.query(self.vertices[self.edges[chosen]].mean(axis=1))
        along = mesh.arc_length(line)[nearest]
        length = self.lengths[chosen]
        # The mean of the squared distance along an edge, by Simpson's rule.
        apart = ((distance[ends] ** 2).sum(axis=1) + 4 * halfway**2) / 6
        apart /= self.size[self.edges[chosen]].mean(axis=1) ** 2
        cost = length * (1.0 + AWAY * apart)
        step = np.abs(along[ends[:, 0]] - along[ends[:, 1]])
        kept = (step <= JUMP * length) & (length > 0)
        graph = coo_matrix((cost[kept], (ends[kept, 0], ends[kept, 1])),
                           shape=(len(within), len(within))).tocsr()
        _, before = dijkstra(graph, directed=False, indices=place[start],
                             return_predecessors=True)
        path = [place[stop]]
        while path[-1] != place[start]:
            if before[path[-1]] < 0:
                return np.empty(0, dtype=np.int64)
            path.append(before[path[-1]])
        return within[np.array(path[::-1])]


def _dense(line: np.ndarray, spacing: float) -> np.ndarray:
    """The polyline with points added so that none are further apart than `spacing`."""
    lengths = np.linalg.norm(np.diff(line, axis=0), axis=1)
    parts = np.maximum(np.ceil(lengths / max(spacing, 1e-12)), 1).astype(np.int64)
    steps = np.concatenate([[0], np.cumsum(parts)])
    at = np.arange(steps[-1] + 1)
    return np.stack([np.interp(at, steps, column) for column in line.T], axis=1)
