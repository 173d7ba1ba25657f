"""The page of the plan on how the parts go into a box: a picture for each, and where it lies."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ...core.model import Packed, Pattern
from ...core.units import format_length
from ..picture import suit_picture
from ..transport_words import in_words
from .blocks import Block, Column, Heading, Section, Table, Text, Views
from .illustration import illustrate
from .paper import width

COLUMNS, TALL = 3, 62.0  # pictures side by side; their height at most, mm
VIEW = (28.0, 32.0)  # from the front of the box, a little from its right, and from above
_BESIDE = 3.0  # mm beside a picture

_HOW = ("Parts are taken as rigid, apart where their joins are removable, and turned by quarter "
        "turns; each goes in straight from above, and comes out again in the opposite order. Rods, "
        "straps and padding are left out. What is left over for want of an arrangement may still "
        "go in askew. Put something soft between parts and beside what stands on edge, heavy parts "
        "at the bottom, and nothing that presses on a thin rim: foam that is bent for long in the "
        "heat of a car stays bent.")


def how_it_packs(pattern: Pattern) -> Section:
    """The section, for a pattern whose parts were put into a box."""
    return Section("In a box", (*(Text(line) for line in in_words(pattern)[:1]),
                                Text(_HOW, note=True), *_pictures(pattern), *_table(pattern)))


def _pictures(pattern: Pattern) -> Iterator[Block]:
    found = pattern.transport
    if not found.packed:
        return
    there = _in_box(pattern)
    room = (width(pattern) / COLUMNS - 2 * _BESIDE, TALL)
    shown, drawn = [], []
    for number, one in enumerate(found.packed, 1):
        shown += one.pieces
        picture = suit_picture(there, VIEW, room, one.pieces, shown, marks=False,
                               frame=_edges(found.box))
        drawn.append(illustrate(picture, {}, (), f"{number}. {one.part}", only=()))
    yield Views(tuple(drawn), COLUMNS)


def _in_box(pattern: Pattern) -> Pattern:
    """The pattern with its pieces where they lie in the box, seen along its sides."""
    home: dict[str, Packed] = {code: one for one in pattern.transport.packed
                               for code in one.pieces}
    return replace(
        pattern, sculpt=replace(pattern.sculpt, up=np.array([0.0, 0, 1]),
                                front=np.array([0.0, -1, 0])),
        pieces=tuple(replace(p, vertices=home[p.code].place(p.vertices))
                     for p in pattern.pieces if p.code in home))


def _edges(box: tuple[float, float, float]) -> list[np.ndarray]:
    """The edges (2, 3) of the box."""
    corner = np.array([[x, y, z] for x in (0, box[0]) for y in (0, box[1]) for z in (0, box[2])])
    return [corner[[a, b]] for a in range(8) for b in range(a)
            if (corner[a] != corner[b]).sum() == 1]


def _table(pattern: Pattern) -> Iterator[Block]:
    found, unit = pattern.transport, pattern.settings.unit
    if not found.packed:
        return
    yield Heading("Where each part lies")
    span = lambda one, k: " to ".join(  # noqa: E731
        format_length(round(float(x[k])), unit) for x in (one.low, one.high))
    yield Table((Column("", 1, "end"), Column("Part", 4), Column("From the left", 4),
                 Column("From the front", 4), Column("Over the floor", 4)),
                tuple((str(n), one.part, *(span(one, k) for k in range(3)))
                      for n, one in enumerate(found.packed, 1)))
