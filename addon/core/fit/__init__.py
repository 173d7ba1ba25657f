"""Will it fit? The foam's inner face beside the body that wears it.

    clearance  how far the body is from each point of the inner face
    girths     round the chest, waist and hips, and at any height, as a tape spans them
    spacers    where blocks would keep a floating piece off the body
    told       what the maker should know of it

What is judged is the sculpt in foam of true thickness, standing as it does in the scene; how foam
and flesh give way to each other is not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..errors import ERROR, Finding, FoamError, severity_rank
from ..model import Body, Fitted, Pattern
from ..stopping import stoppable
from .clearance import Skin, clearances, inner_face
from .girths import CLOSED, girths
from .spacers import spacers
from .told import findings

__all__ = ["CLOSED", "fitted", "inner_face"]

Progress = Callable[[float, str], bool | None]


@stoppable
def fitted(pattern: Pattern, body: Body | None = None, progress: Progress | None = None
           ) -> Pattern:
    """The pattern with how it fits a body, which stands in the same space as the pattern's sculpt;
    None: that sculpt's own, and where it has none the pattern as it is.

    Raises FoamError `body-without-faces` and `no-body` for a body that is no surface.
    """
    body = body or pattern.sculpt.body
    if body is None:
        return pattern
    say = progress or (lambda share, text: None)
    _require(body)
    say(0.0, "Looking at the body")
    skin = Skin(body)
    say(0.2, "Measuring clearances")
    pieces = clearances(pattern, skin, lambda share: say(0.2 + 0.5 * share, "Measuring clearances"))
    say(0.7, "Measuring girths")
    rings = girths(pattern, skin, pattern.settings.girth_heights)
    say(0.9, "Placing spacers")
    found = Fitted(body.name, pieces, rings, spacers(pattern, pieces),
                   min((piece.least for piece in pieces), default=np.inf))
    told = sorted((*pattern.findings, *findings(pattern, skin, found)), key=severity_rank)
    say(1.0, "Fitted")
    return replace(pattern, fitted=found, findings=tuple(told))


def _require(body: Body) -> None:
    if not len(body.faces):
        raise FoamError(Finding(
            "body-without-faces", ERROR, f"The body “{body.name}” has no faces.",
            "Choose a mesh of the wearer, or add a figure."))
    if not np.isfinite(body.vertices).all() or not np.ptp(body.vertices, axis=0).all():
        raise FoamError(Finding(
            "no-body", ERROR,
            f"“{body.name}” is no body: it is flat, or vertices of it lie nowhere.",
            "Choose a mesh of the wearer, or add a figure."))
