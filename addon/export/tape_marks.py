"""The ticks on templates between which open rims are measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model import Pattern, Piece
from .strokes import Stroke

TICK = 5.0  # mm
SAME = 1.0  # mm: ticks of several pieces on their template that are nearer share one
ENDS = "ab"


@dataclass(frozen=True, eq=False)
class TapeMark:
    """A tick across a rim: point (2,) on the cut line and inward unit (2,), both of the template,
    and what is written at it."""

    point: np.ndarray
    inward: np.ndarray
    word: str

    @property
    def stroke(self) -> Stroke:
        return Stroke("arrow", [self.point, self.point + TICK * self.inward])

    def spots(self, extent: np.ndarray) -> list[np.ndarray]:
        """Places for the middle of its word, of extent (2,), nearest first."""
        side = np.array((-self.inward[1], self.inward[0]))
        deep, wide = (np.abs(way) @ extent / 2 for way in (self.inward, side))
        ahead = [self.point + self.inward * (TICK + gap + deep) for gap in (1.0, 2.0, 4.0)]
        return ahead + [self.point + self.inward * (deep + gap) + side * sign * (1.0 + wide)
                        for gap in (1.2, 3.0, 6.0, 10.0) for sign in (1.0, -1.0)]


def marks(template: Piece, pattern: Pattern) -> list[TapeMark]:
    """The ticks on a template, of all pieces that are cut from it, those of others than its own
    with the piece's code."""
    users = {p.code: p for p in pattern.pieces if (p.template or p.code) == template.code}
    found: list[TapeMark] = []
    for tape in pattern.tapes:
        for end, (code, edge, share) in zip(ENDS, tape.ends, strict=True):
            if code not in users:
                continue
            point, inward = _on_template(users[code], template, *_on_rim(users[code], edge, share))
            word = f"{tape.name}{end}" if code == template.code else f"{code} {tape.name}{end}"
            same = next((k for k, mark in enumerate(found)
                         if np.hypot(*(mark.point - point)) < SAME), None)
            if same is None:
                found.append(TapeMark(point, inward, word))
            else:
                found[same] = TapeMark(found[same].point, found[same].inward,
                                       f"{found[same].word}, {word}")
    return found


def _on_rim(piece: Piece, number: int, share: float) -> tuple[np.ndarray, np.ndarray]:
    """Point (2,) of a rim's cut line and the unit (2,) into the foam, which is on its left."""
    edge = piece.edges[number]
    order = np.argsort(edge.fraction, kind="stable")
    point = np.array([np.interp(share, edge.fraction[order], x[order]) for x in edge.cut.T])
    k = int(np.clip(np.searchsorted(edge.fraction[order], share), 1, len(order) - 1))
    along = edge.cut[order[k]] - edge.cut[order[k - 1]]
    along = along if order[k] > order[k - 1] else -along
    return point, np.array([-along[1], along[0]]) / max(np.hypot(*along), 1e-12)


def _on_template(piece: Piece, template: Piece, point: np.ndarray, inward: np.ndarray
                 ) -> tuple[np.ndarray, np.ndarray]:
    """The same on the template, before that is turned over, turned and moved to be the piece."""
    if piece.code == template.code:
        return point, inward
    c, s = np.cos(piece.turn), np.sin(piece.turn)
    back = np.array([[c, -s], [s, c]]) * ((-1.0 if piece.flipped else 1.0), 1.0)
    there, here = (p.cut[0].mean(axis=0) for p in (template, piece))
    return there + (point - here) @ back, inward @ back
