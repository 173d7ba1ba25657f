"""The curves by which a rod is bent: its axis in the plane it leaves least, and from the side."""

from __future__ import annotations

import numpy as np

RISE = 0.25  # diameters out of its plane that show


def profiles(points: np.ndarray, diameter: float) -> tuple[tuple[np.ndarray, ...], float]:
    """Plane curves (k, 2) of an axis (k, 3), one of them or two, and how far it leaves the
    plane of the first, mm. The plane is that of least squares."""
    off = points - points.mean(axis=0)
    axes = np.linalg.svd(off, full_matrices=False)[2]
    along = axes[0] * np.sign(axes[0] @ (points[-1] - points[0]) or 1.0)
    flat = np.stack([off @ along, off @ axes[1], off @ np.cross(along, axes[1])], axis=1)
    rise = float(np.abs(flat[:, 2]).max())
    shown = [flat[:, :2]] + ([flat[:, [0, 2]]] if rise > RISE * diameter else [])
    return tuple(shown), rise
