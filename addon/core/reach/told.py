"""What the maker should know of how far the wearer can move."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from ..errors import NOTE, WARNING, Finding
from ..model import Movement, Pattern, Reach
from ..units import format_length
from .skeleton import FAR


def findings(pattern: Pattern, found: Reach) -> Iterator[Finding]:
    """Movements that fall short, parts that are in one another already, parts away from where
    they are said to be worn."""
    unit = pattern.settings.unit
    for movement in found.movements:
        if movement.enough:
            continue
        a, b = movement.meeting.pieces
        yield Finding(
            "plates-meet", WARNING, f"{sentence(movement)} {_wanted(movement)}",
            "Trim, move or soften one of the two where they meet, or let it slide over the other "
            "on straps; then try it on.",
            faces=_faces(pattern, (a, b)), piece=b)
    parts = {worn.part: worn.pieces for worn in found.worn}
    joined = [{code for code, _ in mate.edges} for mate in pattern.mates if mate.join.removable]
    for one, other in found.crossing:
        # At a removable join that is folded, the two lie in one another but for their bevels.
        if any(ends & set(parts[one]) and ends & set(parts[other]) for ends in joined):
            continue
        yield Finding(
            "parts-cross", NOTE,
            f"{one} and {other} are in one another in the sculpt already, so that these two were "
            "not asked whether they meet.",
            "Set them apart by the thickness of the foam.",
            faces=_faces(pattern, (*parts[one], *parts[other])), piece=parts[one][0])
    for worn in found.worn:
        if worn.away > FAR:
            name, _, side = worn.segment.rpartition(" ")
            where = f"the {side} {name}" if name and side in ("left", "right") else (
                f"the {worn.segment}")
            where += f" of {f'“{found.body}”' if found.body else 'the figure that stands in'}"
            yield Finding(
                "part-off-body", NOTE,
                f"{worn.part} lies about {format_length(round(worn.away), unit)} off {where}, with "
                "which it was moved.",
                "Say where it is worn, or put the wearer's body or a figure inside the suit.",
                faces=_faces(pattern, worn.pieces), piece=worn.pieces[0])


def sentence(movement: Movement) -> str:
    """Such as “The left arm lifts forward only to 70° (± 2°) before FL2 meets BP2.”"""
    words = movement.words[:1].upper() + movement.words[1:]
    if movement.meeting is None:
        return f"{words} to {degrees(movement.reached)}; nothing meets."
    moved, stood = movement.meeting.pieces
    far = (f"only to {degrees(movement.reached)} "
           f"(± {max(1, round(math.degrees(movement.accuracy)))}°)"
           if movement.reached - movement.start > movement.accuracy else "hardly at all")
    return f"{words} {far} before {moved} meets {stood}."


def degrees(angle: float) -> str:
    """An angle in whole degrees."""
    return f"{round(math.degrees(angle))}°".replace("-", "−")


def _wanted(movement: Movement) -> str:
    to = f" to {movement.why}" if movement.why else ""
    return f"About {degrees(movement.needed)} are wanted{to}."


def _faces(pattern: Pattern, codes: tuple[str, ...]) -> np.ndarray:
    return np.unique(np.concatenate([pattern.piece(code).source_face for code in codes]))
