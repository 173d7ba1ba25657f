"""The paper that a plan is printed on."""

from __future__ import annotations

from ...core.model import Pattern

A4, LETTER = (210.0, 297.0), (215.9, 279.4)  # ISO 216; ANSI/ASME Y14.1
MARGIN = 17.0  # mm
_INCH_PAPERS = ("Letter", "Tabloid")


def size(pattern: Pattern) -> tuple[float, float]:
    """A4, or Letter where the templates are on an inch paper, mm."""
    return LETTER if pattern.settings.paper in _INCH_PAPERS else A4


def width(pattern: Pattern) -> float:
    """Of what is printed, mm."""
    return size(pattern)[0] - 2 * MARGIN
