"""Room to build in: which joins can be made, along which way, and from where they are pressed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..model import Mate, Move, Piece
from .apart import Apart, Way
from .blocking import Blocking, blocking
from .hands import Hands
from .solids import Solids, solids

if TYPE_CHECKING:
    from .joins import Join


class Space:
    """The thick pieces of a suit where they belong, looked at once for all that is asked."""

    def __init__(self, pieces: Sequence[Piece], mates: Sequence[Mate]):
        self.pieces = {p.code: p for p in pieces}
        self.number = {p.code: k for k, p in enumerate(pieces)}
        self.mates = mates

    @cached_property
    def bodies(self) -> Solids:
        """The pieces as bodies, in their order."""
        return solids(list(self.pieces.values()), self.mates)

    @cached_property
    def found(self) -> Blocking:
        """What blocks what."""
        return blocking(list(self.pieces.values()), self.mates, self.bodies)

    def apart(self, codes: Sequence[str], part: dict[str, object]) -> Apart:
        """Some of the pieces, to be put together; those of other parts are not in the way."""
        at = [self.number[code] for code in codes]
        bars = self.found.bars[:, at][:, :, at]
        return Apart(Blocking(self.found.ways, bars), codes, part)

    def outward(self, moved: Sequence[str], standing: Sequence[str]) -> np.ndarray:
        """Where what moves lies and faces, seen from what stands: a unit vector, or zero."""
        i, j = ([self.number[c] for c in codes] for codes in (moved, standing))
        away = self.bodies.middles[i].mean(0) - self.bodies.middles[j].mean(0)
        away = away / max(np.linalg.norm(away), 1e-9) + self.bodies.normals[i].mean(0)
        size = np.linalg.norm(away)
        return away / size if size > 1e-6 else np.zeros(3)


class Bench:
    """Parts that are built side by side: what may be joined to what, and how."""

    def __init__(self, space: Space, part: dict[str, object]):
        self.space, self.part = space, part
        self.codes = sorted(part, key=space.number.get)
        self.groups = space.apart(self.codes, part)
        self._hands: dict[object, tuple[Hands, dict[str, int]]] = {}

    def choose(self, joins: Sequence[Join]) -> Join:
        """The first join that can be made and leaves all others possible, else the least bad."""
        best, least = joins[0], None
        for join in joins:
            way = self.way(join)
            possible = self.groups.possible(join.standing, join.added)
            pressed = way.free and possible and bool(self.press(join))
            rank = (not possible, way.hard, not pressed)
            if pressed:
                return join
            if least is None or rank < least:
                best, least = join, rank
        return best

    def allows(self, join: Join) -> bool:
        """Whether a join can be made now and leaves all others possible."""
        return self.way(join).free and self.groups.possible(join.standing, join.added)

    def way(self, join: Join) -> Way:
        """How what is added would come away again."""
        outward = self.space.outward(join.added, join.standing)
        return self.groups.ways_off(join.added, join.standing, outward)[0]

    def press(self, join: Join) -> tuple[str, ...]:
        """Sides from which a hand gets to the seams of a join, when it is made."""
        hands, number = self._hands_at(join.standing[0])
        standing = (self.groups.together(join.standing[0]) if join.closes
                    else [*join.standing, *join.added])
        return hands.sides(join.mates, [number[code] for code in standing])

    def move(self, join: Join) -> Move:
        """How a join is made."""
        press, mates = self.press(join), tuple(m.code for m in join.mates)
        if join.closes:
            return Move((), mates, squeeze=not press, press=press)
        way = self.way(join)
        return Move(join.added, mates, tuple(np.round(way.vector, 6).tolist()),
                    not (way.free and press), press)

    def unite(self, join: Join) -> None:
        """Make a join."""
        self.groups.unite(join.standing, join.added)

    def _hands_at(self, code: str) -> tuple[Hands, dict[str, int]]:
        home = self.part[code]
        if home not in self._hands:
            own = [c for c in self.codes if self.part[c] == home]
            pieces = [self.space.pieces[c] for c in own]
            mates = [m for m in self.space.mates if {c for c, _ in m.edges} <= set(own)]
            self._hands[home] = (Hands(solids(pieces, mates), pieces),
                                 {c: k for k, c in enumerate(own)})
        return self._hands[home]
