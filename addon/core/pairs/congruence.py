"""Which rigid motions lay one piece on another, line on line."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from .. import mesh
from ..model import Drawn, Piece, Placement

TOLERANCE = 0.3  # mm by which lines may differ anywhere
BEVEL = math.radians(2.0)  # by which bevels and folds may differ
SAMPLES = 512  # of an outline, to find how it may be turned
STEP = 1.0  # mm between the points at which distances are measured
CANDIDATES = 16  # turns tried for one pair of outlines


class Curves:
    """Polylines to which distances are asked."""

    def __init__(self, lines: Sequence[np.ndarray]):
        from scipy.spatial import cKDTree

        self.start = np.concatenate([line[:-1] for line in lines])
        self.end = np.concatenate([line[1:] for line in lines])
        length = np.linalg.norm(self.end - self.start, axis=1)
        parts = np.maximum(np.ceil(length / STEP), 1).astype(int)
        self._segment = np.repeat(np.arange(len(parts)), parts)
        first = np.repeat(np.cumsum(parts) - parts, parts)
        along = ((np.arange(len(self._segment)) - first + 0.5) / parts[self._segment])[:, None]
        self.points = ((1 - along) * self.start[self._segment]
                       + along * self.end[self._segment])
        self._tree = cKDTree(self.points)

    def nearest(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Nearest points (k, 2), their segments (k,) and places (k,) on them from 0 to 1."""
        near = self._tree.query(points, k=min(3, len(self.points)))[1].reshape(len(points), -1)
        segment = self._segment[near]
        a, d = self.start[segment], self.end[segment] - self.start[segment]
        square = np.maximum(np.einsum("ijk,ijk->ij", d, d), 1e-18)
        place = np.clip(np.einsum("ijk,ijk->ij", points[:, None] - a, d) / square, 0.0, 1.0)
        foot = a + place[..., None] * d
        best = np.argmin(np.linalg.norm(points[:, None] - foot, axis=2), axis=1)
        row = np.arange(len(points))
        return foot[row, best], segment[row, best], place[row, best]

    def farthest(self, points: np.ndarray) -> float:
        """Largest distance of points (k, 2) from the curves."""
        return float(np.linalg.norm(points - self.nearest(points)[0], axis=1).max(initial=0.0))


def closed(ring: np.ndarray) -> np.ndarray:
    """The ring (k, 2) with its first point repeated at the end."""
    return np.concatenate([ring, ring[:1]])


def hausdorff(first: Curves, second: Curves, motion: Placement) -> float:
    """Largest distance between the first curves, moved, and the second, both ways."""
    there = second.farthest(motion.apply(first.points))
    back = _inverse(motion, second.points)
    return max(there, first.farthest(back))


class Outline:
    """The outlines of a piece, or of a template that was printed, prepared for comparison."""

    def __init__(self, piece: Piece | Drawn):
        self.faces = tuple(Curves([closed(r) for r in rings])
                           for rings in (piece.cut, piece.front, piece.back))
        self.ring = piece.cut[0]
        self.perimeter = mesh.polyline_length(closed(self.ring))
        self.signal = _signal(self.ring)

    def apart(self, other: Outline, motion: Placement) -> float:
        """The farthest that any line of the two lies from the other's, after the motion."""
        return max(hausdorff(a, b, motion)
                   for a, b in zip(self.faces, other.faces, strict=True))

    def laid_on(self, other: Outline, likely: Sequence[Placement] = ()
                ) -> Iterator[tuple[Placement, float]]:
        """Motions, without turning over, that may bring this onto the other, and how far apart
        the two then are: none at all, the likely ones, and those that the outlines suggest."""
        still = Placement("", 0.0, (0.0, 0.0))
        for motion in (still, *likely):
            yield motion, self.apart(other, motion)
        for start in (still, *_turns(self, other, False)):
            motion = _settle(self, other, start)
            yield motion, self.apart(other, motion)


class Shape(Outline):
    """A piece prepared for comparison."""

    def __init__(self, piece: Piece):
        super().__init__(piece)
        self.piece = piece
        self.area = piece.area
        self.spread, self.reach = _spread(self.ring), _reach(self.ring)
        self.rims = sum(not e.mate for e in piece.edges)

    def may_equal(self, other: Shape) -> bool:
        """False where the two cannot be congruent, found without turning them.

        A boundary that moves by d changes an area by at most d times the perimeter
        and a second moment by at most that times the square of the reach.
        """
        a, b = self.piece, other.piece
        if a.stock != b.stock or len(a.edges) != len(b.edges) or len(a.cut) != len(b.cut):
            return False
        if len(a.point_marks) != len(b.point_marks):
            return False
        if len(a.folds) != len(b.folds) or self.rims != other.rims:
            return False
        slack = 1.1 * TOLERANCE * sum(mesh.polyline_length(closed(r)) for r in a.cut)
        return bool(
            abs(self.perimeter - other.perimeter) <= 0.02 * self.perimeter + 1.0
            and abs(self.area - other.area) <= slack
            and np.abs(self.spread - other.spread).max() <= slack * (self.reach + 1.0) ** 2)


def motions(template: Shape, other: Shape, likely: Sequence[Placement] = (),
            ) -> list[tuple[Placement, float, tuple[int, ...]]]:
    """Every motion that carries the template onto the other piece, one per edge map.

    likely: motions to try before those that the outlines suggest; they decide where
    a round shape may be turned at will. Each motion comes with the largest distance
    that remains and the edge map: for each edge of the template the edge of the other
    piece on which it comes to lie.
    """
    found = []
    for mirrored in (False, True):
        starts = [m for m in likely if m.mirrored == mirrored]
        for start in starts + _turns(template, other, mirrored):
            motion = _settle(template, other, start)
            error = template.apart(other, motion)
            if (error > TOLERANCE or not folds_agree(template.piece, other.piece, motion)
                    or marks_agree(template.piece, other.piece, motion) is None):
                continue
            edges = _edge_map(template.piece, other.piece, motion)
            if edges is not None and all(edges != e or mirrored != m.mirrored
                                         for m, _, e in found):
                found.append((motion, error, edges))
    return found


# --- turning -----------------------------------------------------------------


def _resampled(ring: np.ndarray, shift: float = 0.0) -> np.ndarray:
    """SAMPLES points of a ring as complex numbers, evenly spaced, from `shift` steps on."""
    line = closed(ring)
    along = mesh.arc_length(line)
    at = (np.arange(SAMPLES) + shift) % SAMPLES * along[-1] / SAMPLES
    return np.interp(at, along, line[:, 0]) + 1j * np.interp(at, along, line[:, 1])


def _signal(ring: np.ndarray) -> np.ndarray:
    z = _resampled(ring)
    return z - z.mean()


def _reach(ring: np.ndarray) -> float:
    return float(np.abs(_signal(ring)).max())


def _spread(ring: np.ndarray) -> np.ndarray:
    """Principal second moments (2,) of area about the centroid, mm⁴ (Green's theorem)."""
    p = ring - ring.mean(axis=0)
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    area = cross.sum() / 2
    centre = ((p + q) * cross[:, None]).sum(axis=0) / (6 * area)
    outer = lambda u, v: np.einsum("i,ij,ik->jk", cross, u, v)  # noqa: E731
    moment = (2 * outer(p, p) + 2 * outer(q, q) + outer(p, q) + outer(q, p)) / 24
    return np.linalg.eigvalsh(moment * np.sign(area) - abs(area) * np.outer(centre, centre))


def _turns(template: Outline, other: Outline, mirrored: bool) -> list[Placement]:
    """Starting motions: the peaks of the cyclic correlation of both outlines.

    With b[m + k] ≈ exp(i θ) a[m] the sum over b[m + k] conj(a[m]) is largest and its
    argument is θ; all shifts k at once by the fast Fourier transform.
    """
    a, b = template.signal, other.signal
    ring = template.ring
    if mirrored:
        ring = (ring * (-1.0, 1.0))[::-1]
        a = _signal(ring)
    strength = np.abs(np.fft.ifft(np.fft.fft(b) * np.conj(np.fft.fft(a))))
    left, right = np.roll(strength, 1), np.roll(strength, -1)
    misfit = (np.sum(np.abs(a) ** 2) + np.sum(np.abs(b) ** 2) - 2 * strength) / SAMPLES
    step = template.perimeter / SAMPLES
    good = (strength >= left) & (strength > right) & (misfit < (step + 2 * TOLERANCE) ** 2)
    places = []
    for k in np.flatnonzero(good)[np.argsort(misfit[good], kind="stable")][:CANDIDATES]:
        bow = left[k] + right[k] - 2 * strength[k]  # the peak between two steps, by parabola
        shift = k + ((left[k] - right[k]) / (2 * bow) if bow < 0 else 0.0)
        places.append(rigid("", _points(_resampled(ring)),
                            _points(_resampled(other.ring, shift)), mirrored))
    return places


def _settle(template: Outline, other: Outline, motion: Placement) -> Placement:
    """The motion after a few rounds of least squares on nearest points."""
    source, target = template.faces[0].points, other.faces[0]
    unturned = source * (-1.0, 1.0) if motion.mirrored else source
    for _ in range(4):
        motion = rigid(motion.piece, unturned, target.nearest(motion.apply(source))[0],
                        motion.mirrored)
    return motion


def _points(z: np.ndarray) -> np.ndarray:
    return np.stack([z.real, z.imag], axis=1)


def rigid(code: str, source: np.ndarray, target: np.ndarray, mirrored: bool) -> Placement:
    """Least-squares rotation and translation; source is mirrored already where needed."""
    s, t = source.mean(axis=0), target.mean(axis=0)
    p, q = source - s, target - t
    angle = math.atan2(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]), np.sum(p * q))
    turned = Placement(code, angle, (0.0, 0.0)).apply(s[None])[0]
    return Placement(code, angle, t - turned, mirrored)


def _inverse(motion: Placement, points: np.ndarray) -> np.ndarray:
    back = Placement(motion.piece, -motion.angle, (0.0, 0.0)).apply(points - motion.offset)
    return back * (-1.0, 1.0) if motion.mirrored else back


# --- what lies on the outline and inside --------------------------------------


def _edge_map(template: Piece, other: Piece, motion: Placement) -> tuple[int, ...] | None:
    """For each edge of the template the edge it comes to lie on, None where they differ."""
    targets = [Curves([e.points]) for e in other.edges]
    taken: list[int] = []
    for edge in template.edges:
        source = Curves([edge.points])
        moved = motion.apply(edge.points)
        for j, target in enumerate(targets):
            twin = other.edges[j]
            if j in taken or bool(edge.mate) != bool(twin.mate):
                continue
            if target.farthest(moved) > 2 * TOLERANCE:
                continue
            if hausdorff(source, target, motion) <= 2 * TOLERANCE:
                _, segment, place = target.nearest(moved)
                bevel = (1 - place) * twin.bevel[segment] + place * twin.bevel[segment + 1]
                if np.abs(bevel - edge.bevel).max() <= BEVEL:
                    taken.append(j)
                    break
        else:
            return None
    return tuple(taken)


def folds_agree(template: Piece | Drawn, other: Piece, motion: Placement,
                tolerance: float = TOLERANCE) -> bool:
    """Every trench and score line lies on one of the same kind, side and depth."""
    taken: set[int] = set()
    for fold in template.folds:
        source = Curves([fold.points])
        for j, twin in enumerate(other.folds):
            if j in taken or (fold.kind, fold.side) != (twin.kind, twin.side):
                continue
            if max(abs(fold.depth - twin.depth), abs(fold.mouth - twin.mouth)) > tolerance:
                continue
            target = Curves([twin.points])
            _, segment, place = target.nearest(motion.apply(fold.points))
            angle = (1 - place) * twin.fold[segment] + place * twin.fold[segment + 1]
            if (np.abs(angle - fold.fold).max() <= BEVEL
                    and hausdorff(source, target, motion) <= 2 * tolerance):
                taken.add(j)
                break
        else:
            return False
    return True

def marks_agree(template: Piece | Drawn, other: Piece, motion: Placement,
                tolerance: float = TOLERANCE) -> list[int] | None:
    """For each mark without a cut of the template, the mark of the other piece that a motion lays
    it on; None where they differ."""
    if len(template.point_marks) != len(other.point_marks):
        return None
    points, alongs = carried_marks(template, motion)
    taken: list[int] = []
    for mark, point, along in zip(template.point_marks, points, alongs, strict=True):
        for j, twin in enumerate(other.point_marks):
            if (j not in taken and (mark.kind, mark.stock) == (twin.kind, twin.stock)
                    and np.array_equal(mark.size, twin.size)
                    and np.hypot(*(twin.point - point)) <= 2 * tolerance
                    and (mark.size[0] == mark.size[1]
                         or abs(along @ twin.along) >= math.cos(BEVEL))):
                taken.append(j)
                break
        else:
            return None
    return taken


def carried_marks(template: Piece | Drawn, motion: Placement) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 2) and ways (k, 2) of a template's marks after a motion."""
    points = np.array([m.point for m in template.point_marks]).reshape(-1, 2)
    ends = points + np.array([m.along for m in template.point_marks]).reshape(-1, 2)
    moved = motion.apply(points)
    return moved, motion.apply(ends) - moved
