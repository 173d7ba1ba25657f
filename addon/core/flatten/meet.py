"""Mates that meet: which pieces must be solved together, and what must be eased.

Every piece is first searched by itself with seams at their rest length, so its mates
meet. Where that asks more than the foam takes although the piece alone could be formed,
it and its neighbours look for common seam lengths that suit all, first all that hang
together, then each such piece with its own neighbours. Where there are none, its seams come
out as little longer or shorter than their mates as may be: the maker eases the difference.
The same is tried for pieces that would bend cold but for their seams; where it fails
they are heated.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from .. import mesh
from ..model import Ease
from ..stock import Limits
from .band import MOST_PRESSED
from .draft import Draft
from .together import common_lengths

UNSEEN, UNSEEN_SHARE = 0.3, 1e-3  # mm, or share of its length: a difference not worth a word
TOGETHER = 25  # parts of a seam, about 300 mm of it: further apart UNSEEN_SHARE is the larger
NO_WORSE = 1.03  # of its utilisation is no worse for a piece that fails in any case
NEARLY = 0.97  # utilisation at which a search for common lengths may end


def meet(drafts: Sequence[Draft]) -> tuple[list[Draft], list[Ease]]:
    """The drafts of a cut with seam lengths common to mates, and what must be eased."""
    drafts = [d.loosened() for d in drafts]
    stuck = {k for k, d in enumerate(drafts) if d.loose and d.heated.u > 1 >= d.loose.u}
    for k in _bring_together(drafts, stuck, _heated, lambda d: d.heated.u <= 1):
        drafts[k] = drafts[k].with_easing()
    stuck = {k for k, d in enumerate(drafts)
             if d.loose and not d.eased and d.cold.u > 1 >= d.loose_cold()}

    def cold(drafts, group):
        return _heated(drafts, group) | {k: drafts[k].stock.cold for k in group
                                         if k in stuck or drafts[k].cold.u <= 1}

    for _ in _bring_together(drafts, stuck, cold, lambda d: d.cold.u <= 1):
        pass  # what cannot be bent cold is heated
    return drafts, _easing(drafts)


def _bring_together(drafts: list[Draft], stuck: set[int],
                    limits_of: Callable[[Sequence[Draft], Sequence[int]], dict[int, Limits]],
                    suits: Callable[[Draft], bool]) -> Iterator[int]:
    """Give stuck pieces lengths common to them and their neighbours: all that hang together at
    once, else each with its own neighbours. Yields the pieces for which there are none, each
    before the next is tried."""
    for group in _groups(drafts, stuck):
        if _solve_together(drafts, group, limits_of(drafts, group)):
            continue
        for k in sorted(set(group) & stuck, key=lambda k: drafts[k].heated.u):
            if suits(drafts[k]):  # as a neighbour of one before it
                continue
            near, = _groups([drafts[j] for j in group], {group.index(k)})
            near = [group[j] for j in near]
            if len(near) == len(group) or not _solve_together(
                    drafts, near, limits_of(drafts, near)):
                yield k


def _heated(drafts: Sequence[Draft], group: Sequence[int]) -> dict[int, Limits]:
    """Limits of the heated foams; a piece that no seam lengths could save only gets no worse."""
    limits = {}
    for k in group:
        heated, loose = drafts[k].stock.heated, drafts[k].loose
        hopeless = loose is not None and loose.u > 1 and np.isfinite(drafts[k].heated.u)
        share = max(1.0, NO_WORSE * drafts[k].heated.u) if hopeless else 1.0
        share = min(share, MOST_PRESSED / heated.compress)
        limits[k] = replace(heated, compress=share * heated.compress,
                            stretch=share * heated.stretch)
    return limits


def _groups(drafts: Sequence[Draft], stuck: set[int]) -> list[list[int]]:
    """Stuck pieces with all their neighbours, those that hang together in one group.

    Left out are pieces that were eased, and those for which there is no band at all: their
    side of a seam keeps its length.
    """
    of_seam = defaultdict(set)
    for k, draft in enumerate(drafts):
        for seam, *_ in draft.system.seams.parts:
            of_seam[seam].add(k)
    links = [(k, other) for pieces in of_seam.values() for k in pieces & stuck
             for other in pieces]
    _, label = mesh.components(len(drafts), np.array(links or np.empty((0, 2))))
    groups = defaultdict(list)
    for k, name in enumerate(label):
        lost = drafts[k].heated.u >= MOST_PRESSED / drafts[k].stock.heated.compress
        if k in stuck or not (lost or drafts[k].eased):
            groups[name].append(k)
    return [g for g in groups.values() if set(g) & stuck]


def _solve_together(drafts: list[Draft], group: list[int], limits: Mapping[int, Limits]) -> bool:
    """Replace the drafts of a group by ones with common seam lengths, if such are found with
    which every piece stays within its limits."""
    members = [drafts[k] for k in group]
    lengths, u = common_lengths(
        [d.system for d in members], [d.heated.points for d in members],
        [limits[k] for k in group], [d.wanted for d in members], NEARLY)
    if u > 1:
        return False
    found = [d.with_lengths(wanted) for d, wanted in zip(members, lengths, strict=True)]
    for k, draft in zip(group, found, strict=True):
        solution = draft.cold if limits[k] == draft.stock.cold else draft.heated
        if draft.system.utilisation(solution.points, limits[k]) > 1:
            return False
    for k, draft in zip(group, found, strict=True):
        drafts[k] = draft
    return True


def _easing(drafts: Sequence[Draft]) -> list[Ease]:
    """Every part of a seam whose two edges come out unlike, from the same rest length."""
    sides: dict[int, dict[int, dict[bool, tuple]]] = defaultdict(lambda: defaultdict(dict))
    for draft in drafts:
        seams, asked = draft.system.seams, draft.asked().u
        share = draft.system.interval_lengths(draft.system.along @ draft.chosen().points)
        for k, (seam, part, border) in enumerate(seams.parts):
            own = seams.interval == k
            place = seams.place[own]
            sides[seam][part][draft.region.borders[border].forward] = (
                share[k], seams.contact[own] @ seams.lengths[own], place.min(), place.max() + 1,
                asked)
    found = []
    for seam, parts in sorted(sides.items()):
        both = [(part[True], part[False]) for _, part in sorted(parts.items()) if len(part) == 2]
        if not both:
            continue
        length = np.array([(left[1] + right[1]) / 2 for left, right in both])
        excess = np.array([left[0] - right[0] for left, right in both]) * length
        asked = max(both[0][0][4], both[0][1][4])
        for k in np.flatnonzero(_seen(excess, length)):
            found.append(Ease(int(seam), int(both[k][0][2]), int(both[k][0][3]),
                              float(excess[k]), float(length[k]), float(asked)))
    return found


def _seen(excess: np.ndarray, length: np.ndarray) -> np.ndarray:
    """Which parts (k,) of a seam, given in order, make it differ by more than is UNSEEN between
    some two places: differences that are too small to be seen by themselves may add up.

    Left out are those that could not do so within TOGETHER parts.
    """
    total, along = (np.concatenate([[0.0], np.cumsum(v)]) for v in (excess, length))
    seen = np.zeros(len(excess), dtype=bool)
    for number in range(1, min(TOGETHER, len(excess)) + 1):
        apart = np.abs(total[number:] - total[:-number])
        least = np.maximum(UNSEEN, UNSEEN_SHARE * (along[number:] - along[:-number]))
        for first in np.flatnonzero(apart > least):
            seen[first:first + number] = True
    return seen & (np.abs(excess) > UNSEEN / TOGETHER)
