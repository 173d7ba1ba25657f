"""What the foam says: flattened regions, what they ask, and where seams are eased."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .frozen import Frozen


@dataclass(frozen=True)
class Demand:
    """What a region asks of the foam in one state.

    u: the smallest utilisation found for a flattening of it (1 is the limit). certificate:
    what no flattening near that one goes below. bound: what none at all goes below, 0 where
    none is known.
    """

    u: float
    certificate: float = 0.0
    bound: float = 0.0


@dataclass(frozen=True, eq=False)
class Flat(Frozen):
    """A flattened region: points (n, 2); sigma (m, 2) singular values of the
    forming map flat -> layer, larger first; flipped faces have sigma[:, 1] <= 0.
    cold, heated: the least the region asks of the foam, on this or another flattening."""

    _floats = ("points", "sigma")

    points: np.ndarray
    sigma: np.ndarray
    cold: Demand
    heated: Demand


@dataclass(frozen=True)
class Ease:
    """A part of a seam whose two edges come out unlike on the flats, to be eased when glueing.

    seam: index into the cut's seams; first, last: the part, as positions on the seam's line;
    excess: length in mm by which the left edge is longer than the right one; length: of the
    part in mm, as sculpted; asked: utilisation of the heated foam by the piece beside it that
    takes more.
    """

    seam: int
    first: int
    last: int
    excess: float
    length: float
    asked: float = 0.0


@dataclass(frozen=True, eq=False)
class Verdict:
    """Can this piece be formed from its stock?

    kind: "flat", "bend", "heat" or "relief". cold and heated: utilisation (1 is the limit).
    cold_bound, heated_bound: what no flattening near the best one goes below; bound: what
    none at all does, heated. stretch: smallest and largest stretch of the flat piece;
    largest: its largest utilisation, heated, on any one triangle, and at: that sculpt face.
    radius: smallest inside radius of its bends, mm (inf when flat). worst: sculpt face that
    decided the verdict.
    """

    kind: str
    cold: float
    heated: float
    stretch: tuple[float, float]
    radius: float
    worst: int
    reason: str
    cold_bound: float = 0.0
    heated_bound: float = 0.0
    bound: float = 0.0
    largest: float = 0.0
    at: int = -1
