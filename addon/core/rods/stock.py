"""Rods as they are sold."""

from __future__ import annotations

from ..stock import Limits, Stock

SOLD = (6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0)  # mm; common practice, no source
SOLD_LENGTH = 1000.0  # mm; common practice, no source
# Smallest inside radii in diameters, as those of sheets in thicknesses; from memory.
LIMITS = Limits(0.02, 0.03, 5.0), Limits(0.05, 0.10, 2.0)


def rod_stock(diameter: float) -> Stock:
    """The sold rod whose diameter, mm, is nearest."""
    sold = min(SOLD, key=lambda d: abs(d - diameter))
    return Stock(f"foam rod {sold:g} mm", sold, (SOLD_LENGTH, sold), cold=LIMITS[0],
                 heated=LIMITS[1], origin="round foam as it is sold, with limits from memory")
