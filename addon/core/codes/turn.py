"""How far an object, or all of them as one, was turned since its pieces were last seen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model import Printed, PrintedMate, PrintedPiece
from .place import Ground

STEPS = 30  # of the search for the best fit; it mostly ends sooner
ENOUGH = 1e-3  # mm that a step moves the points on average: it has ended
CLEARLY = 0.1  # of one piece that must fit better where something is taken to have been turned


@dataclass(frozen=True, eq=False)
class Motion:
    """A turn (3, 3) about one place (3,), which comes to another, and a growth."""

    turn: np.ndarray
    old: np.ndarray
    new: np.ndarray
    size: float = 1.0

    def apply(self, points: np.ndarray) -> np.ndarray:
        return (points - self.old) @ (self.size * self.turn.T) + self.new

    def piece(self, piece: PrintedPiece) -> PrintedPiece:
        return replace(piece, area=piece.area * self.size**2, places=self.apply(piece.places),
                       middle=self.apply(piece.middle))

    def mate(self, mate: PrintedMate) -> PrintedMate:
        return replace(mate, curve=self.apply(mate.curve))


def follow(printed: Printed, ground: Ground) -> Printed:
    """The earlier pattern turned as the suit was as a whole, then object by object, where some
    of its pieces are found nowhere but after a turn."""
    names = sorted({piece.object for piece in printed.pieces} & set(ground.names))
    for name in (None, *(names if len(names) > 1 else ())):
        rows = [i for i, p in enumerate(printed.pieces) if name in (None, p.object)]
        own = np.array([name in (None, each) for each in ground.names], dtype=bool)
        if not rows or not own.any():
            continue
        pieces = [printed.pieces[i] for i in rows]
        fit = np.maximum(_fits(pieces, ground, own),
                         _fits(shifted(pieces, ground, own), ground, own))
        if fit.min() > 0:
            continue  # each is found as it is, or after a shift
        motion = _best(pieces, ground, own, float(fit.sum()) + CLEARLY)
        if motion is not None:
            codes = {piece.code for piece in pieces}
            printed = replace(
                printed,
                pieces=tuple(motion.piece(p) if p.code in codes else p for p in printed.pieces),
                mates=tuple(motion.mate(m) if codes.issuperset(m.pieces) else m
                            for m in printed.mates))
    return printed


def shifted(pieces: Sequence[PrintedPiece], ground: Ground, where: np.ndarray
            ) -> list[PrintedPiece]:
    """The pieces, moved and enlarged so that their middle and area agree with those of the
    regions `where`."""
    motion = _shift(pieces, ground, where)
    return [motion.piece(piece) for piece in pieces]


def _shift(pieces: Sequence[PrintedPiece], ground: Ground, where: np.ndarray) -> Motion:
    area = np.array([piece.area for piece in pieces])
    old = area @ np.array([piece.middle for piece in pieces]) / area.sum()
    new = ground.area[where] @ ground.middle[where] / ground.area[where].sum()
    return Motion(np.eye(3), old, new, float(np.sqrt(ground.area[where].sum() / area.sum())))


def _fits(pieces: Sequence[PrintedPiece], ground: Ground, where: np.ndarray) -> np.ndarray:
    """How well each piece (k,) fits its best region."""
    return (ground.alike(pieces) * where).max(axis=1, initial=0.0)


def _best(pieces: Sequence[PrintedPiece], ground: Ground, where: np.ndarray, least: float
          ) -> Motion | None:
    """The turn after which the pieces fit better than `least` in sum and than after any other;
    of nearly equal ones the smallest."""
    found = None
    for motion in _turns(pieces, ground, where):
        motion = _settled(motion, pieces, ground)
        fit = float(_fits([motion.piece(p) for p in pieces], ground, where).sum())
        if fit > least:
            found, least = motion, fit + CLEARLY
    return found


def _turns(pieces: Sequence[PrintedPiece], ground: Ground, where: np.ndarray) -> Iterator[Motion]:
    """The four turns that bring the principal axes together, small ones first."""
    shift = _shift(pieces, ground, where)
    points = np.concatenate([p.places for p in pieces]) - shift.old
    weight = np.repeat([p.area / len(p.places) for p in pieces], [len(p.places) for p in pieces])
    _, before = np.linalg.eigh((weight[:, None] * points).T @ points)
    _, after = np.linalg.eigh(ground.spread(where, shift.new))
    signs = [np.array((a, b, a * b * np.linalg.det(before) * np.linalg.det(after)))
             for a in (1.0, -1.0) for b in (1.0, -1.0)]
    turns = [(after * sign) @ before.T for sign in signs]
    for turn in sorted(turns, key=lambda turn: -np.trace(turn)):
        yield replace(shift, turn=turn)


def _settled(motion: Motion, pieces: Sequence[PrintedPiece], ground: Ground) -> Motion:
    """The motion, bettered until the pieces lie on the ground as near as they can: iterative
    closest points (Besl and McKay, 1992)."""
    points = np.concatenate([p.places for p in pieces])
    for _ in range(STEPS):
        here = motion.apply(points)
        feet = ground.feet(here)
        old, new = here.mean(axis=0), feet.mean(axis=0)
        u, _, v = np.linalg.svd((feet - new).T @ (here - old))
        turn = u @ np.diag((1.0, 1.0, np.sign(np.linalg.det(u @ v)))) @ v
        motion = replace(motion, turn=turn @ motion.turn, new=turn @ (motion.new - old) + new)
        if np.linalg.norm(motion.apply(points) - here, axis=1).mean() < ENOUGH:
            break
    return motion
