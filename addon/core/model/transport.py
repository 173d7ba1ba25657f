"""The parts of a suit in a box for transport."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class Packed(Frozen):
    """A part in the box: a point p of the sculpt lies at turn (3, 3) @ p + offset (3,), mm along
    the length, the width and the height of the box from one of its lower corners. low and high
    (3,): of the part there."""

    _floats = ("turn", "offset", "low", "high")

    part: str
    pieces: tuple[str, ...]
    turn: np.ndarray
    offset: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def place(self, points: np.ndarray) -> np.ndarray:
        """Points (k, 3) of the sculpt in the box."""
        return points @ self.turn.T + self.offset


@dataclass(frozen=True)
class Transport:
    """box: length, width and height inside, mm; gap: kept between parts, and half of it to the
    walls. packed: in the order in which parts are put in, each straight down; left: names of parts
    that found no place. certain: where something is left, whether no box of that size can take
    it, however it is turned; why: in words. height: of what is packed, mm."""

    box: tuple[float, float, float]
    gap: float
    packed: tuple[Packed, ...]
    left: tuple[str, ...] = ()
    certain: bool = False
    why: str = ""
    height: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether every part found a place."""
        return not self.left
