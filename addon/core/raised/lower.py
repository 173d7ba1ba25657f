"""Let a shape down into the surface round it, as if it had never been raised or pressed in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import Sculpt
from .find import Raised, nearest_on

NEAR = 0.5  # of the height of the step: a corner of the top within it belongs to one of the foot


@dataclass(frozen=True, eq=False)
class Match:
    """How the top of a shape comes to lie in its foot.

    vertices (n, 3): the sculpt's, those of the top where they come to lie. becomes: vertex of
    the top's rim -> the one of the foot whose place it takes. splits: edge (a, b) of a face beside
    rim or foot, as that face goes -> vertices of the other that come to lie on it, in order.
    """

    vertices: np.ndarray
    becomes: dict[int, int]
    splits: dict[tuple[int, int], list[int]]


@dataclass(frozen=True, eq=False)
class Lowered:
    """vertices (n, 3): those of the sculpt, some moved; faces (m, 3) without the walls; source
    (m,): the face of the sculpt that each is a part of; top (m,): which are the shape's."""

    vertices: np.ndarray
    faces: np.ndarray
    source: np.ndarray
    top: np.ndarray


def matched(sculpt: Sculpt, one: Raised) -> Match:
    """The rim of the top takes the place of its foot, the inside follows as a soap film would
    (its shift is harmonic), and where one of the two has more corners the other gets them too.

    Raises FoamError `not-lowered` where the two do not go with each other all round.
    """
    faces = sculpt.faces
    top = np.isin(np.arange(len(faces)), one.top)
    rest = ~top & ~np.isin(np.arange(len(faces)), one.walls)
    rims = _loops(faces[top])
    feet = [loop for loop in _loops(faces[rest])
            if np.isin(_keys(loop), _keys_of(one.foot)).all()]
    if len(rims) != len(feet):
        raise _unmatched(one)
    match = Match(np.array(sculpt.vertices), {}, {})
    for rim in rims:
        foot = feet.pop(int(np.argmin([_away(sculpt.vertices, rim, loop) for loop in feet])))
        _match(sculpt.vertices, rim, foot[::-1], one, match)
    ids, shift = _harmonic(sculpt.vertices, faces[top], np.concatenate(rims), match.vertices)
    match.vertices[ids] += shift
    return match


def lowered(sculpt: Sculpt, one: Raised) -> Lowered:
    """The sculpt with a shape let down (see `matched`). Raises FoamError `not-lowered`."""
    match = matched(sculpt, one)
    top = np.isin(np.arange(len(sculpt.faces)), one.top)
    kept = np.flatnonzero(~np.isin(np.arange(len(sculpt.faces)), one.walls))
    found, source = [], []
    for f in kept.tolist():
        parts = _split(tuple(sculpt.faces[f].tolist()), match.splits)
        found += parts
        source += [f] * len(parts)
    faces, source = np.array(found), np.array(source)
    renamed = np.arange(len(match.vertices))
    renamed[list(match.becomes)] = list(match.becomes.values())
    on_top = top[source]
    faces[on_top] = renamed[faces[on_top]]
    return Lowered(match.vertices, faces, source, on_top)


def _loops(faces: np.ndarray) -> list[np.ndarray]:
    """Vertices of each boundary loop, the faces on the left."""
    start, _, _ = mesh.half_edges(faces)
    return [start[loop] for loop in mesh.boundary_loops(faces)]


def _keys(loop: np.ndarray) -> np.ndarray:
    return _keys_of(np.stack([loop, np.roll(loop, -1)], axis=1))


def _keys_of(edges: np.ndarray) -> np.ndarray:
    return mesh.edge_keys(edges, 1 << 31)


def _away(points: np.ndarray, rim: np.ndarray, foot: np.ndarray) -> float:
    """How far one loop is from another, in the mean."""
    near, _ = nearest_on(points[rim], np.stack([points[foot], points[np.roll(foot, -1)]], axis=1))
    return float(np.linalg.norm(near - points[rim], axis=1).mean())


def _match(points: np.ndarray, rim: np.ndarray, foot: np.ndarray, one: Raised, match: Match
           ) -> None:
    """Note in `match` how a rim comes to lie on its foot, loops (k,) and (l,) that run alike."""
    ends = np.stack([points[foot], points[np.roll(foot, -1)]], axis=1)
    start = np.concatenate([[0.0], np.cumsum(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))])
    whole = start[-1]
    near, which = nearest_on(points[rim], ends)
    at = start[which] + np.linalg.norm(near - ends[which, 0], axis=1)
    owner, taken = _corners(at, start, NEAR * abs(one.height))
    at = np.where(owner >= 0, start[owner], at) % whole
    step = (np.roll(at, -1) - at) % whole
    if (step <= 1e-9 * whole).any() or not np.isclose(step.sum(), whole):
        raise _unmatched(one)
    on_foot: dict[int, list[int]] = {}
    for k in np.argsort(at, kind="stable"):
        if owner[k] >= 0:
            match.becomes[int(rim[k])] = int(foot[owner[k]])
            match.vertices[rim[k]] = points[foot[owner[k]]]
        else:
            match.vertices[rim[k]] = near[k]
            on_foot.setdefault(int(which[k]), []).append(int(rim[k]))
    for line, corners in on_foot.items():  # the face below goes the other way
        match.splits[int(foot[(line + 1) % len(foot)]), int(foot[line])] = corners[::-1]
    free = np.flatnonzero(~taken)
    for k in range(len(rim)):
        ahead = (start[free] - at[k]) % whole
        between = free[np.argsort(ahead)][:int((ahead < step[k]).sum())]
        if len(between):
            match.splits[int(rim[k]), int(rim[(k + 1) % len(rim)])] = foot[between].tolist()


def _corners(at: np.ndarray, start: np.ndarray, near: float) -> tuple[np.ndarray, np.ndarray]:
    """Which corner of a foot each of a rim becomes (k,), -1 for none, and which of the foot are
    taken (l,): pairs no further from each other than `near` along it, the nearest first."""
    away = np.abs(at[:, None] - start[None, :-1])
    away = np.minimum(away, start[-1] - away)
    owner, taken = np.full(len(at), -1), np.full(len(start) - 1, False)
    for k, j in zip(*np.unravel_index(np.argsort(away, axis=None, kind="stable"), away.shape),
                    strict=True):
        if away[k, j] > near:
            break
        if owner[k] < 0 and not taken[j]:
            owner[k], taken[j] = j, True
    return owner, taken


def _split(face: tuple[int, int, int], splits: dict[tuple[int, int], list[int]]
           ) -> list[tuple[int, int, int]]:
    """A triangle, in parts where corners lie on its edges."""
    for turn in range(3):
        a, b, c = face[turn:] + face[:turn]
        if (a, b) in splits:
            chain = [a, *splits[a, b], b]
            rest = {edge: splits[edge] for edge in ((b, c), (c, a)) if edge in splits}
            return [part for p, q in zip(chain[:-1], chain[1:], strict=True)
                    for part in _split((p, q, c), rest)]
    return [face]


def _harmonic(before: np.ndarray, faces: np.ndarray, rim: np.ndarray, after: np.ndarray
              ) -> tuple[np.ndarray, np.ndarray]:
    """The vertices inside of a shape and by how much they move, (k,) and (k, 3), where its rim
    moves from `before` to `after`: each by the mean of its neighbours' (graph Laplacian)."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import spsolve

    used, local = np.unique(faces, return_inverse=True)
    local = local.reshape(-1, 3)
    fixed = np.isin(used, rim)
    if fixed.all():
        return np.empty(0, dtype=np.int64), np.empty((0, 3))
    start, end, _ = mesh.half_edges(local)
    links = np.unique(np.concatenate([np.stack([start, end], 1), np.stack([end, start], 1)]),
                      axis=0)
    graph = coo_matrix((np.ones(len(links)), links.T), shape=(len(used),) * 2).tocsr()
    degree = np.asarray(graph.sum(axis=1)).ravel()
    shift = after[used] - before[used]
    free = np.flatnonzero(~fixed)
    system = coo_matrix((degree[free], (np.arange(len(free)),) * 2)).tocsr() - graph[free][:, free]
    right = graph[free][:, np.flatnonzero(fixed)] @ shift[fixed]
    return used[free], spsolve(system.tocsc(), right).reshape(-1, 3)


def _unmatched(one: Raised) -> FoamError:
    return FoamError(Finding(
        "not-lowered", ERROR, "The upper and the lower edge of this shape do not go with each "
        "other all round, so it cannot be let down by itself.",
        "Select the faces on top of it and choose Lay a Piece On, then smooth out what is below.",
        faces=one.top))
