"""Outlines as cubic Bézier curves, for the formats that have them.

The core knows an outline as points joined by straight lines. Its smooth runs are drawn as
curves that stay within NEAR of those lines, its corners stay corners.

Fit after P. J. Schneider, "An Algorithm for Automatically Fitting Digitized Curves", Graphics
Gems (1990): least squares between fixed end tangents, parameters improved by Newton's method,
split where the fit is worst.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

NEAR = 0.03  # furthest a curve runs from the outline, mm
CORNER = np.radians(12.0)  # a sharper turn is a corner
_STRAIGHT = 0.008  # a run this near its chord is a straight line, mm
_SAME = 0.02  # points nearer than this are one, mm
_SAMPLE = 1.5  # mm between the places at which an outline is looked at
_REACH = 3.0  # mm of outline to either side that tell its direction
_ROUNDS = 4  # of Newton's method


def curves(points: np.ndarray, closed: bool = False) -> np.ndarray:
    """Bézier curves (n, 4, 2), each beginning where the one before ends, along points (k, 2).

    A straight line has its inner control points on it, at the thirds. closed: the last point is
    joined to the first.
    """
    points = np.ascontiguousarray(points, dtype=float)
    return _curves(points.tobytes(), closed)


def is_straight(curve: np.ndarray) -> bool:
    """Whether a curve (4, 2) is a straight line from end to end."""
    return bool(np.abs(curve[1] - (2 * curve[0] + curve[3]) / 3).max() < 1e-9
                and np.abs(curve[2] - (curve[0] + 2 * curve[3]) / 3).max() < 1e-9)


def at(curve: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Points (k, 2) of a curve (4, 2) at parameters t (k,)."""
    return _weights(t) @ curve


@lru_cache(maxsize=4096)  # a piece is drawn on paper and on its mat
def _curves(raw: bytes, closed: bool) -> np.ndarray:
    points = _distinct(np.frombuffer(raw).reshape(-1, 2), closed)
    if len(points) < 2:
        return np.empty((0, 4, 2))
    found: list[np.ndarray] = []
    corners = np.flatnonzero(np.abs(_turns(points)) > CORNER)
    if closed and len(points) > 2 and not len(corners):
        _fit_ring(_filled(np.append(points, points[:1], axis=0)), found)
    else:
        if closed and len(points) > 2:
            points = np.roll(points, -corners[0], axis=0)
            points, corners = np.append(points, points[:1], axis=0), corners - corners[0]
        breaks = np.unique([0, *corners, len(points) - 1])
        for a, b in zip(breaks[:-1], breaks[1:], strict=True):
            run = _filled(points[a:b + 1])
            _fit(run, _direction(run, 0), -_direction(run, len(run) - 1), found)
    result = np.array(found).reshape(-1, 4, 2)
    result.setflags(write=False)
    return result


def _distinct(points: np.ndarray, closed: bool) -> np.ndarray:
    """The points without those that repeat the one before, or the first where closed."""
    steps = np.roll(points, -1, axis=0) - points
    steps = steps if closed else steps[:-1]
    if (np.hypot(*steps.T) > _SAME).all():
        return points
    kept = [0]
    for i in range(1, len(points)):
        if np.hypot(*(points[i] - points[kept[-1]])) > _SAME:
            kept.append(i)
    if kept[-1] != len(points) - 1 and not closed and len(kept) > 1:
        kept[-1] = len(points) - 1
    if closed and len(kept) > 2 and np.hypot(*(points[kept[-1]] - points[0])) <= _SAME:
        kept.pop()
    return points[kept]


def _turns(points: np.ndarray) -> np.ndarray:
    """Angle (k,) by which a ring turns at each point."""
    ahead = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(ahead[:, 1], ahead[:, 0])
    return (heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi


def _filled(points: np.ndarray) -> np.ndarray:
    """The points, and more on the lines between them about every _SAMPLE mm, and never none."""
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    parts = np.maximum(np.ceil(np.diff(arc) / _SAMPLE).astype(int), 2)
    spots = np.append(np.concatenate([a + (b - a) * np.arange(n) / n for a, b, n in zip(
        arc[:-1], arc[1:], parts, strict=True)]), arc[-1])
    return np.stack([np.interp(spots, arc, points[:, i]) for i in (0, 1)], axis=1)


def _reach(run: np.ndarray, i: int) -> tuple[int, int]:
    """First and last index of the part of a run within _REACH of its point i."""
    away = np.hypot(*(run - run[i]).T) > _REACH
    before, after = np.flatnonzero(away[:i]), np.flatnonzero(away[i + 1:])
    return (int(before[-1]) if len(before) else 0,
            i + 1 + int(after[0]) if len(after) else len(run) - 1)


def _direction(run: np.ndarray, i: int) -> np.ndarray:
    """Unit vector (2,) in which a run goes at its point i."""
    a, b = _reach(run, i)
    if 0 < i < len(run) - 1:
        return _unit(run[b] - run[a])
    # At an end the parabola through it and two points further on; it goes on as it bends.
    sign, end = (1, b) if i == 0 else (-1, a)
    middle = (i + end) // 2
    one, two = run[middle] - run[i], run[end] - run[i]
    if middle in (i, end):
        return _unit(sign * two)
    s, u = np.hypot(*one), np.hypot(*one) + np.hypot(*(two - one))
    return _unit(sign * (one * u / s - two * s / u))


def _unit(vector: np.ndarray) -> np.ndarray:
    return vector / max(np.hypot(*vector), 1e-12)


def _fit_ring(run: np.ndarray, found: list[np.ndarray]) -> None:
    """Add to `found` the curves along a ring without a corner, in quarters to begin with."""
    ways = [_unit(run[_reach(run, 0)[1]] - run[_reach(run, len(run) - 1)[0]])]
    breaks = np.unique(np.linspace(0, len(run) - 1, 5).astype(int))
    ways = [*ways, *(_direction(run, i) for i in breaks[1:-1]), *ways]
    for n, (a, b) in enumerate(zip(breaks[:-1], breaks[1:], strict=True)):
        _fit(run[a:b + 1], ways[n], -ways[n + 1], found)


def _fit(run: np.ndarray, first: np.ndarray, last: np.ndarray, found: list[np.ndarray]) -> None:
    """Add to `found` the curves along a run (k, 2). first, last: unit vectors into the run from
    its ends."""
    chord = run[-1] - run[0]
    if len(run) == 2 or _off_chord(run, chord) < _STRAIGHT:
        found.append(np.stack([run[0], run[0] + chord / 3, run[-1] - chord / 3, run[-1]]))
        return
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
    t = arc / arc[-1]
    for _ in range(_ROUNDS):
        weights = _weights(t)
        curve = _least(run, weights, first, last, arc[-1])
        off = weights @ curve - run
        apart = np.hypot(off[:, 0], off[:, 1])
        worst = int(np.argmax(apart))
        if apart[worst] < NEAR:
            found.append(curve)
            return
        if apart[worst] > 12 * NEAR:
            break
        t = _nearer(curve, off, t)
    middle = int(np.clip(worst, 1, len(run) - 2))
    through = _direction(run, middle)
    _fit(run[:middle + 1], first, -through, found)
    _fit(run[middle:], through, last, found)


def _off_chord(run: np.ndarray, chord: np.ndarray) -> float:
    """The furthest that a run lies from the straight line between its ends; infinite where it
    goes back on it."""
    length = np.hypot(*chord)
    if length < 1e-9:
        return np.inf
    along = (run - run[0]) @ chord / length
    if (np.diff(along) < 0).any():
        return np.inf
    return float(np.abs((run - run[0]) @ np.array([-chord[1], chord[0]])).max() / length)


def _weights(t: np.ndarray) -> np.ndarray:
    """Bernstein polynomials of degree 3 at t, (k, 4)."""
    s, found = 1 - t, np.empty((len(t), 4))
    found[:, 0], found[:, 1], found[:, 2], found[:, 3] = s**3, 3 * t * s**2, 3 * t**2 * s, t**3
    return found


def _least(run: np.ndarray, weights: np.ndarray, first: np.ndarray, last: np.ndarray,
           length: float) -> np.ndarray:
    """The curve (4, 2) with the given end tangents nearest to the run, whose points have these
    weights (k, 4) of its control points."""
    u, v = weights[:, 1], weights[:, 2]
    rest = run - np.outer(weights[:, 0] + u, run[0]) - np.outer(v + weights[:, 3], run[-1])
    # Normal equations of the two distances along the tangents.
    a, b, c = u @ u, (first @ last) * (u @ v), v @ v
    x, y = first @ (u @ rest), last @ (v @ rest)
    det, near = a * c - b * b, 1e-3 * length
    reach = length / 3, length / 3
    if abs(det) > 1e-12 * max(a * c, 1e-300):
        solved = (x * c - y * b) / det, (a * y - b * x) / det
        if near < min(solved) and max(solved) < length:
            reach = solved
    return np.array((run[0], run[0] + reach[0] * first, run[-1] + reach[1] * last, run[-1]))


def _nearer(curve: np.ndarray, off: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Parameters at which the curve is nearer to the run's points: a step of Newton's method.
    off (k, 2): from those points to the curve at t."""
    s = (1 - t)[:, None]
    p, q, r = 3 * (curve[1:] - curve[:-1])
    t = t[:, None]
    speed = s**2 * p + 2 * s * t * q + t**2 * r
    bend = 2 * (s * (q - p) + t * (r - q))
    slope = (speed**2 + off * bend).sum(axis=1)
    step = (off * speed).sum(axis=1) / np.where(np.abs(slope) > 1e-12, slope, 1e-12)
    moved = np.clip(t[:, 0] - step, 0.0, 1.0)
    moved[0], moved[-1] = 0.0, 1.0
    return np.maximum.accumulate(moved)
