"""A large region searched first on a coarser mesh of the same surface.

The start lays the region in the plane, where some of its vertices are chosen and joined
anew (Delaunay triangles). A coarse face takes the mean of the metric that the fine faces
under it have there, so its sides are as long as on the layer, along the surface. What is
found is carried back as the stretch it gives the start, smoothed and interpolated, of
which one linear solve makes a map. A few steps on the fine mesh bring that into a band as
narrow as the coarse one; what is reported is measured on the fine mesh.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .. import mesh
from ..locate import locate
from ..model import Region
from ..stock import Limits
from .band import FINE, MET, Solution, least_utilisation, unmet, with_lengths, within
from .system import Seams, System
from .thin import double_area, plane, thinned

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

FACES = 2500  # of the coarse mesh, about; regions of fewer than LEAST times as many have none
LEAST = 4
# The coarse utilisation is mostly a percent above the least: shares of it tried for, and steps.
ROUNDS = (0.99, 15), (0.985, 10), (1.0, 20)
FAR, FEWER = 0.5, ((0.99, 15), (1.0, 20))  # utilisation far from the limit, with fewer rounds
ENOUGH = 1.003  # of the utilisation tried for will do
STEPS = 30  # of a proof
FOLLOWED = 1.01  # of the coarse utilisation is as near as the fine mesh must come to it
BEYOND = 0.95  # of the utilisation is a band whose misses prove that there is none
MISSED, DETAIL = 0.1, 1e-4  # error of the metric, and share of the area that may have more
SHARPEN = 4  # rounds of correcting what smoothing took away


@dataclass(frozen=True, eq=False)
class Coarse:
    """A coarser mesh of a region and the ways between the two.

    start (n,): the fine map in whose plane the coarse mesh was made; picked (c,): fine vertices
    that are the coarse ones; spread (n, c): sparse interpolation from coarse to fine vertices.
    """

    fine: System
    system: System
    start: np.ndarray
    picked: np.ndarray
    spread: csr_matrix

    @classmethod
    def of(cls, fine: System, start: np.ndarray, region: Region) -> Coarse | None:
        """The coarser mesh of a region; None where it is small, or where the start overlaps
        itself or has an outline too intricate to be followed."""
        if len(fine.faces) < LEAST * FACES:
            return None
        area = np.abs(double_area(start[fine.faces])).sum() / 2
        spacing = np.sqrt(4 / np.sqrt(3) * area / FACES)
        loops = [np.concatenate([region.borders[b].vertices[:-1] for b in ring])
                 for ring in region.loops]
        found = thinned(start, loops, spacing)
        if found is None:
            return None
        picked, faces = found
        spread = _spread(start[picked], faces, start)
        lengths = _lengths(fine, start, picked, faces, spread)
        if lengths is None:
            return None
        seams = _coarse_seams(fine.seams, start, spread, picked, spacing)
        return cls(fine, System(faces, lengths, len(picked), seams, fine.spot), start, picked,
                   spread)

    def least(self, limits: Limits, wanted: np.ndarray, first: np.ndarray | None = None,
              **options) -> tuple[Solution, np.ndarray] | None:
        """The least utilisation of the fine region, and the coarse map (c,) it came from.

        first (c,): coarse map to start from, by default the start's; options: see
        `least_utilisation`. None where the fine mesh does not follow the coarse one.
        """
        first = self.start[self.picked] if first is None else first
        found = least_utilisation(self.system, first, limits, wanted, **options)
        if not np.isfinite(found.u):
            return None
        aim = found.u + FINE
        points = self._carried(found.points, wanted)
        fine = Solution(points, np.inf, 0.0)
        for trim, steps in ROUNDS if found.u > FAR else FEWER:
            if trim < 1 or fine.u > ENOUGH * aim:
                fine = self._nearer(fine, limits, trim * aim, wanted, steps)
        if fine.u > FOLLOWED * aim or unmet(self.fine, fine.points, wanted) > 2 * MET:
            return None
        if options.get("prove") and fine.u > 1:
            proof = within(self.fine, fine.points, limits, BEYOND * fine.u, wanted, 0.0, STEPS)
            fine = min(fine, proof, key=lambda solution: solution.u)
            fine = Solution(fine.points, fine.u, min(proof.certificate, fine.u))
        return fine, found.points

    def _nearer(self, fine: Solution, limits: Limits, u: float, wanted: np.ndarray, steps: int
                ) -> Solution:
        found = within(self.fine, fine.points, limits, u, wanted, ENOUGH * u, steps)
        return min(found, fine, key=lambda solution: solution.u)

    def _carried(self, points: np.ndarray, wanted: np.ndarray) -> np.ndarray:
        """The fine map (n,) that is to its start as the coarse map (c,) is to its own."""
        fine, coarse = self.fine, self.system
        before, after = coarse.gradient @ self.start[self.picked], coarse.gradient @ points
        # after = F before; maps z -> p z + q conj(z) are composed and inverted as such.
        (p, q), (p1, q1) = np.split(before, 2), np.split(after, 2)
        change = np.stack([p1 * np.conj(p) - q1 * np.conj(q), q1 * p - p1 * q], axis=1)
        change /= (np.abs(p) ** 2 - np.abs(q) ** 2)[:, None]
        a, b = self._to_fine(change)
        p, q = np.split(fine.gradient @ self.start, 2)
        target = np.concatenate([a * p + b * np.conj(q), a * q + b * np.conj(p)])
        return fine.solve(target, with_lengths(fine, fine.along @ (self.spread @ points), wanted))

    def _to_fine(self, values: np.ndarray) -> np.ndarray:
        """Values (c, v) of the coarse faces, smoothed, on the fine faces (v, m)."""
        import scipy.sparse as sp

        c, count = len(values), len(self.picked)
        gather = sp.csr_matrix((np.full(3 * c, 1 / 3), self.system.faces.ravel(),
                                3 * np.arange(c + 1)), shape=(c, count))
        weighted = (sp.diags(self.system.weight) @ gather).T
        total = np.asarray(weighted.sum(axis=1))
        smooth = np.zeros((count, values.shape[1]), complex)
        # Means about the vertices, corrected by what the faces' means of those lack.
        for _ in range(SHARPEN):
            smooth += weighted @ (values - gather @ smooth) / total
        at = self.spread @ smooth
        a, b, c = self.fine.faces.T
        return ((at[a] + at[b] + at[c]) / 3).T


def _spread(flat: np.ndarray, faces: np.ndarray, start: np.ndarray) -> csr_matrix:
    """Sparse (n, c): barycentric coordinates of points (n,) in a mesh of points (c,), carried on
    outside it."""
    from scipy.sparse import csr_matrix

    face, share = locate(plane(flat), faces, plane(start))
    return csr_matrix((share.ravel(), faces[face].ravel(), 3 * np.arange(len(start) + 1)),
                      shape=(len(start), len(flat)))


def _lengths(fine: System, start: np.ndarray, picked: np.ndarray, faces: np.ndarray, spread
             ) -> np.ndarray | None:
    """Rest lengths (f, 3) of the coarse faces' sides, measured on the layer; None where it has
    detail that the coarse mesh cannot follow.

    A step d of the plane is as long on the layer as sqrt(e |d|^2 + 2 Re(h d^2)); e and h, known
    on each fine face, are fitted by values at the coarse vertices (least squares), between
    which they are linear; each side is integrated by Simpson's rule.
    """
    import scipy.sparse as sp
    from scipy.sparse.linalg import splu

    m = len(fine.faces)
    jacobian = fine.gradient @ start
    p, q = jacobian[:m], jacobian[m:]
    det = np.abs(p) ** 2 - np.abs(q) ** 2
    h = -np.conj(p * q) / det**2
    known = np.stack([(np.abs(p) ** 2 + np.abs(q) ** 2) / det**2, h.real, h.imag], axis=1)
    mean = sp.csr_matrix((np.full(3 * m, 1 / 3), fine.faces.ravel(), 3 * np.arange(m + 1)),
                         shape=(m, len(start))) @ spread
    weighted = (sp.diags(det * fine.area) @ mean).T
    metric = splu((weighted @ mean).tocsc()).solve(weighted @ known)
    missed = np.abs(known - mean @ metric).sum(axis=1) / known[:, 0]
    if mesh.largest_but(missed, fine.area, DETAIL * fine.area.sum()) > MISSED:
        return None
    a, b = np.roll(faces, -1, axis=1), np.roll(faces, -2, axis=1)
    d = start[picked[b]] - start[picked[a]]

    def length(at):
        square = at[..., 0] * np.abs(d) ** 2 + 2 * ((at[..., 1] + 1j * at[..., 2]) * d**2).real
        return np.sqrt(np.maximum(square, 0.0))

    return (length(metric[a]) + 4 * length((metric[a] + metric[b]) / 2) + length(metric[b])) / 6


def _coarse_seams(seams: Seams, start: np.ndarray, spread, picked: np.ndarray,
                  spacing: float) -> Seams:
    """The seams in segments of about the spacing, none of which reaches past an interval."""
    import scipy.sparse as sp

    if not seams.count:
        none = np.empty(0, dtype=np.int64)
        return Seams(sp.csr_matrix((0, spread.shape[1])), np.empty(0), none, none,
                     seams.parts)
    order = np.lexsort((seams.place, seams.interval))
    length, interval = seams.lengths[order], seams.interval[order]
    total = np.bincount(interval, length, seams.count)
    before = np.concatenate([[0.0], np.cumsum(total)])[interval]
    number = np.maximum(np.round(total / spacing), 1)[interval]
    middle = (np.cumsum(length) - length / 2 - before) / total[interval]
    part = np.minimum(np.floor(middle * number), number - 1)
    new = np.append(True, (np.diff(interval) != 0) | (np.diff(part) != 0))
    group = np.empty(len(order), dtype=np.int64)
    group[order] = np.cumsum(new) - 1
    rest = np.bincount(group, seams.lengths)
    summed = sp.csr_matrix((seams.lengths, (group, np.arange(len(group)))))
    now = seams.along @ start
    # So scaled that chords of a curved seam are as long as the seam.
    arc = np.bincount(group, seams.lengths * np.abs(now))
    chord = summed @ (seams.along @ (spread @ start[picked]))
    scale = arc / np.maximum(np.abs(chord), 1e-3 * arc) / rest
    along = (sp.diags(scale) @ summed @ seams.along @ spread).tocsr()
    return Seams(along, rest, interval[new], np.arange(len(rest)), seams.parts)
