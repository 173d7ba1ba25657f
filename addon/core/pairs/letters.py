"""Mates that correspond share a letter and run the same way."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import count

import numpy as np

from ..codes import letter
from ..model import Mate, Piece, PieceEdge, Placement
from .congruence import Curves

AGREE = 0.02  # of a seam, by which two ways to run round a closed seam may differ


class Correspondence:
    """Sets of mates that correspond, with how each runs against the first of its set.

    Places on seams are fractions of their length: f of a mate is sign · f + shift of
    its set's first mate (shift modulo 1 on a closed seam).
    """

    def __init__(self, count: int):
        self._up = [(i, 1, 0.0) for i in range(count)]

    def copy(self) -> Correspondence:
        other = Correspondence(0)
        other._up = list(self._up)
        return other

    def first(self, mate: int) -> tuple[int, int, float]:
        """(first mate of the set, sign, shift): its f = sign · f of `mate` + shift."""
        sign, shift = 1, 0.0
        while self._up[mate][0] != mate:
            mate, s, c = self._up[mate]
            sign, shift = s * sign, s * shift + c
        return mate, sign, shift

    def same_sets(self, other: Correspondence) -> bool:
        """Do the same mates correspond, in whatever way?"""
        count = len(self._up)
        return [self.first(m)[0] for m in range(count)] == [other.first(m)[0]
                                                            for m in range(count)]

    def join(self, a: int, b: int, sign: int, shift: float) -> bool:
        """Put a and b into one set, f of a = sign · f of b + shift. False if that contradicts."""
        ra, sa, ca = self.first(a)
        rb, sb, cb = self.first(b)
        s = sa * sign * sb  # f of ra = s · f of rb + c
        c = sa * shift + ca - s * cb
        if ra == rb:
            return s == 1 and abs(c - round(c)) < AGREE
        if rb < ra:
            ra, rb, c = rb, ra, -s * c
        self._up[rb] = (ra, s, c)
        return True


class Joints:
    """Which mate each edge of each piece belongs to."""

    def __init__(self, pieces: Sequence[Piece], mates: Sequence[Mate]):
        number = {p.code: i for i, p in enumerate(pieces)}
        self.of = {(number[code], edge): m
                   for m, mate in enumerate(mates) for code, edge in mate.edges}
        self.sides = [tuple((number[code], edge) for code, edge in mate.edges) for mate in mates]

    def dart(self, piece: int, edge: int) -> int | None:
        """The other edge of the same piece that this one is glued to, if so."""
        mate = self.of.get((piece, edge))
        if mate is None or self.sides[mate][0][0] != self.sides[mate][1][0]:
            return None
        a, b = (e for _, e in self.sides[mate])
        return b if a == edge else a


def joined(known: Correspondence, joints: Joints, template: tuple[int, Piece],
           other: tuple[int, Piece], edges: tuple[int, ...], motion: Placement,
           ) -> Correspondence | None:
    """The correspondence with two matching pieces' mates joined, None if that contradicts.

    A contradiction is a seam that would correspond to itself run backwards: notches
    of one template could then not fit both.
    """
    (i, first), (j, second) = template, other
    after = known.copy()
    for a, b in enumerate(edges):
        mate, twin = joints.of.get((i, a)), joints.of.get((j, b))
        if (mate is None) != (twin is None):
            return None
        if mate is None:
            continue
        dart, opposite = joints.dart(i, a), joints.dart(j, b)
        if (dart is None) != (opposite is None) or (dart is not None and edges[dart] != opposite):
            return None
        if not after.join(mate, twin, *_way(first.edges[a], second.edges[b], motion)):
            return None
    return after


def is_ring(points: np.ndarray) -> bool:
    """Does an edge (k, d) close on itself?"""
    return len(points) > 3 and bool(np.linalg.norm(points[0] - points[-1]) < 1e-6)


def _way(edge: PieceEdge, twin: PieceEdge, motion: Placement) -> tuple[int, float]:
    """sign and shift with f of edge = sign · f of twin + shift at corresponding points."""
    turn = lambda e: 1 if e.fraction[-1] > e.fraction[0] else -1  # noqa: E731
    sign = turn(edge) * turn(twin) * (-1 if motion.mirrored else 1)
    if not is_ring(edge.points):
        return sign, 0.0 if sign == 1 else 1.0
    _, segment, place = Curves([twin.points]).nearest(motion.apply(edge.points))
    along = (1 - place) * twin.fraction[segment] + place * twin.fraction[segment + 1]
    turns = np.exp(2j * np.pi * (edge.fraction - sign * along))
    return sign, float(np.angle(turns.mean()) / (2 * np.pi) % 1.0)


def rerun(columns: np.ndarray, fraction: np.ndarray, sign: int, shift: float,
          ring: bool) -> tuple[np.ndarray, np.ndarray]:
    """Columns (k, d) along an edge and its fractions after f → sign · f + shift.

    A ring is opened where the new fraction is 0, so that it runs from end to end.
    """
    moved = sign * fraction + shift
    if not ring:
        return columns, np.clip(moved, 0.0, 1.0)
    rising = moved[-1] > moved[0]
    cut = np.ceil(moved.min() - 1e-9)
    if min(abs(cut - moved[0]), abs(cut - moved[-1])) < 1e-9:
        return columns, np.clip(moved - np.round(moved.min()), 0.0, 1.0)
    order = slice(None) if rising else slice(None, None, -1)
    at = np.array([np.interp(cut, moved[order], column[order]) for column in columns.T])[None]
    split = int(np.argmax(moved > cut if rising else moved < cut))
    columns = np.concatenate([at, columns[split:-1], columns[:split], at])
    moved = np.concatenate([[cut], moved[split:-1], moved[:split] + (1 if rising else -1),
                            [cut + (1 if rising else -1)]])
    return columns, np.clip(moved - moved.min(), 0.0, 1.0)


def named(known: Correspondence, given: Sequence[str], used: Collection[str] = ()
          ) -> list[tuple[str, str]]:
    """(code, letter) of each mate, in order: C alone, else C.1, C.2, …

    given: a letter for each mate, "" where it has none yet. A set takes the first that is given
    to one of its mates and to no earlier set, else the next that is neither given nor used.
    """
    members: dict[int, list[int]] = {}
    for mate in range(len(given)):
        members.setdefault(known.first(mate)[0], []).append(mate)
    letters: dict[int, str] = {}
    for first, group in members.items():
        own = [given[m] for m in group if given[m] and given[m] not in letters.values()]
        if own:
            letters[first] = own[0]
    taken = {*used, *given}
    fresh = (text for n in count() if (text := letter(n)) not in taken)
    for first in members:
        if first not in letters:
            letters[first] = next(fresh)
    result = [("", "")] * len(given)
    for first, group in members.items():
        for n, mate in enumerate(group):
            code = letters[first] if len(group) == 1 else f"{letters[first]}.{n + 1}"
            result[mate] = (code, letters[first])
    return result
