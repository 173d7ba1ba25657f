"""How long a suit takes to build, operation by operation. Arithmetic on the maker's rates."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..core import mesh
from ..core.model import SCORE, TRENCH, Pattern
from .shopping import Shopping

LEAST = np.radians(3.0)  # an edge cut less askew is cut square
GLUES = ("join", "close", "dart", "lay")  # kinds of steps in which cement dries


@dataclass(frozen=True)
class Operation:
    """One kind of work: rate: its name in Rates; how much of it, in `unit`; minutes of it."""

    rate: str
    name: str
    amount: float
    unit: str
    minutes: float


def effort(pattern: Pattern, buy: Shopping) -> tuple[Operation, ...]:
    """All work there is, in the order in which it is done; `drying` is time to wait."""
    rates = pattern.settings.rates
    return tuple(Operation(rate, name, amount, unit, amount * getattr(rates, rate))
                 for rate, name, amount, unit in _amounts(pattern, buy) if amount > 0)


def hands_on(work: tuple[Operation, ...]) -> float:
    """Minutes of work without the waiting."""
    return sum(one.minutes for one in work if one.rate != "drying")


def dominant(work: tuple[Operation, ...]) -> Operation | None:
    """What takes the longest of the work."""
    return max((one for one in work if one.rate != "drying"), key=lambda one: one.minutes,
               default=None)


def _amounts(pattern: Pattern, buy: Shopping) -> Iterator[tuple[str, str, float, str]]:
    pieces = pattern.pieces
    kinds = [piece.verdict.kind for piece in pieces]
    yield "trace", "Trace the templates", buy.cut / 1000, "m"
    yield "cut", "Cut", buy.cut / 1000, "m"
    yield "bevel", "Bevel edges", sum(_bevelled(e) for p in pieces for e in p.edges) / 1000, "m"
    for rate, name, kind in (("trench", "Cut trenches", TRENCH), ("score", "Cut score lines",
                                                                 SCORE)):
        yield (rate, name, sum(mesh.polyline_length(fold.points) for p in pieces
                               for fold in p.folds if fold.kind == kind) / 1000, "m")
    yield "bend", "Bend cold", kinds.count("bend"), "pieces"
    yield "heat", "Form with heat", kinds.count("heat"), "pieces"
    yield "lay", "Glue details on", len(pattern.laid), "pieces"
    yield "strip", "Cut and glue strips", sum(
        s.length * len(s.on) for s in pattern.strips) / 1000, "m"
    yield "glue", "Glue seams", sum(
        max(m.lengths) for m in pattern.mates if not m.join.removable) / 1000, "m"
    yield "drying", "Wait while cement dries", sum(
        step.kind in GLUES for step in pattern.steps), "steps"
    yield "fasten", "Make removable joins", sum(m.join.removable for m in pattern.mates), "joins"
    yield "mark", "Set rivets, holes and patches", sum(len(p.point_marks) for p in pieces), "places"
    yield "rod", "Bend and fit rods", len(pattern.rods), "rods"
    yield "finish", "Close the surface and wipe it", sum(p.area for p in pieces) / 1e6, "m²"


def _bevelled(edge) -> float:
    """Length of the part of an edge that is cut askew, mm."""
    if edge.lap:
        return 0.0
    steps = np.hypot(*np.diff(edge.points, axis=0).T)
    askew = np.abs(np.asarray(edge.bevel))
    return float(steps[(askew[:-1] + askew[1:]) / 2 > LEAST].sum())
