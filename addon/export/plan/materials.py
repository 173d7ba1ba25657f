"""What the plan says about materials: the shopping list, the tools and the cut lists."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from ...core.model import Pattern, Piece
from ...core.order import words
from ...core.units import format_length
from ..shopping import Foam, Shopping
from ..words import count
from . import words as say
from .blocks import Block, Box, Boxes, Column, Heading, Section, Table, Text
from .budget import budget
from .rods import rods
from .strips import strips


def materials(pattern: Pattern, buy: Shopping) -> Section:
    """The section."""
    blocks: list[Block] = [
        Heading("Shopping list"), boxes("buy", tuple(_list(pattern, buy))),
        Text(say.coverage_note(pattern.settings.rates.coverage), note=True),
        Heading("Tools"), boxes("tools", say.TOOLS)]
    for foam in buy.foam:
        blocks += _cut_list(pattern, foam)
    return Section("What you need", (*blocks, *rods(pattern), *strips(pattern),
                                     *budget(pattern, buy)))


def boxes(group: str, items: Sequence[str]) -> Boxes:
    """Lines to tick, each with a key of its own in the group."""
    slug = re.sub(r"\W+", "-", group.lower()).strip("-")
    return Boxes(tuple(Box(f"{slug}-{n}", text) for n, text in enumerate(items, 1)))


def by_code(pattern: Pattern) -> list[Piece]:
    """The templates in the order of their codes."""
    return sorted(pattern.templates, key=lambda p: words.natural(p.code))


def foam_counts(buy: Shopping) -> str:
    """How many mats of each foam, in a sentence."""
    return "; ".join(f"{f.stock.name}: {'' if f.counted else 'about '}{_mats(f.mats)}"
                     for f in buy.foam) + "."


def _list(pattern: Pattern, buy: Shopping) -> Iterator[str]:
    unit = pattern.settings.unit
    for foam in buy.foam:
        sheet = " × ".join(format_length(s, unit) for s in foam.stock.sheet)
        share = 100 * foam.area / foam.sheet_area
        how = "as laid out" if foam.counted else "estimated"
        also = (f" and {foam.offcuts} offcut{'s' * (foam.offcuts > 1)} that you have"
                if foam.offcuts else "")
        yield (f"{foam.stock.name}: {_mats(foam.mats)} of {sheet}{also} ({how}; the pieces "
               f"fill {share:.0f} % of them).")
    for stock, lengths in buy.rods:
        parts = ("one length" if len(lengths) == 1 else
                 f"{len(lengths)} lengths, the longest {format_length(max(lengths), unit)}")
        yield (f"{stock.name[:1].upper()}{stock.name[1:]}: "
               f"{format_length(sum(lengths), unit)} in {parts}.")
    for thing, number in buy.small:
        yield f"{thing[:1].upper()}{thing[1:]}: {number}."
    if buy.glue_area:
        amount = (f"{buy.cement * 33.814:.1f} US fl oz" if unit == "in"
                  else f"{max(buy.cement * 1000, 1):.0f} ml")
        yield (f"Contact cement: {amount} or more, for {_area(buy.glue_area, unit)} of edge "
               "faces, both sides of every seam counted.")
    yield f"Knife blades: {buy.blades}, for {_far(buy.cut, unit)} of cut."
    if buy.hook:
        yield (f"Hook-and-loop: {format_length(buy.hook, unit)}, both halves, for the removable "
               "joins.")
    if buy.webbing:
        yield f"Webbing: {format_length(buy.webbing, unit)}, with a buckle for each strap."
    yield ("What else your way of wearing asks for: webbing, buckles, hook-and-loop."
           if buy.hook or buy.webbing else
           "Webbing, buckles, hook-and-loop as your way of wearing asks for.")


def _cut_list(pattern: Pattern, foam: Foam) -> Iterator[Block]:
    unit = pattern.settings.unit
    yield Heading(f"Cut list: {foam.stock.name}")
    yield Table((Column("Template", 2), Column("Also for", 3), Column("Name", 4),
                 Column("Cut", 3), Column("Area each", 2, "end")),
                tuple((p.code, _also(p, pattern), p.name, count(p), _area(p.area, unit))
                      for p in by_code(pattern) if p.stock == foam.stock))
    yield Text(f"{foam.pieces} {'piece' if foam.pieces == 1 else 'pieces'}, "
               f"{_area(foam.area, unit)} together.", note=True)


def _also(piece: Piece, pattern: Pattern) -> str:
    return ", ".join(p.code for p in pattern.pieces
                     if p.template == piece.code and p.code != piece.code)


def _mats(number: int) -> str:
    return "1 mat" if number == 1 else f"{number} mats"


def _area(mm2: float, unit: str) -> str:
    return f"{mm2 / 645.16:.0f} in²" if unit == "in" else f"{mm2 / 100:.0f} cm²"


def _far(mm: float, unit: str) -> str:
    return f"{mm / 304.8:.0f} ft" if unit == "in" else f"{mm / 1000:.1f} m"
