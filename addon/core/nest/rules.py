"""What the maker's settings ask of the layouts of one stock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import GRAIN, QUARTER, Settings
from ..stock import Stock

QUARTERS = tuple(k * np.pi / 2 for k in range(4))
HALVES = (0.0, np.pi)


@dataclass(frozen=True)
class Rules:
    """gap: least distance of two cuts, a kerf's width included; rim: least distance of a cut to
    the rim of a mat or offcut; turns: those allowed, None for any; holes: pieces may lie in the
    holes of others. Lengths mm, angles radians."""

    gap: float
    rim: float
    turns: tuple[float, ...] | None
    holes: bool

    @classmethod
    def of(cls, stock: Stock, settings: Settings) -> Rules:
        """The rules for a stock: the settings', and what they leave open as the stock says."""
        gap = stock.gap if settings.mat_gap is None else settings.mat_gap
        rim = gap / 2 if settings.mat_margin is None else settings.mat_margin
        along = stock.grain or settings.turns == GRAIN
        turns = HALVES if along else QUARTERS if settings.turns == QUARTER else None
        return cls(gap + stock.kerf, rim + stock.kerf / 2, turns, settings.holes)

    def room(self, stock: Stock) -> np.ndarray:
        """Width and height (2,) of a mat within its margin."""
        return np.array(stock.sheet) - 2 * self.rim


def longest(stock: Stock, settings: Settings) -> float:
    """Length, mm, of the longest narrow piece that lies along a side of a mat."""
    room = Rules.of(stock, settings).room(stock)
    return float(room[1] if stock.grain or settings.turns == GRAIN else room.max())
