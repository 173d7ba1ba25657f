"""Rods and tubes: curves with a round section -> lengths, trimmed ends, gauges to bend them by."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..model import Rod, RodLine, Sculpt
from ..stock import Stock
from ..units import format_length
from .axis import Axis, axis
from .ends import Ground, cut, lengthened
from .gauge import profiles
from .stock import SOLD, SOLD_LENGTH, rod_stock

__all__ = ["rods_of"]

STRAIGHT = 1.0  # mm from its chord within which a rod needs no bending
UNLIKE = 0.5  # mm from the sculpted diameter that show in what is bought


def rods_of(sculpt: Sculpt, stock: Stock, side: str) -> tuple[tuple[Rod, ...], list[Finding]]:
    """The rods of a sculpt at its final scale, by name, and what is wrong with them.

    stock and side: of objects that name none. A line without length or thickness is left out
    with a finding, `rod-without-size`.
    """
    rods: list[Rod] = []
    found: list[Finding] = []
    ground = Ground(sculpt, stock, side) if sculpt.rods else None
    for line in sorted(sculpt.rods, key=lambda line: line.name):
        if not _sound(line):
            found.append(Finding(
                "rod-without-size", WARNING, f"“{line.name}” has no length or no thickness, so it "
                "was left out.", "Give the curve a length and a bevel depth above 0."))
            continue
        rods.append(_rod(line, f"ROD{len(rods) + 1}", ground))
        found += _findings(rods[-1])
    return tuple(rods), found


def _sound(line: RodLine) -> bool:
    return bool(np.isfinite(line.points).all() and np.isfinite(line.diameter)
                and line.diameter > 0 and len(line.points) > 2 * line.closed
                and np.ptp(line.points, axis=0).max(initial=0.0) > 1e-3 * line.diameter)


def _rod(line: RodLine, code: str, ground: Ground) -> Rod:
    whole = axis(line.points, line.diameter, line.closed)
    points, ends = (whole.points, ()) if line.closed else cut(whole, line.diameter, ground)
    stock = rod_stock(line.diameter)
    drawn = Axis(points, whole.tangents, whole.radii, whole.inward)
    tightest = int(np.argmin(whole.radii))
    radius = float(whole.radii[tightest]) - line.diameter / 2
    shapes, rise = profiles(points, line.diameter)
    straight = not line.closed and _bow(points) < STRAIGHT
    t = stock.thickness
    forming = ("straight" if straight else "bend" if radius >= stock.cold.radius * t else
               "heat" if radius >= stock.heated.radius * t else "tight")
    return Rod(code, line.name, stock, line.diameter, points, drawn.length,
               drawn.length + lengthened(ends, t), radius, whole.points[tightest], forming, ends,
               rise, () if straight else shapes)


def _bow(points: np.ndarray) -> float:
    """How far points (k, 3) lie from the line through the first and the last one, at most."""
    way = points[-1] - points[0]
    way /= max(np.linalg.norm(way), 1e-12)
    off = points - points[0]
    return float(np.linalg.norm(off - (off @ way)[:, None] * way, axis=1).max())


def _findings(rod: Rod) -> Iterator[Finding]:
    if rod.forming == "tight":
        least = rod.stock.heated.radius * rod.stock.thickness
        x, y, z = rod.tightest
        yield Finding(
            "rod-bends-too-tightly", WARNING,
            f"{rod.code}, “{rod.name}”, bends to {format_length(max(rod.radius, 0.0))} on the "
            f"inside near ({x:.0f}, {y:.0f}, {z:.0f}) mm; heated foam of that thickness takes "
            f"{format_length(least)}.",
            "Widen the bend, or make it of two rods with mitred ends.", piece=rod.code)
    if abs(rod.stock.thickness - rod.diameter) > UNLIKE:
        yield Finding(
            "rod-diameter", NOTE,
            f"{rod.code}, “{rod.name}”, is {format_length(rod.diameter)} thick; rods are sold in "
            f"{', '.join(f'{d:g}' for d in SOLD)} mm, so {rod.stock.name} is planned.",
            "Change the curve's bevel depth to half of a diameter you can buy.", piece=rod.code)
    if rod.longest > SOLD_LENGTH:
        yield Finding(
            "rod-longer-than-sold", NOTE,
            f"{rod.code}, “{rod.name}”, takes {format_length(rod.longest)}; rods are often sold in "
            f"lengths of {format_length(SOLD_LENGTH)}.",
            "Buy it off a roll, or butt two rods where a plate hides the joint.", piece=rod.code)
