"""The page of the plan on how far the wearer can move: poses in which plates meet, and a table."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ...core.model import Movement, Pattern
from ...core.reach import SOURCE, posed
from ...core.units import format_length
from ..picture import suit_picture
from ..reach_words import angle, capital, in_words, most_held_first, of_body
from .blocks import Block, Column, Heading, Section, Table, Text, Views
from .illustration import illustrate
from .paper import width

SHOWN, TALL = 3, 85.0  # poses that are drawn; their height at most, mm
_BESIDE = 12.0  # mm for codes beside a picture

_HOW = ("A coarse check: plates are taken as rigid and turn with the part of the body they are "
        "worn on, one joint at a time, out of the stance of the sculpt. Flesh, straps that give, "
        "rising shoulders and plates that slide over one another are left out, and so is what you "
        "carry. It tells where to look; walk, sit, climb stairs and lift your arms in the pinned "
        "suit before you glue. Whoever wears it must be able to get out alone, and not walk where "
        "a fall is dangerous if the suit hinders sight or steps.")


def how_it_moves(pattern: Pattern) -> Section:
    """The section, for a pattern whose movements were tried."""
    found = pattern.reach
    name = "the body" if found.body == "body" else f"the body “{found.body}”"
    joints = (f"Joints were found by the height, hands and feet of {name}." if found.body else
              "No body stands in the suit: joints are those of a plain figure about the middle of "
              "the world.")
    return Section("How it moves", (
        Text(in_words(pattern)[0]), Text(f"{_HOW} {joints}", note=True), *_pictures(pattern),
        *_table(pattern), *_worn(pattern)))


def _pictures(pattern: Pattern) -> Iterator[Block]:
    shown: dict[str, Movement] = {}
    for movement in most_held_first(pattern):  # of a left and a right one the worse
        shown.setdefault(movement.name, movement)
    some = list(shown.values())[:SHOWN]
    room = (width(pattern) / SHOWN - 2 * _BESIDE, TALL)
    pictures = [(m, suit_picture(posed(pattern, m), _view(pattern, m), room, m.meeting.pieces,
                                 marks=False)) for m in some]
    if pictures:
        yield Views(tuple(illustrate(
            picture, {}, m.meeting.pieces, f"{capital(m.words)}: {angle(m.reached)}",
            only=m.meeting.pieces) for m, picture in pictures), len(pictures))


def _view(pattern: Pattern, movement: Movement) -> tuple[float, float]:
    """From where a movement is seen: from the side on which it is, where it goes forward."""
    across = abs(float(movement.axis @ np.cross(pattern.sculpt.up, pattern.sculpt.front)))
    return (-65.0 if movement.side == "right" else 65.0, 10.0) if across > 0.5 else (20.0, 10.0)


def _table(pattern: Pattern) -> Iterator[Block]:
    found, unit = pattern.reach, pattern.settings.unit
    if not found.movements:
        return
    yield Heading("Movements")
    rows = []
    for m in found.movements:
        needed = "–" if m.needed is None else angle(m.needed) + (f" to {m.why}" if m.why else "")
        rows.append((capital(m.words), angle(m.reached, m.accuracy), angle(m.most),
                     needed, "–" if m.meeting is None else
                     f"{m.meeting.pieces[0]} and {m.meeting.pieces[1]}"
                     + (f", {format_length(round(m.short), unit)} short" if not m.enough else "")))
    yield Table((Column("Movement", 5), Column("Gets to", 2.6, "end"),
                 Column("Tried to", 2, "end"), Column("Wanted", 4.6), Column("What meets", 4)),
                tuple(rows))
    yield Text("Angles as a goniometer tells them: 0° is an upright trunk, hanging arms, straight "
               f"limbs. Tried as far as people get without armour ({SOURCE}, from memory), or as "
               "was asked. What is wanted is common practice, no source, but for the elbow "
               "(Morrey and others 1981, from memory).", note=True)


def _worn(pattern: Pattern) -> Iterator[Block]:
    yield Heading("What moves with what")
    yield Table((Column("Part", 5), Column("Pieces", 6), Column("Moves with", 3),
                 Column("Because", 4)),
                tuple((w.part, ", ".join(w.pieces), of_body(w.segment),
                       "its name or you say so" if w.asked else "it lies nearest to it")
                      for w in pattern.reach.worn))
