"""A closed skin through rings, each two half ellipses."""

from __future__ import annotations

import numpy as np

ACROSS, AHEAD = np.array([1.0, 0.0, 0.0]), np.array([0.0, -1.0, 0.0])
ROUND = np.linspace(0.0, np.pi, 181)


def loft(centres: np.ndarray, sizes: np.ndarray, sides: int, rings: int
         ) -> tuple[np.ndarray, np.ndarray]:
    """Vertices (n, 3) and triangles (m, 3) of a skin through level rings about centres (k, 3),
    which rise. sizes (k, 3): half width, depth to the front, depth to the back."""
    from scipy.interpolate import CubicSpline

    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(centres, axis=0), axis=1))])
    at = np.linspace(0.0, along[-1], rings)
    middle = CubicSpline(along, centres, bc_type="natural")(at)
    size = np.maximum(CubicSpline(along, sizes, bc_type="natural")(at), 1.0)
    turn = np.linspace(0.0, 2 * np.pi, sides, endpoint=False)
    s, c = np.sin(turn), np.cos(turn)
    depth = np.where(c > 0, size[:, 1:2], size[:, 2:3])
    points = (middle[:, None] + (size[:, :1] * s)[..., None] * ACROSS
              + (depth * c)[..., None] * AHEAD)
    index = np.arange(rings * sides).reshape(rings, sides)
    after = np.roll(index, -1, axis=1)
    walls = np.stack([index[:-1], after[:-1], after[1:], index[1:]], axis=-1).reshape(-1, 4)
    triangles = np.concatenate([walls[:, [0, 1, 2]], walls[:, [0, 2, 3]]])
    # A fan closes either end.
    first, last = index[0], index[-1]
    caps = [np.stack([np.full(sides - 2, ring[0]), ring[1:-1], ring[2:]], axis=1)
            for ring in (first[::-1], last)]
    return points.reshape(-1, 3), np.concatenate([triangles, *caps])


def girths(sizes: np.ndarray, slant: np.ndarray | float = 1.0) -> np.ndarray:
    """Girth (k,) of rings of such sizes (k, 3), at right angles to an axis that leans to the side.
    slant (k,): cosine of the angle by which it leans."""
    wide = sizes[:, 0] * slant
    total = np.zeros(len(sizes))
    for depth in sizes[:, 1:].T:
        points = np.stack([wide[:, None] * np.cos(ROUND), depth[:, None] * np.sin(ROUND)], axis=2)
        total += np.linalg.norm(np.diff(points, axis=1), axis=2).sum(axis=1)
    return total
