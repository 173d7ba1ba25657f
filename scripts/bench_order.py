"""How long the planner takes: towers of plates, and the example suit, beside their check."""

from __future__ import annotations

import time
from statistics import median

import environment
import numpy as np

from addon.core import make, order
from addon.core.model import SEAM, Sculpt, Settings
from addon.core.order.space import Space
from addon.core.stock import find_stock

EXAMPLE = environment.ROOT / "example_scenes" / "ferry_warden.blend"
CELLS = 6  # of the mesh along each side of a plate


def tower(levels: int, staves: int, radius: float = 150.0, high: float = 90.0) -> Sculpt:
    """A bulging tube of plates, in `levels` rings of `staves`, every one its own piece."""
    rows, columns = levels * CELLS, staves * CELLS
    turn = np.arange(columns) * 2 * np.pi / columns
    # A plate is flat across: its points lie on the chord between two corners.
    chord = np.cos(np.pi / staves) / np.cos((turn % (2 * np.pi / staves)) - np.pi / staves)
    at = np.arange(rows + 1) / CELLS
    # And straight up: radii are those of the rings, and what lies between on a line.
    rings = radius * (1 + 0.25 * np.sin(0.7 * np.arange(levels + 1)))
    wide = np.interp(at, np.arange(levels + 1), rings)
    points = np.stack([np.outer(wide, chord * np.cos(turn)), np.outer(wide, chord * np.sin(turn)),
                       np.outer(at * high, np.ones(columns))], axis=2).reshape(-1, 3)
    i, j = (x.ravel() for x in np.meshgrid(np.arange(rows), np.arange(columns), indexing="ij"))
    a, b = i * columns + j, i * columns + (j + 1) % columns
    faces = np.concatenate([np.stack([a, b, b + columns], 1),
                            np.stack([a, b + columns, a + columns], 1)])
    upright = np.stack([a, a + columns], 1)[j % CELLS == 0]
    level = np.stack([a, b], 1)[(i % CELLS == 0) & (i > 0)]
    edges = np.sort(np.concatenate([upright, level]), axis=1)
    return Sculpt.plain(points, faces, edges, np.full(len(edges), SEAM))


def example() -> Sculpt:
    """The example suit."""
    from addon.blender.read import read_blend

    return read_blend(EXAMPLE)[0]


def order_plans(quick: bool) -> dict:
    """Plans of growing towers, and of the example suit."""
    repeats = 1 if quick else 3
    settings = Settings(stock=find_stock())
    sizes = [(1, 6), (2, 6)] if quick else [(2, 6), (4, 8), (6, 10), (12, 10)]
    things = [(f"tower of {levels * staves} plates", tower(levels, staves))
              for levels, staves in sizes] + ([] if quick else [("example suit", example())])
    rows = []
    for label, sculpt in things:
        plans, seen, checks = [], [], []
        for _ in range(repeats):
            start = time.perf_counter()
            pattern = make.check(sculpt, settings)
            checks.append(time.perf_counter() - start)
            start = time.perf_counter()
            built = order.build(pattern.pieces, pattern.mates, settings, pattern.sculpt)
            plans.append(time.perf_counter() - start)
            start = time.perf_counter()
            ways = len(Space(pattern.pieces, pattern.mates).found.ways)
            seen.append(time.perf_counter() - start)
        moves = [move for step in built.steps for move in step.moves]
        rows.append([label, len(pattern.pieces), len(pattern.mates), median(plans),
                     median(plans) / median(checks), median(seen) / median(plans), ways,
                     sum(move.squeeze for move in moves)])
    return {
        "title": "The order of the build",
        "header": ["suit", "pieces", "seams", "seconds", "times the check",
                   "of it: what blocks what", "directions", "joins to squeeze in"],
        "rows": rows,
        "remarks": [
            f"Medians of {repeats}. The planner puts thick pieces together so that none passes "
            "through what stands, looks which of them block one another in every direction, and "
            "where a hand gets to at every join. Aim: 60 pieces within 5 s."],
    }
