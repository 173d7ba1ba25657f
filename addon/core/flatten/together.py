"""Regions flattened together, so that mates meet although each must stretch a little.

A seam whose two edges both keep their rest length meets. Where that would ask too much
of a piece, the seam may come out longer or shorter on the flats, by the same share on
both: the lengths of the intervals are then unknowns common to the two mates, and all
regions of a group search in step for the smallest utilisation that takes them all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..stock import Limits
from .band import (
    CHEAPER,
    CHECK,
    MET,
    Band,
    choose_band,
    spared_share,
    unmet,
    with_lengths,
)
from .system import System


def common_lengths(systems: Sequence[System], starts: Sequence[np.ndarray],
                   limits: Sequence[Limits], held: Sequence[np.ndarray], enough: float = 0.97,
                   steps: int = 240) -> tuple[list[np.ndarray], float]:
    """Lengths of the seam intervals of each system, in units of rest, that suit all of them.

    Also the utilisation that they ask of the hardest piece. Intervals whose mate is not
    among the systems have the length in `held`. The search ends early once every piece
    needs at most `enough`.
    """
    bands = [Band(*each) for each in zip(systems, starts, limits, strict=True)]
    share = np.array([s.area.sum() for s in systems])
    share = share / share.sum()
    number = [len(s.faces) for s in systems]
    weight = np.concatenate([s.weight * a for s, a in zip(systems, share, strict=True)])
    compress = np.repeat([x.compress for x in limits], number)
    stretch = np.repeat([x.stretch for x in limits], number)
    price = float(share @ [b.price for b in bands])
    spared = float(share @ [spared_share(s) for s in systems])
    mate, stiff = mates_of(systems, share)
    u = float(max(b.u for b in bands))
    best, best_u = list(held), np.inf
    for step in range(1, steps + 1):
        reach = [b.reach() for b in bands]
        push = price * float(np.mean(compress + stretch)) / 2
        u = choose_band(np.concatenate([r[0] for r in reach]),
                        np.concatenate([r[1] for r in reach]),
                        weight, u, compress, stretch, push, price / spared)
        now = np.concatenate([s.interval_lengths(r[2])
                              for s, r in zip(systems, reach, strict=True)])
        wanted = _split(systems, _agreed(now, mate, stiff, np.concatenate(held)))
        for band, system, r, lengths in zip(bands, systems, reach, wanted, strict=True):
            band.advance(u, with_lengths(system, r[2], lengths), price / spared)
        cheaper = CHEAPER.get(step, 1.0)
        price *= cheaper
        for band in bands:
            band.cheapen(cheaper)
        if step % CHECK == 0:
            needs = max(b.system.utilisation(b.points, b.limits) for b in bands)
            apart = max(unmet(b.system, b.points, w) for b, w in zip(bands, wanted, strict=True))
            if apart < 4 * MET and needs < best_u:
                best, best_u = wanted, needs
                if best_u < enough and step >= 3 * CHECK:
                    break
    return best, best_u


def mates_of(systems: Sequence[System], share: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Per interval of all systems in order: index of its mate's (-1: none), and stiffness."""
    where: dict[tuple[int, int], int] = {}
    count = sum(s.seams.count for s in systems)
    mate, stiff, index = np.full(count, -1), np.empty(count), 0
    for system, a in zip(systems, share, strict=True):
        seams = system.seams
        stiff[index : index + seams.count] = a * np.bincount(
            seams.interval, system.seam_pull, seams.count)
        for seam, part, _ in seams.parts:
            other = where.setdefault((seam, part), index)
            if other != index:
                mate[index], mate[other] = other, index
            index += 1
    return mate, stiff


def _agreed(now: np.ndarray, mate: np.ndarray, stiff: np.ndarray, held: np.ndarray
            ) -> np.ndarray:
    """Interval lengths on which mates agree, each giving way by its stiffness; else `held`.

    x = (a x1 + b x2) / (a + b) minimises a (x - x1)^2 + b (x - x2)^2.
    """
    other = np.maximum(mate, 0)
    mean = (stiff * now + stiff[other] * now[other]) / (stiff + stiff[other])
    return np.where(mate >= 0, mean, held)


def _split(systems: Sequence[System], values: np.ndarray) -> list[np.ndarray]:
    return np.split(values, np.cumsum([s.seams.count for s in systems])[:-1])
