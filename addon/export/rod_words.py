"""Rods in a maker's words: how to bend them and how to cut their ends."""

from __future__ import annotations

import math

from ..core.model import Rod, RodEnd
from ..core.units import format_angle, format_length

_SIDES = ("outside of the bend", "right of the bend, seen from that end", "inside of the bend",
          "left of the bend, seen from that end")


def bending(rod: Rod, unit: str) -> str:
    """Such as “heat, to 80 mm inside”."""
    if rod.forming == "straight":
        return "straight"
    how = {"bend": "bend cold", "heat": "heat", "tight": "too tight"}[rod.forming]
    return f"{how}, to {format_length(float(round(max(rod.radius, 0.0))), unit)} inside"


def ends(rod: Rod) -> str:
    """The cuts of both ends, or that there are none."""
    if not rod.ends:
        return "a ring: butt its ends, cut square"
    if not any(end.angle or end.on for end in rod.ends):
        return "both square"
    return "; ".join(f"{name}: {_end(end)}" for name, end in zip("ab", rod.ends, strict=True))


def _end(end: RodEnd) -> str:
    on = f", on {end.on}" if end.on else ""
    if not end.angle:
        return f"square{on}"
    side = _SIDES[round(end.turn / (math.pi / 2)) % 4]
    return f"{format_angle(end.angle)} from square{on}, long side on the {side}"
