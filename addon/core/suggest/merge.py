"""Patches joined to pieces, as long as the foam takes it; images are joined alike.

Greedy: the pair that shares the most seam for its size first, as such seams are the least
use. Where whole seams cannot go any more, a part of one may: the rest stays as a dart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from .. import mesh
from .cluster import halves, steps
from .trial import Judge, Trial
from .working import Working

SMALL = 0.15  # how strongly small pieces are joined first
JOINED = (0.65, 0.35)  # shares of a seam that may be joined while the rest becomes a dart
STUMP = 25.0  # mm: neither a dart nor a joined stretch is shorter
FEW = 12  # faces of a patch that is not split further
CLEAR = 0.3  # a guess below this needs no flattening to be believed


@dataclass(eq=False)
class Parting:
    """A division of a working surface: label (m,) and the open edges (e,) inside pieces."""

    working: Working
    label: np.ndarray
    open_edges: np.ndarray

    @classmethod
    def of(cls, working: Working, label: np.ndarray) -> Parting:
        return cls(working, label.copy(), np.zeros(len(working.edges), dtype=bool))

    @property
    def seams(self) -> np.ndarray:
        """Which edges (e,) are seams: borders of pieces, and darts."""
        beside = self.label[self.working.beside]
        return (beside[:, 0] != beside[:, 1]) | self.open_edges

    def faces(self, labels: set[int]) -> np.ndarray:
        return np.flatnonzero(np.isin(self.label, list(labels)))

    def images(self) -> dict[int, int]:
        """Of each label the label of its mirror image."""
        label, first = np.unique(self.label, return_index=True)
        return dict(zip(label.tolist(), self.label[self.working.image[first]].tolist(),
                        strict=True))

    def relabel(self, labels: set[int], images: dict[int, int]) -> tuple[int, int]:
        """Make one piece of some labels, and one of their images; the new labels."""
        mirrored = {images[one] for one in labels}
        new = int(self.label.max()) + 1
        self.label[self.faces(labels)] = new
        if mirrored == labels:
            return new, new
        self.label[self.faces(mirrored)] = new + 1
        return new, new + 1

    def pairs(self) -> tuple[dict[tuple[int, int], float], dict[int, float]]:
        """Neighbours with the weight of the seam they share, of mirrored pairs only one; and the
        length of seam round each label."""
        working = self.working
        beside = np.sort(self.label[working.beside], axis=1)
        seam = beside[:, 0] != beside[:, 1]
        images = self.images()
        round_it: dict[int, float] = {}
        shared: dict[tuple[int, int], float] = {}
        weight = working.dislike * working.length
        pair, which = np.unique(beside[seam], axis=0, return_inverse=True)
        which = which.ravel()
        total = np.bincount(which, weight[seam], len(pair))
        length = np.bincount(which, working.length[seam], len(pair))
        for (a, b), worth, run in zip(pair.tolist(), total, length, strict=True):
            round_it[a] = round_it.get(a, 0.0) + run
            round_it[b] = round_it.get(b, 0.0) + run
            image = tuple(sorted((images[a], images[b])))
            if image not in shared:
                shared[a, b] = float(worth)
        return shared, round_it


def united(a: int, b: int, images: dict[int, int]) -> set[int]:
    """The labels of the piece that joining two makes, together with images it then touches."""
    chosen = {a, b}
    mirrored = {images[a], images[b]}
    return chosen | mirrored if chosen & mirrored else chosen


def split_unfit(parting: Parting, judge: Judge, tick: Callable[[], None]) -> None:
    """Split every piece of the parting that is not formable, until all are or are tiny."""
    working = parting.working
    graph = steps(working)
    images = parting.images()
    todo = sorted({min(a, images[a]) for a in images})
    while todo:
        tick()
        label = todo.pop(0)
        faces = np.flatnonzero(parting.label[working.half] == label)
        whole = np.flatnonzero(parting.label == label)
        if len(whole) <= FEW or judge(whole, parting.open_edges).why == "":
            continue
        first = halves(working, faces, graph)
        for part in (faces[first], faces[~first]):
            new = int(parting.label.max()) + 1
            parting.label[part] = new
            if working.symmetric:
                parting.label[working.image[part]] = new + 1
            todo.append(new)


def greedy(parting: Parting, judge: Judge, tick: Callable[[], None], apart: bool = False
           ) -> None:
    """Join neighbours until no pair is formable as one; apart: none with its mirror image."""
    failed: set[frozenset[int]] = set()
    joined = True
    while joined:
        joined = False
        images = parting.images()
        for a, b in _ranked(parting):
            labels = united(a, b, images)
            if frozenset(labels) in failed or apart and images[a] == b:
                continue
            tick()
            if judge(parting.faces(labels), parting.open_edges).why == "":
                parting.relabel(labels, images)
                joined = True
                break
            failed.add(frozenset(labels))


def _ranked(parting: Parting) -> list[tuple[int, int]]:
    shared, round_it = parting.pairs()
    area = np.bincount(parting.label, parting.working.area)

    def worth(pair: tuple[int, int]) -> float:
        a, b = pair
        size = min(area[a], area[b]) / 1e4
        return shared[pair] / min(round_it[a], round_it[b]) - SMALL * np.log(size + 0.05)

    return sorted(shared, key=lambda pair: (-worth(pair), pair))


def join_with_darts(parting: Parting, judge: Judge, tick: Callable[[], None]) -> None:
    """Join pieces along a part of their seam, the rest of it kept as a dart."""
    tried: set[tuple[int, int]] = set()
    joined = True
    while joined:
        joined = False
        images = parting.images()
        shared, _ = parting.pairs()
        for pair in sorted(shared, key=lambda pair: (-shared[pair], pair)):
            if pair in tried:
                continue
            tried.add(pair)
            found = _best_dart(parting, pair, images, judge, tick)
            if found is not None:
                parting.open_edges = found
                parting.relabel(united(*pair, images), images)
                joined = True
                break


def _best_dart(parting: Parting, pair: tuple[int, int], images: dict[int, int], judge: Judge,
               tick: Callable[[], None]) -> np.ndarray | None:
    """The open edges (e,) of the shortest dart with which a pair is formable as one piece."""
    working = parting.working
    faces = parting.faces(united(*pair, images))
    best, shortest = None, np.inf
    for dart in _darts(parting, pair):
        length = working.length[dart].sum()
        if length >= shortest:
            continue
        tick()
        open_edges = parting.open_edges.copy()
        open_edges[dart] = open_edges[working.edge_image[dart]] = True
        trial: Trial = judge(faces, open_edges)
        if trial.why == "":
            best, shortest = open_edges, length
    return best


def _darts(parting: Parting, pair: tuple[int, int]) -> Iterator[np.ndarray]:
    """Edges (k,) that may stay cut of the seam of a pair when the rest of it is joined.

    Of a seam in one run a part is left as a dart; where two pieces close a tube and meet in
    several runs, all but one are left.
    """
    working = parting.working
    beside = np.sort(parting.label[working.beside], axis=1)
    edges = np.flatnonzero((beside == sorted(pair)).all(axis=1))
    lines = mesh.chains(working.edges[edges])
    if len(lines) > 1:
        runs = [_along(working, edges, line) for line in lines]
        runs.sort(key=lambda run: (-working.length[run].sum(), int(run[0])))
        for joined in range(len(runs)):
            yield np.concatenate(runs[:joined] + runs[joined + 1:])
        return
    if lines[0][0] == lines[0][-1]:
        return
    ordered = _along(working, edges, lines[0])
    for share in JOINED:
        for run in (ordered, ordered[::-1]):
            along = np.cumsum(working.length[run])
            dart = run[along > share * along[-1]]
            rest = along[-1] - working.length[dart].sum()
            if working.length[dart].sum() >= STUMP and rest >= STUMP:
                yield dart


def _along(working: Working, edges: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Those of some edges (k,) that a line of vertices runs through, in its order."""
    count = len(working.points)
    key = mesh.edge_keys(working.edges[edges], count)
    order = np.argsort(key)
    wanted = mesh.edge_keys(np.stack([line[:-1], line[1:]], axis=1), count)
    return edges[order[np.searchsorted(key[order], wanted)]]
