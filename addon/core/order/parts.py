"""What comes off as one, and along which way: pieces that glue holds together."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import WARNING, Finding
from ..model import Mate, Part, Piece
from . import words
from .joins import assemblies, sides
from .space import Space


def parts(placed: Sequence[Piece], mates: Sequence[Mate], space: Space) -> tuple[Part, ...]:
    """The parts of a suit in the order in which they come off, the removable joins undone.

    Each has a way off that no part which is still there blocks; parts that come free at one time
    have one turn, the others none. A part by itself comes off the way it faces.
    """
    found = assemblies(placed, mates)
    way, turn = _ways_off([[p.code for p in part] for part in found], space)
    order = sorted(range(len(found)), key=lambda k: (turn[k], k))
    return tuple(_part(found[k], name, mates, way[k], turn[k])
                 for k, name in ((k, _names(found)[k]) for k in order))


def alone(placed: Sequence[Piece], mates: Sequence[Mate]) -> tuple[Part, ...]:
    """The parts by themselves, without their ways off, in the order of the pieces."""
    found = assemblies(placed, mates)
    return tuple(_part(part, name, mates, None, 1)
                 for part, name in zip(found, _names(found), strict=True))


def stuck(found: Sequence[Part], mates: Sequence[Mate], pieces: Sequence[Piece]) -> list[Finding]:
    """A finding for each part that cannot come off; of those that hold one another the largest
    is what the others are to come off from. Only parts that a removable join holds are asked:
    others may lie loosely in one another in the sculpt, as they are worn."""
    known = {p.code: p for p in pieces}
    letters = {m.code: m.letter for m in mates}
    told = []
    held = [part for part in found if part.way is None and part.joins]
    largest = max(held, key=lambda part: len(part.pieces), default=None)
    for part in held:
        if part is not largest:
            faces = np.concatenate([known[c].source_face for c in part.pieces])
            told.append(Finding(
                "part-stuck", WARNING,
                f"{words.listed(part.pieces)} cannot come off: other parts hold it on every side, "
                f"though {words.listed(dict.fromkeys(letters[j] for j in part.joins))} is undone.",
                "Make one more of its seams removable, or let it overlap the other way round.",
                faces=faces, piece=part.pieces[0]))
    return told


def _names(found: Sequence[Sequence[Piece]]) -> list[str]:
    made = [", ".join(sorted({p.object for p in part})) for part in found]
    names = []
    for part, name in zip(found, made, strict=True):
        if made.count(name) > 1:
            codes = sorted((p.code for p in part), key=words.natural)
            name = f"{name}: {codes[0]}" + (f" to {codes[-1]}" if len(codes) > 1 else "")
        names.append(name)
    return names


def _part(part: Sequence[Piece], name: str, mates: Sequence[Mate], way: np.ndarray | None,
          turn: int) -> Part:
    codes = {p.code for p in part}
    held = tuple(m.code for m in mates if m.join.removable and len(set(sides(m)) & codes) == 1)
    return Part(name, tuple(sorted(codes, key=words.natural)),
                None if way is None else tuple(np.round(way, 6).tolist()), turn, held)


def _ways_off(codes: Sequence[Sequence[str]], space: Space
              ) -> tuple[list[np.ndarray | None], list[int]]:
    """Per part its way off and its turn; those that nothing frees have the last turn and none."""
    at = [[space.number[c] for c in part] for part in codes]
    bars = np.array([[space.found.bars[:, i][:, :, j].max(axis=(1, 2), initial=0.0) for j in at]
                     for i in at])  # (parts, parts, d)
    for k in range(len(at)):
        bars[k, k] = 0.0
    middle = space.bodies.middles.mean(0)
    ways: list[np.ndarray | None] = [None] * len(at)
    turns, left, turn = [0] * len(at), list(range(len(at))), 1
    while left:
        free = (bars[left][:, left] <= 1.0).all(axis=1)  # (left, d)
        freed = [k for k, row in zip(left, free, strict=True) if row.any()]
        for k, row in zip(left, free, strict=True):
            turns[k] = turn
            if row.any():
                ways[k] = _best(space, at[k], middle, space.found.ways[row])
        if not freed:
            break
        left, turn = [k for k in left if k not in freed], turn + 1
    return ways, turns


def _best(space: Space, own: Sequence[int], middle: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Of the free ways the one along which a part faces and lies most, seen from the suit's
    middle, and that lies well inside what is free."""
    facing = space.bodies.normals[own].mean(0)
    away = space.bodies.middles[own].mean(0) - middle
    outward = facing / max(np.linalg.norm(facing), 0.3) + away / max(np.linalg.norm(away), 1.0)
    inner = np.maximum(free @ free.T, 0.0).mean(1)
    return free[int(np.argmax(np.round(free @ outward + inner, 3)))]
