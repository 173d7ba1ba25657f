"""Fair lines: the curve a maker meant where a seam zigzags along the edges of a dense mesh.

On a dense sculpt a seam can only follow mesh edges, so it runs in steps about the line
that was meant. Such steps show in turns that alternate in sign; a clean curve, however
coarse, turns one way for a while. Only stretches of alternating turns are faired, the
rest stays exactly where it is.

A stretch is faired by a smoothing spline of the sixth order: x minimises

    integral |x - p|^2 + (L / 2 pi)^6 |x'''|^2  ds,

which keeps a wave of length W to 1 / (1 + (L / W)^6) (Green and Silverman 1994, ch. 2,
with the third derivative in place of the second). Smoothing the residual as well
(Tukey's twicing) squares what is lost of long waves, so curves do not shrink. L is
chosen point by point: the longest at which the line rests, before the smoothing takes
hold of the curve itself. Last, every point is held within the tolerance of where it was.
"""

from __future__ import annotations

import math

import numpy as np

NOISE = 0.01  # mm of zigzag that is not worth a thought
SLIGHT = math.radians(2.0)  # turns below this are none
HALF_WAVE = 3  # most bends to one side in a step of a zigzag
GAP = 12  # bends that may miss the beat within a zigzag
FINEST, COARSEST = 12.0, 400.0  # edge lengths: the shortest and the longest L tried
SHORT = 0.05  # mean edge lengths: the closest two places
SETTLED = 0.05  # share of the tolerance: a smaller change is none
BUMP = 12.0  # edge lengths over which a line is bent back into its tube
STIFF, INNER, ROUNDS = 1e6, 0.98, 20  # of the springs that do so


def fair(points: np.ndarray, closed: bool, tolerance: float, still: np.ndarray | None = None
         ) -> np.ndarray:
    """A fair curve (k, d) within `tolerance` mm of a polyline (k, d), point by point.

    closed: the last point joins the first, which is not repeated. The ends of an open
    line stay, and so do the points where still (k,) is true. A line that does not zigzag is
    returned as it is.
    """
    points = np.asarray(points, dtype=float)
    if tolerance <= 0 or len(points) < 5:
        return points
    free = zigzags(points, closed, tolerance)
    if still is not None:
        free &= ~still
    if not free.any():
        return points
    edge = np.linalg.norm(_steps(points, closed), axis=1)
    edge = np.maximum(edge, SHORT * edge.mean())
    size = float(np.median(edge[free[:len(edge)]]))
    longest = min(COARSEST * size, 2 * edge.sum())
    place = np.concatenate([[0.0], np.cumsum(edge)])
    for _ in range(3):
        rough = _Spline(place, closed, free).smooth(points, FINEST * size)
        place = _progress(points, rough, closed)
    spline = _Spline(place, closed, free)
    octaves = math.log2(max(longest / (FINEST * size), 2.0))
    scales = FINEST * size * 2.0 ** np.arange(0.0, octaves + 0.5, 0.5)
    trials = [spline.smooth(points, scale) for scale in scales]
    length = _settled(points, trials, scales, place, closed, size, SETTLED * tolerance)
    faired = spline.smooth(points, length)
    return spline.within(points, faired, BUMP * size, tolerance)


def zigzags(points: np.ndarray, closed: bool, tolerance: float) -> np.ndarray:
    """Which points (k,) lie on a stretch whose turns alternate; never an end of an open line.

    A turn that lifts the line more than twice the tolerance is the maker's own.
    """
    free = np.zeros(len(points), dtype=bool)
    step = _steps(points, closed)
    edge = np.linalg.norm(step, axis=1)
    ahead = step / np.maximum(edge, 1e-300)[:, None]
    inner = np.arange(0 if closed else 1, len(points) if closed else len(points) - 1)
    turn = ahead[inner] - ahead[inner - 1]
    size = np.linalg.norm(turn, axis=1)
    # A line that turns by the angle a at every point, left and right, sways by edge * a / 4.
    lift = size * np.minimum(edge[inner], edge[inner - 1]) / 4
    bends = np.flatnonzero((lift > NOISE) & (size > SLIGHT))
    if len(bends) < 3:
        return free
    own = lift[bends] > 2 * tolerance
    after = np.roll(turn[bends], -1, axis=0)
    reverses = (turn[bends] * after).sum(axis=1) < 0
    if not closed:
        reverses[-1] = False
    beat = _beats(np.flatnonzero(reverses), len(bends), closed)
    beat[own] = False
    if not beat.any():
        return free
    # A point is free between two bends of a zigzag, and out to the end of an open line.
    at = inner[bends]
    following = np.searchsorted(at, np.arange(len(points)))
    before = np.searchsorted(at, np.arange(len(points)), side="right") - 1
    if closed:
        return beat[following % len(at)] & beat[before]
    padded = np.concatenate([beat, [True]])
    free[:] = padded[following] & padded[before]
    free[[0, -1]] = False
    return free


def _beats(reversals: np.ndarray, count: int, closed: bool) -> np.ndarray:
    """Which of `count` bends belong to a zigzag: two short half-waves on end or more.

    reversals: the bends after which the line turns the other way.
    """
    beat = np.zeros(count, dtype=bool)
    if closed and len(reversals):
        reversals = np.append(reversals, reversals[:2] + count)
    short = np.diff(reversals) <= HALF_WAVE
    for i in np.flatnonzero(short[:-1] & short[1:]):
        beat[np.arange(reversals[i], reversals[i + 2] + 2) % count] = True
    index = np.flatnonzero(beat)
    if len(index):
        index = np.append(index, index[0] + count) if closed else np.concatenate(
            [[-1], index, [count]])
    for a, b in zip(index, index[1:], strict=False):
        if 1 < b - a <= GAP + 1:
            beat[np.arange(a + 1, b) % count] = True
    return beat


def _steps(points: np.ndarray, closed: bool) -> np.ndarray:
    return np.roll(points, -1, axis=0) - points if closed else np.diff(points, axis=0)


def _progress(points: np.ndarray, curve: np.ndarray, closed: bool) -> np.ndarray:
    """How far (k + 1 or k,) along the curve each point lies, its sideways steps left out."""
    if closed:
        tangent = np.roll(curve, -1, axis=0) - np.roll(curve, 1, axis=0)
        tangent = tangent + np.roll(tangent, -1, axis=0)
    else:
        tangent = np.gradient(curve, axis=0)
        tangent = tangent[1:] + tangent[:-1]
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1), 1e-300)[:, None]
    step = _steps(points, closed)
    onward = np.einsum("ij,ij->i", step, tangent)
    edge = np.linalg.norm(step, axis=1)
    onward = np.maximum(onward, np.maximum(0.2 * edge, SHORT * edge.mean()))
    return np.concatenate([[0.0], np.cumsum(onward)])


class _Spline:
    """Smoothing splines on one set of places; points that are not free keep theirs."""

    def __init__(self, place: np.ndarray, closed: bool, free: np.ndarray):
        import scipy.sparse as sp

        count = len(free)
        self.free = free
        if closed:
            first = np.arange(count)
            length = place[-1]
            wrapped = np.concatenate([place[:-1], place[:3] + length])
            width = (place[1:] - place[:-1] + np.roll(place[1:] - place[:-1], 1)) / 2
        else:
            first = np.arange(count - 3)
            wrapped = place
            width = np.gradient(place)
        self.weight = width
        columns = first[:, None] + np.arange(4)
        at = wrapped[columns]
        gaps = at[:, :, None] - at[:, None, :]
        gaps[:, np.arange(4), np.arange(4)] = 1.0
        third = 6.0 / gaps.prod(axis=2)  # divided differences: sum f_i / prod (s_i - s_j)
        third *= np.sqrt((at[:, 3] - at[:, 0]) / 3)[:, None]
        self.middle = (columns[:, 1]) % count, (columns[:, 2]) % count
        self.third = sp.csr_matrix(
            (third.ravel(), (np.repeat(np.arange(len(first)), 4), (columns % count).ravel())),
            shape=(len(first), count))

    def _system(self, length, pull=0.0):
        """Matrix of the free points and the part of the right side that the others give."""
        import scipy.sparse as sp

        length = np.broadcast_to(np.asarray(length, dtype=float), self.free.shape)
        mean = np.sqrt(length[self.middle[0]] * length[self.middle[1]])
        bend = (self.third.T @ sp.diags((mean / (2 * np.pi)) ** 6) @ self.third).tocsr()
        rows = bend[self.free]
        return (rows[:, self.free] + sp.diags(self.weight[self.free] + pull),
                -rows[:, ~self.free])

    def smooth(self, points: np.ndarray, length) -> np.ndarray:
        """Points smoothed twice over with L = length, one number or one per point."""
        matrix, coupling = self._system(length)
        solve = _factor(matrix)
        weight, result = self.weight[self.free][:, None], points.copy()
        once = solve(weight * points[self.free] + coupling @ points[~self.free])
        result[self.free] = once + solve(weight * (points[self.free] - once))
        return result

    def within(self, points: np.ndarray, curve: np.ndarray, length: float, tolerance: float
               ) -> np.ndarray:
        """The curve (k, d) bent gently so that it stays within the tolerance of the points.

        Stiff springs draw what lies outside to the nearest place inside, again and again,
        and their neighbours along `length` give way smoothly.
        """
        aim, origin = curve[self.free], points[self.free]
        weight, result = self.weight[self.free], curve.copy()
        shift, held = np.zeros_like(aim), np.zeros(len(aim), dtype=bool)
        for _ in range(ROUNDS):
            # A held point that the spring does not draw inward is let go.
            last, held = held, np.linalg.norm(aim + shift - origin, axis=1) > INNER * tolerance
            if (held == last).all():
                break
            target = _clip(aim + shift, origin, INNER * tolerance)
            pull = STIFF * weight * held
            matrix, _ = self._system(length, pull)
            shift = _factor(matrix)(pull[:, None] * (target - aim))
        result[self.free] = _clip(aim + shift, origin, tolerance)
        return result


def _factor(matrix):
    from scipy.sparse.linalg import splu

    return splu(matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
                options={"SymmetricMode": True}).solve


def _clip(points: np.ndarray, origin: np.ndarray, tolerance: float) -> np.ndarray:
    """The points (k, d) drawn back to within the tolerance of their origin."""
    away = points - origin
    far = np.linalg.norm(away, axis=1)
    return origin + away * np.minimum(1.0, tolerance / np.maximum(far, 1e-300))[:, None]


def _settled(points: np.ndarray, trials: list[np.ndarray], scales: np.ndarray,
             place: np.ndarray, closed: bool, most: float, calm: float) -> np.ndarray:
    """Per point (k,) the largest L that explains the zigzag and at which the line rests.

    The next L must change nothing nearby, and up to there no point may have left its
    place by more than `most`.
    """
    gap = lambda a, b, scale: _spread(  # noqa: E731
        np.linalg.norm(a - b, axis=1), place, closed, 2 * scale)
    change = np.array([gap(a, b, s) for a, b, s in zip(trials, trials[1:], scales, strict=False)])
    away = np.array([gap(a, points, s) for a, s in zip(trials[:-1], scales, strict=False)])
    change[np.maximum.accumulate(away, axis=0) > most] = np.inf
    last = len(change) - 1 - (change <= calm)[::-1].argmax(axis=0)
    return scales[np.where((change <= calm).any(axis=0), last, change.argmin(axis=0))]


def _spread(values: np.ndarray, place: np.ndarray, closed: bool, reach: float) -> np.ndarray:
    """Largest value (k,) within `reach` along the line of each point."""
    from scipy.ndimage import maximum_filter1d

    spacing = (place[-1] - place[0]) / max(len(place) - 1, 1)
    size = 2 * int(min(reach / spacing, (len(values) - 1) // 2)) + 1
    return maximum_filter1d(values, size, mode="wrap" if closed else "nearest")
