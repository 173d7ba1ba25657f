"""One region on its way to a flat piece: what was searched, and what was found so far."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .. import mesh
from ..errors import ERROR, Finding, FoamError
from ..model import Demand, Flat, Layer, Region
from ..openings import handle_finding, tube_finding
from ..stock import Stock
from .band import CLOSE, MOST_PRESSED, Solution, edges_of, least_utilisation
from .bounds import ratio_bound, ratio_of, utilisation_of_ratio
from .coarse import Coarse
from .ease import least_easing
from .start import start_of
from .system import System, no_seams, seams_of


@dataclass(frozen=True, eq=False)
class Draft:
    """A region with its linear system and the best maps found, cold and heated.

    wanted: length of each seam interval in units of its rest length. loose: the best map
    for the heated foam whose seams keep no length, searched only where the seams' lengths
    may be what asks too much. eased: the map to cut where the seams cannot have the lengths of
    their mates and must be eased to them.
    """

    region: Region
    layer: Layer
    stock: Stock
    system: System
    wanted: np.ndarray
    cold: Solution
    heated: Solution
    loose: Solution | None = None
    eased: Solution | None = None

    @classmethod
    def of(cls, region: Region, layer: Layer, stock: Stock) -> Draft:
        """Search a region by itself, its seams keeping their rest length.

        Raises FoamError `tighter-than-thickness`, `tube` or `cannot-flatten`.
        """
        _refuse(region, layer)
        system = System(region.faces, layer.lengths, len(region.vertices),
                        seams_of(region, layer), stock.thickness**2)
        start = start_of(system, region)
        if start is None and len(region.loops) > 1:
            raise FoamError(tube_finding(region))
        if start is None:
            raise FoamError(Finding(
                "cannot-flatten", ERROR,
                "This piece curves too strongly to be laid flat in one piece.",
                "Mark a seam or a dart into its most curved place.", faces=region.source_face))
        return cls._searched(region, layer, stock, system, start, np.ones(system.seams.count),
                             Coarse.of(system, start, region))

    @classmethod
    def _searched(cls, region, layer, stock, system, start, wanted, coarse=None) -> Draft:
        def least(limits, points, first=None, **options):
            found = coarse and coarse.least(limits, wanted, first, **options)
            return found or (least_utilisation(system, points, limits, wanted, **options), None)

        if system.seams.count:
            cold, rough = least(stock.cold, start)
            # What bends cold is not heated: there the second figure only tells the maker more.
            heated, _ = least(stock.heated, cold.points, rough,
                              close=CLOSE if cold.u > 1 else 3 * CLOSE)
        else:
            calls = 1.0, utilisation_of_ratio(ratio_of(1.0, stock.cold), stock.heated)
            heated, _ = least(stock.heated, start, prove=True, calls=calls)
            cold = _other_foam(system, heated, stock)
        return cls(region, layer, stock, system, wanted, cold, heated)

    def with_lengths(self, wanted: np.ndarray) -> Draft:
        """The same region searched again with other lengths of its seam intervals."""
        found = self._searched(self.region, self.layer, self.stock, self.system,
                               self.heated.points, wanted)
        return replace(found, loose=self.loose)

    def loosened(self) -> Draft:
        """With the best map whose seams keep no length, if the foam is asked too much cold."""
        if self.cold.u <= 1:
            return self
        if not self.system.seams.count:
            return replace(self, loose=self.heated)
        system = System(self.region.faces, self.layer.lengths, len(self.region.vertices),
                        no_seams(len(self.region.vertices)), self.system.spot)
        loose = least_utilisation(system, self.heated.points, self.stock.heated, prove=True)
        return replace(self, loose=loose)

    def with_easing(self) -> Draft:
        """The same region, its seams as near to the lengths of their mates as the heated foam
        allows."""
        return replace(self, eased=least_easing(
            self.system, self.loose.points, self.stock.heated, self.wanted))

    def loose_cold(self) -> float:
        """Utilisation of the cold foam by the loose map: a map without seams may be scaled,
        so the one best for the heated foam is best for the cold foam too."""
        return _cold(self.loose.u, self.stock)

    def chosen(self) -> Solution:
        """The map to cut: shaped cold where the foam takes that, else heated."""
        return self.eased or (self.cold if self.cold.u <= 1 else self.heated)

    def asked(self) -> Solution:
        """The map that asks least of the heated foam, by which the piece is judged."""
        heated = self.eased or self.heated
        if self.loose is not None and self.loose.u < heated.u and heated.u > 1:
            return self.loose
        return heated

    def flat(self) -> Flat:
        """The flat piece to cut, and what it asks."""
        heated, points = self.asked(), self.chosen().points
        cold = min(self.cold.u, self.system.utilisation(points, self.stock.cold))
        sure = self._certified(self.cold)
        if self.loose is not None and 1 < self.loose_cold() < cold:
            cold, sure = self.loose_cold(), 0.0  # the certificate was of kept seam lengths
        bound = 0.0
        if heated.u > 1:
            bound = utilisation_of_ratio(self._ratio_bound(heated.points), self.stock.heated)
            if bound > heated.u:  # it speaks for all faces, also those that were spared
                bound = 0.0
        return Flat(np.stack([points.real, points.imag], axis=1), self.system.stretch(points),
                    Demand(cold, sure),
                    Demand(heated.u, self._certified(heated), bound))

    def _certified(self, solution: Solution) -> float:
        return solution.certificate if np.isfinite(solution.u) else 0.0

    def _ratio_bound(self, points: np.ndarray) -> float:
        rim = np.unique(np.concatenate([b.vertices for b in self.region.borders]))
        return ratio_bound(self.system, points, rim)


def _cold(u: float, stock: Stock) -> float:
    """Utilisation of the cold foam by a map that asks u of the heated foam, scaled to suit."""
    if not np.isfinite(u):
        return u
    return utilisation_of_ratio(ratio_of(u, stock.heated), stock.cold)


def _other_foam(system: System, heated: Solution, stock: Stock) -> Solution:
    """The map best for the heated foam, so scaled that it is best for the cold foam: without
    seams only the ratio of the largest to the smallest stretch counts."""
    if heated.u >= MOST_PRESSED / stock.heated.compress:  # no scale brings it near any band
        return Solution(heated.points, system.utilisation(heated.points, stock.cold), 0.0)
    u = _cold(heated.u, stock)
    points = heated.points * (edges_of(stock.cold, u)[1] / edges_of(stock.heated, heated.u)[1])
    return Solution(points, system.utilisation(points, stock.cold),
                    _cold(heated.certificate, stock))


def _refuse(region: Region, layer: Layer) -> None:
    """Raise for a region that no search can lay flat."""
    tight = (layer.lengths <= 0).any(axis=1)
    if tight.any():
        raise FoamError(Finding(
            "tighter-than-thickness", ERROR,
            "The surface bends more tightly here than the foam is thick.",
            "Choose a thinner stock, smooth this place, or mark a trench or a seam along the bend.",
            faces=region.source_face[tight]))
    edges = len(np.unique(mesh.half_edges(region.faces)[2]))
    euler = len(region.vertices) - edges + len(region.faces)
    if euler + len(region.loops) != 2:
        raise FoamError(handle_finding(region))
