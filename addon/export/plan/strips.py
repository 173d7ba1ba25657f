"""The strips in the plan: what to cut, how to cut its ends, and where it goes."""

from __future__ import annotations

from collections.abc import Iterator

from ...core.model import Pattern, Strip, StripEnd
from ...core.units import format_angle, format_length
from .blocks import Block, Column, Heading, Table, Text

_HOW = ("Lengths are those of the longest side. They are measured on the layer of the strip that "
        "keeps its length when it is bent, so a strip round the outside of a bend is longer than "
        "its edge. Glue strips on when the piece is formed, and sand the joints last.")
LEAST = 0.0175  # radians, a degree: an end that is nearer to square is square


def strips(pattern: Pattern) -> Iterator[Block]:
    """A table of them, where there are any."""
    if not pattern.strips:
        return
    unit = pattern.settings.unit
    yield Heading("Cut list: strips")
    yield Table((Column("Strip", 1.5), Column("Cut from", 3), Column("Size", 3.4, "end"),
                 Column("Number", 1.6, "end"), Column("Ends", 5), Column("Goes on", 6)),
                tuple((s.piece.code, s.piece.stock.name, size(s, unit), str(s.piece.copies),
                       ends(s), ", ".join(s.on)) for s in pattern.strips))
    yield Text(_HOW, note=True)


def size(strip: Strip, unit: str) -> str:
    """Cut length and width."""
    low, high = strip.piece.cut[0].min(axis=0), strip.piece.cut[0].max(axis=0)
    return " × ".join(format_length(float(x), unit) for x in high - low)


def ends(strip: Strip) -> str:
    """The cuts of both ends."""
    a, b = map(_end, strip.ends)
    if a == b:
        return "both square" if a == "square" else f"both {a}"
    return f"{a}; {b}"


def _end(end: StripEnd) -> str:
    parts = []
    if abs(end.bevel) >= LEAST:
        larger = "F>B" if end.bevel > 0 else "B>F"
        parts.append(f"{format_angle(abs(end.bevel))} {larger}")
    if abs(end.skew) >= LEAST:
        parts.append(f"{format_angle(abs(end.skew))} across")
    return ", ".join(parts) or "square"
