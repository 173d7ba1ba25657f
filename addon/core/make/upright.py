"""Flats laid as they are worn: the side that points up on the wearer at the top of the template."""

from __future__ import annotations

import numpy as np

from ..model import Region


def up_on_flat(region: Region, points: np.ndarray, up: np.ndarray) -> np.ndarray:
    """Mean direction (2,) on the flat in which the formed piece rises; shorter than 1."""
    corner = points[region.faces]
    height = region.vertices @ up
    rise = height[region.faces]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    du, dv = rise[:, 1] - rise[:, 0], rise[:, 2] - rise[:, 0]
    double = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    slope = np.stack([du * v[:, 1] - dv * u[:, 1], dv * u[:, 0] - du * v[:, 0]], axis=1)
    return slope.sum(axis=0) / max(double.sum(), 1e-300)


def turned_upright(points: np.ndarray, up: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The flat turned so that up points up and its corner of smallest x, y is the origin."""
    size = float(np.hypot(*up))
    if size < 0.2:  # lies nearly level on the wearer: no up worth an arrow
        direction = np.zeros(2)
        turned = points
    else:
        direction = np.array([0.0, 1.0])
        c, s = up[1] / size, up[0] / size
        turned = points @ np.array([[c, s], [-s, c]])
    return turned - turned.min(axis=0), direction
