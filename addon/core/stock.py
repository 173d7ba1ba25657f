"""Sheet material: a foam with its thickness, limits and mat, and the shipped table.

Values can be overridden by a TOML file (see `read_stock`). The shipped limits
are starting points, not measurements: calibrate with your own foam.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

from .errors import ERROR, Finding, FoamError


@dataclass(frozen=True)
class Limits:
    """What the foam takes in one state. compress and stretch: fractions of length
    (0.05 is 5 %); radius: smallest inside radius of a bend, in thicknesses."""

    compress: float
    stretch: float
    radius: float


@dataclass(frozen=True)
class Stock:
    """A sheet material. thickness, sheet (width, height), kerf and gap in mm;
    neutral: the layer that keeps its length, as a fraction of the thickness
    from the hollow side of a bend; density kg/m3; grain: direction matters."""

    name: str
    thickness: float
    sheet: tuple[float, float] = (600.0, 600.0)
    neutral: float = 0.5
    cold: Limits = Limits(0.02, 0.03, 5.0)
    heated: Limits = Limits(0.05, 0.10, 2.0)
    kerf: float = 0.0
    gap: float = 3.0
    density: float = 100.0
    grain: bool = False

    def with_thickness(self, thickness: float) -> Stock:
        return replace(self, thickness=thickness, name=f"{self.name.split(' ')[0]} {thickness:g} mm")
