"""From a way along the ground's edges to a smooth line on the sculpt."""

from __future__ import annotations

import numpy as np

from ... import mesh
from ...trace import Surface
from .ground import Ground
from .lines import Path

EVERY = 0.5  # of the ground's edges: spacing of the line's points
ROUNDS = 40  # of smoothing, each half-way to the mean of the neighbours


def smooth_line(ground: Ground, path: Path, held: np.ndarray, surface: Surface) -> np.ndarray:
    """Points (k, 3) on the surface of a smooth line along a path.

    held (e,): edges of the ground that the line stays on, such as creases. The ends stay.
    """
    way = list(path.vertices)
    corners = ground.points[way]
    along = mesh.arc_length(corners)
    spacing = EVERY * float(np.median(ground.length))
    count = max(int(round(along[-1] / spacing)), 2)
    at = np.linspace(0.0, along[-1], count + 1)
    points = np.stack([np.interp(at, along, x) for x in corners.T], axis=1)
    on = held[ground.numbers(path.edges)]
    segment = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(way) - 2)
    fixed = on[segment]
    fixed[[0, -1]] = True
    free = ~fixed
    for step in range(ROUNDS):
        middle = (points[:-2] + points[2:]) / 2
        moved = points.copy()
        moved[1:-1] += 0.5 * (middle - points[1:-1])
        points[free] = moved[free]
        if step % 10 == 9 and free.any():
            points[free] = surface.nearest(points[free]).points
    return points
