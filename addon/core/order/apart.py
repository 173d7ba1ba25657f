"""Assembly by taking apart: an order is possible if the whole can be taken to pieces.

What can be taken away from a whole can be taken away from any part of the whole too, so pieces
may be taken in any order as they come free. Only where no single one is free do sets of
them count: for a direction, the sets that nothing outside of them blocks are closed in its
blocking graph, and there is one that is neither empty nor all exactly if that graph is not
strongly connected (Wilson and Latombe 1994).
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from .blocking import Blocking

ALIKE = 1.2  # ratio of two bars that are not told apart, as both are sampled
MOST = 4096  # of what foam gives, beyond which nothing is squeezed


@dataclass(frozen=True, eq=False)
class Way:
    """How a set comes away from another: unit vector (3,), and how hard, as a share of what foam
    gives: up to 1 it comes freely."""

    vector: np.ndarray
    bar: float

    @property
    def free(self) -> bool:
        """Whether nothing is in the way."""
        return self.bar <= 1.0

    @property
    def hard(self) -> int:
        """0 where it comes freely, else the more the harder, in steps that can be told apart."""
        return 0 if self.free else 1 + int(math.log(self.bar) / math.log(ALIKE))


class Apart:
    """Groups of bodies that are put together step by step, of parts that do not block one
    another, as each is built by itself.

    codes: of the bodies, in the order of `found`; part: the part that each belongs to.
    """

    def __init__(self, found: Blocking, codes: Sequence[str], part: dict[str, Hashable]):
        self.ways = found.ways
        self.number = {code: k for k, code in enumerate(codes)}
        same = np.array([[part.get(a, a) == part.get(b, b) for b in codes] for a in codes])
        self.bars = found.bars * same
        self.limit = 1.0
        self._of = np.arange(len(codes))
        self._levels()

    def _levels(self) -> None:
        """Raise the limit to the least at which everything comes apart at all."""
        if self.possible():
            return
        levels = np.unique(self.bars[(self.bars > 1.0) & (self.bars < MOST)])
        low, high = 0, len(levels)
        while low < high:
            middle = (low + high) // 2
            self.limit = float(levels[middle])
            low, high = (low, middle) if self.possible() else (middle + 1, high)
        self.limit = float(levels[low]) * ALIKE if low < len(levels) else np.inf

    def unite(self, one: Sequence[str], other: Sequence[str]) -> None:
        """Put two groups together for good."""
        self._of = self._united(one, other)

    def _united(self, one: Sequence[str], other: Sequence[str]) -> np.ndarray:
        a, b = self._of[self.number[one[0]]], self._of[self.number[other[0]]]
        return np.where(self._of == b, a, self._of)

    def together(self, code: str) -> list[str]:
        """All that hangs together with a body."""
        mine = self._of[self.number[code]]
        return [c for c, k in self.number.items() if self._of[k] == mine]

    def possible(self, one: Sequence[str] = (), other: Sequence[str] = ()) -> bool:
        """Can all still come apart, if two groups are put together?"""
        of = self._united(one, other) if one else self._of
        groups, of = np.unique(of, return_inverse=True)
        return _comes_apart(_merged(self.bars > self.limit, of.ravel(), len(groups)))

    def ways_off(self, moved: Sequence[str], standing: Sequence[str],
                 outward: np.ndarray) -> list[Way]:
        """Ways in which one set comes away from another, the best first: free ones by how far
        they lie inside what is free, and outward, others by how little is in the way."""
        i, j = ([self.number[c] for c in codes] for codes in (moved, standing))
        bar = self.bars[:, i][:, :, j].max(axis=(1, 2), initial=0.0)
        free = self.ways[bar <= 1.0]
        inner = (np.maximum(self.ways @ free.T, 0.0).sum(1) / len(free) if len(free)
                 else np.zeros(len(self.ways)))
        best = np.round(inner + self.ways @ outward, 3)
        order = np.lexsort((-best, np.maximum(bar, 1.0)))
        return [Way(self.ways[k], float(bar[k])) for k in order]


def _merged(barred: np.ndarray, of: np.ndarray, count: int) -> np.ndarray:
    """Which groups (d, g, g) are blocked by which, from the same of bodies (d, n, n)."""
    if count == len(of):
        found = barred[:, np.argsort(of)][:, :, np.argsort(of)].copy()
    else:
        member = np.zeros((count, len(of)), dtype=np.float32)
        member[of, np.arange(len(of))] = 1.0
        found = (member @ barred.astype(np.float32) @ member.T) > 0
    found[:, np.arange(count), np.arange(count)] = False
    return found


def _comes_apart(barred: np.ndarray) -> bool:
    """Can groups (d, g, g) be taken apart, one set from the rest after another?"""
    waiting = [np.arange(barred.shape[1])]
    while waiting:
        left = waiting.pop()
        while len(left) > 1:
            held = barred[:, left][:, :, left].any(axis=2).all(axis=0)
            if held.all():
                break
            # What is free goes; the last one stays.
            left = left[held] if held.any() else left[:1]
        if len(left) > 1:
            parted = _closed_set(barred[:, left][:, :, left])
            if parted is None:
                return False
            waiting += [left[parted], left[~parted]]
    return True


def _closed_set(barred: np.ndarray) -> np.ndarray | None:
    """A proper set (g,) of groups that nothing else blocks in some direction."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    best = None
    for graph in barred:
        number, label = connected_components(csr_matrix(graph), connection="strong")
        if number == 1:
            continue
        leaves = np.ones(number, dtype=bool)
        i, j = np.nonzero(graph)
        leaves[label[i[label[i] != label[j]]]] = False
        for k in np.flatnonzero(leaves):
            found = label == k
            if best is None or found.sum() < best.sum():
                best = found
    return best
