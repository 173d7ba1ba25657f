"""Folds that a proposal leaves inside its pieces: trenches, where the foam takes the pieces then.

What counts as a fold is what the check of a pattern would ask a mark for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from .. import bends, mesh
from ..errors import FoamError
from ..model import Sculpt, Settings
from ..stock import Stock
from .verdict import Judged, cut_up, judged

ROUNDS = 3  # a trench may let the next fold show
TRIES = 8  # times in all that the engine is asked
WORSE = 1.05  # times its utilisation, a piece that stays formable may have more

Marked = Callable[[Sequence[np.ndarray]], Sculpt]


def with_trenches(marked: Marked, pieces: list[Judged], settings: Settings, stock: Stock,
                  side: str) -> tuple[list[np.ndarray], list[Judged]]:
    """Lines (k, 3) to be trenches besides what is marked, and the verdicts then.

    marked: makes the sculpt, ready to be cut, with such lines as trenches; pieces: the verdicts
    without any.
    """
    lines: list[np.ndarray] = []
    left = TRIES
    for _ in range(ROUNDS):
        todo = [_folds(marked(lines), settings, stock, side)]
        before = len(lines)
        while todo and left:
            more = todo.pop(0)
            if not more:
                continue
            left -= 1
            found = _judged(marked([*lines, *more]), settings, stock, side)
            if found is not None and _no_worse(found, pieces):
                lines, pieces = [*lines, *more], found
            elif len(more) > 1:
                todo += [more[::2], more[1::2]]
        if len(lines) == before:
            break
    return lines, pieces


def _folds(sculpt: Sculpt, settings: Settings, stock: Stock, side: str) -> list[np.ndarray]:
    """The folds without a mark as lines (k, 3), the longest first."""
    cut, layers = cut_up(sculpt, settings, stock, side)
    lines = []
    for region, layer in zip(cut.regions, layers, strict=True):
        edges, _ = bends.creases(region, layer, stock)
        lines += [region.vertices[chain] for chain in mesh.chains(edges)] if len(edges) else []
    return sorted(lines, key=lambda line: -mesh.polyline_length(line))


def _judged(sculpt: Sculpt, settings: Settings, stock: Stock, side: str) -> list[Judged] | None:
    """The verdicts, None where the lines leave something that is no piece."""
    try:
        return judged(sculpt, settings, stock, side)
    except FoamError:
        return None


def _no_worse(found: Sequence[Judged], before: Sequence[Judged]) -> bool:
    good = lambda pieces: sum(piece.formable for piece in pieces)  # noqa: E731
    worst = max(piece.u for piece in before)
    return (len(found) == len(before) and good(found) >= good(before)
            and max(piece.u for piece in found) <= max(min(WORSE * worst, 1.0), worst))
