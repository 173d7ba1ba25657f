"""Where other pieces are glued on the face of one: outlines and ticks, and their words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from ..core.model import Piece
from .strokes import Stroke

TICK = 5.0  # mm, of a tick across the outline, outside it so that it shows beside what is laid on


def strokes(piece: Piece, move: Callable[[np.ndarray], np.ndarray]) -> list[Stroke]:
    """The placement outlines and ticks of a template where it lies."""
    found = []
    for place in piece.places:
        found += [Stroke("placement", move(line)) for line in place.lines]
        found += [Stroke("placement", move(np.array([t.point, t.point - t.inward * TICK])))
                  for t in place.ticks]
    return found


def words(piece: Piece, move: Callable[[np.ndarray], np.ndarray]
          ) -> Iterator[tuple[str, np.ndarray, np.ndarray]]:
    """What is written: each text, its point (2,) and a unit vector (2,) along which it may be
    moved: names within the outline, letters beside the ticks."""
    for place in piece.places:
        alone = piece.copies + piece.mirrored < 2  # else said for which of its pieces it is meant
        name = ", ".join(of if alone else f"{of} on {on}"
                         for of, on in zip(place.of, place.on, strict=True))
        longest = max(place.lines, key=len)
        middle = move(longest.mean(axis=0)[None])[0]
        yield f"place {name}", middle, np.array([0.0, 1.0])
        for tick in place.ticks:
            ends = move(np.array([tick.point, tick.point - tick.inward * TICK]))
            way = ends[1] - ends[0]
            yield f"{place.letter}{tick.index}", ends[1], way / max(np.linalg.norm(way), 1e-9)


def absent(pieces: Iterable[Piece]) -> set[str]:
    """The layer of placement outlines where none of the pieces has one."""
    return set() if any(piece.places for piece in pieces) else {"placement"}
