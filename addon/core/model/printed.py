"""What was printed before: the templates that may lie on the bench already."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .finish import EdgeFinish
from .frozen import Frozen
from .kinds import PLANNED
from .marking import PointMark
from .piece import Bend, Fold, Gauge, Notch


@dataclass(frozen=True, eq=False)
class Drawn(Frozen):
    """What a printed template shows, on the flat of its piece: outlines and marks as in Piece,
    the words of its label, and the gauges printed with it."""

    _floats = ("up",)

    cut: tuple[np.ndarray, ...]
    front: tuple[np.ndarray, ...]
    back: tuple[np.ndarray, ...]
    folds: tuple[Fold, ...] = ()
    bends: tuple[Bend, ...] = ()
    notches: tuple[Notch, ...] = ()
    up: np.ndarray = (0.0, 1.0)
    words: tuple[str, ...] = ()
    gauges: tuple[Gauge, ...] = ()
    point_marks: tuple[PointMark, ...] = ()
    finishes: tuple[EdgeFinish, ...] = ()


@dataclass(frozen=True, eq=False)
class PrintedPiece(Frozen):
    """A piece of an earlier pattern.

    places (k, 3): points on the sculpt, each for an equal part of the piece; middle (3,): its
    centre of area; both in mm and area in mm², before the sculpt was scaled. template: code of
    the piece whose template it was cut from. drawn: that template, where it is its own.
    state: how far it is made, of STATES; made: the template that it was cut from, once it is.
    """

    _floats = ("places", "middle")

    code: str
    object: str
    template: str
    area: float
    places: np.ndarray
    middle: np.ndarray
    drawn: Drawn | None = None
    state: str = PLANNED
    made: Drawn | None = None


@dataclass(frozen=True, eq=False)
class PrintedMate(Frozen):
    """A mate of an earlier pattern: its printed letter, the codes of its two pieces, and its
    curve (k, 3) on the sculpt at equal steps, before that was scaled, in the direction in which
    notches are counted, the first point again where it is closed. length: of the flat edges;
    notches (n,): fractions of it at which they stand."""

    _floats = ("curve", "notches")

    letter: str
    pieces: tuple[str, str]
    curve: np.ndarray
    closed: bool
    length: float
    notches: np.ndarray


@dataclass(frozen=True, eq=False)
class Printed:
    """An earlier pattern, in its order.

    codes and letters: all that were ever used for this suit, so that none comes to stand for
    something else. notch_spacing: as it was asked for. digest: tells two of these apart.
    """

    pieces: tuple[PrintedPiece, ...]
    mates: tuple[PrintedMate, ...]
    codes: frozenset[str]
    letters: frozenset[str]
    notch_spacing: float
    digest: str

    def __repr__(self) -> str:
        return f"Printed({self.digest})"
