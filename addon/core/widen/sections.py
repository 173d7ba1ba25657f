"""Sections across a seam: where a plane square to it cuts the pieces on both its sides."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import Cut

MOST = 48  # sections across one seam
STRAIGHT = np.cos(np.radians(45.0))  # of a seam's turn from its whole way up to which sections
# are parallel
LEVEL = 0.1  # of a seam's length, by which its ends may differ and count as alike
SHARE = 0.35  # of a section's length by which it may change, and
SHORT = 0.25  # of the usual length: near the tip of a piece, or beside a rim that is not square to
# the seam, sections are shorter than that and follow from their neighbours


@dataclass(frozen=True, eq=False)
class Section:
    """A polyline over one piece from a widened seam, or from beyond another piece, to where the
    piece ends.

    ends (k, 2): the two vertices of the sculpt between which each of its points lies, and share
    (k,): of the way from the first to the second. seam: of the cut, from which it starts, -1
    where that is none to be widened, and place: where on that, as a share. growth: what is asked
    of it, mm, half: of that on account of the place where it starts.
    """

    ends: np.ndarray
    share: np.ndarray
    seam: int
    place: float
    growth: float
    half: float

    def points(self, vertices: np.ndarray) -> np.ndarray:
        """Its points (k, 3) on moved vertices."""
        a, b = vertices[self.ends[:, 0]], vertices[self.ends[:, 1]]
        return a + self.share[:, None] * (b - a)

    def length(self, vertices: np.ndarray) -> float:
        return mesh.polyline_length(self.points(vertices))


class Amounts:
    """By how much the suit is to grow across each point of the seams that are widened."""

    def __init__(self, vertices: np.ndarray, cut: Cut, asked: dict[int, tuple[float, float]],
                 up: np.ndarray, left: np.ndarray):
        self.asked, self.ways, self.rises = asked, {}, {}
        self.rings = {k for k in asked if cut.seams[k].vertices[0] == cut.seams[k].vertices[-1]}
        for seam in asked:
            points = vertices[cut.seams[seam].vertices]
            along = mesh.arc_length(points)
            self.ways[seam] = dict(zip(cut.seams[seam].vertices.tolist(),
                                       (along / along[-1]).tolist(), strict=True))
            rise = (points[-1] - points[0]) @ up
            if abs(rise) < LEVEL * along[-1]:  # outward, or to the left where it crosses the middle
                rise = abs(points[-1] @ left) - abs(points[0] @ left)
                if abs(rise) < LEVEL * along[-1]:
                    rise = (points[-1] - points[0]) @ left
            self.rises[seam] = bool(rise >= 0)

    def at(self, seam: int, place: float) -> float:
        """Growth, mm, at a share of a seam's length."""
        low, high = self.asked[seam]
        return low + (high - low) * (place if self.rises[seam] else 1 - place)

    def place(self, seam: int, a: int, b: int, share: float) -> float:
        """The share of a seam's length of a point between two of its vertices."""
        one, other = self.ways[seam][a], self.ways[seam][b]
        if seam in self.rings and abs(other - one) > 0.5:  # its first step, from where it ends
            one, other = one % 1.0, other % 1.0
        return one + share * (other - one)


def sections(vertices: np.ndarray, cut: Cut, amounts: Amounts, open_seams: Collection[int] = ()
             ) -> list[Section]:
    """The sections across all seams that are widened, one for each side of the seam and each
    place: each piece takes half of what is asked where it ends at such a seam. Where one comes to
    another seam that may move, it goes on over the piece beyond, which is to stay as wide as it
    is."""
    found = []
    for seam in amounts.asked:
        for region, border in cut.seams[seam].sides:
            found += _of_side(vertices, cut, region, border, seam, amounts, set(open_seams))
    lengths = np.array([s.length(vertices) for s in found])
    least = SHORT * np.median(lengths) if len(found) else 0.0
    return [s for s, length in zip(found, lengths, strict=True)
            if length >= least and abs(s.growth) <= SHARE * length]


def number(cut: Cut, seam: int) -> int:
    """How many sections are taken across a seam, but for those too short to ask anything of."""
    return int(np.clip(len(cut.seams[seam].vertices) - 1, 4, MOST))


def _of_side(vertices: np.ndarray, cut: Cut, region: int, border: int, seam: int,
             amounts: Amounts, open_seams: set[int]) -> list[Section]:
    rim = cut.regions[region].borders[border]
    points = vertices[cut.regions[region].source_vertex[rim.vertices]]
    along = mesh.arc_length(points)
    count = number(cut, seam)
    wanted = (np.arange(count) + 0.5) / count * along[-1]
    curve = lambda s: np.stack([np.interp(s, along, p) for p in points.T], axis=-1)  # noqa: E731
    found = []
    for s, place, way in zip(wanted, curve(wanted), _ways(curve, wanted, along[-1]), strict=True):
        step = int(np.clip(np.searchsorted(along, s) - 1, 0, len(rim.half) - 1))
        here, start, passed = region, int(rim.half[step]), {region}
        while True:
            piece = cut.regions[here]
            walked = _walk(piece.faces, mesh.twins(piece.faces),
                           (vertices[piece.source_vertex] - place) @ way, start)
            if walked is None:
                break
            ends, share, last = walked
            ends = piece.source_vertex[ends]
            owner = {int(h): b.seam for b in piece.borders for h in b.half}
            shares, places = [], []
            for k, edge in ((0, start), (-1, last)):
                if (other := owner[edge]) in amounts.asked:
                    places.append(amounts.place(other, *ends[k].tolist(), float(share[k])))
                    shares.append(amounts.at(other, places[-1]) / 2)
            first = here == region
            found.append(Section(ends, share, seam if first else -1, places[0] if first else 0.0,
                                 sum(shares), shares[0] if first else 0.0))
            if owner[last] not in open_seams or owner[last] in amounts.asked:
                break
            here, start = _beyond(cut, owner[last], here, set(ends[-1].tolist()))
            if here in passed:
                break
            passed.add(here)
    return found


def _ways(curve: Callable, wanted: np.ndarray, length: float) -> np.ndarray:
    """The direction (k, 3) square to each section: that of the seam as a whole where it runs about
    straight, so that sections lie beside each other, as girths do; else its own at each place."""
    window = length / (2 * len(wanted))
    ways = curve(np.minimum(wanted + window, length)) - curve(np.maximum(wanted - window, 0.0))
    whole = curve(np.array([length])) - curve(np.array([0.0]))
    straight = ways @ whole[0] >= STRAIGHT * np.linalg.norm(ways, axis=1) * np.linalg.norm(whole)
    return np.repeat(whole, len(ways), axis=0) if straight.all() and whole.any() else ways


def _beyond(cut: Cut, seam: int, region: int, edge: set[int]) -> tuple[int, int]:
    """The region on the other side of a seam, and the half-edge there of an edge of the sculpt."""
    sides = cut.seams[seam].sides
    other, border = sides[1] if sides[0][0] == region else sides[0]
    rim, ids = cut.regions[other].borders[border], cut.regions[other].source_vertex
    step = next(k for k in range(len(rim.half))
                if {int(ids[rim.vertices[k]]), int(ids[rim.vertices[k + 1]])} == edge)
    return other, int(rim.half[step])


def _walk(faces: np.ndarray, twin: np.ndarray, height: np.ndarray, start: int
          ) -> tuple[np.ndarray, np.ndarray, int] | None:
    """From a half-edge on the rim along height 0 to the rim again: the vertices (k, 2) beside
    each point, the shares (k,), and the last half-edge; None where the plane does not cross the
    first one. Vertices at height 0 count as above."""
    above = height >= 0
    corner = faces.ravel()
    ends, edge = [], start
    crosses = lambda h: above[corner[h]] != above[corner[mesh.after(h)]]  # noqa: E731
    if not crosses(edge):
        return None
    while True:
        ends.append((corner[edge], corner[mesh.after(edge)]))
        if len(ends) > len(faces) + 1:
            return None
        if len(ends) > 1 and twin[edge] < 0:
            break
        face = edge if len(ends) == 1 else int(twin[edge])
        first = face - face % 3
        edge = next(h for h in (first, first + 1, first + 2) if h != face and crosses(h))
    pairs = np.array(ends)
    a, b = height[pairs[:, 0]], height[pairs[:, 1]]
    return pairs, a / (a - b), edge
