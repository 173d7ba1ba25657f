"""What came of putting the suit together again from its flat pieces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True, eq=False)
class RebuiltPiece(Frozen):
    """One piece beside the sculpt: moved (n, 3), from each vertex of the piece to where it came
    out, mm; rms (by area) and most: of their lengths."""

    _floats = ("moved",)

    code: str
    moved: np.ndarray
    rms: float
    most: float


@dataclass(frozen=True)
class RebuiltMate:
    """One seam: length mismatch of its two edges as formed, mm; fold: largest error of the angle
    between its faces, radians, signed, beside what was sculpted."""

    code: str
    mismatch: float
    fold: float


@dataclass(frozen=True)
class RebuiltTrench:
    """One trench: piece, its number among the piece's trenches, and how far its line came out
    from where it was sculpted, mm, at most."""

    piece: str
    number: int
    offset: float


@dataclass(frozen=True, eq=False)
class Rebuilt:
    """A suit put together again. rms and most over all pieces, mm; open_parts: codes of the
    pieces of each part that has an open rim, which tapes hold in shape; unformed: rms and most
    where no part is stretched as the strain map says, empty where that was not asked."""

    pieces: tuple[RebuiltPiece, ...]
    mates: tuple[RebuiltMate, ...]
    trenches: tuple[RebuiltTrench, ...]
    rms: float
    most: float
    open_parts: tuple[tuple[str, ...], ...] = ()
    unformed: tuple[float, float] | tuple[()] = ()
