"""Can foam of this thickness take this shape, cold or heated, and if not, where not?

Two things are asked of every piece: how far the foam must stretch and compress
(utilisation of the stock's limits on the flattening found, 1 being the limit),
and how tightly it must bend (inside radius against the stock's smallest one).
"""

from __future__ import annotations

import math

import numpy as np

from . import bends, mesh
from .errors import ERROR, NOTE, WARNING, Finding
from .model import Flat, Layer, Region, Verdict
from .stock import Stock

SPARED_SHARE = 0.01  # of the piece may lie beyond the limit, but no more than one t x t spot
LIES_FLAT = 1.0  # mm of sagitta that nobody notices on foam


def judge(region: Region, layer: Layer, flat: Flat, stock: Stock, side: str) -> Verdict:
    """The verdict on one piece from its flattening, marked as an estimate."""
    area = mesh.face_normals(region.vertices, region.faces)[1]
    allowed = min(SPARED_SHARE * area.sum(), stock.thickness**2)
    per_face = stock.heated.utilisation(flat.sigma)
    cold = mesh.largest_but(stock.cold.utilisation(flat.sigma), area, allowed)
    heated = mesh.largest_but(per_face, area, allowed)
    radius, tightest = bends.smallest_radius(region, layer, area, stock, side)
    worst = int(np.argmax(per_face))
    t = stock.thickness
    if heated > 1:
        kind, reason = "relief", "The foam would have to stretch or compress too far."
    elif radius < stock.heated.radius * t:
        kind, worst = "relief", tightest
        reason = "The foam would have to bend more tightly than it can."
    elif cold > 1:
        kind, reason = "heat", "It stretches or compresses more than cold foam takes."
    elif radius < stock.cold.radius * t:
        kind, reason, worst = "heat", "It bends more tightly than cold foam takes.", tightest
    elif _sagitta(region, layer) < LIES_FLAT:
        kind, reason = "flat", "It is flat."
    else:
        kind, reason = "bend", "It bends to shape cold."
    stretch = float(flat.sigma[:, 1].min()), float(flat.sigma[:, 0].max())
    return Verdict(kind, cold, heated, stretch, radius, int(region.source_face[worst]), reason)


def findings(region: Region, verdict: Verdict, code: str, stock: Stock) -> list[Finding]:
    """What the verdict and the shape of one piece give the maker to think about."""
    found = []
    if verdict.heated > 2 and len(region.loops) > 1:
        found.append(Finding(
            "tube", ERROR, "This piece closes round on itself like a tube.",
            "Mark a seam from one rim to the other to open it.",
            faces=region.source_face, piece=code))
    elif verdict.kind == "relief":
        smallest = stock.heated.radius * stock.thickness
        scrap = 1 < verdict.heated <= 1.5 and verdict.radius >= smallest
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


def _measure(verdict: Verdict, stock: Stock) -> str:
    """The figures behind a verdict, of the reason that decided it."""
    t = stock.thickness
    if not math.isfinite(verdict.heated):
        return "No flat shape was found for it that does not turn over."
    if verdict.heated <= 1 and (verdict.kind == "relief" or verdict.cold <= 1):
        return (f"Its tightest bend has an inside radius of {verdict.radius:.0f} mm; "
                f"{stock.name} is taken to stand {stock.cold.radius * t:.0f} mm cold and "
                f"{stock.heated.radius * t:.0f} mm heated.")
    return (f"It takes {verdict.cold:.2f} times what {stock.name} is taken to stand cold and "
            f"{verdict.heated:.2f} times what it stands heated.")


def _sagitta(region: Region, layer: Layer) -> float:
    """Rise of the most curved place over the width of the piece, mm."""
    width = np.linalg.norm(np.ptp(region.vertices, axis=0))
    return float(np.quantile(np.abs(layer.curvature), 0.99) * width**2 / 8)
