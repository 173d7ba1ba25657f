"""From what a maker measures on strips of their own foam to the stock that says so.

Neutral layer: a strip that just closes round a tin keeps its length L on a circle of radius
R + k t, with R the tin's: L = 2 pi (R + k t). With C = 2 pi R, the girth of the tin itself,
k = (L - C) / (2 pi t). It is the bend allowance of Machinery's Handbook solved for k.

Stretch and compression: marks SPAN apart on a heated strip that is pulled, or pressed
lengthwise, as far as the foam goes; USED of that is taken for a limit (common practice, no
source), since a piece is formed by hand and must not come to that point anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from .errors import ERROR, Finding, FoamError
from .stock import Limits, Stock

SPAN = 100.0  # mm between the marks of a strip that is pulled or pressed
USED = 0.5  # of the strain at which the foam gives way
STRETCHED = (1.0, 200.0)  # mm by which SPAN may have grown
PRESSED = (1.0, 60.0)  # and shrunk


@dataclass(frozen=True)
class Measured:
    """What was measured, mm; None: not measured. girth: round the tin; closing: length of the
    strip that just closes round it; pulled, pressed: distance of marks that were SPAN apart."""

    girth: float | None = None
    closing: float | None = None
    pulled: float | None = None
    pressed: float | None = None


@dataclass(frozen=True)
class Calibration:
    """What measurements say of a foam, each None where it was not measured: neutral layer, and
    limits of heated foam (fractions)."""

    neutral: float | None = None
    stretch: float | None = None
    compress: float | None = None

    def applied(self, stock: Stock) -> Stock:
        """The stock with these values. Cold foam is never allowed more than heated foam."""
        found, origin = stock, []
        if self.neutral is not None:
            found, origin = replace(found, neutral=self.neutral), ["neutral layer"]
        heated = {name: value for name in ("stretch", "compress")
                  if (value := getattr(self, name)) is not None}
        if heated:
            limits: Limits = replace(found.heated, **heated)
            cold = replace(found.cold, **{name: min(getattr(found.cold, name), value)
                                          for name, value in heated.items()})
            found, origin = replace(found, heated=limits, cold=cold), [*origin, *heated]
        if found == stock:  # nothing new, or said already
            return stock
        return replace(found, origin=f"measured: {', '.join(origin)}; else {stock.origin}")


def calibrate(measured: Measured, thickness: float) -> Calibration:
    """What the measurements say of foam of this thickness in mm.

    Raises FoamError `bad-measurement` with every measurement that cannot be right, and where
    there is none.
    """
    found = Calibration(_neutral(measured, thickness), _strain(measured.pulled, 1.0),
                        _strain(measured.pressed, -1.0))
    if problems := list(_problems(measured, found)):
        raise FoamError(*problems)
    return found


def closing_length(girth: float, thickness: float, neutral: float) -> float:
    """Length in mm of a strip that just closes round a tin: L = C + 2 pi k t."""
    return girth + 2 * math.pi * neutral * thickness


def _neutral(measured: Measured, thickness: float) -> float | None:
    if measured.girth is None or measured.closing is None:
        return None
    return (measured.closing - measured.girth) / (2 * math.pi * thickness)


def _strain(distance: float | None, sign: float) -> float | None:
    return None if distance is None else USED * sign * (distance - SPAN) / SPAN


def _problems(measured: Measured, found: Calibration) -> Iterator[Finding]:
    def wrong(message: str, remedy: str) -> Finding:
        return Finding("bad-measurement", ERROR, message, remedy)

    if (measured.girth is None) != (measured.closing is None):
        yield wrong("The neutral layer needs both lengths: round the tin, and of the strip that "
                    "closes round it.", "Give both, or neither.")
    if measured == Measured():
        yield wrong("Nothing was measured.", "Print the calibration sheet and follow its steps.")
    if found.neutral is not None and not 0.0 <= found.neutral <= 1.0:
        yield wrong(
            f"A strip of {measured.closing:g} mm round a tin of {measured.girth:g} mm would keep "
            "its length outside of the foam.",
            "Measure the tin, the strip and the thickness again, each to the millimetre.")
    for distance, sign, (least, most), word in ((measured.pulled, 1, STRETCHED, "pulled"),
                                                (measured.pressed, -1, PRESSED, "pressed")):
        if distance is not None and not least <= sign * (distance - SPAN) <= most:
            low, high = sorted((SPAN + sign * least, SPAN + sign * most))
            yield wrong(f"Marks 100 mm apart cannot have been {word} to {distance:g} mm.",
                        f"Give the distance of the marks afterwards, from {low:g} to {high:g} mm.")
