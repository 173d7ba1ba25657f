"""Can foam of this thickness take this shape, cold or heated, and if not, where not?

Two things are asked of every piece: how far the foam must stretch and compress
(utilisation of the stock's limits on the flattening found, 1 being the limit),
and how tightly it must bend (inside radius against the stock's smallest one).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from . import bends, mesh
from .errors import ERROR, NOTE, WARNING, Finding
from .model import Cut, Ease, Flat, Layer, Mate, Region, Verdict
from .openings import is_tube, tube_finding
from .stock import Limits, Stock

SPARED_SHARE = 0.01  # of the piece may lie beyond the limit, but no more than t x t in one place
SAME, SAME_SHARE = 0.3, 1e-3  # mm, or share of the length, by which mates may differ
EASY = 1.6  # mm: 1/16 in, the tolerance of pattern makers (common practice, no source)
SCRAP = 1.5  # utilisation up to which a piece is worth a try on scrap
LIES_FLAT = 1.0  # mm of sagitta that nobody notices on foam


def judge(region: Region, layer: Layer, flat: Flat, stock: Stock, side: str) -> Verdict:
    """The verdict on one piece.

    That it can be formed rests on its flat piece, looked at again triangle by triangle
    whatever the search said of it; that it cannot, on the best flattening found.
    """
    area = mesh.face_normals(region.vertices, region.faces)[1]
    t = stock.thickness
    # On the layer, as in the search: what decides is the utilisation that is told.
    layer_area = flat.sigma.prod(axis=1) * _area(flat.points[region.faces])

    def of_flat(limits: Limits) -> float:
        if flat.sigma.min() <= 0:
            return math.inf  # even a spared face may not turn over
        return mesh.largest_but_spots(limits.utilisation(flat.sigma), layer_area, region.faces,
                                      SPARED_SHARE * layer_area.sum(), t**2)

    per_face = stock.heated.utilisation(flat.sigma)
    radius, tightest = bends.smallest_radius(region, layer, area, stock, side)
    worst = at = int(np.argmax(per_face))
    if of_flat(stock.heated) > 1:
        kind, reason = "relief", "The foam would have to stretch or compress too far."
    elif radius < stock.heated.radius * t:
        kind, worst = "relief", tightest
        reason = "The foam would have to bend more tightly than it can."
    elif of_flat(stock.cold) > 1:
        kind, reason = "heat", "It stretches or compresses more than cold foam takes."
    elif radius < stock.cold.radius * t:
        kind, reason, worst = "heat", "It bends more tightly than cold foam takes.", tightest
    elif _sagitta(region, layer) < LIES_FLAT:
        kind, reason = "flat", "It is flat."
    else:
        kind, reason = "bend", "It bends to shape cold."
    stretch = float(flat.sigma[:, 1].min()), float(flat.sigma[:, 0].max())
    return Verdict(
        kind, flat.cold.u, flat.heated.u, stretch, radius, int(region.source_face[worst]), reason,
        flat.cold.certificate, flat.heated.certificate, flat.heated.bound,
        float(per_face[at]), int(region.source_face[at]))


def findings(region: Region, verdict: Verdict, code: str, stock: Stock) -> list[Finding]:
    """What the verdict and the shape of one piece give the maker to think about."""
    found = []
    if verdict.heated > 2 and is_tube(region):
        found.append(tube_finding(region, code))
    elif verdict.kind == "relief":
        smallest = stock.heated.radius * stock.thickness
        scrap = 1 < verdict.heated <= SCRAP and verdict.radius >= smallest
        found.append(Finding(
            "try-on-scrap" if scrap else "needs-relief", WARNING if scrap else ERROR,
            f"{verdict.reason} {_measure(verdict, stock)}",
            "Form a piece of scrap over this place first, or mark a seam or dart into it."
            if scrap else
            "Mark a seam or a dart into this place, or choose a thinner or softer stock.",
            faces=[verdict.worst], piece=code))
    elif verdict.kind == "heat":
        found.append(Finding(
            "needs-heat", NOTE, f"{verdict.reason} {_measure(verdict, stock)}",
            "Form it with the heat gun before glueing.", faces=[verdict.worst], piece=code))
    return found


def easing(eased: Sequence[Ease], cut: Cut, codes: Sequence[str]) -> list[Finding]:
    """Of every two pieces, by how much their edges differ on the flats and where.

    Nothing is told of pieces that no heat can form: their flats are not to be cut.
    """
    beside: dict[tuple[int, int], list[Ease]] = {}
    for ease in eased:
        if ease.asked <= SCRAP:
            left, right = (region for region, _ in cut.seams[ease.seam].sides)
            beside.setdefault((min(left, right), max(left, right)), []).append(ease)
    found = []
    for (first, second), parts in beside.items():
        worst = max(parts, key=lambda e: abs(e.excess))
        total = sum(abs(e.excess) for e in parts)
        left, right = (codes[region] for region, _ in cut.seams[worst.seam].sides)
        longer, shorter = (left, right) if worst.excess > 0 else (right, left)
        lines = [cut.seams[e.seam].vertices[e.first : e.last + 1] for e in parts]
        edges, where = f"The edges of {codes[first]} and {codes[second]}", (
            f", where {longer} is longer than {shorter}")
        if first == second:
            edges, where = f"The two edges of a dart or seam within {longer}", ""
        found.append(Finding(
            "ease-seam", WARNING,
            f"{edges} cannot both keep the seam's length: {total:.1f} mm must be eased along it, "
            f"at most {abs(worst.excess):.1f} mm on {worst.length:.0f} mm{where}.",
            "Glue from notch to notch and spread the difference evenly, or mark a dart in the "
            "more curved piece.",
            edges=np.concatenate([np.stack([v[:-1], v[1:]], axis=1) for v in lines]),
            piece=longer))
    return found


def unlike(mates: Sequence[Mate], eased: Sequence[Ease], cut: Cut) -> list[Finding]:
    """Mates whose drawn edges differ although nothing had to be eased: lines through few
    points are drawn a little longer on the side where they curve."""
    told = {ease.seam for ease in eased}
    found = []
    for index, mate in enumerate(mates):
        (left, _), (right, _) = mate.edges
        if index in told or mate.gap <= max(SAME, SAME_SHARE * mate.lengths.min()):
            continue
        line = cut.seams[index].vertices
        found.append(Finding(
            "ease-seam", NOTE if mate.gap <= EASY else WARNING,
            f"The edges of {left} and {right} differ by {mate.gap:.1f} mm on "
            f"{mate.lengths.mean():.0f} mm.",
            "Glue from notch to notch and spread the difference evenly; more vertices along "
            "the seam make it smaller.",
            edges=np.stack([line[:-1], line[1:]], axis=1), piece=left))
    return found


def _measure(verdict: Verdict, stock: Stock) -> str:
    """The figures behind a verdict, of the reason that decided it."""
    t = stock.thickness
    if not math.isfinite(verdict.heated):
        return "No flat shape was found for it that does not turn over."
    if verdict.heated <= 1 and (verdict.kind == "relief" or verdict.cold <= 1):
        return (f"Its tightest bend has an inside radius of {verdict.radius:.0f} mm; "
                f"{stock.name} is taken to stand {stock.cold.radius * t:.0f} mm cold and "
                f"{stock.heated.radius * t:.0f} mm heated.")
    text = (f"It takes {verdict.cold:.2f} times what {stock.name} is taken to stand cold and "
            f"{verdict.heated:.2f} times what it stands heated.")
    if verdict.heated <= 1:
        return text
    if verdict.bound > 1:
        return f"{text} However it is laid flat, it takes at least {verdict.bound:.2f} heated."
    if verdict.heated_bound > 1:
        return (f"{text} Laid flat in any way near the best one found, it takes at least "
                f"{verdict.heated_bound:.2f} heated.")
    return text


def _area(corner: np.ndarray) -> np.ndarray:
    """Area (m,) of triangles (m, 3, 2) in the plane: half of u x v of two sides."""
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    return np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2


def _sagitta(region: Region, layer: Layer) -> float:
    """Rise of the most curved place over the width of the piece, mm: w^2 / 8 R, the sagitta of
    a shallow arc."""
    width = np.linalg.norm(np.ptp(region.vertices, axis=0))
    return float(np.quantile(np.abs(layer.curvature), 0.99) * width**2 / 8)
