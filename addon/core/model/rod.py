"""Rods and tubes of round foam, which follow a curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stock import Stock
from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class RodLine(Frozen):
    """The axis of a rod as the maker drew it: points (k, 3) mm in order, its diameter in mm.
    closed: the last point is joined to the first. name: what the maker calls it."""

    _floats = ("points",)

    points: np.ndarray
    diameter: float
    closed: bool = False
    name: str = ""


@dataclass(frozen=True)
class RodEnd:
    """The cut at an end: angle from square, and where round the rod its long side lies, as an
    angle from the outside of the rod's bend to the right, seen from that end. on: the object it
    lies against, "" where it is free."""

    angle: float = 0.0
    turn: float = 0.0
    on: str = ""


@dataclass(frozen=True, eq=False)
class Rod(Frozen):
    """A rod to be cut and bent.

    points (k, 3): its axis between the cuts; length of it, and longest: the length to cut off,
    up to the long sides of both ends, mm. diameter: as sculpted; stock: what it is cut from, its
    thickness the diameter. radius: of the tightest bend, on its inside, at the axis point tightest
    (3,). forming: "straight", "bend", "heat" or "tight". ends: none of a ring.
    rise: how far the axis leaves the plane of the first of its gauges; profiles: the axis (k, 2)
    in that plane, and seen from the side where it leaves it.
    """

    _floats = ("points", "tightest")

    code: str
    name: str
    stock: Stock
    diameter: float
    points: np.ndarray
    length: float
    longest: float
    radius: float
    tightest: np.ndarray
    forming: str
    ends: tuple[RodEnd, ...]
    rise: float
    profiles: tuple[np.ndarray, ...]
