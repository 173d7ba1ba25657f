"""Words about how what is new comes in, and from where it is pressed."""

from __future__ import annotations

from collections.abc import Sequence

from ..model import INSIDE, OUTSIDE, Move
from .joins import Join
from .words import listed, natural


def ways(made: Sequence[tuple[Join, Move]]) -> list[str]:
    """Sentences on what is not plain about the joins of a step."""
    text = []
    for join, move in made:
        letters = listed(dict.fromkeys(m.letter for m in join.mates))
        added = listed(sorted(join.added, key=natural))
        if move.squeeze and move.press:
            text.append(f"Squeeze in {added}: it does not pass what stands at {letters} freely, so "
                        "bend the foam aside, and set the seam from one end to the other.")
        elif move.squeeze:
            text.append(f"Squeeze in: no flat hand gets to {letters}. Press with fingers or a "
                        "roller, bit by bit from one end.")
        elif move.press == (INSIDE,):
            text.append(f"Press {letters} from inside; there is no room outside.")
        elif join.closes and INSIDE in move.press and OUTSIDE in move.press:
            text.append(f"A hand still gets to {letters} from inside: hold against it there while "
                        "you press.")
    return text
