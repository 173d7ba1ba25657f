"""Along which parts of an edge one bevel holds, and how it is written."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..core.mesh import arc_length
from ..core.model import BACK, FRONT, PieceEdge
from ..core.units import format_angle

STEP = np.radians(3.0)  # a bevel that changes by more than this is noted afresh
LEAST = np.radians(3.0)  # anything flatter is cut square, as the build plan has it
SHORTEST = 15.0  # mm of edge that can carry a note of its own
_SAMPLE = 1.0  # mm between the places at which the bevel is looked at


@dataclass(frozen=True)
class Stretch:
    """A part of an edge under one note: start and end in mm along the edge's cut line; low and
    high: the bevel's smallest and largest angle there, radians, front larger positive."""

    start: float
    end: float
    low: float
    high: float

    @property
    def square(self) -> bool:
        return self.high - self.low <= STEP + 1e-9 and abs(self.low + self.high) / 2 < LEAST

    @property
    def larger(self) -> str:
        """The face that stays larger, "" where the edge is square."""
        if self.square:
            return ""
        return FRONT if self.low + self.high > 0 else BACK

    @property
    def note(self) -> str:
        """Angle from square and which face is larger, such as "45° F>B"; "" where square."""
        if self.square:
            return ""
        return f"{angle_range((self.low, self.high))} {'F>B' if self.larger == FRONT else 'B>F'}"


def angle_range(angles: np.ndarray) -> str:
    """Degrees without sign: "60°", or "40–60°" where they vary by more than STEP."""
    size = np.abs(np.asarray(angles, dtype=float))
    low, high = float(size.min()), float(size.max())
    if high < LEAST:
        return ""
    if high - low <= STEP:
        return format_angle((low + high) / 2)
    return f"{format_angle(low).rstrip('°')}–{format_angle(high)}"


def bevel_stretches(edge: PieceEdge) -> list[Stretch]:
    """The parts of an edge, in order and without gaps, in each of which the bevel is one note.

    As few as can be so that within each the bevel changes by no more than STEP. Parts too short
    to carry a note join the neighbour that is nearer in angle; their note then names a range.
    """
    bevel = np.zeros_like(edge.bevel) if edge.lap else edge.bevel
    return list(_stretches(edge.cut.tobytes(), bevel.tobytes()))


@lru_cache(maxsize=2048)
def _stretches(cut: bytes, bevel: bytes) -> tuple[Stretch, ...]:
    """Of an edge by its arrays: every sheet and the legend ask again."""
    known = arc_length(np.frombuffer(cut).reshape(-1, 2))
    count = int(np.ceil(known[-1] / _SAMPLE)) + 1
    arc = np.union1d(known, np.linspace(0.0, known[-1], count))
    angle = np.interp(arc, known, np.frombuffer(bevel))
    ends = _runs(angle, STEP)
    # The same number of parts with as little change in each as will do leaves no stump.
    tight, loose = 0.0, STEP
    for _ in range(6):
        middle = (tight + loose) / 2
        found = _runs(angle, middle)
        if len(found) <= len(ends):
            ends, loose = found, middle
        else:
            tight = middle
    bounds = _merged([0, *ends], arc, angle)
    return tuple(Stretch(float(arc[a]), float(arc[b]), float(angle[a:b + 1].min()),
                         float(angle[a:b + 1].max()))
                 for a, b in zip(bounds[:-1], bounds[1:], strict=True))


def _runs(bevel: np.ndarray, step: float) -> list[int]:
    """The last index of each run, each as long as it can be: runs share their ends."""
    ends: list[int] = []
    low = high = float(bevel[0])
    for i, value in enumerate(bevel.tolist()):
        lower, higher = min(low, value), max(high, value)
        if higher - lower > step + 1e-9:
            if i - 1 > (ends[-1] if ends else 0):
                ends.append(i - 1)
                lower, higher = sorted((float(bevel[i - 1]), value))
        low, high = lower, higher
    return [*ends, len(bevel) - 1]


def _merged(bounds: list[int], arc: np.ndarray, bevel: np.ndarray) -> list[int]:
    """Bounds without those of parts shorter than SHORTEST."""
    bounds = list(bounds)
    while len(bounds) > 2:
        length = np.diff(arc[bounds])
        k = int(np.argmin(length))
        if length[k] >= SHORTEST:
            break
        mean = [bevel[a:b + 1].mean() for a, b in zip(bounds[:-1], bounds[1:], strict=True)]
        apart = [np.inf if not 0 <= j < len(mean) else abs(mean[k] - mean[j])
                 for j in (k - 1, k + 1)]
        del bounds[k if apart[0] <= apart[1] else k + 1]
    return bounds
