"""How far each part of a flat piece is stretched and pressed when it is formed."""

from __future__ import annotations

import numpy as np

from .system import rest_triangles


def strain(flat: np.ndarray, faces: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    """The symmetric maps (m, 3), as xx, xy and yy, that stretch each triangle of a flat piece
    to its rest lengths: U with |U e| = length for every side e.

    flat (n, 2), faces (m, 3), lengths (m, 3) opposite each corner. The map J onto the triangle of
    these lengths gives C = U U = J' J; its root is (C + sqrt(det C) 1) / tr U, with
    (tr U)^2 = tr C + 2 sqrt(det C) (Cayley and Hamilton's theorem). Lengths that close no
    triangle are those of the flattest one, as for the search itself.
    """
    rest = rest_triangles(lengths)
    sides = lambda corner: corner[:, 1:] - corner[:, :1]  # noqa: E731
    formed = sides(np.stack([rest.real, rest.imag], axis=2))
    map_ = np.linalg.solve(sides(flat[faces]), formed)
    xx, xy, yy = ((map_[:, a] * map_[:, b]).sum(axis=1) for a, b in ((0, 0), (0, 1), (1, 1)))
    det = np.abs(np.linalg.det(map_))
    trace = np.sqrt(xx + yy + 2 * det)
    return np.stack([xx + det, xy, yy + det], axis=1) / trace[:, None]
