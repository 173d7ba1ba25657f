"""The page of the plan on how the suit fits its wearer: shaded views, and tables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...core.fit import CLOSED
from ...core.model import Pattern
from ...core.units import format_length
from ..fit_words import WORST, in_words, tightest_first
from ..picture import Shades
from .blocks import Block, Column, Heading, Section, Table, Text
from .shaded import shaded

LIMITS = (0.0, 5.0, 15.0, 30.0, 60.0)  # mm of air between the tones
GREYS = (0.20, 0.42, 0.60, 0.76, 0.89, 0.99)  # dark where it is tight

_HOW = ("Measured from the foam's inner face to the body as both stand in the scene. Flesh and "
        "foam give way a little, and an undersuit takes room: try it on before you glue what "
        "cannot be parted again. Whoever wears it should be able to breathe deeply, see, and get "
        "out alone.")


def how_it_fits(pattern: Pattern) -> Section:
    """The section, for a pattern that was set beside a body."""
    unit, found = pattern.settings.unit, pattern.fitted
    shades = Shades(np.concatenate([piece.clearance for piece in found.pieces]), LIMITS, GREYS)
    limits = [format_length(limit, unit) for limit in LIMITS[1:]]
    return Section("How it fits", (
        Text(in_words(pattern)[0]), Text(_HOW, note=True),
        *shaded(pattern, shades, [piece.code for piece in tightest_first(pattern)[:WORST]],
                ["into it", f"to {limits[0]} off it", *(f"to {limit}" for limit in limits[1:]),
                 "more"]),
        *_girths(pattern),
        Heading("Pieces, tightest first"),
        Table((Column("Piece", 2), Column("Name", 5), Column("Least clearance", 4, "end"),
               Column("Mean", 3, "end")),
              tuple((p.code, pattern.piece(p.code).name, _signed(p.least, unit),
                     _signed(p.mean, unit)) for p in tightest_first(pattern))),
        *_spacers(pattern)))


def _girths(pattern: Pattern) -> Iterator[Block]:
    unit = pattern.settings.unit
    if not pattern.fitted.girths:
        return
    yield Heading("Girths")
    size = lambda mm: _signed(float(round(mm)), unit)  # noqa: E731
    yield Table(
        (Column("Round", 3), Column("Height over the soles", 4, "end"), Column("Body", 2.5, "end"),
         Column("Suit inside", 3, "end"), Column("To spare", 2.5, "end"),
         Column("Wanted", 2.5, "end"), Column("Foam goes round", 3.5, "end")),
        tuple((girth.name, size(girth.height), size(girth.body), size(girth.inside),
               size(girth.ease), size(girth.wanted) if girth.round >= CLOSED else "–",
               f"{100 * girth.round:.0f} %")
              for girth in pattern.fitted.girths))
    yield Text("As a tape spans them. Rigid foam wants about 50 mm over the undersuit (common "
               "practice, no source), and at the chest 48 mm more for a deep breath. Where foam "
               "does not go all the way round, straps make up for it.", note=True)


def _spacers(pattern: Pattern) -> Iterator[Block]:
    unit, found = pattern.settings.unit, pattern.fitted.spacers
    if not found:
        return
    yield Heading("Spacers for what floats")
    rows = []
    for piece in pattern.pieces:
        own = [spacer.height for spacer in found if spacer.piece == piece.code]
        if own:
            rows.append((piece.code, piece.name, str(len(own)),
                         ", ".join(format_length(round(height), unit) for height in own)))
    yield Table((Column("Piece", 2), Column("Name", 4), Column("Blocks", 2, "end"),
                 Column("Heights", 8)), tuple(rows))
    yield Text("Blocks of soft foam, about 40 mm across, glued to the inside as far apart as the "
               "piece allows; they keep it off the body and let air through.", note=True)


def _signed(mm: float, unit: str) -> str:
    return format_length(mm, unit) if mm >= 0 else f"−{format_length(-mm, unit)}"
