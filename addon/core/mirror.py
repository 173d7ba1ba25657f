"""Mirror images in a mesh: which vertex and which edge lies across a plane from which."""

from __future__ import annotations

import numpy as np

from . import mesh


def vertex_partners(points: np.ndarray, axis: int, tolerance: float) -> np.ndarray:
    """The vertex (n,) at the mirror image of each of the points (n, 3), -1 where there is none.

    axis 0, 1 or 2: the coordinate that changes its sign. A partner lies within `tolerance`
    of the image, is the vertex nearest to it, and has the vertex as its own partner in turn;
    a vertex on the plane is its own. One whose place is no number has none.
    """
    from scipy.spatial import cKDTree

    points = np.asarray(points, dtype=float).reshape(-1, 3)
    partner = np.full(len(points), -1, dtype=np.int64)
    known = np.flatnonzero(np.isfinite(points).all(axis=1))
    if len(known):
        image = points[known] * np.where(np.arange(3) == axis, -1.0, 1.0)
        distance, nearest = cKDTree(points[known]).query(image)
        met = (distance <= tolerance) & (nearest[nearest] == np.arange(len(known)))
        partner[known[met]] = known[nearest[met]]
    return partner


def edge_partners(edges: np.ndarray, partner: np.ndarray) -> np.ndarray:
    """The edge (e,) across from each of the edges (e, 2), -1 where there is none.

    partner (n,): as `vertex_partners` gives it. An edge in the plane, or one that the plane
    halves, is its own.
    """
    edges = np.asarray(edges, dtype=np.int64).reshape(-1, 2)
    across = partner[edges]
    if not len(edges):
        return np.empty(0, dtype=np.int64)
    keys, wanted = (mesh.edge_keys(ends, len(partner)) for ends in (edges, across))
    order = np.argsort(keys, kind="stable")
    keys = keys[order]
    place = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
    return np.where((across >= 0).all(axis=1) & (keys[place] == wanted), order[place], -1)



def mirrored_kinds(points: np.ndarray, edges: np.ndarray, kinds: np.ndarray, axis: int,
                   tolerance: float, direction: str) -> tuple[np.ndarray, np.ndarray]:
    """The marks (e,) of all edges once they are mirrored, and the marked edges that should have
    been but have no partner.

    points (n, 3), edges (e, 2), kinds (e,) with 0 for no mark. direction: "POSITIVE" makes the
    side of larger coordinates the model, whose marks replace those of the other; "NEGATIVE"
    the other way round; with "BOTH" an edge without a mark gets its partner's. Edges in the
    plane keep theirs.
    """
    partner = edge_partners(edges, vertex_partners(points, axis, tolerance))
    middle = points[edges].mean(axis=1)[:, axis]
    model = {"POSITIVE": middle > 0, "NEGATIVE": middle < 0, "BOTH": kinds > 0}[direction]
    onto = model & (partner >= 0) & (partner != np.arange(len(edges)))
    if direction == "BOTH":
        onto &= kinds[partner] == 0
    made = kinds.copy()
    made[partner[onto]] = kinds[onto]
    return made, np.flatnonzero(model & (kinds > 0) & (partner < 0))
