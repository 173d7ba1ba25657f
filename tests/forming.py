"""Stretch of a flat piece worked out apart from the engine, triangle by triangle."""

from __future__ import annotations

import numpy as np


def singular_values(points, faces, lengths) -> np.ndarray:
    """Singular values (m, 2), larger first, of the maps flat triangle -> rest triangle.

    points (n, 2) of the flat; lengths (m, 3) of the rest triangles' edges, each opposite its
    corner. The smaller value of a triangle that lies face down is negative.
    """
    a, b, c = np.asarray(lengths).T
    x = (b**2 + c**2 - a**2) / (2 * c)  # law of cosines: corner 0 at the origin, corner 1 at (c, 0)
    rest = np.stack([np.stack([c, x], axis=1),
                     np.stack([np.zeros_like(c), np.sqrt(b**2 - x**2)], axis=1)], axis=1)
    corner = np.asarray(points)[faces]
    flat = np.stack([corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]], axis=2)
    forming = rest @ np.linalg.inv(flat)
    values = np.linalg.svd(forming, compute_uv=False)
    values[:, 1] *= np.sign(np.linalg.det(forming))
    return values


def utilisation(values, limits) -> np.ndarray:
    """Share (m,) of the limits that singular values (m, 2) take; infinite where face down."""
    asked = np.maximum(values[:, 0] - 1, 0) / limits.stretch
    asked = np.maximum(asked, (1 - values[:, 1]) / limits.compress)
    return np.where(values[:, 1] > 0, asked, np.inf)


def largest_allowing_spots(values, area, faces, spared, spot) -> float:
    """Smallest of the values (or 0) above which lie only faces of at most `spared` in area, and
    at most `spot` among those that hang together at vertices. By trying every value."""
    for limit in sorted([*values, 0.0]):
        out = [int(f) for f in np.flatnonzero(values > limit)]
        if area[out].sum() > spared:
            continue
        patches: list[tuple[set, float]] = []
        for f in out:
            touched = [p for p in patches if p[0] & set(faces[f].tolist())]
            patches = [p for p in patches if p not in touched]
            patches.append((set(faces[f].tolist()).union(*(p[0] for p in touched)),
                            area[f] + sum(p[1] for p in touched)))
        if max((p[1] for p in patches), default=0.0) <= spot:
            return float(limit)
    raise AssertionError("above the largest value there is nothing")
