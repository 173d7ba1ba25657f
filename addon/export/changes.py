"""Which templates must be printed again: a pattern beside the one that was printed before."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..core.model import Drawn, Pattern, Piece, Placement, PrintedPiece
from ..core.pairs import Outline, folds_agree, marks_agree, rigid
from ..core.units import format_length
from .printed import place_of
from .words import label_lines

REPRINT, NEW, AMEND, MOVED, KEEP, GONE = "reprint", "new", "amend", "moved", "keep", "gone"
KINDS = (REPRINT, NEW, AMEND, MOVED, KEEP, GONE)
PRINT = (REPRINT, NEW)  # what has to be printed; the other kinds need no paper

SAME = 0.1  # mm by which the lines of a template that is still good may be off
BEND = 1.0  # mm, the same of bend lines, which are not cut
TURN = math.radians(5.0)  # by which the arrow that points up may be off
STILL = 1.0  # mm by which a piece may have moved on the suit


@dataclass(frozen=True)
class Change:
    """What became of one printed template. kind: one of KINDS; why: short sentences."""

    code: str
    name: str
    kind: str
    why: tuple[str, ...] = ()


def changes(pattern: Pattern) -> tuple[Change, ...]:
    """One change for each template that is or was, in the order of KINDS; none where nothing was
    printed before, nor for a mock-up. Of a pattern of one piece alone, that one's."""
    earlier = pattern.settings.printed
    if earlier is None or pattern.settings.mock_up:
        return ()
    before = {p.code: p for p in earlier.pieces if p.drawn}
    if not before:  # codes of another size
        return ()
    other = {p.code: p.template for p in earlier.pieces if not p.drawn}
    found = [_change(before.pop(p.code, None), p, pattern, other.get(p.code))
             for p in pattern.templates]
    if pattern.settings.only is None:
        found += [_gone(p, pattern) for p in before.values()]
    return tuple(sorted(found, key=lambda change: KINDS.index(change.kind)))


def still_good(found: tuple[Change, ...]) -> tuple[str, ...]:
    """Codes of the templates whose earlier print is still good."""
    return tuple(c.code for c in found if c.kind in (AMEND, MOVED, KEEP))


def _gone(old: PrintedPiece, pattern: Pattern) -> Change:
    if old.code not in pattern.index:
        return Change(old.code, old.object, GONE, ("This piece is no more.",))
    piece = pattern.piece(old.code)
    way = ", turned over" if piece.flipped else ""
    return Change(old.code, piece.name, GONE, (f"It is cut from {piece.template} now{way}.",))


def _change(old: PrintedPiece | None, piece: Piece, pattern: Pattern, other: str | None
            ) -> Change:
    """other: the piece by whose template this one was cut before."""
    if old is None:
        return Change(piece.code, piece.name, NEW,
                      (f"It was cut from {other} before.",) if other else ())
    again, by_hand = _differences(old.drawn, piece, pattern)
    if again:
        return Change(piece.code, piece.name, REPRINT, tuple(again))
    if by_hand:
        return Change(piece.code, piece.name, AMEND, tuple(by_hand))
    away = float(np.linalg.norm(place_of(piece, pattern)[1] - old.middle)) * pattern.settings.scale
    if away > STILL:
        return Change(piece.code, piece.name, MOVED, (
            f"It sits {format_length(away, pattern.settings.unit)} from where it was.",))
    return Change(piece.code, piece.name, KEEP)


def _differences(old: Drawn, piece: Piece, pattern: Pattern) -> tuple[list[str], list[str]]:
    """What of a printed template is wrong by now, and what can be put right with a pen."""
    if [len(rings) for rings in (old.cut, old.front, old.back)] != [
            len(rings) for rings in (piece.cut, piece.front, piece.back)]:
        return ["It has other holes."], []
    best, least = None, math.inf
    for motion, apart in _ways(old, piece):
        least = min(least, apart)
        if apart <= SAME:  # a shape may fit in several ways, its marks in one of them
            found = _marks(old, piece, motion)
            best = found if best is None or len(found) < len(best) else best
            if not best:
                break
    if best is None:
        size = format_length(least, pattern.settings.unit)
        return [f"Its outline or bevels are off by up to {size}."], []
    words = label_lines(piece, pattern, False)
    by_hand = [f"Write “{new}” for “{was}”." if was else f"Write “{new}”."
               for was, new in zip(old.words, words, strict=False) if was != new]
    if pattern.cards and not _gauges_agree(old, piece):
        by_hand.append("Print its forming gauges, and look where they are held now.")
    if not best and not _up_agrees(old, piece, motion):
        by_hand.append("Up is another way: the new print shows the arrow.")
    return best, by_hand


def _ways(old: Drawn, piece: Piece) -> Iterator[tuple[Placement, float]]:
    """Motions that may bring the printed template onto the new one, and how far apart they then
    are; first none at all, where the outlines have the same points."""
    rings = [(a, b) for face in ("cut", "front", "back")
             for a, b in zip(getattr(old, face), getattr(piece, face), strict=True)]
    if all(a.shape == b.shape for a, b in rings):
        apart = max(float(np.hypot(*(a - b).T).max(initial=0.0)) for a, b in rings)
        if apart <= SAME:
            yield Placement("", 0.0, (0.0, 0.0)), apart
    yield from Outline(old).laid_on(Outline(piece), _by_notches(old, piece))


def _marks(old: Drawn, piece: Piece, motion: Placement) -> list[str]:
    """Which marks differ."""
    found = []
    if len(old.folds) != len(piece.folds) or not folds_agree(old, piece, motion, SAME / 2):
        found.append("Its trenches or score lines are others.")
    if marks_agree(old, piece, motion, SAME / 2) is None:
        found.append("Its rivets, holes or other marks are others.")
    if not _paired([(f.kind, round(f.width, 2), motion.apply(f.points[[0, -1]]))
                    for f in old.finishes],
                   [(f.kind, round(f.width, 2), f.points[[0, -1]]) for f in piece.finishes], SAME):
        found.append("Its seams are finished otherwise.")
    then, now = ([(n.letter, n.index, move(n.point[None])) for n in notches]
                 for notches, move in ((old.notches, motion.apply), (piece.notches, np.asarray)))
    if {letter for letter, *_ in then} != {letter for letter, *_ in now}:
        found.append("It has other mates.")
    elif not _paired(then, now, SAME):
        found.append("Its notches stand elsewhere.")
    if not _paired([(motion.apply(b.points),) for b in old.bends],
                   [(b.points,) for b in piece.bends], BEND):
        found.append("Its bend lines are others.")
    return found


def _by_notches(old: Drawn, piece: Piece) -> list[Placement]:
    """The motion that brings the notches of equal names together, where there are such: it
    tells how a round piece has turned."""
    then, now = ({(n.letter, n.index): n.point for n in notches}
                 for notches in (old.notches, piece.notches))
    common = sorted(set(then) & set(now))
    if len(common) < 2:
        return []
    return [rigid("", np.array([then[k] for k in common]), np.array([now[k] for k in common]),
                  False)]


def _gauges_agree(old: Drawn, piece: Piece) -> bool:
    """Are the cards that were printed with a template still good?"""
    return len(old.gauges) == len(piece.gauges) and all(
        a.profile.shape == b.profile.shape and np.abs(a.profile - b.profile).max() <= SAME
        for a, b in zip(old.gauges, piece.gauges, strict=True))


def _up_agrees(old: Drawn, piece: Piece, motion: Placement) -> bool:
    """Does the arrow of the printed template still point up, or is there none on either?"""
    was, now = motion.apply(old.up[None])[0] - motion.offset, piece.up
    if not was.any() or not now.any():
        return was.any() == now.any()
    return abs(math.atan2(was[0] * now[1] - was[1] * now[0], was @ now)) <= TURN


def _paired(then: list[tuple], now: list[tuple], tolerance: float) -> bool:
    """Do marks, each given by its names and last its points (k, 2), lie on one another in pairs?
    The points may run either way."""
    left = list(now)
    for *names, points in then:
        near = [i for i, (*own, other) in enumerate(left) if own == names and min(
            np.abs(points - other).max(), np.abs(points[::-1] - other).max()) <= tolerance]
        if not near:
            return False
        left.pop(near[0])
    return not left
