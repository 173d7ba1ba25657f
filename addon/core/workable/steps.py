"""Where foam of two thicknesses meets along a seam."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import NOTE, Finding
from ..model import Cut, Piece
from ..units import format_length

SEEN = 0.5  # mm of a step that a hand or an eye finds; common practice


def step_findings(cut: Cut, pieces: Sequence[Piece]) -> list[Finding]:
    """`thickness-step`: seams whose pieces end at unlike depths on one face of the foam.

    Both edges are cut along the plane that halves the fold, so they lie on each other as far as
    the thinner one reaches; beyond that the thicker one stands out.
    """
    found = []
    for seam in cut.seams:
        one, other = (pieces[region] for region, _ in seam.sides)
        steps = np.abs(np.subtract(one.stock.depths(one.side), other.stock.depths(other.side)))
        where = [f"{format_length(step)} {face}" for step, face in
                 zip(steps, ("outside", "inside"), strict=True) if step >= SEEN]
        if where:
            thick, thin = sorted((one, other), key=lambda p: -p.stock.thickness)
            found.append(Finding(
                "thickness-step", NOTE,
                f"Where {thick.code} meets {thin.code} there is a step of "
                f"{' and of '.join(where)}.",
                "Sand or bevel the thicker edge down to the thinner one after gluing, or leave "
                "the step where nobody sees it.",
                edges=np.stack([seam.vertices[:-1], seam.vertices[1:]], axis=1)))
    return found
