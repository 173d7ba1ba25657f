"""Marks without a cut that the maker sets: rivets, holes, drill points, circles, patches."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .frozen import Frozen

RIVET, HOLE, DRILL, CIRCLE, PATCH = MARKINGS = ("rivet", "hole", "drill", "circle", "patch")


@dataclass(frozen=True, eq=False)
class Marking(Frozen):
    """What the maker sets, at points or in an even row along a line.

    points (k, 3) mm on the surface or near it: one mark at each, or where `row` the points of a
    line, `closed` from the last one to the first. A row has `count` marks, or where that is 0 as
    many as come nearest to `spacing`; ends (2,): how far the first and the last are from the
    line's ends; inset: how far beside the line they stand, to its left seen from outside, always
    inward of a rim. size (2,): length along the line and width, equal where it is round: of the
    dome, hole, circle or patch; stock: what a circle is cut from. mirrored: also at the other side
    of the wearer. object: index into the sculpt's objects. All but the points are lengths of what
    is made, which a sculpt's scale does not change.
    """

    _floats = ("points", "ends", "size")

    kind: str
    points: np.ndarray
    name: str = ""
    row: bool = False
    closed: bool = False
    count: int = 0
    spacing: float = 25.0
    ends: np.ndarray = (0.0, 0.0)
    inset: float = 0.0
    size: np.ndarray = (0.0, 0.0)
    stock: str = ""
    mirrored: bool = False
    object: int = 0

    def smaller(self, factor: float) -> Marking:
        """The same on a mock-up: all that `scaled` of the sculpt leaves, at another size."""
        return replace(self, spacing=self.spacing * factor, ends=self.ends * factor,
                       inset=self.inset * factor, size=self.size * factor)


@dataclass(frozen=True, eq=False)
class PointMark(Frozen):
    """One mark on a flat piece: point (2,), along (2,) the unit way of its row, number from 1 in
    the marking of that name; place (3,) on the sculpt. kind, size and stock as of Marking."""

    _floats = ("point", "along", "size", "place")

    kind: str
    name: str
    number: int
    point: np.ndarray
    along: np.ndarray
    size: np.ndarray
    stock: str
    place: np.ndarray
