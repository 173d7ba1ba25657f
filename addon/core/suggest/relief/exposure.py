"""How much a line on the sculpt shows: least along valleys, sharp edges, undersides, the back
and the middle of a symmetric suit.

Common practice of pattern makers, no source; the shares are ours.
"""

from __future__ import annotations

import math

import numpy as np

from ... import mesh
from .ground import Ground

HIDES = {"valley": 0.6, "edge": 0.6, "underside": 0.5, "back": 0.4, "middle": 0.5}
WORDS = {"valley": "along a valley", "edge": "along a sharp edge", "underside": "on the underside",
         "back": "at the back", "middle": "in the middle of the suit"}
PLAIN = "in plain sight"
HOLLOW = 1 / 40  # 1/mm: curvature of a valley that hides a seam well
SHARP = math.radians(15.0), math.radians(45.0)  # folds that begin to hide a seam, and do
LEANS = 0.3, 0.8  # cosine between the surface's outside and down (or back), likewise
NEAR_MIDDLE = 6.0  # mm from the middle plane that count as in it
SHOWS = 0.3  # share of a line that must have a feature for it to be told
SHARP_VALLEY = "in a sharp valley"
OPEN = 0.85  # visibility from which on a line is in plain sight, whatever hides bits of it


def features(ground: Ground, up: np.ndarray, front: np.ndarray, middle: float | None
             ) -> dict[str, np.ndarray]:
    """Per feature that hides a seam, how much (e,) each edge of the ground has of it, 0 to 1.

    up, front (3,): unit vectors. middle: position of the middle plane along up x front in mm,
    None where the sculpt is not symmetric.
    """
    a, b = ground.edges.T
    normal = ground.normals[a] + ground.normals[b]
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    hollow = np.maximum(-ground.curvature[:, 1], 0.0)
    found = {
        "valley": np.minimum(np.minimum(hollow[a], hollow[b]) / HOLLOW, 1.0),
        "edge": _rise(_folds(ground), *SHARP),
        "underside": _rise(-(normal @ up), *LEANS),
        "back": _rise(-(normal @ front), *LEANS),
    }
    if middle is not None:
        away = np.abs(ground.points @ np.cross(up, front) - middle)
        found["middle"] = (np.maximum(away[a], away[b]) < NEAR_MIDDLE).astype(float)
    return found


def visibility(features: dict[str, np.ndarray]) -> np.ndarray:
    """How much (e,) a seam along each edge shows: 1 in plain sight, near 0 where all hides it."""
    seen = 1.0
    for name, share in features.items():
        seen = seen * (1 - HIDES[name] * share)
    return seen


def in_words(features: dict[str, np.ndarray], chosen: np.ndarray, length: np.ndarray) -> str:
    """Where a line of the chosen edges (k,) lies; length (e,) of all edges."""
    share_of = lambda value: float(value[chosen] @ length[chosen]) / max(  # noqa: E731
        length[chosen].sum(), 1e-300)
    if share_of(visibility(features) * np.ones(len(length))) > OPEN:
        return PLAIN
    share = {name: share_of(value) for name, value in features.items()}
    order = sorted(share, key=lambda name: -share[name])
    told = [name for name in order if share[name] > SHOWS][:2] or order[:1]
    if set(told) == {"valley", "edge"}:
        return SHARP_VALLEY
    return " and ".join(WORDS[name] for name in told)


def _folds(ground: Ground) -> np.ndarray:
    """Angle (e,) between the faces beside each edge; 0 on rims."""
    normals, _ = mesh.face_normals(ground.points, ground.faces)
    half, twin = ground.half
    n1, n2 = normals[half // 3], normals[np.where(twin < 0, half, twin) // 3]
    return np.arctan2(np.linalg.norm(np.cross(n1, n2), axis=1), np.einsum("ij,ij->i", n1, n2))


def _rise(values: np.ndarray, low: float, high: float) -> np.ndarray:
    return np.clip((values - low) / (high - low), 0.0, 1.0)
