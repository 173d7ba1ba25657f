"""What the maker should know of how the suit fits."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..model import Fitted, Pattern
from ..units import format_length
from .clearance import Skin
from .girths import CLOSED

LEAST, MOST = 100.0, 3000.0  # mm along the longest side of what can be a body, or a part of one
PRESSES = 1.0  # mm into the body that flesh and undersuit give way to; common practice, no source


def findings(pattern: Pattern, skin: Skin, found: Fitted) -> Iterator[Finding]:
    """Pieces that press, rings without enough ease, and a body that cannot tell its inside."""
    unit = pattern.settings.unit
    for piece, fit in zip(pattern.pieces, found.pieces, strict=True):
        if fit.least < -PRESSES:
            faces = piece.source_face[(fit.clearance[piece.faces] < 0).any(axis=1)]
            yield Finding(
                "presses", WARNING,
                f"{piece.code} reaches {format_length(-fit.least, unit)} into the body.",
                "Move it outward, make the sculpt larger there, or choose a thinner foam.",
                faces=np.unique(faces), piece=piece.code)
    for girth in found.girths:
        if girth.ease >= girth.wanted or girth.round < CLOSED:
            continue
        is_short = (f"only {format_length(girth.ease, unit)} wider than" if girth.ease >= 0 else
                    f"{format_length(-girth.ease, unit)} narrower than")
        yield Finding(
            "little-ease", WARNING,
            f"Inside, the suit is {is_short} the body round the {girth.name}"
            f" ({format_length(girth.inside, unit)} to {format_length(girth.body, unit)})."
            if not girth.name.startswith("at ") else
            f"Inside, the suit is {is_short} the body {girth.name} over the soles.",
            f"Rigid foam wants about {format_length(girth.wanted, unit)} there, or open, strapped "
            "sides.")
    told = {girth.height for girth in found.girths if girth.name.startswith("at ")}
    for height in pattern.settings.girth_heights:
        if height not in told:
            yield Finding(
                "no-girth", NOTE,
                f"No girth can be told {format_length(height, unit)} over the soles: the body "
                "does not reach there, or next to no foam goes round it.",
                "Give heights over the soles of the body at which it wears foam.")
    if skin.open and found.pieces:
        yield Finding(
            "open-body", NOTE, f"The body “{skin.name}” is not closed.",
            "Clearances near its openings may be wrong; close them, or take them as a guide.")
    if not LEAST <= skin.size <= MOST:
        yield Finding(
            "implausible-body", WARNING,
            f"The body “{skin.name}” measures only {format_length(skin.size, unit)}."
            if skin.size < LEAST else
            f"The body “{skin.name}” measures {format_length(skin.size, unit)}, more than anyone.",
            "Scale it, or state the unit in which it was made; clearances and girths are "
            "of no use before that.")
    if skin.mixed:
        yield Finding(
            "mixed-body", WARNING,
            f"Neighbouring faces of the body “{skin.name}” look to different sides, or lie on one "
            "another.", "Clearances there may be told on the wrong side; Mesh > Normals > "
            "Recalculate Outside mends them, after Mesh > Merge > By Distance.")
    if skin.turned:
        yield Finding(
            "turned-body", NOTE, f"Faces of the body “{skin.name}” look inward.",
            "They were taken as turned outward; Mesh > Normals > Recalculate Outside mends them.")
