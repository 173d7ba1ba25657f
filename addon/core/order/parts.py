"""What comes off as one: pieces that glue holds together."""

from __future__ import annotations

from collections.abc import Sequence

from ..model import Mate, Part, Piece, Sculpt
from . import words
from .joins import assemblies, placed_order, sides


def parts(pieces: Sequence[Piece], mates: Sequence[Mate], sculpt: Sculpt) -> tuple[Part, ...]:
    """The parts of a suit, from low to high, with the removable joins that hold each."""
    removable = [m for m in mates if m.join.removable]
    found = assemblies(placed_order(pieces, sculpt), mates)
    made = [", ".join(sorted({p.object for p in part})) for part in found]
    result = []
    for part, name in zip(found, made, strict=True):
        codes = sorted((p.code for p in part), key=words.natural)
        if made.count(name) > 1:
            name = f"{name}: {codes[0]}" + (f" to {codes[-1]}" if len(codes) > 1 else "")
        held = tuple(m.code for m in removable if len(set(sides(m)) & set(codes)) == 1)
        result.append(Part(name, tuple(codes), joins=held))
    return tuple(result)
