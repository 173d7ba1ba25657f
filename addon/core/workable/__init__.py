"""Can hands cut and glue it? Findings on finished pieces: bevels, trenches, strips, corners.

Formability asks what the foam takes; this stage asks what a maker with a knife does.
The limits of a piece go with the thickness, so a sculpt and its foam may be scaled together.
"""

from __future__ import annotations

from ..errors import Finding
from ..model import Piece, Region
from .bevels import steep_bevels, tight_turns, twists
from .corners import junction_findings
from .steps import step_findings
from .strips import awkward_strips, narrow_strips
from .trenches import crowded_trenches, trenches_over_edges

__all__ = ["findings", "junction_findings", "step_findings"]

_LOOKS = (steep_bevels, tight_turns, twists, narrow_strips, awkward_strips, crowded_trenches,
          trenches_over_edges)


def findings(piece: Piece, region: Region) -> list[Finding]:
    """What makes one piece hard to cut or weak to handle. region: what it was flattened from,
    so piece.edges go with region.borders and piece.folds with region.lines."""
    return [finding for look in _LOOKS for finding in look(piece, region)]
