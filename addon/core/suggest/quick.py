"""A guess within milliseconds at what a flat piece would ask of the foam.

A conformal map scales the surface by e^v with L v = K: the cotangent Laplacian, the angle
defects, and v = 0 on the rim. The range of v, over the width of the foam's band in logarithms,
is what the best conformal map asks; the best map of all asks about two thirds of that (measured
on unions of patches of real sculpts; on a small cap it is 1 / 2, after Milnor).
"""

from __future__ import annotations

import numpy as np

from ..flatten import rest_triangles
from ..stock import Limits

SHARE = 2 / 3  # of what the conformal map asks


def guess(faces: np.ndarray, lengths: np.ndarray, rim: np.ndarray, limits: Limits) -> float:
    """Utilisation, about, of triangles (m, 3) with rest lengths (m, 3) opposite their corners.

    rim: the vertices (k,) that stay; vertices are numbered without gaps.
    """
    scale, _ = conformal(faces, lengths, rim)
    if not len(scale):
        return 0.0
    band = np.log((1 + limits.stretch) / (1 - limits.compress))
    return float(SHARE * (max(scale.max(), 0.0) - min(scale.min(), 0.0)) / band)


def conformal(faces: np.ndarray, lengths: np.ndarray, rim: np.ndarray
              ) -> tuple[np.ndarray, np.ndarray]:
    """The logarithm of the scale (n,) of the conformal map that keeps the rim's scale, and the
    angle defects (n,), 0 on the rim."""
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    count = int(faces.max()) + 1
    at = rest_triangles(lengths)
    first, second = np.roll(at, -1, axis=1) - at, np.roll(at, -2, axis=1) - at
    turn = np.conj(first) * second  # |turn| times e^(i angle) at each corner
    angle = np.angle(turn)
    cot = (turn.real / np.maximum(np.abs(turn.imag), 1e-300)).ravel() / 2
    defect = 2 * np.pi - np.bincount(faces.ravel(), angle.ravel(), count)
    inner = np.ones(count, dtype=bool)
    inner[rim] = False
    scale, defect = np.zeros(count), np.where(inner, defect, 0.0)
    free = np.flatnonzero(inner)
    if len(free):
        i, j = np.roll(faces, -1, axis=1).ravel(), np.roll(faces, -2, axis=1).ravel()
        weight = sp.coo_matrix((np.concatenate([cot, cot]),
                                (np.concatenate([i, j]), np.concatenate([j, i]))),
                               shape=(count, count)).tocsr()
        laplace = sp.diags(np.asarray(weight.sum(axis=1)).ravel()) - weight
        scale[free] = splu(laplace[free][:, free].tocsc(), permc_spec="MMD_AT_PLUS_A",
                           diag_pivot_thresh=0.0,
                           options={"SymmetricMode": True}).solve(defect[free])
    return scale, defect
