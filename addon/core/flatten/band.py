"""The flattening of least utilisation, by alternating projections on the foam's band."""

from __future__ import annotations

import numpy as np

from .. import mesh
from ..stock import Limits
from .system import Seams, System, unit

SPARED = 0.01  # share of the area that may leave the band
RELAX = 1.7  # over-relaxation of the alternating steps


def least_utilisation(system: System, points: np.ndarray, limits: Limits,
                      iterations: int) -> np.ndarray:
    """Alternate: clip stretch to the band, keep seam lengths, solve, adjust the band."""
    w, m = system.weight, len(system.faces)
    jacobian = system.gradient @ points
    upper, lower = system.singular(jacobian)
    strain = np.sqrt((w * ((upper - 1) ** 2 + (lower - 1) ** 2)).sum() / 2)
    edges = _lengths_met(system, points)
    if strain < 1e-5 and edges < 1e-5:
        return points
    price = 0.15 * max(1.5 * strain, 1e-4)
    push = price * (limits.compress + limits.stretch) / 2
    spare = price / SPARED
    u = 1.5 * strain / limits.compress
    clipped, dual = jacobian.copy(), np.zeros_like(jacobian)
    kept, seam_dual = system.along @ points, np.zeros(len(system.seams.edges), complex)
    best, best_u, last = points, np.inf, np.inf
    for step in range(1, iterations + 1):
        moved = RELAX * jacobian + (1 - RELAX) * clipped + dual
        p, q = np.abs(moved[:m]), np.abs(moved[m:])
        upper, lower = p + q, p - q
        u = _band(upper, lower, w, u, limits, push, spare)
        low, high = 1 / (1 + limits.stretch * u), 1 / (1 - limits.compress * u)
        s1 = np.maximum(np.clip(upper, low, high), upper - spare)
        s2 = np.minimum(np.minimum(np.clip(lower, low, high), lower + spare) , s1)
        clipped = np.concatenate([moved[:m] * ((s1 + s2) / 2 / np.maximum(p, 1e-300)),
                                  moved[m:] * ((s1 - s2) / 2 / np.maximum(q, 1e-300))])
        dual = moved - clipped
        seam = RELAX * (system.along @ points) + (1 - RELAX) * kept + seam_dual
        kept = _keep_lengths(system.seams, seam)
        seam_dual = seam - kept
        points = system.solve(clipped - dual, kept - seam_dual)
        jacobian = system.gradient @ points
        if step % 20 == 0 or step == iterations:
            upper, lower = system.singular(jacobian)
            worst = _spared_utilisation(system, upper, lower, limits)
            worst += 10 * max(_lengths_met(system, points) - 5e-4, 0) / limits.stretch
            if worst < best_u and lower.min() > 0:  # even a spared face may not turn over
                best, best_u = points, worst
            if step >= 60 and abs(worst - last) < 2e-3 * worst and abs(worst - u) < 0.02 * worst:
                break
            last = worst
    return best


def _band(upper, lower, w, u, limits, push, spare):
    """The utilisation at which the faces' excess over the band just costs `push` (Newton)."""
    c, s = limits.compress, limits.stretch
    for _ in range(12):
        u = min(max(u, 0.0), 0.95 / c)
        low, high = 1 / (1 + s * u), 1 / (1 - c * u)
        over, under = upper - high, low - lower
        grow, fall = c * high**2, s * low**2
        excess = (grow * (w @ np.clip(over, 0, spare)) + fall * (w @ np.clip(under, 0, spare)))
        slope = (grow**2 * w[(over > 0) & (over < spare)].sum()
                 + fall**2 * w[(under > 0) & (under < spare)].sum())
        if slope <= 0:
            # Nothing lies outside: tighten the band to just inside the worst face.
            needed = max((1 - 1 / max(upper.max(), 1.0)) / c, (1 / min(lower.min(), 1.0) - 1) / s)
            if not 0 < needed < u:
                return u
            u = 0.99 * needed
            continue
        change = (excess - push) / slope
        u += change
        if abs(change) < 1e-6 * max(u, 1e-6):
            break
    return min(max(u, 0.0), 0.95 / c)


def _keep_lengths(seams: Seams, edge):
    """Nearest edge vectors (in units of their rest length) whose intervals sum to rest."""
    if not len(edge):
        return edge
    size = np.abs(edge)
    total = np.bincount(seams.interval, seams.lengths)
    short = total - np.bincount(seams.interval, seams.lengths * size)
    return unit(edge) * np.maximum(size + (short / total)[seams.interval], 0.05)


def _lengths_met(system: System, points) -> float:
    """Largest relative error of an interval's length."""
    seams = system.seams
    if not len(seams.edges):
        return 0.0
    total = np.bincount(seams.interval, seams.lengths)
    now = np.bincount(seams.interval, seams.lengths * np.abs(system.along @ points))
    return float(np.abs(now / total - 1).max())


def _spared_utilisation(system: System, upper, lower, limits: Limits) -> float:
    sigma = np.stack([1 / np.maximum(lower, 1e-9), np.where(lower > 0, 1 / upper, 0.0)], axis=1)
    return mesh.largest_but(limits.utilisation(sigma), system.area, SPARED * system.area.sum())
