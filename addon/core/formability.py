"""Can foam of this thickness take this shape, cold or heated, and if not, where not?

Two things are asked of every piece: how far the foam must stretch and compress
(utilisation of the stock's limits on the flattening found, 1 being the limit),
and how tightly it must bend (inside radius against the stock's smallest one).
"""

from __future__ import annotations

import math

import numpy as np

from . import mesh
from .errors import ERROR, NOTE, WARNING, Finding
from .model import Flat, Layer, Region, Verdict
from .stock import Stock

SPARED_SHARE = 0.01  # of the piece may lie beyond the limit, but no more than one t x t spot
BEND_SHARE = 0.005  # of the piece may bend more tightly: corners and noise
LIES_FLAT = 1.0  # mm of sagitta that nobody notices on foam
CREASE_FOLD, CREASE_RADIUS = math.radians(20.0), 25.0
CREASE_ALWAYS = math.radians(55.0)


def judge(region: Region, layer: Layer, flat: Flat, stock: Stock, side: str) -> Verdict:
    """The verdict on one piece from its flattening, marked as an estimate."""
    area = mesh.face_normals(region.vertices, region.faces)[1]
    allowed = min(SPARED_SHARE * area.sum(), stock.thickness**2)
    per_face = stock.heated.utilisation(flat.sigma)
    cold = mesh.largest_but(stock.cold.utilisation(flat.sigma), area, allowed)
    heated = mesh.largest_but(per_face, area, allowed)
    radius, tightest = _smallest_radius(region, layer, area, stock, side)
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
    found = _creases(region, code)
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


def _smallest_radius(region, layer, area, stock: Stock, side: str) -> tuple[float, int]:
    """Inside radius of the tightest bend, and the face where it is.

    The inside of a convex bend is the back of the foam, of a concave one the front.
    """
    front, back = stock.depths(side)
    bend = layer.curvature[region.leaf]  # (m, 3, 2)
    with np.errstate(divide="ignore", over="ignore"):
        radius = np.abs(1 / bend) - np.where(bend > 0, back, front)
    per_face = np.maximum(radius.min(axis=2).mean(axis=1), 0.0)
    order = np.argsort(per_face, kind="stable")
    beyond = np.cumsum(area[order]) > BEND_SHARE * area.sum()
    index = order[int(np.argmax(beyond))]
    return float(per_face[index]), int(index)


def _sagitta(region: Region, layer: Layer) -> float:
    """Rise of the most curved place over the width of the piece, mm."""
    width = np.linalg.norm(np.ptp(region.vertices, axis=0))
    return float(np.quantile(np.abs(layer.curvature), 0.99) * width**2 / 8)


def _creases(region: Region, code: str) -> list[Finding]:
    """Unmarked edges folded more sharply than a smooth surface would be sampled."""
    edges, beside = mesh.edge_faces(region.leaf)
    if len(edges) == 0:
        return []
    corner = np.empty(region.leaf.max() + 1, dtype=np.int64)
    corner[region.leaf] = region.faces
    normals, area = mesh.face_normals(region.vertices, region.faces)
    n1, n2 = normals[beside[:, 0]], normals[beside[:, 1]]
    fold = np.arctan2(np.linalg.norm(np.cross(n1, n2), axis=1), np.einsum("ij,ij->i", n1, n2))
    ends = region.vertices[corner[edges]]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    height = 2 * area[beside].sum(axis=1) / (3 * np.maximum(length, 1e-12))
    radius = height / np.maximum(fold, 1e-9)
    sharp = ((fold > CREASE_FOLD) & (radius < CREASE_RADIUS)) | (fold > CREASE_ALWAYS)
    if not sharp.any():
        return []
    return [Finding("unmarked-fold", WARNING,
                    f"The surface folds by up to {math.degrees(fold[sharp].max()):.0f}° along "
                    "edges that carry no mark.",
                    "Mark them as a trench if the foam is to fold there, or as a seam.",
                    edges=region.source_vertex[corner[edges[sharp]]], piece=code)]
