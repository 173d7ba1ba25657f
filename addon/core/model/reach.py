"""How far a wearer can move before plates meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class Meeting(Frozen):
    """Where two pieces first meet: pieces and parts, the one that moves first; point (3,) mm on
    the one that stands; depth by which they are in one another there, mm, coarsely."""

    _floats = ("point",)

    pieces: tuple[str, str]
    parts: tuple[str, str]
    point: np.ndarray
    depth: float


@dataclass(frozen=True, eq=False)
class Movement(Frozen):
    """One movement of one joint, out of the sculpt's stance. Angles are radians, as a goniometer
    tells them: 0 is an upright trunk, hanging arms, straight limbs.

    name: such as "arm forward"; side: "left", "right" or ""; words: what moves and how, such as
    "the left arm lifts forward". start: the angle in the stance; most: up to which it was turned;
    reached: to which it gets freely; needed: to which it should get, None where nothing asks for
    it; why: what for. accuracy: of reached. short: how far, mm, the place where plates meet would
    still have to travel to what was wanted. pieces: codes of what moves; joint (3,), axis (3,):
    it turns about that, counter-clockwise, after `lead` (3, 3) has brought it from the stance to
    where the movement starts.
    """

    _floats = ("joint", "axis", "lead")

    name: str
    side: str
    words: str
    start: float
    most: float
    reached: float
    needed: float | None
    why: str
    accuracy: float
    short: float
    meeting: Meeting | None
    pieces: tuple[str, ...]
    joint: np.ndarray
    axis: np.ndarray
    lead: np.ndarray

    @property
    def enough(self) -> bool:
        """Whether it gets as far as it should, as nearly as that can be told."""
        return self.needed is None or self.reached + self.accuracy >= min(self.needed, self.most)


@dataclass(frozen=True)
class Worn:
    """A part and the segment of the body it moves with. asked: whether the maker or the object's
    name says so, not nearness. away: mm from the segment's skin, about."""

    part: str
    pieces: tuple[str, ...]
    segment: str
    asked: bool
    away: float


@dataclass(frozen=True)
class Reach:
    """body: whose joints were used, "" where a figure of ours stands in; worn: each part; crossing:
    pairs of parts that are in one another in the stance already, and were not asked."""

    body: str
    worn: tuple[Worn, ...]
    movements: tuple[Movement, ...]
    crossing: tuple[tuple[str, str], ...] = ()
