"""The flattening of least utilisation, by alternating projections on the foam's band.

Wanted: the smallest u with a map of the layer to the plane whose Jacobians J have all
singular values in [1 / (1 + stretch u), 1 / (1 - compress u)], seams keeping their
length. The alternating direction method of multipliers (Boyd et al. 2011) is run on
the epigraph form: u is an unknown beside the map, and every step

  clips the singular values of J + dual to the band, choosing u so that the clipped
  excess has the price asked for (the optimality condition of u),
  gives every seam interval its length,
  solves one linear system with a factor made once.

The multiplier of a face is capped, so that faces worth less than a share `spared` of
the area may leave the band: a few bad triangles decide nothing. In long searches those
that are spared are let go, lest one that is far out pulls its neighbours with it. What the
multipliers push against each other is a certificate: see `bounds`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..stock import Limits
from ..stopping import ask
from .bounds import certificate
from .system import SHARE, System, unit

RELAX = 1.7  # over-relaxation of the alternating steps
PRICE = 0.25  # of the start's strain: larger fails to converge, smaller is slow at first
CHEAPER = {60: 0.4, 120: 0.4, 180: 0.4}  # the price is cut at these steps: closer, but slower
CHECK = 10  # steps between looks at the result
CLOSE, CLOSE_CALL = 0.01, 0.003  # relative error at which to stop; the same near u = 1
PROVEN = 0.98  # share of a utilisation above 1 that its certificate should reach
MOST_PRESSED = 0.95  # compression up to which a band is looked for: 1 would press foam to nothing
FINE = 1e-3  # utilisation nobody can measure
LET_GO = (90, 150, 210)  # steps at which the faces that are spared are let go
LOOSE = 0.05  # of the cap on their multipliers stays, lest they turn over
MET = 5e-4  # relative error of a seam interval that counts as met


@dataclass(frozen=True, eq=False)
class Solution:
    """A flattening: points (n,) complex, its utilisation, and the certificate: the least
    utilisation of any flattening near it."""

    points: np.ndarray
    u: float
    certificate: float


class Band:
    """The running state of one region's search.

    A step is reach(), a choice of u and of the seams' lengths, then advance(): regions that
    are searched together choose together.
    """

    def __init__(self, system: System, points: np.ndarray, limits: Limits):
        self.system, self.limits, self.points = system, limits, points
        self.jacobian = system.gradient @ points
        upper, lower = system.singular(self.jacobian)
        excess = (upper - 1) ** 2 + (lower - 1) ** 2
        self.strain = float(np.sqrt((system.weight * excess).sum() / 2))
        self.price = PRICE * max(1.5 * self.strain, 1e-4)
        self.u = 1.5 * self.strain / limits.compress
        self.dual = np.zeros_like(self.jacobian)
        self.clipped = self.jacobian.copy()
        self.kept = system.along @ points
        self.seam_dual = np.zeros_like(self.kept)

    def reach(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Singular values (m,), larger and smaller, and seam edges (k,) in units of their rest
        length, of what is to be brought into the band next. Where the maker stops the search, this
        raises Cancelled."""
        ask()
        self.moved = RELAX * self.jacobian + (1 - RELAX) * self.clipped + self.dual
        along = self.system.along @ self.points
        self.drawn = RELAX * along + (1 - RELAX) * self.kept + self.seam_dual
        return *self.system.singular(self.moved), self.drawn

    def advance(self, u: float, kept: np.ndarray, spare: float | np.ndarray) -> None:
        """One step with band u and seam edges kept (k,). spare: how far a face may stay out,
        a number or (m,)."""
        upper, lower = self.system.singular(self.moved)
        low, high = edges_of(self.limits, u)
        s1 = np.maximum(np.clip(upper, low, high), upper - spare)
        s2 = np.minimum(np.minimum(np.clip(lower, low, high), lower + spare), s1)
        size = np.maximum(np.abs(self.moved), 1e-300)
        self.clipped = self.moved * (np.concatenate([(s1 + s2) / 2, (s1 - s2) / 2]) / size)
        self.dual = self.moved - self.clipped
        self.kept, self.seam_dual, self.u = kept, self.drawn - kept, u
        self.points = self.system.solve(self.clipped - self.dual, kept - self.seam_dual)
        self.jacobian = self.system.gradient @ self.points

    def cheapen(self, factor: float) -> None:
        """Cut the price of u; the multipliers are kept in its units."""
        self.price *= factor
        self.dual *= factor
        self.seam_dual *= factor

    def certificate(self) -> float:
        along = self.system.along @ self.points
        return certificate(self.system, self.limits, self.jacobian,
                           self.dual + self.jacobian - self.clipped,
                           along, self.seam_dual + along - self.kept)


def least_utilisation(system: System, points: np.ndarray, limits: Limits,
                      wanted: np.ndarray | None = None, prove: bool = False,
                      close: float = CLOSE, steps: int = 360,
                      calls: Sequence[float] = (1.0,)) -> Solution:
    """Search from `points` (n,) for the flattening of least utilisation.

    wanted: length of each seam interval in units of its rest length (all 1 when None).
    prove: where it exceeds 1, search on until the certificate comes near. close: relative
    error of the utilisation at which to stop; finer where it is a close call, near one of
    `calls`.
    """
    wanted = np.ones(system.seams.count) if wanted is None else wanted
    band = Band(system, points, limits)
    best = Solution(points, system.utilisation(points, limits), 0.0)
    best_worth = best.u + 10 * max(unmet(system, points, wanted) - MET, 0.0) / limits.stretch
    last = np.inf
    held, worth_held = np.ones(len(system.faces)), np.inf
    if best.u < FINE and unmet(system, points, wanted) < MET / 10:
        return best
    spared = spared_share(system)
    certified = 0.0
    for step in range(1, steps + 1):
        band.cheapen(CHEAPER.get(step - 1, 1.0))  # not before the certificate is read
        upper, lower, seams = band.reach()
        spare = band.price / spared * held
        push = band.price * (limits.compress + limits.stretch) / 2
        u = choose_band(upper, lower, system.weight, band.u, limits.compress, limits.stretch,
                        push, spare)
        band.advance(u, with_lengths(system, seams, wanted), spare)
        if step in LET_GO:
            held[:] = 1.0
            if best_worth < worth_held:  # else letting go has not helped
                held[system.spots(band.points, limits)] = LOOSE
                worth_held = best_worth
        if step % CHECK and step != steps:
            continue
        found, certified = system.utilisation(band.points, limits), band.certificate()
        apart = unmet(system, band.points, wanted)
        worth = found + 10 * max(apart - MET, 0.0) / limits.stretch
        if worth < best_worth:
            best, best_worth = Solution(band.points, found, certified), worth
        # u is optimal for the multipliers, found for the map: both come to the same end.
        error = CLOSE_CALL if any(abs(u / x - 1) < 0.05 for x in calls) else close
        settled = abs(u - last) < error * u / 2 + FINE and apart < MET
        proven = not prove or best.u <= 1 or certified > PROVEN * best.u
        if step >= 3 * CHECK and settled and proven and best.u - u < error * u + FINE:
            break
        last = u
    return Solution(best.points, best.u, credible(certified, best.u))


def within(system: System, points: np.ndarray, limits: Limits, u: float, wanted: np.ndarray,
           enough: float, steps: int) -> Solution:
    """The best map met on the way from `points` (n,) into the band of utilisation u.

    Ends once the utilisation is at most `enough`. A band that can be reached is reached in
    far fewer steps than the narrowest one is found; for one that cannot, the multipliers
    grow to the proof of that: the certificate.
    """
    band = Band(system, points, limits)
    spare = band.price / spared_share(system)
    best, best_worth = Solution(points, np.inf, 0.0), np.inf
    for step in range(1, steps + 1):
        *_, seams = band.reach()
        band.advance(u, with_lengths(system, seams, wanted), spare)
        if step % (CHECK // 2) and step != steps:
            continue
        found, apart = system.utilisation(band.points, limits), unmet(system, band.points, wanted)
        worth = found + 10 * max(apart - MET, 0.0) / limits.stretch
        if worth < best_worth:
            best, best_worth = Solution(band.points, found, 0.0), worth
        if worth <= enough:
            break
    return Solution(best.points, best.u, credible(band.certificate(), best.u))


def credible(certified: float, found: float) -> float:
    """The certificate, or 0 where a map has been found that goes below it: it speaks for all
    faces, also those that were spared, and only of maps near its own."""
    return min(certified, found) if certified <= (1 + CLOSE / 2) * found else 0.0


def edges_of(limits: Limits, u: float) -> tuple[float, float]:
    """The smallest and largest singular value of a map layer -> flat at utilisation u."""
    return 1 / (1 + limits.stretch * u), 1 / (1 - limits.compress * u)


def spared_share(system: System) -> float:
    """Share of the area that the multipliers let out of the band."""
    return min(max(system.spot / system.area.sum(), SHARE / 10), SHARE)


def choose_band(upper: np.ndarray, lower: np.ndarray, w: np.ndarray, u: float,
                c: float | np.ndarray, s: float | np.ndarray, push: float,
                spare: float | np.ndarray) -> float:
    """The utilisation at which the faces' excess over the band just costs `push` (Newton).

    upper, lower, w (m,); c, s: limits of compression and stretch, and spare: numbers or (m,).
    """
    most = MOST_PRESSED / np.max(c)
    # Not the @ of arrays: its own threads quarrel with those that search other regions.
    total = lambda values: float(np.einsum("i,i", w, values))  # noqa: E731
    for _ in range(12):
        u = min(max(u, 0.0), most)
        low, high = 1 / (1 + s * u), 1 / (1 - c * u)
        over, under = upper - high, low - lower
        grow, fall = c * high**2, s * low**2
        excess = total(grow * np.clip(over, 0, spare)) + total(fall * np.clip(under, 0, spare))
        slope = (total(grow**2 * ((over > 0) & (over < spare)))
                 + total(fall**2 * ((under > 0) & (under < spare))))
        if slope <= 0:
            # Nothing lies outside: tighten the band to just inside the worst face.
            needed = max(np.max((1 - 1 / np.maximum(upper, 1.0)) / c),
                         np.max((1 / np.clip(lower, 1e-6, 1.0) - 1) / s))
            if not 0 < needed < u:
                return u
            u = 0.99 * needed
            continue
        change = (excess - push) / slope
        u += change
        if abs(change) < 1e-6 * max(u, 1e-6):
            break
    return float(min(max(u, 0.0), most))


def with_lengths(system: System, edges: np.ndarray, wanted: np.ndarray, most: float = np.inf
                 ) -> np.ndarray:
    """Nearest edge vectors (k,), in units of their rest length, whose intervals have the
    wanted lengths (in units of theirs), or come nearer to them by `most`."""
    if not len(edges):
        return edges
    short = np.clip(wanted - system.interval_lengths(edges), -most, most)
    return unit(edges) * np.maximum(np.abs(edges) + short[system.seams.interval], 0.05)


def unmet(system: System, points: np.ndarray, wanted: np.ndarray) -> float:
    """Largest error of a seam interval's length, as a share of it."""
    return float(np.abs(system.interval_lengths(system.along @ points) - wanted).max(initial=0.0))
