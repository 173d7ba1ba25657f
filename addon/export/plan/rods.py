"""The rods in the plan: what to cut off, how to bend it, how to trim its ends."""

from __future__ import annotations

from collections.abc import Iterator

from ...core.model import Pattern
from ...core.units import format_length
from ..rod_words import bending, ends
from .blocks import Block, Column, Heading, Table, Text

_HOW = ("Lengths reach to the long sides of slanting ends. Bend a rod until it lies on its gauge, "
        "a at a and b at b; a second gauge shows how it leaves the plane of the first. Warm a rod "
        "that is to be heated evenly all round, and hold it until it has cooled. Trim its ends "
        "last, and try them on the suit before you glue.")


def rods(pattern: Pattern) -> Iterator[Block]:
    """A table of them, where there are any."""
    if not pattern.rods:
        return
    unit = pattern.settings.unit
    yield Heading("Cut list: rods")
    yield Table((Column("Rod", 1.5), Column("Name", 3), Column("Cut from", 3),
                 Column("Cut length", 2.2, "end"), Column("Bend", 4), Column("Ends", 6)),
                tuple((rod.code, rod.name, rod.stock.name, format_length(rod.longest, unit),
                       bending(rod, unit), ends(rod)) for rod in pattern.rods))
    yield Text(_HOW, note=True)
