"""What to buy: foam, contact cement, blades. Arithmetic only; the plan prints it."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from ..core import mesh
from ..core.model import HOOK, OVERLAP, Mate, Pattern
from ..core.nest import foam_of
from ..core.stock import Stock
from .mark_strokes import bought, punched

SPARE = 1.5  # foam soaks up cement and brushes keep some; common practice, no source
CUT_PER_BLADE = 5000.0  # mm of cut before a blade drags; common practice, no source
NESTED = 0.65  # share of a mat that is used where no mats have been laid out; common practice


@dataclass(frozen=True)
class Foam:
    """One stock: how many pieces and new mats, area of the pieces and of the foam, mm2.

    counted: the mats are those laid out; else they are estimated from the area.
    offcuts: how many are used besides."""

    stock: Stock
    pieces: int
    mats: int
    area: float
    sheet_area: float
    counted: bool
    offcuts: int = 0


@dataclass(frozen=True)
class Shopping:
    """foam per stock, thick first; glue_area: of all faces that get cement, both sides of
    every seam, mm2; cement: litres for it, spare included; cut: mm of knife work; blades;
    rods: lengths to cut off per stock, mm, thick first; small: domes, circles and patches, how
    many of each; hook, webbing: hook-and-loop and webbing of removable joins, mm."""

    foam: tuple[Foam, ...]
    glue_area: float
    cement: float
    cut: float
    blades: int
    rods: tuple[tuple[Stock, tuple[float, ...]], ...] = ()
    small: tuple[tuple[str, int], ...] = ()
    hook: float = 0.0
    webbing: float = 0.0


def shopping(pattern: Pattern) -> Shopping:
    """What the whole pattern takes."""
    groups = defaultdict(list)
    for piece in (*pattern.pieces, *(s.piece for s in pattern.strips for _ in s.on)):
        groups[piece.stock].append(piece)
    foam = []
    for stock, pieces in sorted(groups.items(), key=lambda g: (-g[0].thickness, g[0].name)):
        area, sheet = sum(p.area for p in pieces), math.prod(stock.sheet)
        laid = [mat for mat in pattern.mats if mat.stock == stock]
        mats = (sum(not mat.outline for mat in laid) if laid
                else math.ceil(area / (NESTED * sheet)))
        offcuts = [mat for mat in laid if mat.outline]
        whole = mats * sheet + sum(foam_of(mat).area for mat in offcuts)
        foam.append(Foam(stock, len(pieces), mats, area, whole, bool(laid), len(offcuts)))
    glue = sum(glued_area(mate, pattern) for mate in pattern.mates)
    glue += 2 * sum(one.area for one in pattern.laid)
    cut = sum(mesh.polyline_length(np.concatenate([ring, ring[:1]]))
              for piece in pattern.pieces for ring in piece.cut)
    cut += punched(pattern.pieces)
    return Shopping(tuple(foam), glue, cement(glue, pattern.settings.rates.coverage), cut,
                    math.ceil(cut / CUT_PER_BLADE), _rods(pattern), tuple(bought(pattern)),
                    *fastened(pattern))


def _rods(pattern: Pattern) -> tuple[tuple[Stock, tuple[float, ...]], ...]:
    lengths = defaultdict(list)
    for rod in sorted(pattern.rods, key=lambda rod: -rod.stock.thickness):
        lengths[rod.stock].append(rod.longest)
    return tuple((stock, tuple(found)) for stock, found in lengths.items())


def cement(area: float, coverage: float) -> float:
    """Litres of contact cement for an area, mm2, of faces to be coated once, spare included;
    coverage: square metres that a litre coats."""
    return SPARE * area / (coverage * 1e6)


def glued_area(mate: Mate, pattern: Pattern) -> float:
    """Area, mm2, of the two faces of a seam.

    Each face is as long as its edge and as wide as the foam is thick, cut at an
    angle b from square: t / cos b. An overlap is as wide as it laps; a removable join has none.
    """
    if mate.join.removable:
        return 0.0
    if mate.join.kind == OVERLAP:
        return 2 * mate.join.lap * max(mate.lengths)
    area = 0.0
    for (code, index), length in zip(mate.edges, mate.lengths, strict=True):
        piece = pattern.piece(code)
        edge = piece.edges[index]
        width = piece.stock.thickness / np.cos(edge.bevel)
        steps = np.hypot(*np.diff(edge.points, axis=0).T)
        mean = float(((width[:-1] + width[1:]) / 2 * steps).sum() / steps.sum())
        area += float(length) * mean
    return area

def fastened(pattern: Pattern) -> tuple[float, float]:
    """Hook-and-loop (a strip of hook and one of loop count as one) and webbing of all removable
    joins, mm."""
    hook = sum(m.join.count * m.join.patch[0] for m in pattern.mates if m.join.kind == HOOK)
    return hook, sum(m.join.webbing for m in pattern.mates)
