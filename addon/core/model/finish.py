"""How a glued seam looks from outside: flush, or made a line to be seen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .frozen import Frozen
from .kinds import EXAGGERATED, FINISH_BIT, FLUSH, JOIN_BIT, RECESSED

USUAL = 3.0  # mm: width of a finish where none is said (common practice, no source)
WIDEST = 100.0  # mm
_STEP = 0.01  # mm: widths are kept in whole hundredths


@dataclass(frozen=True)
class Finish:
    """What is done to both outer edges of a seam before it is glued.

    kind: of FINISHES. FLUSH: nothing. EXAGGERATED: each is chamfered, `width` mm off the outer
    face and as much off the edge. RECESSED: each is set back by a step `width` mm wide, so that a
    groove of twice that runs along the seam.
    """

    kind: str = FLUSH
    width: float = 0.0

    @property
    def number(self) -> int:
        """A whole number that stands for it: 0 for flush."""
        if self.kind == FLUSH:
            return 0
        return 2 * round(self.width / _STEP) + (self.kind == RECESSED)

    @classmethod
    def of(cls, number: int) -> Finish:
        """The finish that a whole number stands for; flush for what stands for none."""
        width = (int(number) // 2) * _STEP
        if not 0 < width <= WIDEST:
            return cls()
        return cls(RECESSED if number % 2 else EXAGGERATED, round(width, 2))


@dataclass(frozen=True, eq=False)
class EdgeFinish(Frozen):
    """What a seam's finish takes off one edge of a flat piece.

    points (k, 2): the line on the front face to which it is taken off; edge: its index; depth:
    how far below the face it reaches, mm, where it reaches furthest.
    """

    _floats = ("points",)

    points: np.ndarray
    edge: int
    letter: str
    kind: str
    width: float
    depth: float


def join_numbers(kinds: ArrayLike) -> np.ndarray:
    """The numbers in JOINS in the flags of marked edges."""
    return np.asarray(kinds) % FINISH_BIT // JOIN_BIT


def finish_numbers(kinds: ArrayLike) -> np.ndarray:
    """The numbers of finishes in the flags of marked edges."""
    return np.asarray(kinds) // FINISH_BIT
