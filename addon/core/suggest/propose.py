"""One proposal: patches, joined as far as the foam takes it, with smooth borders."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .borders import settled
from .cluster import patches
from .merge import Parting, greedy, join_with_darts, split_unfit
from .smooth import relaxed
from .tidy import without_slivers
from .trial import Judge
from .working import Working, with_points

IN_HAND = 0.9  # of the limit is all that joining may use, as smoothing the borders takes some


@dataclass(frozen=True)
class Start:
    """What one proposal starts from: patches (on each half), whether creases bound them, and
    whether the halves of a symmetric surface are kept apart until only darts can join them."""

    patches: int
    hard: bool = False
    apart: bool = False


def proposal(working: Working, start: Start, limit: float, tick: Callable[[], None]) -> Parting:
    """A parting of the surface from one start; its working surface has vertices moved along
    the seams."""
    parting = Parting.of(working, patches(working, start.patches, start.hard))
    judge = Judge(working, IN_HAND * limit)
    split_unfit(parting, judge, tick)
    if not start.hard:
        settled(parting, None, tick)
        tick()
        parting.working = with_points(working, relaxed(working, parting.seams))
        judge = Judge(parting.working, IN_HAND * limit)
        split_unfit(parting, judge, tick)
    greedy(parting, judge, tick, start.apart)
    if not start.hard:
        settled(parting, judge, tick)
        greedy(parting, judge, tick, start.apart)
    join_with_darts(parting, judge, tick)
    if not start.hard:
        settled(parting, judge, tick)
    without_slivers(parting, Judge(parting.working, limit), tick)
    return _smoothed(parting, limit, tick)


def _smoothed(parting: Parting, limit: float, tick: Callable[[], None]) -> Parting:
    """The parting with its seams relaxed, except round pieces that would not stand it."""
    working = parting.working
    still = np.zeros(len(working.points), dtype=bool)
    for _ in range(4):
        tick()
        moved = with_points(working, relaxed(working, parting.seams, still))
        judge = Judge(moved, limit)
        bad = [one for one in np.unique(parting.label)
               if judge(np.flatnonzero(parting.label == one), parting.open_edges).why]
        spoilt = np.isin(parting.label, bad)
        grown = np.zeros(len(working.points), dtype=bool)
        grown[working.faces[spoilt].ravel()] = True
        if not (grown & ~still).any():
            break
        still |= grown
    return Parting(moved, parting.label, parting.open_edges)
