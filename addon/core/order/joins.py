"""Which seam is glued when. Works on shape and place alone, never on piece numbers.

A seam that joins two finished parts comes as soon as it is the flattest and best
guided one; a seam whose two sides already hang together closes a loop and waits
until everything else stands, since a loop that is shut keeps the hand out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from .. import mesh
from ..model import Mate, Move, Piece, Sculpt
from .space import Bench, Space

FOLD_CLASS = np.radians(30.0)  # seams are compared by their fold in steps of this


@dataclass(frozen=True)
class Join:
    """Seams glued at one go: mates, one connected run; standing and added: codes of
    the pieces on the two sides, the larger side first (added is empty in a closing)."""

    mates: tuple[Mate, ...]
    standing: tuple[str, ...]
    added: tuple[str, ...]

    @property
    def closes(self) -> bool:
        """Whether both sides hung together before."""
        return not self.added


def placed_order(pieces: Iterable[Piece], sculpt: Sculpt) -> list[Piece]:
    """The pieces from low to high, then from the middle plane outwards, then front to back.

    Only where pieces lie and how large they are counts, so numbering them anew
    changes nothing; boxes are used since they do not depend on summation order.
    """
    pieces = list(pieces)
    up, front = sculpt.up, sculpt.front
    axes = np.stack([up, np.cross(up, front), front])
    boxes = [np.stack([(p.vertices @ axes.T).min(0), (p.vertices @ axes.T).max(0)])
             for p in pieces]
    middle = np.mean([np.min([b[0] for b in boxes], 0), np.max([b[1] for b in boxes], 0)], 0)

    def key(item):
        piece, box = item
        height, across, depth = np.round(box.mean(0) - middle, 1) + 0.0
        return (height, abs(across), -depth, across, *np.round(np.ptp(box, 0), 1), piece.code)

    return [piece for piece, _ in sorted(zip(pieces, boxes, strict=True), key=key)]


def assemblies(pieces: Sequence[Piece], mates: Iterable[Mate]) -> list[list[Piece]]:
    """The pieces that glue holds together, one list per removable part, in the given order."""
    groups = Groups(p.code for p in pieces)
    for mate in mates:
        if not mate.join.removable:
            groups.unite(*sides(mate))
    parts = defaultdict(list)
    for piece in pieces:
        parts[groups.of(piece.code)].append(piece)
    return list(parts.values())


def sequence(pieces: Sequence[Piece], mates: Iterable[Mate], space: Space
             ) -> list[tuple[tuple[Join, Move], ...]]:
    """Gluing steps for one part, or for several parts of equal build worked in parallel.

    pieces: in placed order. mates: those between two of these pieces. space: of the suit. Each
    step is one Join and its mirror images or its counterparts in the other parts, each with how
    it is made. Every mate occurs once.
    """
    return _Sequence(pieces, mates, space).steps()


def sides(mate: Mate) -> tuple[str, str]:
    """Codes of the two pieces (equal for a dart)."""
    return mate.edges[0][0], mate.edges[1][0]


def length(mate: Mate) -> float:
    """Length of the seam, mm."""
    return float(np.mean(mate.lengths))


def template(piece: Piece) -> str:
    return piece.template or piece.code


class Groups:
    """Things that hang together, by repeated uniting."""

    def __init__(self, items: Iterable[Hashable]):
        self._parent = {i: i for i in items}

    def of(self, item: Hashable) -> Hashable:
        while self._parent[item] != item:
            item = self._parent[item]
        return item

    def unite(self, a: Hashable, b: Hashable) -> None:
        self._parent[self.of(b)] = self.of(a)


def runs(mates: Sequence[Mate]) -> list[list[Mate]]:
    """Split mates into connected runs: seams that share an end point."""
    groups = Groups(range(len(mates)))
    owner: dict[tuple, int] = {}
    for i, mate in enumerate(mates):
        for end in ends(mate):
            groups.unite(owner.setdefault(end, i), i)
    found = defaultdict(list)
    for i, mate in enumerate(mates):
        found[groups.of(i)].append(mate)
    return sorted(found.values(), key=lambda run: -round(sum(map(length, run)), 1))


def ends(mate: Mate) -> tuple[tuple, tuple]:
    """The end points of a seam, rounded so that they can be compared."""
    first, last = np.round(mate.curve[[0, -1]], 3) + 0.0
    return tuple(first), tuple(last)


class _Sequence:
    def __init__(self, pieces, mates, space: Space):
        self.pieces = {p.code: p for p in pieces}
        self.rank = {p.code: i for i, p in enumerate(pieces)}
        self.groups = Groups(self.pieces)
        self.mates = sorted(mates, key=self._mate_key)
        self.part = {p.code: i for i, part in enumerate(assemblies(pieces, self.mates))
                     for p in part}
        self.bench = Bench(space, self.part)
        self.last = ()

    def _mate_key(self, mate: Mate):
        ranks = sorted(self.rank[s] for s in sides(mate))
        middle = np.round((mate.curve.min(0) + mate.curve.max(0)) / 2, 1) + 0.0
        return (*ranks, -round(length(mate), 1), *middle, mate.code)

    def steps(self) -> list[tuple[tuple[Join, Move], ...]]:
        steps, open_mates = [], self.mates
        while True:
            between = [m for m in open_mates if self._apart(m)]
            if not between:
                break
            joins = self._joins(between)
            chosen = self.bench.choose(joins)
            step = []
            for join in self._in_parallel([chosen, *(j for j in joins if j is not chosen)]):
                if join is chosen or self.bench.allows(join):
                    step.append(join)
                    self.bench.unite(join)
                    self.groups.unite(join.standing[0], join.added[0])
            done = {m.code for join in step for m in join.mates}
            self.last = {self.groups.of(join.standing[0]) for join in step}
            open_mates = [m for m in open_mates if m.code not in done]
            steps.append(tuple((join, self.bench.move(join)) for join in step))
        closings = self._closings(open_mates)
        while closings:
            step = self._in_parallel(closings)
            closings = [c for c in closings if c not in step]
            steps.append(tuple((join, self.bench.move(join)) for join in step))
        return steps

    def _apart(self, mate: Mate) -> bool:
        a, b = sides(mate)
        return self.groups.of(a) != self.groups.of(b)

    def _joins(self, mates) -> list[Join]:
        """Every join that is possible now, best first."""
        between, seams, members = defaultdict(list), defaultdict(int), defaultdict(list)
        for mate in mates:
            pair = frozenset(self.groups.of(s) for s in sides(mate))
            between[pair].append(mate)
            for group in pair:
                seams[group] += 1
        for code in self.pieces:
            members[self.groups.of(code)].append(code)
        joins = []
        for pair, shared in between.items():
            pair = sorted(pair, key=lambda g: (-len(members[g]), self.rank[g]))
            parts = runs(shared)
            total = sum(map(length, parts[0]))
            fold = sum(np.abs(m.fold).mean() * length(m) for m in parts[0]) / total
            guided = len(parts[0]) / min(seams[g] for g in pair)
            key = (len(parts),  # what would close a ring waits
                   int(fold / FOLD_CLASS),  # keep the work flat
                   -round(guided, 3),  # well guided pieces first
                   not self.last & set(pair) if self.last else False,  # stay at the same bench
                   sorted((self.rank[c] for g in pair for c in members[g]), reverse=True))
            joins.append((key, Join(tuple(parts[0]), *(tuple(members[g]) for g in pair))))
        return [join for _, join in sorted(joins, key=lambda item: item[0])]

    def _closings(self, mates) -> list[Join]:
        """What is left closes loops: first the seams that no free edge lets a hand reach."""
        rim = free_ends(self.pieces.values())
        joins = []
        for run in runs(mates):
            pieces = tuple(sorted({s for m in run for s in sides(m)}, key=self.rank.get))
            reach = any(end in rim for m in run for end in ends(m))
            joins.append(((reach, round(sum(map(length, run)), 1),
                           [self.rank[p] for p in pieces]), Join(tuple(run), pieces, ())))
        return [join for _, join in sorted(joins, key=lambda item: item[0])]

    def _in_parallel(self, joins: Sequence[Join]) -> tuple[Join, ...]:
        """The first join and those like it: in other parts of equal build, or mirrored."""
        taken = [joins[0]]
        for join in joins[1:]:
            if self._build(join) == self._build(taken[0]) and all(
                    self._beside(join, other) for other in taken):
                taken.append(join)
        return tuple(taken)

    def _build(self, join: Join):
        return (sorted(template(self.pieces[c]) for c in join.standing),
                sorted(template(self.pieces[c]) for c in join.added),
                sorted(round(length(m)) for m in join.mates))

    def _beside(self, join: Join, other: Join) -> bool:
        """Whether two joins of equal build can be made at the same time."""
        a, b = ({*j.standing, *j.added} for j in (join, other))
        if self.part[join.standing[0]] != self.part[other.standing[0]]:
            return True
        if join.closes:
            return not a & b and self._hand(a) != self._hand(b)
        alone, beside = a - b, b - a
        if not alone or not beside or self._hand(alone) == self._hand(beside):
            return False
        touching = any({x, y} & alone and {x, y} & beside for x, y in map(sides, self.mates))
        return not (a & b and touching)

    def _hand(self, codes):
        return sorted((template(self.pieces[c]), self.pieces[c].flipped) for c in codes)


def free_ends(pieces: Iterable[Piece]) -> set[tuple]:
    """Points of the sculpt, rounded as in `ends`, that lie on an edge only one piece has."""
    used: dict[tuple[int, int], list] = defaultdict(list)
    for piece in pieces:
        start, end, _ = mesh.half_edges(piece.faces)
        for h in np.flatnonzero(mesh.twins(piece.faces) < 0):
            a, b = int(start[h]), int(end[h])
            pair = sorted((int(piece.source_vertex[a]), int(piece.source_vertex[b])))
            used[tuple(pair)].append(piece.vertices[[a, b]])
    return {tuple(point) for found in used.values() if len(found) == 1
            for point in np.round(found[0], 3) + 0.0}

