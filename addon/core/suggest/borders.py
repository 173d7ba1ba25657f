"""Borders between pieces moved to where a seam is cheapest: a minimum cut in a band about each.

First by how much a seam is disliked there, which draws borders into creases and valleys; then by
length alone but for creases, which takes out the teeth that the first leaves.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .merge import Parting
from .trial import Judge
from .working import Working

BAND, NARROW = 22.0, 14.0  # mm on either side of a border within which it may move


def settled(parting: Parting, judge: Judge | None, tick: Callable[[], None]) -> None:
    """Move all borders; judge: pieces that would cease to be formable keep theirs."""
    working = parting.working
    plain = np.where(working.crease, working.dislike, 1.0)
    for band, cost in ((BAND, working.dislike), (NARROW, plain), (NARROW, plain)):
        for a, b in sorted(parting.pairs()[0]):
            tick()
            _move(parting, a, b, band, cost * working.length, judge)


def _move(parting: Parting, a: int, b: int, band: float, cost: np.ndarray, judge: Judge | None
          ) -> None:
    from scipy.spatial import cKDTree

    working = parting.working
    count = len(working.half)
    label = parting.label[:count]
    faces = np.flatnonzero((label == a) | (label == b))
    inside = (working.beside < count).all(axis=1)
    pair = np.sort(parting.label[working.beside], axis=1)
    between = inside & (pair == sorted((a, b))).all(axis=1)
    if between.sum() < 2:
        return
    middle = working.points[working.edges[between]].mean(axis=1)
    far = cKDTree(middle).query(working.points[working.faces[faces]].mean(axis=1))[0] > band
    held = np.zeros(len(working.faces), dtype=bool)
    held[working.beside[parting.open_edges].ravel()] = True
    far |= held[faces]
    own = label[faces] == a
    if not (far & own).any() or not (far & ~own).any():
        return
    local = np.full(len(working.faces), -1)
    local[faces] = np.arange(len(faces))
    links = inside & (local[working.beside] >= 0).all(axis=1) & ~parting.open_edges
    side = minimum_cut(far & own, far & ~own, local[working.beside[links]], cost[links])
    new = np.where(side, a, b)
    if (new == label[faces]).all() or not (_whole(working, faces[side])
                                           and _whole(working, faces[~side])):
        return
    before = parting.label.copy()
    images = parting.images()
    parting.label[faces] = new
    if working.symmetric:
        parting.label[working.image[faces]] = np.where(side, images[a], images[b])
    if judge is not None and any(
            judge(np.flatnonzero(parting.label == one), parting.open_edges).why
            for one in (a, b)):
        parting.label[:] = before


def _whole(working: Working, faces: np.ndarray) -> bool:
    """Do the faces (k,) hang together?"""
    from .. import mesh

    chosen = np.zeros(len(working.faces), dtype=bool)
    chosen[faces] = True
    local = np.cumsum(chosen) - 1
    links = chosen[working.beside].all(axis=1)
    return mesh.components(len(faces), local[working.beside[links]])[0] == 1


def minimum_cut(first: np.ndarray, second: np.ndarray, links: np.ndarray, cost: np.ndarray
                ) -> np.ndarray:
    """Which of n things (n,) bool stay with those of `first` (n,) bool when they are parted from
    `second` by cutting links (k, 2) of least total cost (k,) (maximum flow, minimum cut)."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    n = len(first)
    whole = np.maximum(np.round(1000 * cost), 1).astype(np.int64)
    bound = int(min(whole.sum() + 1, 2**30))
    source, sink = np.flatnonzero(first), np.flatnonzero(second)
    row = np.concatenate([links[:, 0], links[:, 1], np.full(len(source), n), sink])
    column = np.concatenate([links[:, 1], links[:, 0], source, np.full(len(sink), n + 1)])
    value = np.concatenate([whole, whole, np.full(len(source) + len(sink), bound)])
    graph = csr_matrix((value.astype(np.int32), (row, column)), shape=(n + 2, n + 2))
    flow = maximum_flow(graph, n, n + 1).flow
    rest = graph - flow
    rest.data = np.where(rest.data > 0, 1, 0)
    rest.eliminate_zeros()
    reached = np.zeros(n + 2, dtype=bool)
    reached[breadth_first_order(rest, n, return_predecessors=False)] = True
    return reached[:n]
