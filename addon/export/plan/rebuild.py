"""The page of the plan on how the suit should come out: shaded views, and tables."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...core.model import Mate, Pattern, RebuiltMate
from ...core.order import words
from ...core.rebuild.told import FOLD, MISMATCH
from ...core.units import format_angle, format_length
from ..picture import Shades
from ..rebuild_words import WORST, in_words, worst_first
from .blocks import Block, Column, Heading, Section, Table, Text
from .shaded import shaded

LIMITS = (0.5, 1.0, 2.0, 3.0, 5.0)  # mm between the tones
GREYS = (0.98, 0.87, 0.74, 0.60, 0.45, 0.28)
SEAMS = 12  # listed at most, the worst first

_HOW = ("This is reckoned from the pieces alone: cut, bevelled and glued as told, formed as their "
        "gauges show, held at the tapes. How far you stretch and press the foam by hand shows in "
        "what you build.")


def how_it_comes_out(pattern: Pattern) -> Section:
    """The section, for a pattern that was put together again."""
    pattern = pattern.without_laid()  # those follow what they lie on
    beside = np.concatenate([np.linalg.norm(p.moved, axis=1) for p in pattern.rebuilt.pieces])
    limits = [format_length(limit, pattern.settings.unit) for limit in LIMITS]
    return Section("How it should come out", (
        *map(Text, in_words(pattern, pieces=False)), Text(_HOW, note=True),
        *shaded(pattern, Shades(beside, LIMITS, GREYS),
                [piece.code for piece in worst_first(pattern)[:WORST]],
                [f"up to {limits[0]}", *(f"to {limit}" for limit in limits[1:]), "more"]),
        *_pieces(pattern), *_seams(pattern)))


def _pieces(pattern: Pattern) -> Iterator[Block]:
    unit = pattern.settings.unit
    yield Heading("Pieces, furthest out first")
    offset: dict[str, float] = {}
    for trench in pattern.rebuilt.trenches:
        offset[trench.piece] = max(offset.get(trench.piece, 0.0), trench.offset)
    yield Table((Column("Piece", 2), Column("Name", 5), Column("At most", 2.5, "end"),
                 Column("RMS", 2.5, "end"), Column("Trench beside its line", 4, "end")),
                tuple((p.code, pattern.piece(p.code).name, format_length(p.most, unit),
                       format_length(p.rms, unit),
                       format_length(offset[p.code], unit) if p.code in offset else "–")
                      for p in worst_first(pattern)))


def _seams(pattern: Pattern) -> Iterator[Block]:
    found = sorted(zip(pattern.mates, pattern.rebuilt.mates, strict=True),
                   key=lambda pair: -_wrong(pair[1]))
    if not found:
        return
    yield Heading("Seams, the worst first" if len(found) <= SEAMS else
                  f"The {SEAMS} worst seams of {len(found)}")
    yield Table((Column("Seam", 2), Column("Between", 5),
                 Column("Edges differ, once formed", 4, "end"),
                 Column("Fold beside the sculpt's", 4, "end")),
                tuple(_seam(mate, told, pattern.settings.unit) for mate, told in found[:SEAMS]))
    yield Text(f"Up to {format_length(MISMATCH, pattern.settings.unit)} and {format_angle(FOLD)} "
               "are lost in gluing by hand.", note=True)


def _wrong(mate: RebuiltMate) -> float:
    return max(mate.mismatch / MISMATCH, abs(mate.fold) / FOLD)


def _seam(mate: Mate, told: RebuiltMate, unit: str) -> tuple[str, ...]:
    between = words.listed(sorted({code for code, _ in mate.edges}, key=words.natural))
    degrees = np.degrees(told.fold)
    return (mate.letter, between, format_length(told.mismatch, unit),
            f"{abs(degrees):.1f}° {'more' if degrees > 0 else 'less'}")
