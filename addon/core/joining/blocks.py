"""Mounting blocks: wedges that bring both sides of a removable join into one plane.

What bridges a removable join on the inside, a tab of hook-and-loop or a strap, lies flat only
where the two inner faces do. Where the seam folds by φ, a wedge of φ / 2 on either side makes one
plane of both: across a hollow inside (the seam is convex outside) the plane is the chord from far
edge to far edge of the two patches; over a ridge it touches the ridge. For patches of width w:

    hollow: highest w/2 · sin φ, at the face towards the other wedge, falling to 0 at the far edge
    ridge:  0 at the seam, rising to w · tan(φ / 2) at the far edge

Where the faces also stand apart, as thick foam beside thin does, the lower one's block is higher
by that all over.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import count

import numpy as np

from ..model import OUTER, Block, Mate, Piece, Verdict

PARALLEL = math.radians(5.0)  # two faces that differ by no more lie flat on one another
LEVEL = 1.0  # mm by which they may stand apart
STEEPEST = math.radians(120.0)  # of a fold across which blocks are made


def blocks(mates: Sequence[Mate], pieces: Sequence[Piece]) -> tuple[Block, ...]:
    """The mounting blocks of all removable joins that need any, those alike as one."""
    known = {p.code: p for p in pieces}
    alike: dict[tuple, list[tuple[Mate, Piece]]] = {}
    for mate in mates:
        for on, heights, angle in _needed(mate, known):
            key = (on.stock, *np.round(mate.join.patch, 1).tolist(),
                   tuple(np.round(heights, 1).tolist()), round(angle, 3))
            alike.setdefault(key, []).append((mate, on))
    names = (name for n in count(1) if (name := f"MB{n}") not in known)
    return tuple(_block(next(names), key, rows) for key, rows in alike.items())


def wedge(fold: float, width: float) -> tuple[tuple[float, float], float]:
    """Heights (near the seam, far from it) of the wedge on either side of a fold (convex outside
    positive), and the angle of its upper to its lower face; radians."""
    if fold > 0:
        return (width / 2 * math.sin(fold), 0.0), fold / 2
    return (0.0, width * math.tan(-fold / 2)), -fold / 2


def _needed(mate: Mate, known: dict[str, Piece]
            ) -> Iterator[tuple[Piece, tuple[float, float], float]]:
    """On which pieces a join needs blocks, with their heights and angle."""
    if not mate.join.removable:
        return
    fold = float(np.mean(mate.fold))
    a, b = (known[code] for code, _ in mate.edges)
    deep = [p.stock.depths(p.side)[1] for p in (a, b)]  # of the inner faces below the sculpt
    apart = deep[0] - deep[1]
    heights, angle = wedge(fold, mate.join.patch[1]) if abs(fold) > PARALLEL else ((0.0, 0.0), 0.0)
    if abs(fold) > STEEPEST:
        return
    for piece, lower in ((a, max(-apart, 0.0)), (b, max(apart, 0.0))):
        raised = lower if abs(apart) > LEVEL else 0.0
        high = (heights[0] + raised, heights[1] + raised)
        if max(high) > 0:
            yield piece, high, angle


def _block(code: str, key: tuple, rows: Sequence[tuple[Mate, Piece]]) -> Block:
    stock, length, width, heights, angle = key
    layers = max(1, math.ceil(max(heights) / stock.thickness - 1e-6))
    on = rows[0][1]
    ring = np.array([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)])
    none = np.empty(0)
    piece = Piece(
        code=code, name="Mounting block", object=on.object, stock=stock,
        side=OUTER, verdict=Verdict("flat", 0.0, 0.0, (1.0, 1.0), np.inf, -1,
                                    "It is cut to a wedge, not formed."),
        vertices=none.reshape(0, 3), faces=none.reshape(0, 3), source_vertex=none,
        source_face=none, flat=none.reshape(0, 2), stretch=none.reshape(0, 2),
        front=(ring,), back=(ring,), cut=(ring,), edges=(), up=(0.0, 0.0), area=length * width,
        base=on.code, template=code, copies=layers * sum(mate.join.count for mate, _ in rows))
    return Block(piece, tuple(mate.code for mate, _ in rows), tuple(p.code for _, p in rows),
                 length, width, heights, angle, layers)
