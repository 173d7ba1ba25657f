"""Seams at which the suit is made wider or narrower."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class Widening(Frozen):
    """What is asked at one seam: by how much every section across it is to grow, mm, negative to
    shrink; low at its lower end (of level seams at the one nearer to the wearer's middle), high at
    the other, and in between in proportion to the way. place (3,) on the seam or near it, before
    the sculpt is scaled; unlike that, the amounts are of the suit as it is built. optional: there
    need not be a seam."""

    _floats = ("place",)

    place: np.ndarray
    low: float
    high: float
    optional: bool = False


@dataclass(frozen=True, eq=False)
class Widened(Frozen):
    """What came of it. letter and code: of the mate; pieces: codes, of both its sides; low and
    high as they were asked for; grown (2,): least and most that sections across it grew; moved:
    furthest that a point of the sculpt was moved, mm; along: letters of other seams that were
    moved as well."""

    _floats = ("grown",)

    letter: str
    code: str
    pieces: tuple[str, str]
    low: float
    high: float
    grown: np.ndarray
    moved: float
    along: tuple[str, ...] = ()
