"""Do the parts of a suit go into a box of a given size, and how?

    load    a part as points all over its foam, in a frame in which it takes up little room
    stack   parts let down into the box one after another, over a map of heights

Parts are rigid and come apart where joins are removable. Each is turned onto any of the 24
rotations of its frame's axes. A yes is an arrangement that can be checked and packed; a no means
that none was found, unless it is said to be certain.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from .. import order
from ..errors import ERROR, NOTE, Finding, FoamError, severity_rank
from ..model import Packed, Part, Pattern, Transport
from ..stopping import stoppable
from ..units import format_box, format_length
from .load import Load, loads
from .stack import Box, Place

__all__ = ["GAP", "packed", "put_in"]

Progress = Callable[[float, str], bool | None]
GAP = 6.0  # mm between parts, so that they do not mark one another; common practice, no source
LEAST, MOST = 20.0, 5000.0  # mm that a side of a box can measure
WIDEST = 50.0  # mm of gap
TRIES = 24  # orders of packing that are tried


@stoppable
def packed(pattern: Pattern, box: Sequence[float], gap: float = GAP,
           progress: Progress | None = None) -> Pattern:
    """The pattern with its parts in a box of this length, width and height inside, mm, or as many
    of them as found a place, and a finding on those that did not.

    Raises FoamError `bad-box`.
    """
    _require(box, gap)
    say = progress or (lambda share, text: None)
    say(0.0, "Looking at the parts")
    parts = [replace(part, way=None) for part in order.loose_parts(pattern)]
    found = put_in(loads(pattern, parts), box, gap,
                   lambda share: say(0.3 + 0.7 * share, "Packing the box"), pattern.settings.unit)
    told = sorted((*pattern.findings, *_told(pattern, found, parts)), key=severity_rank)
    say(1.0, "Packed")
    return replace(pattern, transport=found, findings=tuple(told))


def put_in(parts: Sequence[Load], box: Sequence[float], gap: float = GAP,
           say: Callable[[float], object] = lambda share: None, unit: str = "mm") -> Transport:
    """Loads in a box: the best of some orders, first the largest ones. What found no place in one
    order comes first in the next. The same loads give the same arrangement."""
    size = tuple(float(x) for x in box)
    room = Box(size, gap, parts)
    best, left = _tried(room, parts, say)
    return Transport(size, gap, tuple(_packed(place, parts[place.load], gap) for place in best),
                     tuple(parts[k].part.name for k in left), *_why(parts, left, room, unit),
                     max((float(p.corner[2] + p.shape.size[2]) - gap / 2 for p in best),
                         default=0.0))


def _tried(room: Box, parts: Sequence[Load], say: Callable[[float], object]
           ) -> tuple[list[Place], list[int]]:
    able = [k for k in range(len(parts)) if room.shapes[k]]
    never = [k for k in range(len(parts)) if not room.shapes[k]]
    keys = (lambda k: -float(np.prod(parts[k].size)), lambda k: -float(parts[k].size.max()),
            lambda k: -float(np.prod(np.sort(parts[k].size)[1:])))
    waiting = [sorted(able, key=lambda k, key=key: (round(key(k)), k)) for key in keys]
    random, seen = np.random.default_rng(1), set()
    best: tuple[list[Place], list[int]] = ([], able)
    for turn in range(TRIES):
        say(turn / TRIES)
        if not waiting:
            waiting.append(random.permutation(able).tolist())
        sequence = waiting.pop(0)
        if tuple(sequence) in seen:
            continue
        seen.add(tuple(sequence))
        places, left = room.filled(sequence)
        if _room(parts, left) < _room(parts, best[1]) or turn == 0:
            best = places, left
        if not left:
            break
        first = [*left, *(k for k in sequence if k not in left)]
        if tuple(first) not in seen:
            waiting.append(first)
    return best[0], sorted([*best[1], *never])


def _room(parts: Sequence[Load], some: Sequence[int]) -> float:
    return sum(float(np.prod(parts[k].size)) for k in some)


def _packed(place: Place, load: Load, gap: float) -> Packed:
    turn = place.shape.turn @ load.frame
    offset = place.corner + gap / 2 - place.shape.low
    low = place.corner + gap / 2
    return Packed(load.part.name, load.part.pieces, turn, offset, low,
                  low + np.abs(place.shape.turn) @ load.size)


def _why(parts: Sequence[Load], left: Sequence[int], room: Box, unit: str) -> tuple[bool, str]:
    """Whether no box of that size takes what is left, and why it is."""
    if not left:
        return False, ""
    foam, inside = sum(load.volume for load in parts), float(np.prod(room.size))
    if foam > inside:
        return True, (f"The foam alone takes up {_litres(foam)}, the box holds "
                      f"{_litres(inside)}.")
    diagonal = math.sqrt(float(room.size @ room.size))
    long = max((parts[k] for k in left), key=lambda load: load.longest)
    if long.longest > diagonal:
        return True, (f"{long.part.name} measures {format_length(round(long.longest), unit)} from "
                      f"end to end, more than the box from corner to corner "
                      f"({format_length(round(diagonal), unit)}).")
    alone = [parts[k] for k in left if not room.shapes[k]]
    if alone:
        size = format_box(sorted(np.round(alone[0].size), reverse=True), unit)
        return False, (f"{alone[0].part.name} alone measures {size}, and does not go into the "
                       "empty box along its sides.")
    return False, "No arrangement was found; a patient hand may still find one."


def _litres(volume: float) -> str:
    """A volume in mm3 for a person to read."""
    return f"{volume / 1e6:.0f} litres" if volume >= 1e7 else f"{volume / 1e6:.2g} litres"


def _told(pattern: Pattern, found: Transport, parts: Sequence[Part]) -> list[Finding]:
    if found.fits:
        return []
    codes = [code for part in parts if part.name in found.left for code in part.pieces]
    many = ", ".join(found.left)
    return [Finding(
        "box-too-small", NOTE, f"Not all parts go into the box: {many} left over. {found.why}",
        "Choose a larger box, or make one more seam of a large part removable.",
        faces=np.unique(np.concatenate([pattern.piece(code).source_face for code in codes])),
        piece=codes[0])]


def _require(box: Sequence[float], gap: float) -> None:
    if len(box) != 3 or not all(LEAST <= x <= MOST for x in box):  # false for NaN as well
        raise FoamError(Finding(
            "bad-box", ERROR, "That is no size of a box.",
            f"Give its length, width and height inside, such as 600x400x400 mm; each from "
            f"{format_length(LEAST)} to {format_length(MOST)}."))
    if not 0 <= gap <= WIDEST:
        raise FoamError(Finding(
            "bad-box", ERROR, f"A gap of {gap:g} mm makes no sense.",
            f"Choose from 0 to {format_length(WIDEST)}."))
