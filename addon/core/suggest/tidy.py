"""Slivers: pieces too narrow to be worth cutting are given to their neighbours."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .creases import STRIP
from .merge import Parting, united
from .trial import Judge

NARROW = 30.0  # mm of mean width
CREASED = 0.6  # share of the outline: a strip between creases is one that people cut


def narrow(parting: Parting) -> list[int]:
    """Labels of pieces narrower than that on average, but for strips between creases that are
    wide enough to be foam."""
    working = parting.working
    beside = parting.label[working.beside]
    border = beside[:, 0] != beside[:, 1]
    count = int(parting.label.max()) + 1
    outline, creased = np.zeros(count), np.zeros(count)
    for side in (0, 1):
        outline += np.bincount(beside[border, side], working.length[border], count)
        sharp = border & working.crease
        creased += np.bincount(beside[sharp, side], working.length[sharp], count)
    outline += np.bincount(parting.label[working.rim_face], working.rim_length, count)
    area = np.bincount(parting.label, working.area, count)
    thin = (2 * area < NARROW * outline) & (creased < CREASED * outline)
    thin |= 2 * area < STRIP * working.stock.thickness * outline
    thin &= area > 0
    return np.flatnonzero(thin).tolist()


def without_slivers(parting: Parting, judge: Judge, tick: Callable[[], None]) -> None:
    """Join each sliver to a neighbour, or share it out among them, where that is formable."""
    settled: set[int] = set()
    while True:
        left = [one for one in narrow(parting) if one not in settled]
        if not left:
            return
        sliver = min(left, key=lambda one: (parting.working.area[parting.label == one].sum(), one))
        images = parting.images()
        tick()
        if not (_joined(parting, sliver, images, judge)
                or _shared_out(parting, sliver, images, judge)):
            settled |= {sliver, images[sliver]}


def _neighbours(parting: Parting, one: int) -> list[int]:
    """The labels beside one, the longest border first."""
    working = parting.working
    beside = parting.label[working.beside]
    touch = (beside == one).any(axis=1) & (beside[:, 0] != beside[:, 1])
    other = np.where(beside[touch, 0] == one, beside[touch, 1], beside[touch, 0])
    length = np.bincount(other, working.length[touch])
    return sorted(np.unique(other).tolist(), key=lambda label: (-length[label], label))


def _joined(parting: Parting, sliver: int, images: dict[int, int], judge: Judge) -> bool:
    for other in _neighbours(parting, sliver):
        labels = united(sliver, other, images)
        if judge(parting.faces(labels), parting.open_edges).why == "":
            parting.relabel(labels, images)
            return True
    return False


def _shared_out(parting: Parting, sliver: int, images: dict[int, int], judge: Judge) -> bool:
    """Give each face of a sliver to the neighbour that is nearest by way of its own faces."""
    working = parting.working
    others = [one for one in _neighbours(parting, sliver) if one != images[sliver]]
    before = parting.label.copy()
    slivers = {sliver, images[sliver]}
    label = parting.label
    while True:
        beside = label[working.beside]
        mine = np.isin(beside, list(slivers))
        edge = np.flatnonzero(mine[:, 0] != mine[:, 1])
        if not len(edge):
            break
        face = np.where(mine[edge, 0], working.beside[edge, 0], working.beside[edge, 1])
        new = np.where(mine[edge, 0], beside[edge, 1], beside[edge, 0])
        order = np.lexsort((new, -working.length[edge], face))
        face, first = np.unique(face[order], return_index=True)
        label[face] = new[order][first]
    if working.symmetric:
        half = working.half
        label[working.image[half]] = [images[one] for one in label[half].tolist()]
    touched = set(others) | {images[one] for one in others}
    good = not np.isin(label, list(slivers)).any() and all(
        judge(np.flatnonzero(label == one), parting.open_edges).why == "" for one in touched)
    if not good:
        parting.label[:] = before
    return good
