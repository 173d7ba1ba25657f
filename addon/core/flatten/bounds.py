"""What no flattening can beat: lower bounds of the utilisation.

`certificate` is the dual of the band problem, sharp (within a percent or two) but only
for flattenings that turn the faces much as the one found does. `ratio_bound` holds for
every flattening without flipped faces (after Milnor 1969).
"""

from __future__ import annotations

import numpy as np

from ..stock import Limits
from .system import System

CENTRES, LEVELS = 4, 48  # discs tried: centres, and levels about each


def certificate(system: System, limits: Limits, jacobian: np.ndarray, stress: np.ndarray,
                seams: np.ndarray, pull: np.ndarray) -> float:
    """Least utilisation that the multipliers of the search allow.

    stress (2m,) and pull (k,) of the seam edges are in equilibrium: their work on any map
    is zero. With each face's stress written in the frame in which it is symmetric, with
    eigenvalue sums P (positive) and N (negative), and d the angle from that frame to the
    map's own rotation, a map in the band [low, high] does work of at most
    high P - low N cos d + (high - low) / 2 N sin d. The u at which the sum of all reaches
    zero is the bound (derived; weak duality). It holds for maps whose rotations lie no
    further from the frames than the given map's.
    """
    m, w = len(system.faces), system.weight
    p = np.abs(stress[:m])
    turned = np.conj(stress[:m]) * jacobian[:m]
    size = p * np.abs(jacobian[:m]) + 1e-300
    cosine, sine = np.abs(turned.real) / size, np.abs(turned.imag) / size
    trace, spread = p * np.sign(turned.real), np.abs(stress[m:])
    first, second = trace + spread, trace - spread
    pulled = np.maximum(first, 0) + np.maximum(second, 0)
    pressed = np.maximum(-first, 0) + np.maximum(-second, 0)
    positive = float(w @ pulled)
    straight, slanted = float(w @ (pressed * cosine)), float(w @ (pressed * sine))
    fixed = _seam_work(system, seams, pull)
    c, s = limits.compress, limits.stretch
    low_u, high_u = 0.0, 0.95 / c

    def work(u):
        low, high = 1 / (1 + s * u), 1 / (1 - c * u)
        return high * positive - low * straight + (high - low) / 2 * slanted + fixed

    if work(low_u) >= 0:
        return 0.0
    for _ in range(40):
        u = (low_u + high_u) / 2
        low_u, high_u = (u, high_u) if work(u) < 0 else (low_u, u)
    return low_u


def _seam_work(system: System, seams: np.ndarray, pull: np.ndarray) -> float:
    """Most work that intervals of kept length can do against their pull."""
    if not len(seams):
        return 0.0
    along = (np.conj(seams) * pull).real / np.maximum(np.abs(seams), 1e-300)
    strongest = np.full(system.seams.count, -np.inf)
    np.maximum.at(strongest, system.seams.interval, along)
    weight = np.bincount(system.seams.interval, system.seam_pull * np.abs(seams),
                         system.seams.count)
    return 2 * float(strongest @ weight)


def ratio_bound(system: System, points: np.ndarray, rim: np.ndarray) -> float:
    """A number that max sigma / min sigma of no flattening without flipped faces goes below.

    A disc of the surface whose rim of length L is everywhere at least rho from one inner
    point needs 2 pi rho / L: its image holds a disc of radius rho min(sigma), whose rim is
    at most L max(sigma) long (Milnor, "A Problem in Cartography", Amer. Math. Monthly 76,
    1969). A whole piece of area A and rim L needs sqrt(4 pi A) / L (isoperimetric
    inequality). points (n,): a flat, whose circles about a vertex are the discs tried;
    what is measured on the surface holds whether or not the flat is a good one. rim:
    vertices of the piece's boundary.
    """
    best = np.sqrt(4 * np.pi * system.area.sum()) / _rim_length(system)
    edge = points[rim]
    inner = np.setdiff1d(np.arange(system.count), rim)
    if not len(inner):
        return float(best)
    room = _distance_to(points[inner], edge)
    centres = [inner[np.argmax(room)]]
    far = np.abs(points[inner] - points[centres[0]])
    while len(centres) < min(CENTRES, len(inner)):  # spread out, well inside
        centres.append(inner[np.argmax(np.minimum(far, room))])
        far = np.minimum(far, np.abs(points[inner] - points[centres[-1]]))
    for centre in centres:
        reach = np.abs(edge - points[centre]).min()
        best = max(best, _disc_ratio(system, points - points[centre], reach))
    return float(best)


def utilisation_of_ratio(ratio: float, limits: Limits) -> float:
    """The utilisation u at which (1 + stretch u) / (1 - compress u) is `ratio`."""
    if not np.isfinite(ratio):
        return 1 / limits.compress
    return max((ratio - 1) / (limits.stretch + limits.compress * ratio), 0.0)


def ratio_of(u: float, limits: Limits) -> float:
    """Largest over smallest stretch of a map that uses the whole band of utilisation u."""
    pressed = 1 - limits.compress * u
    return (1 + limits.stretch * u) / pressed if pressed > 0 else np.inf


def _disc_ratio(system: System, flat: np.ndarray, reach: float) -> float:
    """Best 2 pi rho / L over the discs about the origin of a flat (n,).

    The distance d from the origin on the flat rises on the surface no faster than by the
    steepness of each face, so a point at d is at least the integral of 1 / steepness away.
    The rim is the level line of d's linear interpolation, whose length is exact; d is least
    on it where a piece of it comes nearest to the origin.
    """
    corners = flat[system.faces]
    nearest, farthest = _span(corners)
    steep = _steepness(system, flat, corners)
    height = np.abs(corners)
    low, high = height.min(axis=1), height.max(axis=1)
    levels = reach * np.arange(LEVELS + 1) / (LEVELS + 1)
    slope = np.array([steep[(nearest < b) & (farthest > a)].max(initial=0.0)
                      for a, b in zip(levels[:-1], levels[1:], strict=True)])
    travelled = np.concatenate([[0.0], np.cumsum(np.diff(levels) / np.maximum(slope, 1e-300))])
    best = 1.0
    for level in levels[1:]:
        crossed = (low < level) & (high > level)
        if not crossed.any():
            continue
        first, second = _level_line(height[crossed], level)
        on = lambda corner: (first(corner[crossed]), second(corner[crossed]))  # noqa: B023, E731
        rho = np.interp(_segment_distance(*on(corners)).min(), levels, travelled)
        a, b = on(system.corner)
        best = max(best, 2 * np.pi * rho / np.abs(a - b).sum())
    return best


def _level_line(height: np.ndarray, level: float):
    """Functions from corners (m, 3) to the two ends (m,) of the level line across each face."""
    above = height > level
    lone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), (~above).argmax(axis=1))
    row = np.arange(len(height))

    def end(step):
        other = (lone + step) % 3
        h, g = height[row, lone], height[row, other]
        share = (level - h) / np.where(g != h, g - h, 1.0)
        return lambda z: z[row, lone] + share * (z[row, other] - z[row, lone])

    return end(1), end(2)


def _segment_distance(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Distance of the origin from segments a-b in the complex plane."""
    d = b - a
    share = -(np.conj(d) * a).real / np.maximum(np.abs(d) ** 2, 1e-300)
    return np.abs(a + np.clip(share, 0.0, 1.0) * d)


def _span(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest distance of faces (m, 3) from the origin; one that has the origin
    for a corner starts at 0."""
    sides = np.stack([_segment_distance(corners[:, i], corners[:, (i + 1) % 3]) for i in range(3)])
    return sides.min(axis=0), np.abs(corners).max(axis=1)


def _steepness(system: System, flat: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """How fast the distance from the origin can rise on each face, on the surface.

    In direction d (unit, on the flat) it rises by |conj(p) d + q conj(d)|, whose square is
    |p|^2 + |q|^2 + 2 |p q| cos 2 (angle of d - axis).
    """
    m = len(corners)
    jacobian = system.gradient @ flat
    p, q = jacobian[:m], jacobian[m:]
    axis = (np.angle(p) + np.angle(q)) / 2
    middle = corners.mean(axis=1)
    turn = np.angle(corners / np.where(middle == 0, 1.0, middle)[:, None])
    at = np.angle(middle) - axis
    low, high = at + turn.min(axis=1), at + turn.max(axis=1)
    # The axis (at multiples of pi) within the face's span of directions: steepest there.
    holds = np.floor(high / np.pi) > np.floor(low / np.pi)
    holds |= (np.abs(corners).min(axis=1) == 0) | (high - low > np.pi / 2)
    cosine = np.maximum(np.cos(2 * low), np.cos(2 * high))
    cosine = np.where(holds, 1.0, cosine)
    return np.sqrt(np.abs(p) ** 2 + np.abs(q) ** 2 + 2 * np.abs(p * q) * cosine)


def _rim_length(system: System) -> float:
    from .. import mesh

    start, end, key = mesh.half_edges(system.faces)
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    half = first[count == 1]
    corner = system.corner
    return float(np.abs(corner[half // 3, (half + 1) % 3] - corner[half // 3, half % 3]).sum())


def _distance_to(points: np.ndarray, others: np.ndarray) -> np.ndarray:
    from scipy.spatial import cKDTree

    both = lambda z: np.stack([z.real, z.imag], axis=1)  # noqa: E731
    return cKDTree(both(others)).query(both(points))[0]
