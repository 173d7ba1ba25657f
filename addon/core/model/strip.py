"""Strips of foam along an edge or a line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..stock import Stock
from .frozen import Frozen
from .piece import Piece

RIM, FACE = LIES = ("rim", "face")
MITRE, BUTTED = CORNERS = ("mitre", "butt")


@dataclass(frozen=True, eq=False)
class StripLine(Frozen):
    """What the maker asks for: a strip of a width along a line of points (k, 3) mm on the surface.

    lies: against the edge of the foam along a RIM, or on its FACE; corners: met by a MITRE or
    BUTTED. closed: the last point is joined to the first. stock: None for the object's own.
    mirrored: also on the other side of the wearer. object: index into the sculpt's objects, -1 for
    the one it lies on.
    """

    _floats = ("points",)

    points: np.ndarray
    width: float
    name: str = ""
    lies: str = RIM
    corners: str = MITRE
    closed: bool = False
    stock: Stock | None = None
    mirrored: bool = False
    object: int = 0


@dataclass(frozen=True, eq=False)
class StripWay(Frozen):
    """Where a strip runs on the sculpt: points (k, 3), the last one the first again where it is
    closed, and out (k, 3): unit vectors the way it stands off what it lies on. object: index."""

    _floats = ("points", "out")

    line: StripLine
    points: np.ndarray
    out: np.ndarray
    object: int


@dataclass(frozen=True)
class StripEnd:
    """The cut at an end: bevel, angle from square through the thickness, the outer face longer
    where positive; skew: angle from square across the width, the left side longer where
    positive, seen from outside along the strip."""

    bevel: float = 0.0
    skew: float = 0.0


@dataclass(frozen=True, eq=False)
class Strip(Frozen):
    """One length of strip between two corners, or a part of it that fits a mat.

    piece: what is cut; its copies count all that are alike. on: names of the lines and numbers of
    the runs it is for, such as "Hem 2". edge: length of the line it covers; length: the same on
    the strip's own layer that keeps its length; mm.
    """

    piece: Piece
    on: tuple[str, ...]
    edge: float
    length: float
    width: float
    ends: tuple[StripEnd, StripEnd]
