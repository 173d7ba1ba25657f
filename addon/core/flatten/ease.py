"""The flattening within the foam's band whose seams stray least from their mates.

For a piece that the foam can take, but not with its seams at the lengths of their mates:
least is the sum of the differences in mm, so that most of a seam is kept and the rest is
eased (a sum of absolute values is sparse where it is least: Tibshirani 1996). The search
is that of `band` with a fixed utilisation, but the multipliers of the seams are capped,
which is the proximal step of that sum (Boyd et al. 2011, 4.4.3).
"""

from __future__ import annotations

import numpy as np

from ..stock import Limits
from .band import CHECK, Band, Solution, spared_share, with_lengths
from .system import System
from .together import mates_of

FULL, MOST = 0.98, 0.995  # of the limits is headed for, as the band is met from outside, and taken
PULL = 0.004  # cap on a seam's multipliers, in shares of its length: the search's step
STEPS = 400
SETTLED = 0.01  # relative gain in ten steps at which the search ends


def least_easing(system: System, points: np.ndarray, limits: Limits, wanted: np.ndarray
                 ) -> Solution:
    """Search from `points` (n,), a map within the band, for one whose seam intervals differ
    least from the wanted lengths (in units of rest); its u is at most 1 if that of points is.

    The two legs of a dart are mates of each other: they may have any length, if only one.
    """
    band = Band(system, points, limits)
    spare = band.price / spared_share(system)
    rest = np.bincount(system.seams.interval, system.seams.lengths, system.seams.count)
    mate, _ = mates_of([system], np.ones(1))

    def goal(now):
        return np.where(mate >= 0, (now + now[mate]) / 2, wanted)

    def astray(points):
        now = system.interval_lengths(system.along @ points)
        return float(rest @ np.abs(now - goal(now)))

    best = Solution(points, system.utilisation(points, limits), 0.0)
    least, last = astray(points), np.inf
    for step in range(1, STEPS + 1):
        *_, seams = band.reach()
        lengths = goal(system.interval_lengths(seams))
        band.advance(FULL, with_lengths(system, seams, lengths, PULL), spare)
        if step % CHECK:
            continue
        found, stray = system.utilisation(band.points, limits), astray(band.points)
        if found <= max(MOST, best.u) and stray < least:
            best, least = Solution(band.points, found, 0.0), stray
        if abs(stray - last) < SETTLED * least / 2 and found <= MOST:
            break
        last = stray
    return best
