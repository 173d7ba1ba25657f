"""What stands after each step of a build, and where it stands when it is drawn apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Mate, Part, Piece, Step
from .joins import Groups, sides

_FLAT = ("cut", "line", "bevel")  # steps after which nothing stands yet


@dataclass(frozen=True)
class Stage:
    """A step and what there is to see at it: codes of the pieces.

    standing: all that has been formed or joined up to it, in the order of the pieces; lit: the
    pieces it is about: what comes in, of a join; before and after: the group each piece hangs
    together with. apart: of each piece that stands, the sum of the unit vectors along which it
    was brought in, seen from what it came to (3,).
    """

    step: Step
    standing: tuple[str, ...]
    lit: frozenset[str]
    before: dict[str, str]
    after: dict[str, str]
    apart: dict[str, np.ndarray]


def stages(steps: Sequence[Step], pieces: Sequence[Piece], mates: Sequence[Mate]
           ) -> tuple[Stage, ...]:
    """One for each step."""
    known = {m.code: m for m in mates}
    groups, stands = Groups(p.code for p in pieces), set()
    apart = {p.code: np.zeros(3) for p in pieces}
    found, follows = [], {}
    for step in steps:
        before = {p.code: groups.of(p.code) for p in pieces}
        for move in step.moves:
            for code in move.pieces if move.way is not None else ():
                apart[code] = apart[code] + move.way
        for code in step.mates:
            groups.unite(*sides(known[code]))
        glued = {p.code: p.base for p in pieces if step.kind == "lay"
                 and {p.code, p.base} <= set(step.pieces)}
        for code, base in glued.items():
            groups.unite(base, code)
        after = {p.code: groups.of(p.code) for p in pieces}
        mine = set(step.pieces)
        if step.kind not in _FLAT:
            # What is joined brings along all that hangs together with it.
            touched = {after[code] for code in step.pieces} if step.mates or glued else set()
            stands |= mine | {c for c, root in after.items() if root in touched}
        came = {code for move in step.moves for code in move.pieces}
        for code, base in glued.items():  # it follows what it is glued on
            came.add(code)
            follows[code] = base
        for code in follows:
            apart[code] = apart[_root(code, follows)]
        lit = came if glued or step.kind in ("join", "close") else mine
        found.append(Stage(step, tuple(p.code for p in pieces
                                       if p.code in stands or p.code in mine),
                           frozenset(lit if step.kind != "finish" else ()),
                           before, after, dict(apart)))
    return tuple(found)


def _root(code: str, follows: dict[str, str]) -> str:
    while code in follows:
        code = follows[code]
    return code


def parted(parts: Sequence[Part]) -> dict[str, np.ndarray]:
    """Of each piece how far and along which way (3,) its part is drawn off, as a multiple of one
    step: what comes off first is furthest out. What has no way off stays, and so do all where
    there is one part alone."""
    last = max((part.turn for part in parts), default=1)
    stays = len(parts) < 2
    way = [np.zeros(3) if stays or part.way is None else
           (last - part.turn + 1) * np.array(part.way) for part in parts]
    return {code: off for part, off in zip(parts, way, strict=True) for code in part.pieces}
