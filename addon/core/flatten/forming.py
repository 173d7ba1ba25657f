"""How far each part of a flat piece is stretched and pressed when it is formed."""

from __future__ import annotations

import numpy as np


def strain(flat: np.ndarray, faces: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    """The symmetric maps (m, 3), as xx, xy and yy, that stretch each triangle of a flat piece
    to its rest lengths: U with |U e| = length for every side e.

    flat (n, 2), faces (m, 3), lengths (m, 3) opposite each corner. C = U U is the solution of
    e . C e = length^2 for the three sides; its root is (C + sqrt(det C) 1) / tr U, with
    (tr U)^2 = tr C + 2 sqrt(det C) (Cayley and Hamilton's theorem).
    """
    corner = flat[faces]
    side = np.roll(corner, -2, axis=1) - np.roll(corner, -1, axis=1)
    x, y = side[..., 0], side[..., 1]
    sides = np.stack([x * x, 2 * x * y, y * y], axis=2)
    c = np.linalg.solve(sides, (lengths**2)[..., None])[..., 0]
    det = np.sqrt(np.maximum(c[:, 0] * c[:, 2] - c[:, 1] ** 2, 1e-12))
    trace = np.sqrt(c[:, 0] + c[:, 2] + 2 * det)
    return (c + np.stack([det, np.zeros_like(det), det], axis=1)) / trace[:, None]
